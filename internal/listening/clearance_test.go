package listening

import (
	"math"
	"testing"
	"time"

	"bedd/internal/clarity"

	"pgregory.net/rapid"
)

const oneHop = time.Second / hopsPerSecond

// room is a microphone that hears a speaker and, for each dB of the bed's, the bed.
type room struct {
	e      ease
	at     time.Duration
	speech float64 // LUFS
	leaks  float64 // LUFS that the bed at its loudest has in the microphone
	wishes float64 // dB that the player lets the bed have
	silent time.Duration
}

// bed gives how loud the bed is, in dB under its loudest.
func (r *room) bed() float64 { return min(r.wishes, -r.e.db) }

// talk has the speaker talk, or be silent, and gives the most that the bed has moved
// in a second.
func (r *room) talk(t *testing.T, d time.Duration, speaks bool) {
	t.Helper()
	for end := r.at + d; r.at < end; {
		r.at += oneHop
		leak := r.leaks + r.bed()
		f := Features{At: r.at, Sound: Silence, Speech: math.Inf(-1), Loudness: leak, Leak: 1, Pause: r.silent}
		if speaks {
			together := math.Pow(10, r.speech/10) + math.Pow(10, leak/10)
			f.Sound, f.Voice, f.Speech = Speech, true, r.speech
			f.Loudness, f.Leak, f.Pause = 10*math.Log10(together), math.Pow(10, leak/10)/together, 0
			r.silent = 0
		}
		r.silent += oneHop
		before := r.e.db
		r.e.hear(f, r.bed())
		if down := r.e.db - before; down > easeDown*oneHop.Seconds()+1e-9 || -down > easeBack*oneHop.Seconds()+1e-9 {
			t.Fatalf("at %v the bed is eased from %v to %v dB", r.at, before, r.e.db)
		}
	}
}

func (r *room) under() float64 { return r.speech - r.leaks - r.bed() }

// A bed that comes too near to the speech in the microphone is eased down slowly, as
// far as it takes and no farther, and comes back when nobody speaks.
func TestABedThatCoversTheWordsIsEasedDown(t *testing.T) {
	r := room{e: ease{Clearance: DefaultClearance()}, speech: -30, leaks: -34, wishes: -2}
	r.talk(t, 3*time.Second, true)
	if got := r.e.db; math.Abs(got-3) > 0.1 {
		t.Errorf("after 3 s it is eased by %.2f dB, want 3", got)
	}
	r.talk(t, 27*time.Second, true)
	if got := r.under(); got < 10 || got > 10.2 {
		t.Errorf("it ends %.2f LU under the speech, want 10", got)
	}
	eased := r.e.db
	r.talk(t, 9*time.Second, false)
	if r.e.db != eased {
		t.Errorf("in a pause it goes from %v to %v dB", eased, r.e.db)
	}
	r.talk(t, 5*time.Second, false)
	if got := eased - r.e.db; math.Abs(got-1) > 0.1 {
		t.Errorf("5 s more and it has come back by %.2f dB, want 1", got)
	}
	r.talk(t, time.Minute, false)
	if r.e.db != 0 {
		t.Errorf("in the end it is still eased by %v dB", r.e.db)
	}
}

// A bed far enough under the words is left alone.
func TestAClearBedIsLeftAlone(t *testing.T) {
	r := room{e: ease{Clearance: DefaultClearance()}, speech: -30, leaks: -41, wishes: 0}
	r.talk(t, 30*time.Second, true)
	if r.e.db != 0 {
		t.Errorf("11 LU under the speech it is eased by %v dB", r.e.db)
	}
}

// By a sound check the ceiling goes with the voice: as much as the speaker is softer
// than the voice of the check was, the bed is to be under the ceiling.
func TestASofterSpeakerThanAtTheSoundCheck(t *testing.T) {
	for speech, want := range map[float64]float64{-20: 0, -24: 0, -26: 5, -33: 12} {
		r := room{e: ease{Clearance: Clearance{Under: clarity.LeastUnder, Voice: -24, Ceiling: -3}}, speech: speech, leaks: -90}
		r.talk(t, 30*time.Second, true)
		if got := r.e.db; math.Abs(got-want) > 1e-9 {
			t.Errorf("a voice of %v LUFS: eased by %v dB, want %v", speech, got, want)
		}
	}
}

// Whatever the features, it moves no faster than it may, and stays in range.
func TestEasingNeverJumps(t *testing.T) {
	some := rapid.OneOf(rapid.Float64Range(-100, 10), rapid.SampledFrom([]float64{0, 1, math.NaN(), math.Inf(1), math.Inf(-1), -1e300}))
	rapid.Check(t, func(rt *rapid.T) {
		e := ease{Clearance: Clearance{Under: rapid.Float64Range(0, MostUnder).Draw(rt, "under"), Voice: some.Draw(rt, "voice"), Ceiling: -2}}
		at := time.Duration(0)
		for range rapid.IntRange(1, 60).Draw(rt, "steps") {
			at += rapid.SampledFrom([]time.Duration{0, oneHop, time.Second, time.Hour, -time.Second}).Draw(rt, "dt")
			before := e.db
			e.hear(Features{At: at, Sound: Kind(rapid.IntRange(0, 5).Draw(rt, "sound")), Voice: rapid.Bool().Draw(rt, "voice"),
				Loudness: some.Draw(rt, "loudness"), Speech: some.Draw(rt, "speech"), Leak: some.Draw(rt, "leak"),
				Pause: rapid.SampledFrom([]time.Duration{0, time.Minute}).Draw(rt, "pause")}, some.Draw(rt, "bed"))
			if !(e.db >= 0 && e.db <= mostEase) || e.db-before > easeDown*mostStep.Seconds()+1e-9 || before-e.db > easeBack*mostStep.Seconds()+1e-9 {
				rt.Fatalf("eased from %v to %v dB", before, e.db)
			}
		}
	})
}

func TestClearanceErrors(t *testing.T) {
	for want, c := range map[string]Clearance{
		"a bed -1 LU under the voice is out of range 0…60": {Under: -1},
		"a voice of 3 LUFS is out of range -70…0":          {Voice: 3},
		"a ceiling of 1 dB is above 0":                     {Ceiling: 1},
	} {
		if err := c.Check(); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if err := DefaultClearance().Check(); err != nil {
		t.Error(err)
	}
}
