package soundcheck

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/bed"
	"bedd/internal/clarity"
)

// invented makes a bed of rows whose sound is made up.
func invented(rt *rapid.T, c bed.Config) Bedding {
	b := Bedding{Config: c, Law: true}
	for _, r := range spans(&c) {
		r.LevelDB = c.Balance.DB(r.To)
		r.Name = fmt.Sprint(r.Voices)
		r.LUFS = rapid.Float64Range(-45, -15).Draw(rt, "LUFS")
		for range rapid.IntRange(1, 2).Draw(rt, "chords") {
			var l clarity.Levels
			for i := range l {
				l[i] = rapid.Float64Range(-90, -40).Draw(rt, "level")
			}
			r.Chords = append(r.Chords, Chord{"C", Heard{Levels: l}})
		}
		b.Rows = append(b.Rows, r)
	}
	return b
}

// The ceiling is the highest under which every row stays where it should, at every
// intensity that the ceiling lets be: by looking at them one by one.
func TestCeilingIsTheHighestThatFits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := bed.DefaultConfig()
		c.Balance.Floor = rapid.SampledFrom([]float64{-14, -20, math.Inf(-1)}).Draw(rt, "floor")
		c.Feel.Room = rapid.SampledFrom([]float64{0, 0, 0.8}).Draw(rt, "room")
		b := invented(rt, c)
		v := StandardVoice(clarity.Normal, 62)
		w, err := Judge(v, clarity.Silence(), b, Wish{rapid.Float64Range(0.4, 0.95).Draw(rt, "target"), rapid.Float64Range(0, 20).Draw(rt, "under")})
		if err != nil {
			rt.Fatal(err)
		}
		w.Below(rapid.Float64Range(-10, 30).Draw(rt, "below"))
		fits := func(ceiling, louder float64) bool {
			balance := c.Balance
			balance.Ceiling = ceiling
			for x := 0.0; x <= balance.Most(); x += 0.005 {
				for _, p := range w.Places {
					margin := b.margin()
					past := margin
					if p.Row.Lifted {
						past = 2 * bed.LiftMargin
					}
					if x < p.Row.From-past || x > p.Row.To+margin {
						continue
					}
					level := x
					if c.Feel.Room > 0 {
						level = balance.Most()
					}
					for _, chord := range p.Row.Chords {
						gain := *w.Fader + louder + balance.DB(level) - p.Row.LevelDB
						if clarity.Index(v.Levels, chord.Heard.Levels.Plus(v.FullSPL+gain)) < w.Wish.Target-1e-9 || p.Row.LUFS+gain > v.LUFS-w.Wish.Under+1e-6 {
							return false
						}
					}
				}
			}
			return true
		}
		got, err := w.Ceiling()
		if err != nil {
			if !errors.Is(err, ErrNoCeiling) || fits(max(c.Balance.Floor+3, -33), 0.2) {
				rt.Fatalf("%v", err)
			}
			return
		}
		if !fits(got, 0) {
			rt.Fatalf("under a ceiling of %v dB the bed is too loud", got)
		}
		if got < 0 && fits(got+ceilingStep+0.2, 0.2) { // the slow way looks at fewer intensities
			rt.Fatalf("a ceiling of %v dB would do too, not %v", got+ceilingStep, got)
		}
	})
}

// The recommended level is where the slow way finds it too, the fader's place does not
// change it, and a louder bed is never allowed more.
func TestRecommendationHoldsForAnyBed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := invented(rt, bed.DefaultConfig())
		wish := Wish{rapid.Float64Range(0.4, 0.95).Draw(rt, "target"), rapid.Float64Range(0, 20).Draw(rt, "under")}
		v := StandardVoice(clarity.Effort(rapid.IntRange(0, 2).Draw(rt, "effort")), 65)
		w, err := Judge(v, clarity.Silence(), b, wish)
		if err != nil {
			rt.Fatal(err)
		}
		w.Below(w.Under())
		if over := w.Over(); math.Abs(over) > 1e-6 {
			rt.Fatalf("where it should be it is %v dB too loud", over)
		}
		for _, p := range w.Places {
			if h := w.Hear(p, *w.Fader); h.Index < wish.Target-1e-9 {
				rt.Fatalf("%s: index %v under the target %v", p.Row.Name, h.Index, wish.Target)
			}
			if p.Under < wish.Under {
				rt.Fatalf("%s may be %v LU under the voice, wished are %v", p.Row.Name, p.Under, wish.Under)
			}
		}
		louder := b
		louder.Rows = append([]Row(nil), b.Rows...)
		i := rapid.IntRange(0, len(b.Rows)-1).Draw(rt, "row")
		louder.Rows[i].LUFS += 3
		for k, c := range louder.Rows[i].Chords {
			louder.Rows[i].Chords = append([]Chord(nil), louder.Rows[i].Chords...)
			c.Heard.Levels = c.Heard.Levels.Plus(3)
			louder.Rows[i].Chords[k] = c
		}
		w2, err := Judge(v, clarity.Silence(), louder, wish)
		if err != nil || w2.Gain() > w.Gain()+1e-6 {
			rt.Fatalf("a bed that is louder in one row may be turned up by %v, before by %v; %v", w2.Gain(), w.Gain(), err)
		}
	})
}

// A recorded bed comes down by a ceiling as much as the ceiling does.
func TestCeilingOfARecordedBed(t *testing.T) {
	h := Heard{LUFS: -26, Levels: clarity.Silence()}
	c := bed.DefaultConfig()
	for _, own := range []float64{0, -2} {
		c.Balance.Ceiling = own
		v := StandardVoice(clarity.Normal, 62) // −23 LUFS
		w, err := Judge(v, clarity.Silence(), Bedding{Config: c, Rows: []Row{RecordedBed("bed.wav", h)}}, Wish{0.75, 10})
		if err != nil {
			t.Fatal(err)
		}
		w.AsRecorded() // 3 LU under, and 10 wished
		got, err := w.Ceiling()
		if want := own - 7; err != nil || got != want {
			t.Errorf("own ceiling %v: %v, %v, want %v", own, got, err, want)
		}
	}
}
