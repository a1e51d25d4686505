package bed_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/dynamics"

	"pgregory.net/rapid"
)

// drawDynamic draws anything that bears on how loud and full a bed is, and
// nothing else.
func drawDynamic(t *rapid.T) bed.Event {
	e := bed.Event{Kind: rapid.SampledFrom([]bed.EventKind{bed.TimePassed, bed.NoteStruck, bed.PedalMoved, bed.PedalMoved, bed.VoiceHeard, bed.Asked}).Draw(t, "kind")}
	e.Command = rapid.SampledFrom([]bed.Command{bed.Swell, bed.Settle, bed.LevelUp, bed.LevelDown}).Draw(t, "command")
	e.Note, e.Velocity = rapid.Uint8Range(36, 84).Draw(t, "note"), rapid.Uint8Range(1, 127).Draw(t, "velocity")
	e.Raw, e.Intensity = rapid.Uint16Range(0, dynamics.MaxRaw).Draw(t, "raw"), rapid.Float64Range(0, 1).Draw(t, "intensity")
	e.Eased = rapid.SampledFrom([]float64{0, 0, 3, 40}).Draw(t, "eased")
	return e
}

// Whatever foot, hands and voice do to a bed that holds: the level moves by no
// more than the feel's rate and a step of the controller; the density goes by one
// rung at a time, at least the stagger apart, adding one note or taking one away;
// nothing that sounds is struck again; during stay nothing is sent but the end of
// a note that had its successor before.
func TestDynamicsUnderRandomEvents(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := drawConfig(rt, t)
		c.Feel.Rise, c.Feel.Fall = rapid.Float64Range(1, 24).Draw(rt, "rise"), rapid.Float64Range(1, 24).Draw(rt, "fall")
		r := newRun(t, c)
		r.ask(bed.BringIn)
		r.wait(20 * time.Second)
		level, levelAt, rungAt := r.bed.View().Level, r.now, r.now-time.Hour
		var changed []bed.Action
		stay, stayedAt := false, time.Duration(0)
		see := func() {
			for _, a := range changed {
				if ending := a.Kind == bed.ReleaseNote && a.At <= stayedAt+c.Overlap; stay && a.Kind != bed.Tell && !ending {
					rt.Fatalf("during stay: %+v", a)
				}
			}
			for len(changed) > 0 {
				at := changed[0].At
				n := slices.IndexFunc(changed, func(a bed.Action) bool { return a.At != at })
				if n < 0 {
					n = len(changed)
				}
				warm, moved := 0, level
				for _, a := range changed[:n] {
					switch {
					case a.Kind == bed.SetLevel:
						moved[a.Layer] = int(a.Value)
					case a.Kind == bed.StrikeNote && a.Layer == bed.Warm:
						warm++
					case a.Kind == bed.ReleaseNote && a.Layer == bed.Warm: // an overlap after its rung
						warm++
						at -= c.Overlap
					}
				}
				if warm > 1 || warm == 1 && at-rungAt < c.Stagger {
					rt.Fatalf("%d notes change at %v, the last did at %v", warm, at, rungAt)
				}
				if warm == 1 {
					rungAt = at
				}
				at = changed[0].At
				if was, now := bedtest.Loudness(level), bedtest.Loudness(moved); moved != level && min(was, now) >= dynamics.Bottom {
					// Two layers are rounded, before and after.
					most := max(c.Feel.Rise, c.Feel.Fall)*min(at-levelAt, 20*time.Millisecond).Seconds() + 2*dynamics.GainDB(19) - 2*dynamics.GainDB(18)
					if math.Abs(now-was) > most {
						rt.Fatalf("from %.2f to %.2f dB within %v, want %.2f at most", was, now, at-levelAt, most)
					}
					levelAt = at
				}
				level, changed = moved, changed[n:]
			}
		}
		for range rapid.IntRange(1, 40).Draw(rt, "steps") {
			r.all = r.all[:0]
			r.wait(gaps.Draw(rt, "gap"))
			changed = slices.Clone(r.all)
			see()
			r.all = r.all[:0]
			if rapid.IntRange(0, 9).Draw(rt, "stay") == 0 {
				stay, stayedAt = !stay, r.now
				r.ask(bed.Stay)
				continue
			}
			r.event(drawDynamic(rt))
			changed = slices.Clone(r.all)
			see()
		}
		if len(r.watcher.Faults()) > 0 {
			rt.Fatalf("%v", r.watcher.Faults())
		}
	})
}

