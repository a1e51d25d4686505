package listening

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestWordsForAGlance(t *testing.T) {
	for want, h := range map[string]Heard{
		"hears: nobody yet":                            {Why: InSilence},
		"hears: a voice, not known yet":                {Why: Learns},
		"hears: speech, 0.6":                           {Why: Follows, Known: true, Intensity: 0.62},
		"holds: silence":                               {Why: InSilence, Known: true},
		"holds: singing":                               {Why: InSinging, Known: true},
		"holds: clapping":                              {Why: InClapping},
		"holds: knock":                                 {Why: InKnock, Known: true},
		"hears: silence, settles, 0.3":                 {Why: Settles, Known: true, Intensity: 0.31},
		"holds: singing, eased 3 dB for the words":     {Why: InSinging, Known: true, Eased: 3.2},
		"hears: speech, 0.4, eased 1 dB for the words": {Why: Follows, Known: true, Intensity: 0.4, Eased: 1},
	} {
		if got := h.Words(); got != want {
			t.Errorf("%+v: %q, want %q", h, got, want)
		}
	}
}

// A bed is told at most four times a second, of changes of a hundredth, and every two
// seconds that all is as it was.
func TestTelling(t *testing.T) {
	type step struct {
		at               time.Duration
		intensity, eased float64
		want             bool
	}
	const ms = time.Millisecond
	var teller Teller
	if teller.Tell(0, Heard{Intensity: 0.5}) {
		t.Error("it tells of a speaker who is not known")
	}
	for i, s := range []step{
		{0, 0.5, 0, true}, {100 * ms, 0.6, 0, false}, {249 * ms, 0.6, 0, false}, {250 * ms, 0.6, 0, true},
		{600 * ms, 0.605, 0, false}, {700 * ms, 0.611, 0, true}, {2650 * ms, 0.611, 0, false}, {2700 * ms, 0.611, 0, true},
		{3000 * ms, 0.611, 0.2, false}, {3100 * ms, 0.611, 0.3, true}, {3200 * ms, 0.611, 5, false}, {3350 * ms, 0.611, 5, true},
	} {
		if got := teller.Tell(s.at, Heard{Known: true, Intensity: s.intensity, Eased: s.eased}); got != s.want {
			t.Errorf("step %d, at %v: told is %v", i, s.at, got)
		}
	}
}

// While nothing arrives a listener holds for a rest and then settles at no more than the
// rate, whatever the calls' spacing; what is eased stays, and nothing is allocated.
func TestNothingArrives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := DefaultManner()
		m.Rest = time.Duration(rapid.Int64Range(int64(ShortestRest), int64(time.Minute)).Draw(t, "rest"))
		l, err := NewListener(16000, 1, m, DefaultClearance())
		if err != nil {
			t.Fatal(err)
		}
		l.speaker.spoken, l.speaker.value, l.ease.db = usable, rapid.Float64Range(m.Low, m.High).Draw(t, "intensity"), 4
		l.Hear(make([]float32, l.Hop()), nil, 0.5, -6)
		before := l.Miss(0)
		gone := time.Duration(0)
		for gone < m.Rest+2*time.Minute {
			d := time.Duration(rapid.Int64Range(int64(time.Millisecond), int64(mostStep)).Draw(t, "step"))
			h := l.Miss(d)
			gone += d
			moved := math.Abs(h.Intensity - before.Intensity)
			switch {
			case h.Eased != before.Eased || !h.Known || h.Voice || moved > m.Rate*d.Seconds()+1e-12:
				t.Fatalf("%v after %v: %+v, was %+v", d, gone, h, before)
			case gone < m.Rest-mostStep && (moved > 0 || h.Why == Settles), gone > m.Rest+mostStep && h.Why != Settles:
				t.Fatalf("after %v of %v: %+v, was %+v", gone, m.Rest, h, before)
			}
			before = h
		}
		if math.Abs(before.Intensity-m.SettleTo) > 0.01 {
			t.Fatalf("after %v it is %v, want %v", gone, before.Intensity, m.SettleTo)
		}
	})
	l, err := NewListener(16000, 1, DefaultManner(), DefaultClearance())
	if err != nil {
		t.Fatal(err)
	}
	if n := testing.AllocsPerRun(100, func() { l.Miss(20 * time.Millisecond) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func TestListenerRefusesWhatIsWrong(t *testing.T) {
	bad := DefaultManner()
	bad.Rate = 9
	for what, make := range map[string]func() (*Listener, error){
		"rate":      func() (*Listener, error) { return NewListener(100, 1, DefaultManner(), DefaultClearance()) },
		"manner":    func() (*Listener, error) { return NewListener(48000, 1, bad, DefaultClearance()) },
		"clearance": func() (*Listener, error) { return NewListener(48000, 1, DefaultManner(), Clearance{Under: -1}) },
	} {
		if _, err := make(); err == nil {
			t.Errorf("a bad %s is taken", what)
		}
	}
}

// A hop allocates nothing.
func TestListeningAllocatesNothing(t *testing.T) {
	l, err := NewListener(48000, 2, DefaultManner(), DefaultClearance())
	if err != nil {
		t.Fatal(err)
	}
	samples, known := make([]float32, 2*l.Hop()), make([]float32, l.Hop())
	random := rand.New(rand.NewPCG(1, 2))
	for i := range samples {
		samples[i] = float32(0.1 * random.NormFloat64())
	}
	if n := testing.AllocsPerRun(100, func() { l.Hear(samples, known, 0.5, -6) }); n != 0 {
		t.Errorf("a hop allocates %v times", n)
	}
	if h := l.Hear(samples, nil, math.NaN(), math.Inf(-1)); math.IsNaN(h.Intensity) || math.IsNaN(h.Eased) {
		t.Errorf("%+v", h)
	}
}
