package bed_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"

	"pgregory.net/rapid"
)

func progression(t testing.TB, key pitch.Key, s string) []harmony.Chord {
	t.Helper()
	c, err := harmony.ParseProgression(s, key, harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func moment(t testing.TB, key pitch.Key, home, away string) bed.Moment {
	t.Helper()
	m := bed.Moment{Key: key, Home: progression(t, key, home), Intensity: 0.4}
	if away != "" {
		m.Away = progression(t, key, away)
	}
	return m
}

// twoMoments is a small evening: one moment in C that leads to a song in Eb,
// one in A minor that leads nowhere.
func twoMoments(t testing.TB) bed.Config {
	c := bed.DefaultConfig()
	eb, err := pitch.ParseKey("Eb")
	if err != nil {
		t.Fatal(err)
	}
	am, err := pitch.ParseKey("Am")
	if err != nil {
		t.Fatal(err)
	}
	first := moment(t, pitch.Key{}, "1 4", "6m 2m")
	first.NextKey, first.NextChord = eb, harmony.Diatonic(eb, 1)
	c.Moments = []bed.Moment{first, moment(t, am, "1 6 3 7", "")}
	return c
}

// run drives a bed under a watcher and collects what it does.
type run struct {
	t       testing.TB
	bed     *bed.Bed
	watcher *bedtest.Watcher
	now     time.Duration
	out     []bed.Action
	all     []bed.Action

	raw   uint16 // where the pedal is
	noAir bool

	wanted [bed.NumLayers]voicing.Pitches // what should sound, as of the last look
	since  [bed.NumLayers]time.Duration   // when that look saw it change
}

func newRun(t testing.TB, c bed.Config) *run {
	t.Helper()
	b, err := bed.New(c)
	if err != nil {
		t.Fatal(err)
	}
	return &run{t: t, bed: b, watcher: bedtest.NewWatcher(c), raw: dynamics.MaxRaw / 2, noAir: c.Balance.NoAir}
}

func (r *run) take(actions []bed.Action) {
	for _, a := range actions {
		r.watcher.See(a)
	}
	r.all = append(r.all, actions...)
}

// wait lets time pass the way a live driver does: at each deadline.
func (r *run) wait(d time.Duration) {
	until := r.now + d
	for {
		at, ok := r.bed.Deadline()
		if !ok || at > until {
			break
		}
		r.out = r.bed.Handle(at, bed.Event{}, r.out[:0])
		r.take(r.out)
		r.look(at)
	}
	r.now = until
}

// look notes when what should sound changes.
func (r *run) look(at time.Duration) {
	v := r.bed.View()
	want := [bed.NumLayers]voicing.Pitches{bed.Warm: withBass(v.Voicing.Pitches(), v.Voicing.Bass), bed.Air: v.Voicing.Pitches()}
	if r.noAir {
		want[bed.Air] = voicing.Pitches{}
	}
	if v.Phase == bed.Silent {
		want = [bed.NumLayers]voicing.Pitches{}
	}
	for l := range want {
		if want[l] != r.wanted[l] {
			r.wanted[l], r.since[l] = want[l], at
		}
	}
}

func (r *run) event(e bed.Event) {
	if e.Kind == bed.InputEnded {
		r.watcher.InputEnded(r.now)
	}
	r.out = r.bed.Handle(r.now, e, r.out[:0])
	r.take(r.out)
}

// foot puts the pedal somewhere as a foot does: through the places between.
func (r *run) foot(raw uint16) {
	for from := r.raw; from != raw; {
		from = uint16(min(max(int(raw), int(from)-1000), int(from)+1000))
		r.event(bed.Event{Kind: bed.PedalMoved, Raw: from})
		r.wait(10 * time.Millisecond)
		r.raw = from
	}
}

func (r *run) ask(c bed.Command) { r.event(bed.Event{Kind: bed.Asked, Command: c}) }

func (r *run) end() {
	r.t.Helper()
	r.event(bed.Event{Kind: bed.InputEnded, On: true})
	r.wait(10 * time.Second)
	r.watcher.Finish()
	for _, f := range r.watcher.Faults() {
		r.t.Error(f)
	}
	if _, ok := r.bed.Deadline(); ok {
		r.t.Error("the bed still wants to be called ten seconds after its end")
	}
}

// drawEvent draws anything that can happen to a bed.
func drawEvent(t *rapid.T) bed.Event {
	e := bed.Event{Kind: rapid.SampledFrom([]bed.EventKind{bed.TimePassed, bed.Asked, bed.Asked, bed.Asked,
		bed.NoteStruck, bed.NoteStruck, bed.NoteLeft, bed.DamperMoved, bed.PedalMoved, bed.PedalMoved, bed.VoiceHeard}).Draw(t, "kind")}
	switch e.Kind {
	case bed.Asked:
		e.Command = bed.Command(rapid.Uint8Range(0, uint8(bed.NumCommands)-1).Draw(t, "command"))
		e.Undo = rapid.Bool().Draw(t, "undo")
		e.Tonic = pitch.Class(rapid.IntRange(0, 11).Draw(t, "tonic"))
	case bed.NoteStruck, bed.NoteLeft:
		e.Note = rapid.Uint8Range(36, 84).Draw(t, "note")
		e.Velocity = rapid.Uint8Range(1, 127).Draw(t, "velocity")
	case bed.DamperMoved:
		e.On = rapid.Bool().Draw(t, "on")
	case bed.PedalMoved:
		e.Raw = rapid.Uint16Range(0, 16383).Draw(t, "raw")
	case bed.VoiceHeard:
		e.Intensity = rapid.Float64Range(0, 1).Draw(t, "intensity")
		e.Eased = rapid.SampledFrom([]float64{0, 0, 1, 8, 90}).Draw(t, "eased")
	}
	return e
}

var gaps = rapid.SampledFrom([]time.Duration{0, 0, time.Millisecond, 20 * time.Millisecond, 41 * time.Millisecond,
	120 * time.Millisecond, 333 * time.Millisecond, 1500 * time.Millisecond, 4 * time.Second, time.Minute})

func drawConfig(t *rapid.T, tb testing.TB) bed.Config {
	c := twoMoments(tb)
	if rapid.Bool().Draw(t, "no away") {
		c.Moments[0].Away = nil
	}
	if rapid.Bool().Draw(t, "one moment") {
		c.Moments = c.Moments[:1]
	}
	c.Voicing.Stillness = rapid.SampledFrom([]float64{0, 0.6, 1}).Draw(t, "stillness")
	c.Voicing.NoBass = rapid.Bool().Draw(t, "no bass")
	c.Balance.Floor = rapid.SampledFrom([]float64{math.Inf(-1), -14}).Draw(t, "floor")
	c.Balance.NoAir, c.SameVoices = rapid.Bool().Draw(t, "no air"), rapid.Bool().Draw(t, "same voices")
	c.Balance.Ceiling = rapid.SampledFrom([]float64{0, -5}).Draw(t, "ceiling")
	c.Lift = rapid.SampledFrom([]uint8{0, 6}).Draw(t, "lift")
	c.Feel.Room = rapid.SampledFrom([]float64{0, 1}).Draw(t, "room")
	c.Feel.Holds = rapid.SampledFrom([]time.Duration{0, 3 * time.Second, dynamics.Always}).Draw(t, "holds")
	c.Arms = bed.Armable()
	c.Ending = harmony.Ending(rapid.IntRange(0, 3).Draw(t, "ending"))
	c.Walk = rapid.SampledFrom([]time.Duration{100 * time.Millisecond, 4 * time.Second}).Draw(t, "walk")
	c.Thin = rapid.SampledFrom([]time.Duration{0, time.Second}).Draw(t, "thin")
	c.Hands = rapid.SampledFrom([]time.Duration{0, time.Second, 10 * time.Second}).Draw(t, "hands")
	if rapid.Bool().Draw(t, "songs") {
		c.Songs = threeSongs(tb, len(c.Moments))
		c.Moments[0].NextSong = 2
	}
	return c
}

// Whatever happens, in whatever order: held is held (I1), no hole (I2), every
// on has one off (I3), a change of density only adds or only removes (I6),
// levels move at a bounded rate (I7).
func TestInvariantsUnderRandomEvents(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := newRun(t, drawConfig(rt, t))
		before := r.bed.View()
		steps := rapid.IntRange(1, 60).Draw(rt, "steps")
		for range steps {
			r.wait(gaps.Draw(rt, "gap"))
			r.sounds(rt)
			mid := r.bed.View()
			nested(rt, before, mid)
			r.event(drawEvent(rt))
			before = r.bed.View()
			nested(rt, mid, before)
			r.sounds(rt)
			if len(r.watcher.Faults()) > 0 {
				rt.Fatalf("%v", r.watcher.Faults())
			}
		}
		r.watcher.InputEnded(r.now)
		r.event(bed.Event{Kind: bed.InputEnded})
		r.wait(time.Minute)
		r.watcher.Finish()
		if len(r.watcher.Faults()) > 0 {
			rt.Fatalf("%v", r.watcher.Faults())
		}
		if at, ok := r.bed.Deadline(); ok {
			rt.Fatalf("the bed still wants to be called at %v, after its end at %v", at, r.now)
		}
	})
}