// A swell and a settling can be ordered while the bed sounds, and only then; each
// is heard as one long move.
func TestSwellAndSettleAreHeard(t *testing.T) {
	c := twoMoments(t)
	c.Feel.Swell, c.Feel.Settle = dynamics.Goal{To: 1, Over: 4 * time.Second}, dynamics.Goal{To: 0, Over: 4 * time.Second}
	r := newRun(t, c)
	r.ask(bed.Swell)
	r.ask(bed.BringIn)
	r.wait(5 * time.Second)
	r.ask(bed.Swell)
	r.wait(4100 * ms)
	if got := r.bed.View(); got.Intensity != 1 || got.Source != dynamics.FromFoot {
		t.Errorf("swelled to %v from %v", got.Intensity, got.Source)
	}
	r.ask(bed.Settle)
	r.wait(4100 * ms)
	if got := r.bed.View().Intensity; got != 0 {
		t.Errorf("settled to %v", got)
	}
	r.ask(bed.FadeOut)
	r.ask(bed.Settle)
	r.wait(20 * time.Second)
	if got := r.bed.View().Intensity; got != c.Moments[0].Intensity {
		t.Errorf("the next bed would begin at %v", got)
	}
	if got, want := said(r.all), "(the bed is silent) bring-in C swell settle fade (the bed is silent)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	r.end()
}

// What a synth misreads is left out: controllers, the second layer, the density.
func TestWhatIsSwitchedOffIsNotSent(t *testing.T) {
	sends := func(change func(*bed.Config)) (kinds map[bed.ActionKind]int, air int, voices map[int]bool) {
		c := twoMoments(t)
		change(&c)
		r := newRun(t, c)
		r.foot(0)
		r.ask(bed.BringIn)
		voices = map[int]bool{}
		for range 30 {
			r.wait(time.Second)
			r.foot(dynamics.MaxRaw - r.raw)
			voices[r.bed.View().Density] = true
		}
		r.end()
		kinds = map[bed.ActionKind]int{}
		for _, a := range r.all {
			kinds[a.Kind]++
			if a.Layer == bed.Air && a.Kind == bed.StrikeNote {
				air++
			}
		}
		return kinds, air, voices
	}
	kinds, air, voices := sends(func(*bed.Config) {})
	if kinds[bed.SetLevel] == 0 || kinds[bed.SetBrightness] == 0 || air == 0 || len(voices) < 2 {
		t.Errorf("all is on: %v, %d notes of air, voices %v", kinds, air, voices)
	}
	kinds, air, voices = sends(func(c *bed.Config) {
		c.NoLevel, c.Brightness.Off, c.Balance.NoAir, c.SameVoices = true, true, true, true
	})
	if kinds[bed.SetLevel] != 0 || kinds[bed.SetBrightness] != 0 || air != 0 || len(voices) != 1 || !voices[4] {
		t.Errorf("all is off: %v, %d notes of air, voices %v", kinds, air, voices)
	}
}

// A foot whose time is over hands over by itself, without anybody calling.
func TestAFootHandsOverWhileTheBedRests(t *testing.T) {
	c := twoMoments(t)
	c.Feel.Holds = time.Minute
	r := newRun(t, c)
	r.foot(0)
	r.ask(bed.BringIn)
	for range 70 * 4 {
		r.wait(250 * ms)
		r.event(bed.Event{Kind: bed.NoteStruck, Note: 48, Velocity: 110})
		if at := r.now; at < 59*time.Second && r.bed.View().Intensity != 0 {
			t.Fatalf("at %v the intensity is %v", at, r.bed.View().Intensity)
		}
	}
	r.wait(time.Second)
	if v := r.bed.View(); v.Intensity < 0.7 || v.Source != dynamics.FromPlaying {
		t.Errorf("after its time: %v from %v", v.Intensity, v.Source)
	}
	r.end()
}
