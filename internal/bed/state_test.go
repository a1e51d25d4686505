package bed_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// Whoever looks, and however often, the bed does the same (I8).
func TestLookingChangesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := drawConfig(rt, t)
		type step struct {
			gap   time.Duration
			e     bed.Event
			looks int
		}
		var steps []step
		for range rapid.IntRange(1, 40).Draw(rt, "events") {
			steps = append(steps, step{gaps.Draw(rt, "gap"), drawEvent(rt), rapid.IntRange(0, 2).Draw(rt, "looks")})
		}
		play := func(looks bool) (all []bed.Action) {
			b, err := bed.New(c)
			if err != nil {
				rt.Fatal(err)
			}
			at := time.Duration(0)
			for _, s := range steps {
				at += s.gap
				all = b.Handle(at, s.e, all)
				for range s.looks {
					if looks {
						v, l, state := b.View(), b.Look(), b.State()
						if v.Place == bed.Turning { // a state goes on where that was to end
							v.Place, v.Chord, v.Key = bed.Home, state.Chord, state.PlanKey
						}
						if l.Phase != v.Phase || l.Intensity != v.Intensity || l.Source != v.Source || l.Voices != v.Density ||
							state.Chord != v.Chord || state.Key != v.Key || state.Place != v.Place || state.Moment != v.Moment || state.Intensity != v.Intensity {
							rt.Fatalf("view %+v, look %+v, state %+v", v, l, state)
						}
					}
				}
			}
			return b.Handle(at+time.Minute, bed.Event{}, all)
		}
		if alone, watched := play(false), play(true); !slices.Equal(alone, watched) {
			rt.Fatalf("watched it does %d things, alone %d", len(watched), len(alone))
		}
	})
}

// From anywhere another bed goes on: it stands there in silence, begins from nothing
// and from the same chord, and keeps all that a bed must.
func TestResume(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := drawConfig(rt, t)
		r := newRun(t, c)
		for range rapid.IntRange(0, 30).Draw(rt, "steps") {
			r.wait(gaps.Draw(rt, "gap"))
			r.event(drawEvent(rt))
		}
		was := r.bed.State()
		on := newRun(t, c)
		if err := on.bed.Resume(was); err != nil {
			rt.Fatalf("%+v: %v", was, err)
		}
		want := was
		want.Phase = bed.Silent
		if got := on.bed.State(); got != want {
			rt.Fatalf("it stands at %+v, want %+v", got, want)
		}
		on.ask(bed.BringIn)
		v := on.bed.View()
		if v.Chord != was.Chord || v.Key != was.Key || v.Phase != bed.Rising || v.Level[bed.Warm] > 0 && !c.NoLevel {
			rt.Fatalf("it comes in with %+v after %+v", v, was)
		}
		for range rapid.IntRange(0, 10).Draw(rt, "more") {
			on.wait(gaps.Draw(rt, "gap"))
			on.event(drawEvent(rt))
			on.sounds(rt)
		}
		on.event(bed.Event{Kind: bed.InputEnded})
		on.wait(time.Minute)
		on.watcher.Finish()
		if faults := on.watcher.Faults(); len(faults) > 0 {
			rt.Fatalf("%v", faults)
		}
	})
}

// A state that does not fit is refused, and the bed is as it was.
func TestResumeRefuses(t *testing.T) {
	c := twoMoments(t)
	good := func() bed.State {
		b, err := bed.New(c)
		if err != nil {
			t.Fatal(err)
		}
		return b.State()
	}()
	for want, spoil := range map[string]func(s *bed.State){
		"moment 3 is out of range 1…2":              func(s *bed.State) { s.Moment = 2 },
		"moment 0 is out of range":                  func(s *bed.State) { s.Moment = -1 },
		"2 is neither home nor away":                func(s *bed.State) { s.Group = bed.Hand },
		"chord 3 of home is out of range 1…2":       func(s *bed.State) { s.Index = 2 },
		"chord 1 of away is out of range 1…0":       func(s *bed.State) { s.Moment, s.Group = 1, bed.Away },
		"place 9 is not known":                      func(s *bed.State) { s.Place = 9 },
		"in a landing that was not begun":           func(s *bed.State) { s.Place = bed.Landing },
		"it is on no chord":                         func(s *bed.State) { s.Chord = harmony.Chord{} },
		"Cm is of another mode than the moment's":   func(s *bed.State) { s.PlanKey = pitch.Key{Minor: true} },
		"intensity 1.5 is out of range":             func(s *bed.State) { s.Intensity = 1.5 },
		"chord 2 of a landing of 1 is out of range": func(s *bed.State) { s.Landing, s.RouteLen, s.RouteAt = true, 1, 1 },
		"its landing has no chords":                 func(s *bed.State) { s.Landing, s.RouteLen = true, 1 },
	} {
		b, err := bed.New(c)
		if err != nil {
			t.Fatal(err)
		}
		s := good
		spoil(&s)
		if err := b.Resume(s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
		if got := b.State(); got != good {
			t.Errorf("after %q it stands at %+v, want %+v", want, got, good)
		}
	}
	b, err := bed.New(c)
	if err != nil {
		t.Fatal(err)
	}
	b.Handle(time.Second, bed.Event{Kind: bed.Asked, Command: bed.BringIn}, nil)
	if err := b.Resume(good); err == nil {
		t.Error("a bed that sounds goes on from elsewhere")
	}
}
