package soundcheck

import (
	"bytes"
	"math"
	"os/exec"
	"slices"
	"testing"

	"bedd/internal/bed"
	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
	"bedd/internal/session"
	"bedd/internal/sound"
)

// talk is an invented speaker's, at Saltmere.
const talk = `We had one lamp then, and it was enough. The wind took the harbour wall in the night, and nobody sat at home.
Every house brought what it had: a rope, a ladder, a kettle of soup. And in the morning the boats were there, all of them.
That is why we light the lanterns on the quay, every winter, and why we are quiet for a while before we sing.`

// speakers are voices of espeak-ng, high and low, slow and fast.
var speakers = [][]string{
	{"-v", "en-gb", "-s", "150"},
	{"-v", "en-us+f3", "-s", "165"},
	{"-v", "en-gb-scotland+m4", "-s", "140"},
	{"-v", "en-gb+f5", "-s", "130", "-p", "70"},
	{"-v", "en-us+m7", "-s", "180", "-p", "30"},
}

// renders skips a test that sounds minutes of bed under the race detector, which takes
// ten times as long: the goroutines are those of the package sound, which has its own
// tests.
func renders(t *testing.T) {
	if raced {
		t.Skip("sounds minutes of bed, and starts no goroutine of its own")
	}
}

const speechRate = 22050 // of espeak-ng, and half of the synth's other rate

// speaks gives what a speaker says, as WAV and as one channel.
func speaks(t *testing.T, speaker []string) (wav []byte, samples []float64) {
	t.Helper()
	espeak, err := exec.LookPath("espeak-ng")
	if err != nil {
		t.Skip("needs espeak-ng: run scripts/install")
	}
	wav, err = exec.Command(espeak, append(speaker, "--stdout", talk)...).Output()
	if err != nil {
		t.Fatalf("espeak-ng %v: %v", speaker, err)
	}
	r, err := sound.NewWAVReader(bytes.NewReader(wav))
	if err != nil || r.Rate() != speechRate {
		t.Fatalf("%v: %v", speaker, err)
	}
	block := make([]float32, 4096)
	for n, _ := r.Read(block); n > 0; n, _ = r.Read(block) {
		for i := range n {
			samples = append(samples, float64(block[2*i]))
		}
	}
	return wav, samples
}