// sounds checks that what the view says is what sounds: every note of the voicing
// is on, and once an overlap has passed nothing else is.
func (r *run) sounds(t *rapid.T) {
	r.look(r.now)
	for l, want := range r.wanted {
		on := r.watcher.Sounding(bed.Layer(l))
		if on.And(want) != want {
			t.Fatalf("%v should be %v, but of it only %v sound", bed.Layer(l), want.Append(nil), on.Append(nil))
		}
		if r.now-r.since[l] > bed.DefaultConfig().Overlap && on != want {
			t.Fatalf("%v after a change %v of %v sound, want %v", r.now-r.since[l], on.Append(nil), bed.Layer(l), want.Append(nil))
		}
	}
}

func withBass(p voicing.Pitches, bass uint8) voicing.Pitches {
	if bass != voicing.NoBass {
		p.Add(bass)
	}
	return p
}

func nested(t *rapid.T, a, b bed.View) {
	if a.Chord != b.Chord || a.Phase == bed.Silent || b.Phase == bed.Silent || a.Voicing.Bass != b.Voicing.Bass || a.Key != b.Key || a.Moment != b.Moment || a.Place != b.Place {
		return
	}
	p, q := a.Voicing.Pitches(), b.Voicing.Pitches()
	if both := p.And(q); both != p && both != q {
		t.Fatalf("density goes from %v to %v: notes both come and go (I6)", a.Voicing.Notes(), b.Voicing.Notes())
	}
}

