package session

import (
	"fmt"
	"math"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/demo"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// Seeds of invented talks: those that the defaults were tuned with, and those
// that were only ever checked.
var (
	tuned   = []uint64{1, 2, 3, 4}
	checked = []uint64{101, 102, 103, 104, 105, 106, 107, 108}
)

const sampled = 50 * ms

// levels drives a session with cues and gives the level of both layers together,
// in dB, every 50 ms; NaN where the bed does not hold.
func levels(t *testing.T, rig gathering.Rig, moments []bed.Moment, cues []demo.Cue) (db []float64) {
	t.Helper()
	s, err := New(rig, moments, silent{})
	if err != nil {
		t.Fatal(err)
	}
	s.SetUp(0)
	for _, c := range cues {
		for at := time.Duration(len(db)) * sampled; at < c.At; at += sampled {
			s.Advance(at)
			v := s.View()
			level := math.NaN()
			if v.Phase == bed.Holding {
				level = bedtest.Loudness(v.Level)
			}
			db = append(db, level)
		}
		s.Message(c.At, c.Data)
	}
	return db
}

// follows gives the best correlation of levels with a script over lags up to 4 s,
// and that lag.
func follows(db []float64, script demo.Script) (best float64, lag time.Duration) {
	for l := time.Duration(0); l <= 4*time.Second; l += sampled {
		var n, x, y, xx, yy, xy float64
		for i, b := range db {
			at := time.Duration(i)*sampled - l
			if at < 0 || math.IsNaN(b) {
				continue
			}
			a := script.Intensity(at)
			n, x, y, xx, yy, xy = n+1, x+a, y+b, xx+a*a, yy+b*b, xy+a*b
		}
		r := (n*xy - x*y) / math.Sqrt((n*xx-x*x)*(n*yy-y*y))
		if r > best {
			best, lag = r, l
		}
	}
	return best, lag
}

// The bed's level goes with the speaker, through a player whose foot follows on a
// worn pedal: on the demo, on the talks that it was tuned with and on others. With
// hands alone it is printed only.
func TestTheBedFollowsTheSpeaker(t *testing.T) {
	check := func(what string, rig gathering.Rig, moments []bed.Moment, script demo.Script, cues []demo.Cue, least float64) {
		t.Helper()
		r, lag := follows(levels(t, rig, moments, cues), script)
		t.Logf("%s: correlation %.3f, %v late", what, r, lag)
		if r < least || least > 0 && lag > 2*time.Second {
			t.Errorf("%s: correlation %.3f, %v late; want %v, 2 s at most", what, r, lag, least)
		}
	}
	check("demo", openRig(t, "saltmere"), demoMoments(t), demo.Speaker(), demoCues(t), 0.9)
	for name, seeds := range map[string][]uint64{"tuned": tuned, "checked": checked} {
		for _, seed := range seeds {
			for pedal, least := range map[bool]float64{true: 0.9, false: 0} {
				script, cues := demo.Talk(seed, pedal)
				in := []demo.Cue{{At: 0, Data: []byte{0xB0, 80, 127}}}
				check(fmt.Sprintf("%s seed %d, pedal %v", name, seed, pedal), gathering.DefaultRig(), evening(t), script, append(in, cues...), least)
			}
		}
	}
}

// demoCues gives the player's messages of the demo.
func demoCues(t *testing.T) (cues []demo.Cue) {
	t.Helper()
	performance, err := midiio.ReadFile(demoFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range Cues(performance) {
		if c.Data != nil {
			cues = append(cues, demo.Cue{At: c.At, Data: c.Data})
		}
	}
	return cues
}

// Whatever foot and hands do, on the demo and in a talk, the level stays under the
// rig's ceiling, and comes within a step of it.
func TestTheLevelStaysUnderTheCeiling(t *testing.T) {
	_, talk := demo.Talk(checked[0], true)
	for what, run := range map[string]struct {
		rig     gathering.Rig
		moments []bed.Moment
		cues    []demo.Cue
	}{
		"the demo": {openRig(t, "saltmere"), demoMoments(t), demoCues(t)},
		"a talk":   {gathering.DefaultRig(), evening(t), append([]demo.Cue{{Data: []byte{0xB0, 80, 127}}}, talk...)},
	} {
		for _, ceiling := range []float64{-3.1, -7.3, -13} {
			run.rig.Bed.Balance.Ceiling = ceiling
			highest := math.Inf(-1)
			for _, db := range levels(t, run.rig, run.moments, run.cues) {
				if !math.IsNaN(db) {
					highest = max(highest, db)
				}
			}
			t.Logf("%s, ceiling %v dB: the highest level is %.2f dB", what, ceiling, highest)
			if highest > ceiling || highest < ceiling-1 {
				t.Errorf("%s, ceiling %v dB: the highest level is %.2f dB", what, ceiling, highest)
			}
		}
	}
}
