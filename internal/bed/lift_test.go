package bed_test

import (
	"fmt"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/pitch"
)

// At full intensity the upper notes lie higher than without a lift, with at least
// two notes held at a change in the mean, and the bass no higher; back at the heel
// they come down again.
func TestTheRegisterRisesWithTheIntensity(t *testing.T) {
	lies := func(r *run, changes int) (upper, bass, held float64) {
		n := 0
		for i := range changes {
			if i%5 == 4 {
				r.ask(bed.Swap)
			} else {
				r.ask(bed.Next)
			}
			r.wait(2 * time.Second)
			v := r.bed.View()
			for _, note := range v.Voicing.Notes() {
				upper += float64(note)
				n++
			}
			bass += float64(v.Voicing.Bass) / float64(changes)
			held += float64(v.Change.Held.Len()) / float64(changes)
		}
		return upper / float64(n), bass, held
	}
	for tonic := 0; tonic < 12; tonic += 3 {
		key := pitch.Key{}.Transpose(tonic)
		for _, p := range [][2]string{{"1 4", "6m 2m"}, {"1 5 6m 4", "2m 5"}} {
			at := func(lift uint8, raw uint16) (upper, bass, held float64) {
				c := twoMoments(t)
				c.Moments = []bed.Moment{moment(t, key, p[0], p[1])}
				c.Lift = lift
				r := newRun(t, c)
				r.foot(dynamics.MaxRaw)
				r.ask(bed.BringIn)
				r.wait(10 * time.Second)
				lies(r, 4) // time to get there
				r.foot(raw)
				r.wait(20 * time.Second)
				lies(r, 10) // two rounds: it comes down a few notes at a time
				upper, bass, held = lies(r, 20)
				r.end()
				return upper, bass, held
			}
			what := fmt.Sprint(key, " ", p)
			plain, low, _ := at(0, dynamics.MaxRaw)
			lifted, bass, held := at(7, dynamics.MaxRaw)
			if lifted < plain+1.5 || bass > low+0.5 || held < 2 {
				t.Errorf("%s: upper notes at %.1f instead of %.1f, bass at %.1f instead of %.1f, %.1f held", what, lifted, plain, bass, low, held)
			}
			plain, _, _ = at(0, 0)
			if lifted, _, _ = at(7, 0); lifted > plain+1.5 {
				t.Errorf("%s: at the heel upper notes lie at %.1f instead of %.1f", what, lifted, plain)
			}
		}
	}
}

func TestTheRegisterChangesOnlyWithAChord(t *testing.T) {
	c := twoMoments(t)
	c.Lift = 7
	r := newRun(t, c)
	r.foot(0)
	r.ask(bed.BringIn)
	r.wait(10 * time.Second)
	small := r.bed.View().Voicing
	thin := small.Pitches()
	r.foot(dynamics.MaxRaw)
	r.wait(30 * time.Second)
	full := r.bed.View().Voicing
	if both := thin.And(full.Pitches()); both != thin || full.Notes()[full.N-1] > c.Voicing.High {
		t.Errorf("from %v to %v without a chord", thin.Append(nil), full.Notes())
	}
	r.end()
}

func TestAtStillness1TheRegisterStays(t *testing.T) {
	c := twoMoments(t)
	c.Voicing.Stillness, c.Lift = 1, 12
	r := newRun(t, c)
	r.foot(dynamics.MaxRaw)
	r.ask(bed.BringIn)
	r.wait(20 * time.Second)
	before := r.bed.View().Voicing
	for range 4 {
		r.ask(bed.Next)
		r.wait(time.Second)
		if got := r.bed.View().Voicing; got.Pitches() != before.Pitches() {
			t.Errorf("upper notes go from %v to %v", before.Notes(), got.Notes())
		}
	}
	r.end()
}