// The same events give the same actions, whether the caller comes at every
// deadline, late, or only with the next event (I8).
func TestLateCallersGetTheSameActions(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := drawConfig(rt, t)
		type timed struct {
			gap time.Duration
			e   bed.Event
		}
		var events []timed
		for range rapid.IntRange(1, 30).Draw(rt, "events") {
			events = append(events, timed{gaps.Draw(rt, "gap") + 1, drawEvent(rt)})
		}
		play := func(wake func(r *run, gap time.Duration)) []bed.Action {
			r := newRun(t, c)
			for _, e := range events {
				wake(r, e.gap)
				r.event(e.e)
			}
			r.wait(time.Minute)
			return r.all
		}
		punctual := play(func(r *run, gap time.Duration) { r.wait(gap) })
		lazy := play(func(r *run, gap time.Duration) { r.now += gap })
		fussy := play(func(r *run, gap time.Duration) {
			for range 7 {
				r.wait(gap / 8)
			}
			r.wait(gap - 7*(gap/8))
		})
		if !slices.Equal(punctual, lazy) {
			rt.Fatalf("a caller that is late gets other actions: %d against %d", len(lazy), len(punctual))
		}
		if !slices.Equal(punctual, fussy) {
			rt.Fatalf("a caller that comes too often gets other actions: %d against %d", len(fussy), len(punctual))
		}
	})
}