// rendererOf sounds a rig with the built-in sound.
func rendererOf(t testing.TB, rig gathering.Rig, rate int) Renderer {
	return func(events []sound.Event, tail int64, sink func([]float32) error) error {
		s, err := sound.New(sound.Config{Rate: rate, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		for l, program := range []uint8{89, 94} {
			s.Send(0xC0|rig.Layers[l].Channel, program, 0)
			s.Send(0xB0|rig.Layers[l].Channel, 11, 0)
		}
		return s.RenderTo(events, tail, sink, nil)
	}
}

func winterLights(t testing.TB) (gathering.Rig, []bed.Moment) {
	t.Helper()
	rig, err := gathering.OpenRig("saltmere")
	if err != nil {
		t.Fatal(err)
	}
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	g, err := gathering.OpenGathering("winter-lights", library)
	if err != nil {
		t.Fatal(err)
	}
	return rig, g.BedMoments()
}

// demo is the bed of the recorded evening alone, in stereo.
func demo(t *testing.T, rig gathering.Rig, rate int) (samples []float32) {
	t.Helper()
	_, moments := winterLights(t)
	performance, err := midiio.ReadFile("../../testdata/winter-lights.mid")
	if err != nil {
		t.Fatal(err)
	}
	take, _, _, err := session.Perform(rig, moments, performance, nil)
	if err != nil {
		t.Fatal(err)
	}
	var events []sound.Event
	for _, s := range take.Sent() {
		if (s.From == session.Warm || s.From == session.Air) && len(s.Data) == 3 {
			events = append(events, sound.Event{Frame: int64(s.At.Seconds() * float64(rate)), Status: s.Data[0], Data1: s.Data[1], Data2: s.Data[2]})
		}
	}
	err = rendererOf(t, rig, rate)(events, int64(rate), func(block []float32) error {
		samples = append(samples, block...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return samples
}

// Synthetic speech over the demo's bed at a range of levels: the index falls as the bed
// rises, and so does STOI, measured on the mixture itself; over all voices and levels
// the two put the mixtures into the same order.
func TestTheIndexRanksMixturesAsSTOIDoes(t *testing.T) {
	renders(t)
	rig, _ := winterLights(t)
	stereo := demo(t, rig, 2*speechRate)
	var mono []float64 // at half the rate: the bed has next to nothing up there
	for i := 0; i+3 < len(stereo); i += 4 {
		mono = append(mono, float64(stereo[i]+stereo[i+1]+stereo[i+2]+stereo[i+3])/4)
	}
	mono = mono[14*speechRate : 32*speechRate]
	var indices, stois []float64
	for _, speaker := range speakers {
		wav, voice := speaks(t, speaker)
		h, err := hear(bytes.NewReader(wav))
		if err != nil {
			t.Fatal(err)
		}
		v := RecordedVoice("", h, 62)
		n := min(len(voice), len(mono))
		ear, _ := NewEar(speechRate)
		for _, x := range mono[:n] {
			ear.Add([]float32{float32(x), float32(x)})
		}
		b := ear.Heard()
		last, lastSTOI, first := 2.0, 2.0, len(indices)
		for under := 20.0; under >= -20; under -= 8 {
			gain := v.LUFS - under - b.LUFS
			mixed := make([]float64, n)
			for i := range mixed {
				mixed[i] = voice[i] + mono[i]*math.Pow(10, gain/20)
			}
			index, s := clarity.Index(v.Levels, b.Levels.Plus(v.FullSPL+gain)), stoi(voice[:n], mixed)
			if index > last || s > lastSTOI {
				t.Errorf("%v: at %v LU under the voice the index is %.3f (%.3f before), STOI %.3f (%.3f)", speaker, under, index, last, s, lastSTOI)
			}
			last, lastSTOI = index, s
			indices, stois = append(indices, index), append(stois, s)
		}
		t.Logf("%v: from 20 LU under to 20 over: index %.2f to %.2f, STOI %.2f to %.2f", speaker, indices[first], last, stois[first], lastSTOI)
	}
	rho := correlation(ranks(indices), ranks(stois))
	t.Logf("rank correlation over %d mixtures: %.3f", len(indices), rho)
	if rho < 0.95 {
		t.Errorf("index and STOI rank the mixtures differently: rank correlation %.3f, want 0.95 at least", rho)
	}
}

// Whatever the voice, the target and how loud the fader was: with the recommended level,
// or the rig changed as recommended, the index of every voice over the demo's own bed, in
// every three seconds of it, is at the target or above, and the bed is where it should be.
func TestTheRecommendedLevelKeepsTheWords(t *testing.T) {
	renders(t)
	rig, moments := winterLights(t)
	moments = moments[:2] // those of the recorded evening
	cases, changed := 0, 0
	rows := map[string][]Row{}
	judge := func(rig gathering.Rig, v Voice, wish Wish) (Words, error) {
		b := rig.Bed.Brightness
		name := string([]byte{b.Dark, b.Bright, rig.Bed.Lift})
		if rows[name] == nil {
			var err error
			if rows[name], err = Beds(rig, moments, rendererOf(t, rig, renderRate), nil); err != nil {
				return Words{}, err
			}
		}
		return Judge(v, clarity.Silence(), Bedding{Rows: rows[name], Config: rig.Bed, Law: true}, wish)
	}
	windows := map[string][]Heard{}
	for _, speaker := range speakers {
		wav, _ := speaks(t, speaker)
		h, err := hear(bytes.NewReader(wav))
		if err != nil {
			t.Fatal(err)
		}
		v := RecordedVoice("", h, 62)
		for _, c := range []struct{ target, under, below float64 }{
			{0.75, 10, 20}, {0.75, 10, 6}, {0.75, 0, -3}, {0.95, 0, 6},
		} {
			wish := Wish{c.target, c.under}
			w, err := judge(rig, v, wish)
			if err != nil {
				t.Fatal(err)
			}
			w.Below(c.below)
			m, err := Mend(w, rig, func(rig gathering.Rig) (Words, error) { return judge(rig, v, wish) })
			fader := *w.Fader
			if err != nil { // the fader comes down as far as it says
				m.Rig, fader = rig, w.Gain()
			}
			if len(m.Settings) > 0 {
				changed++
			}
			b := m.Rig.Bed.Brightness
			name := string([]byte{b.Dark, b.Bright, m.Rig.Bed.Lift, byte(-4 * m.Rig.Bed.Balance.Ceiling)})
			if windows[name] == nil {
				windows[name] = windowsOf(t, demo(t, m.Rig, renderRate))
			}
			least := 1.0
			for _, h := range windows[name] {
				index := clarity.Index(v.Levels, h.Levels.Plus(v.FullSPL+fader))
				least = min(least, index)
				if index < c.target {
					t.Errorf("%v, target %v, %v LU under the voice, %v: the index is %.3f", speaker, c.target, c.below, m.Settings, index)
				}
				if under := v.LUFS - h.LUFS - fader; under < c.under-0.5 {
					t.Errorf("%v: the bed is %.1f LU under the voice, and should be %v", speaker, under, c.under)
				}
			}
			t.Logf("%v target %v, now %v LU under: %v, ceiling %v, fader %+.1f, least index %.3f (%v)", speaker[1], c.target, c.below, m.Settings, m.Ceiling, fader-*w.Fader, least, err)
			cases++
		}
	}
	if want := 4 * len(speakers); cases < want || changed < want/2 {
		t.Errorf("%d cases, of which %d change the rig: the test tests too little", cases, changed)
	}
}

// windowsOf hears a sound in windows of three seconds.
func windowsOf(t *testing.T, samples []float32) (out []Heard) {
	t.Helper()
	for part := range slices.Chunk(samples, 2*3*renderRate) {
		ear, err := NewEar(renderRate)
		if err != nil {
			t.Fatal(err)
		}
		ear.Add(part)
		if h := ear.Heard(); !math.IsInf(h.LUFS, -1) {
			out = append(out, h)
		}
	}
	return out
}
