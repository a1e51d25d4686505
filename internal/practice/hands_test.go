package practice

import (
	"math"
	"reflect"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Anscombe, Graphs in Statistical Analysis (1973): four sets of very different looks,
// all with a correlation of 0.816.
func TestPearsonOnAnscombesQuartet(t *testing.T) {
	x := []float64{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5}
	for i, y := range [][]float64{
		{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68},
		{9.14, 8.14, 8.74, 8.77, 9.26, 8.10, 6.13, 3.10, 9.13, 7.26, 4.74},
		{7.46, 6.77, 12.74, 7.11, 7.81, 8.84, 6.08, 5.39, 8.15, 6.42, 5.73},
	} {
		if r, ok := pearson(x, y); !ok || math.Abs(r-0.816) > 0.001 {
			t.Errorf("set %d: %v", i+1, r)
		}
	}
	if _, ok := pearson(x, make([]float64, len(x))); ok {
		t.Error("what does not move has a correlation")
	}
}

func TestFollowFindsTheLag(t *testing.T) {
	said, done := make([]float64, 240), make([]float64, 240)
	for i := range said {
		said[i] = math.Sin(float64(i) / 17)
		done[i] = 0.5 * math.Sin(float64(i-8)/17)
	}
	f := follow(said, done)
	if f.lag != 8*sampled || f.correlation < 0.9999 || math.Abs(f.scope-0.5) > 0.02 {
		t.Errorf("%+v", f)
	}
}

func entries(symbols ...string) (list []Entry) {
	for i, s := range symbols {
		c, err := harmony.ParseChord(s)
		if err != nil {
			panic(err)
		}
		list = append(list, Entry{At: time.Duration(i) * 4 * time.Second, Chord: c})
	}
	return list
}

// From C to F with C held, E to F, G to A and the root below: worked out by hand.
func TestAChangeByHand(t *testing.T) {
	const c = 4 * time.Second
	ms := func(n int) time.Duration { return c + time.Duration(n)*time.Millisecond }
	end := 2 * c
	for name, one := range map[string]struct {
		notes []Note
		want  change
	}{
		"held": {[]Note{{36, 60, 0, ms(150)}, {60, 60, 0, end}, {64, 60, 0, ms(150)}, {67, 60, 0, ms(150)}, {41, 60, ms(100), end}, {65, 60, ms(100), end}, {69, 60, ms(100), end}},
			change{could: 1, held: 1, late: 150 * time.Millisecond, over: 50 * time.Millisecond, moved: 3, best: 3, rated: true}},
		"struck again": {[]Note{{36, 60, 0, ms(-50)}, {60, 60, 0, ms(-50)}, {64, 60, 0, ms(-50)}, {67, 60, 0, ms(-50)}, {41, 60, ms(0), end}, {60, 60, ms(0), end}, {65, 60, ms(0), end}, {69, 60, ms(0), end}},
			change{could: 1, held: 0, gap: 50 * time.Millisecond}},
		"late": {[]Note{{36, 60, 0, ms(2000)}, {60, 60, 0, end}, {64, 60, 0, ms(2000)}, {67, 60, 0, ms(2000)}, {41, 60, ms(2000), end}, {65, 60, ms(2000), end}, {69, 60, ms(2000), end}},
			change{could: 1, held: 1, late: 2 * time.Second, moved: 3, best: 3, rated: true}},
		"ahead": {[]Note{{36, 60, 0, ms(-300)}, {60, 60, 0, end}, {64, 60, 0, ms(-300)}, {67, 60, 0, ms(-300)}, {41, 60, ms(-300), end}, {65, 60, ms(-300), end}, {69, 60, ms(-300), end}},
			change{could: 1, held: 1, moved: 3, best: 3, rated: true}},
		"the damper holds all": {[]Note{{36, 60, 0, end}, {60, 60, 0, end}, {64, 60, 0, end}, {67, 60, 0, end}, {41, 60, ms(0), end}, {65, 60, ms(0), end}, {69, 60, ms(0), end}},
			change{could: 1, held: 1, late: atMost, over: 4 * time.Second}},
		"nothing": {nil, change{could: 1, late: atMost, gap: around + atMost}},
	} {
		h := hands{notes: one.notes, chords: entries("C", "F"), end: end}
		o := optimum{wanted: true}
		got := h.changeTo(1, &o)
		if got != one.want {
			t.Errorf("%s: %+v, not %+v", name, got, one.want)
		}
	}
}

func TestWrongNotes(t *testing.T) {
	k, _ := pitch.ParseKey("C")
	for name, one := range map[string]struct {
		note uint8
		want float64
	}{
		"a tone of the chord":        {64, 0},
		"a ninth":                    {62, 0},
		"a fourth above its third":   {65, 0.5},
		"out of the key":             {61, 1},
		"out of the key, as a tenth": {63, 1},
	} {
		h := hands{key: k, notes: []Note{{one.note, 60, 0, 4 * time.Second}}, chords: entries("C"), end: 4 * time.Second}
		if got := h.wrong(); got != one.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

func hear(r *Recorder, at time.Duration, e bed.Event) { r.Hear(at, e, bed.Home, true, 0.5) }

func TestTheDamperHoldsNotes(t *testing.T) {
	var r Recorder
	s := time.Second
	hear(&r, 0, bed.Event{Kind: bed.NoteStruck, Note: 48, Velocity: 70}) // before the begin
	r.Begin(2 * s)
	hear(&r, 3*s, bed.Event{Kind: bed.NoteStruck, Note: 60, Velocity: 64})
	hear(&r, 4*s, bed.Event{Kind: bed.DamperMoved, On: true})
	hear(&r, 5*s, bed.Event{Kind: bed.NoteLeft, Note: 60})
	hear(&r, 6*s, bed.Event{Kind: bed.NoteStruck, Note: 60, Velocity: 50}) // again, under the damper
	hear(&r, 7*s, bed.Event{Kind: bed.NoteLeft, Note: 60})
	hear(&r, 8*s, bed.Event{Kind: bed.DamperMoved})
	hear(&r, 9*s, bed.Event{Kind: bed.NoteStruck, Note: 62, Velocity: 50})
	want := []Note{{48, 70, -2 * s, 8 * s}, {60, 64, 1 * s, 4 * s}, {60, 50, 4 * s, 6 * s}, {62, 50, 7 * s, 8 * s}}
	if got := r.Take(10 * s); !reflect.DeepEqual(got.Notes, want) || got.Lasted != 8*s {
		t.Errorf("%+v", got)
	}
	r.Begin(11 * s) // the 48 and the 62 are still down
	if got := r.Take(12 * s); len(got.Notes) != 2 || got.Notes[0].On != -11*s || got.Notes[1].Off != s {
		t.Errorf("%+v", got.Notes)
	}
}

// A keyboard that sends thousands a second fills no memory.
func TestARecorderKeepsSoMuchAtMost(t *testing.T) {
	var r Recorder
	for i := range 2 * mostKept {
		hear(&r, time.Duration(i), bed.Event{Kind: bed.NoteStruck, Note: uint8(i % 128), Velocity: 64})
	}
	if got := r.Take(time.Second); len(got.Notes) > mostKept {
		t.Errorf("%d notes", len(got.Notes))
	}
	r.Begin(time.Second)
	hear(&r, time.Second, bed.Event{Kind: bed.NoteStruck, Note: 1, Velocity: 64})
	if got := r.Take(2 * time.Second); len(got.Notes) == 0 {
		t.Error("nothing is kept afterwards")
	}
}