func TestWatcherFindsWhatIsWrong(t *testing.T) {
	config := twoMoments(t)
	strike := func(at time.Duration, n uint8) bed.Action {
		return bed.Action{Kind: bed.StrikeNote, At: at, Note: n, Velocity: 64}
	}
	release := func(at time.Duration, n uint8) bed.Action {
		return bed.Action{Kind: bed.ReleaseNote, At: at, Note: n}
	}
	in := bed.Action{Kind: bed.Did, Command: bed.BringIn}
	out := bed.Action{Kind: bed.Did, At: 2 * time.Second, Command: bed.OutNow}
	for _, c := range []struct {
		actions []bed.Action
		want    string
	}{
		{[]bed.Action{in, strike(0, 60), strike(time.Second, 60), out, release(2*time.Second, 60)},
			"1s: warm note 60 is struck again while it sounds (I1)"},
		{[]bed.Action{in, strike(0, 60), strike(0, 62), {Kind: bed.EnterChord, At: 9}, release(9, 60), strike(9, 60), out, release(2*time.Second, 60), release(2*time.Second, 62)},
			"9ns: warm note 60 is released and struck at one chord change (I1)"},
		{[]bed.Action{in, strike(0, 60), release(1, 61), out, release(2*time.Second, 60)},
			"1ns: warm note 61 is released but does not sound (I3)"},
		{[]bed.Action{in, strike(0, 60), release(9, 60), strike(10, 62), out, release(2*time.Second, 62)},
			"9ns: note 60 ends before another has begun: a hole (I2)"},
		{[]bed.Action{in, strike(0, 60), strike(9, 62), release(9, 60), out, release(2*time.Second, 62)},
			"9ns: note 60 ends before another has begun: a hole (I2)"},
		{[]bed.Action{in, strike(0, 60), out},
			"2s: 1 warm notes still sound at the end (I3)"},
		{[]bed.Action{in, {Kind: bed.SetLevel, Value: 10}, strike(0, 60), {Kind: bed.SetLevel, At: 20 * time.Millisecond, Value: 90}, out, release(2*time.Second, 60)},
			"20ms: warm level jumps from 10 to 90 in 20ms (I7)"},
		{[]bed.Action{in, strike(9, 60), strike(5, 61), out, release(2*time.Second, 60), release(2*time.Second, 61)},
			"5ns: an action due at 5ns comes after one due at 9ns"},
		{[]bed.Action{strike(0, 60), release(9, 60)},
			"0s: warm note 60 is struck in silence, without a bring-in"},
		{[]bed.Action{in, strike(0, 60), {Kind: bed.SetLevel, Value: 10}, {Kind: bed.SetLevel, At: 5 * time.Second, Value: 127}, {Kind: bed.Did, At: 6 * time.Second, Command: bed.OutNow}, release(6*time.Second, 60)},
			"5s: warm level jumps from 10 to 127 in 5s (I7)"},
		{[]bed.Action{in, strike(0, 60), {Kind: bed.Did, At: time.Second, Command: bed.FadeOut}, {Kind: bed.Did, At: 2 * time.Second, Command: bed.BringIn}, release(3*time.Second, 60)},
			"3s: note 60 ends before another has begun: a hole (I2)"},
		{[]bed.Action{in, strike(0, 60), {Kind: bed.Did, At: time.Second, Command: bed.FadeOut}, release(time.Minute, 60)},
			"1m0s: the bed has not left: it should have been silent by 8s"},
		{[]bed.Action{in, strike(0, 60), {Kind: bed.SetLevel, Value: 127}, {Kind: bed.SetLevel, Value: 1, Layer: bed.Air}, out, release(2*time.Second, 60)},
			"0s: levels [127 1] are 0.00 dB, over the ceiling of 0 dB"},
		{[]bed.Action{in, strike(0, 60), strike(0, 64), release(9, 64), out, release(2*time.Second, 60)}, ""},
	} {
		w := bedtest.NewWatcher(config)
		for _, a := range c.actions {
			w.See(a)
		}
		w.Finish()
		if got := strings.Join(w.Faults(), "\n"); got != c.want {
			t.Errorf("found %q, want %q", got, c.want)
		}
	}
}

// A reset ends and strikes everything at once, from nothing; afterwards a hole is
// a hole again.
func TestWatcherGrantsAnInterruption(t *testing.T) {
	w := bedtest.NewWatcher(twoMoments(t))
	see := func(kind bed.ActionKind, at time.Duration, value uint8) {
		w.See(bed.Action{Kind: kind, At: at, Note: value, Velocity: 64, Value: value})
	}
	w.See(bed.Action{Kind: bed.Did, Command: bed.BringIn})
	see(bed.StrikeNote, 0, 60)
	see(bed.SetLevel, 0, 50)
	w.Interrupted(time.Second)
	see(bed.ReleaseNote, time.Second, 60)
	see(bed.StrikeNote, time.Second, 60)
	see(bed.SetLevel, time.Second, 0)
	see(bed.ReleaseNote, 2*time.Second, 60)
	w.See(bed.Action{Kind: bed.StrikeNote, At: 3 * time.Second, Note: 62, Velocity: 64})
	if got, want := strings.Join(w.Faults(), "; "), "2s: note 60 ends before another has begun: a hole (I2)"; got != want {
		t.Errorf("found %q, want %q", got, want)
	}
}
