package listening_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"testing"
	"time"

	"bedd/internal/listening"
	"bedd/internal/listening/talks"
	"bedd/internal/sound"
	"pgregory.net/rapid"
)

func newEar(t testing.TB, rate, channels int) *listening.Ear {
	t.Helper()
	e, err := listening.NewEar(listening.EarConfig{Rate: rate, Channels: channels})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// listens lets an ear hear one channel in blocks of 10 ms, and tells what it makes of
// each.
func listens(t testing.TB, rate int, samples, known []float32) (all []listening.Features) {
	t.Helper()
	e, n := newEar(t, rate, 1), rate/100
	for i := 0; i+n <= len(samples); i += n {
		var plays []float32
		if known != nil {
			plays = known[i : i+n]
		}
		e.Hear(samples[i:i+n], plays)
		all = append(all, e.Features())
	}
	return all
}

func seconds(of []listening.Features, sound listening.Kind) float64 {
	n := 0
	for _, f := range of {
		if f.Sound == sound {
			n++
		}
	}
	return float64(n) / 100
}

// longest gives the longest time without a break that something is heard.
func longest(of []listening.Features, sound listening.Kind) (most time.Duration) {
	since := time.Duration(0)
	for _, f := range of {
		if since += 10 * time.Millisecond; f.Sound != sound {
			since = 0
		}
		most = max(most, since)
	}
	return most
}

func TestWhatCannotBeHeardIsRefused(t *testing.T) {
	for c, want := range map[listening.EarConfig]string{
		{Rate: 7999, Channels: 1}:   "listening at 7999 Hz: 8000…192000 can be heard",
		{Rate: 192001, Channels: 1}: "listening at 192001 Hz: 8000…192000 can be heard",
		{Rate: 48000, Channels: 0}:  "listening to 0 channels: 1…8 can be heard",
		{Rate: 48000, Channels: 9}:  "listening to 9 channels: 1…8 can be heard",
	} {
		if _, err := listening.NewEar(c); err == nil || err.Error() != want {
			t.Errorf("%+v: %v, want %q", c, err, want)
		}
	}
}

type tone struct{ seconds, peakDB float64 }

// EBU Tech 3341, Table 1, cases 1 and 2 (both readings), 9 and 12 (steady ones, whose
// signals are from memory), and the 997 Hz of ITU-R BS.1770-4, Annex 1; ±0.1 LU. The
// tones of cases 1 and 2 are cut short, since nothing changes. What is gated is no matter of these readings.
func TestLoudnessIsThePublishedOne(t *testing.T) {
	minutesOfSound(t)
	t.Parallel()
	nine, twelve := []tone{}, []tone{}
	for range 3 {
		nine = append(nine, tone{1.34, -20}, tone{1.66, -30})
	}
	for range 10 {
		twelve = append(twelve, tone{0.18, -20}, tone{0.22, -30})
	}
	short := func(f listening.Features) float64 { return f.Loudness }
	momentary := func(f listening.Features) float64 { return f.Momentary }
	for _, c := range []struct {
		name     string
		hz       float64
		channels int
		tones    []tone
		read     func(listening.Features) float64
		after    float64 // s, when the reading stands
		want     float64
	}{
		{"case 1, short-term", 1000, 2, []tone{{5, -23}}, short, 3, -23},
		{"case 1, momentary", 1000, 2, []tone{{5, -23}}, momentary, 1, -23},
		{"case 2, short-term", 1000, 2, []tone{{5, -33}}, short, 3, -33},
		{"case 2, momentary", 1000, 2, []tone{{5, -33}}, momentary, 1, -33},
		{"case 9", 1000, 2, nine, short, 3, -23},
		{"case 12", 1000, 2, twelve, momentary, 1, -23},
		{"997 Hz", 997, 1, []tone{{4, 0}}, short, 3.1, -3.01},
	} {
		for _, rate := range []int{8000, 16000, 44100, 48000, 96000} {
			e, low, high, i := newEar(t, rate, c.channels), math.Inf(1), math.Inf(-1), 0
			for _, p := range c.tones {
				for range int(math.Round(p.seconds * 100)) {
					var block []float32
					for range rate / 100 {
						x := math.Pow(10, p.peakDB/20) * math.Sin(2*math.Pi*c.hz*float64(i)/float64(rate))
						for range c.channels {
							block = append(block, float32(x))
						}
						i++
					}
					e.Hear(block, nil)
					if float64(i) > c.after*float64(rate) {
						low, high = min(low, c.read(e.Features())), max(high, c.read(e.Features()))
					}
				}
			}
			if low < c.want-0.1 || high > c.want+0.1 {
				t.Errorf("%s at %d Hz: %.3f…%.3f LUFS, want %v ± 0.1", c.name, rate, low, high, c.want)
			}
		}
	}
}

func talk(t *testing.T, v talks.Voice, words float64, seed uint64) talks.Talk {
	t.Helper()
	if words > 0 {
		v.Words, v.Faster = words, 1
	}
	s, err := talks.Give(talks.Script{Voice: v, Curve: talks.Swells(30 * time.Second), Length: 20 * time.Second, Seed: seed})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func only(noise, leak float64) talks.Room { return talks.Room{Noise: noise, Leak: leak} }

var none = math.Inf(-1)

// voiced tells for each 10 ms of a clean talk whether its energy is less than 25 dB
// under that of all speech: the mean of what lies over its own mean less 10 dB, as
// BS.1770 gates.
func voiced(s talks.Talk) (truth []bool) {
	block := s.Rate / 100
	var powers []float64
	for i := 0; i+block <= len(s.Samples); i += block {
		sum := 0.0
		for _, v := range s.Samples[i : i+block] {
			sum += float64(v) * float64(v)
		}
		powers = append(powers, sum/float64(block))
	}
	over := func(gate float64) float64 {
		sum, n := 0.0, 0.0
		for _, p := range powers {
			if p > gate {
				sum, n = sum+p, n+1
			}
		}
		return sum / n
	}
	speech := over(over(1e-7) / 10)
	for _, p := range powers {
		truth = append(truth, p > speech*math.Pow(10, -2.5))
	}
	return truth
}

// shortest is the shortest pause, in 10 ms, that does not belong to the speech
// (Campione & Véronis 2002).
const shortest = 20

// spoken tells for each 10 ms of a clean talk whether somebody speaks: where there is
// energy, and in what follows for 200 ms.
func spoken(s talks.Talk) []bool {
	truth, since := voiced(s), 1000
	for i, on := range truth {
		if since++; on {
			since = 0
		}
		truth[i] = since <= shortest
	}
	return truth
}

// speaking gives the seconds that somebody speaks, without the pauses over 200 ms.
func speaking(s talks.Talk) float64 {
	n, since := 0, 1000
	for _, on := range voiced(s) {
		since++
		switch {
		case on && since <= shortest:
			n += since
			since = 0
		case on:
			n++
			since = 0
		}
	}
	return float64(n) / 100
}

func TestVoiceActivity(t *testing.T) {
	minutesOfSound(t)
	t.Parallel()
	for _, room := range []talks.Room{only(none, none), only(-20, none), only(-10, none)} {
		right, all, seeds := 0, 0, uint64(1)
		if room.Noise == -10 {
			seeds = 2
		}
		for i, v := range talks.Voices() {
			for seed := range seeds {
				clean := talk(t, v, 0, 20+uint64(i)+10*seed)
				heard := listens(t, talks.Rate, clean.In(room, seed).Samples, nil)
				now, frames := 0, 0
				for k, on := range spoken(clean)[:len(heard)] {
					if frames++; heard[k].Voice == on {
						now++
					}
				}
				right, all = right+now, all+frames
				if part := float64(now) / float64(frames); part < 0.93 {
					t.Errorf("%s, %v: %.1f %% of frames are right, want 93 at least with each", v.Name, room, 100*part)
				}
			}
		}
		part := float64(right) / float64(all)
		t.Logf("%v: %.1f %% of %d frames right", room, 100*part, all)
		if part < 0.95 {
			t.Errorf("%v: %.1f %% of frames are right, want 95", room, 100*part)
		}
	}
}

// The rate of what is said, by espeak-ng's own phonemes over the time that somebody
// speaks.
func TestSyllableRateOfSpeech(t *testing.T) {
	minutesOfSound(t)
	t.Parallel()
	for i, v := range talks.Voices() {
		for _, words := range []float64{120, 180, 240} {
			said := talk(t, v, words, uint64(i)+3)
			syllables := 0
			for _, s := range said.Sentences {
				syllables += s.Syllables
			}
			want := float64(syllables) / speaking(said)
			for _, room := range []talks.Room{only(none, none), only(-10, none)} {
				sum, n := 0.0, 0.0
				for _, f := range listens(t, talks.Rate, said.In(room, 1).Samples, nil) {
					if f.Voice && f.Syllables > 0 {
						sum, n = sum+f.Syllables, n+1
					}
				}
				got := sum / n
				t.Logf("%-18s %v words a minute, %v: %.2f syllables/s, said %.2f (%+.0f %%)", v.Name, words, room, got, want, 100*(got/want-1))
				if !(math.Abs(got/want-1) <= 0.15) {
					t.Errorf("%s at %v words a minute, %v: %.2f syllables a second, want %.2f ± 15 %%", v.Name, words, room, got, want)
				}
			}
		}
	}
}

// mostMistaken is the longest that anything else is taken for speech.
const mostMistaken = time.Second

func TestWhatIsNoSpeechIsNotTakenForIt(t *testing.T) {
	minutesOfSound(t)
	t.Parallel()
	quiet := func(x []float32) []float32 { // after a second of a quiet room, and in it
		x = append(make([]float32, talks.Rate), x...)
		for i, v := range talks.Pink(len(x), 9) {
			x[i] += 0.01 * v // −60 dB
		}
		return x
	}
	n := 12 * talks.Rate
	type heard struct {
		name    string
		rate    int
		samples []float32
		want    listening.Kind
		least   float64 // s of twelve
	}
	var all []heard
	for _, people := range []int{1, 2, 3, 5, 8, 12, 20} {
		all = append(all, heard{fmt.Sprint(people, " clap"), talks.Rate, quiet(talks.Claps(n, people, uint64(people))), listening.Clapping, 10})
	}
	for _, people := range []int{1, 2, 3, 8} {
		all = append(all, heard{fmt.Sprint(people, " sing"), talks.Rate, quiet(talks.Sings(n, people, uint64(people))), listening.Singing, 9})
	}
	all = append(all,
		heard{"a pad", talks.Rate, quiet(talks.Pad(n, 2)), listening.Singing, 10},
		heard{"chords on a piano", 48000, piano(t, 12), listening.Singing, 6},
		heard{"noise that stays", talks.Rate, talks.Pink(n, 3), listening.Silence, 12},
		heard{"nothing", talks.Rate, make([]float32, n), listening.Silence, 12},
	)
	for _, c := range all {
		got := listens(t, c.rate, c.samples, nil)
		t.Logf("%s: %v for %.1f s, taken for speech at most %v", c.name, c.want, seconds(got, c.want), longest(got, listening.Speech))
		if s := seconds(got, c.want); s < c.least {
			t.Errorf("%s: %v for %.1f s, want %v at least", c.name, c.want, s, c.least)
		}
		if l := longest(got, listening.Speech); l > mostMistaken {
			t.Errorf("%s is taken for speech for %v, want %v at most", c.name, l, mostMistaken)
		}
	}
}

// piano plays a chord each 1.2 s.
func piano(t *testing.T, length int) (mono []float32) {
	t.Helper()
	synth, err := sound.New(sound.Config{Rate: 48000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	block := make([]float32, 2*480)
	for k := range length * 100 {
		if k%120 == 100 {
			for _, note := range [][]byte{{48, 60, 64, 67}, {53, 60, 65, 69}, {45, 60, 64, 69}, {55, 59, 62, 67}}[k/120%4] {
				synth.Send(0x90, note, 70)
			}
		}
		if k%120 == 95 {
			synth.Send(0xB0, 123, 0)
		}
		synth.Render(block)
		for i := 0; i < len(block); i += 2 {
			mono = append(mono, (block[i]+block[i+1])/2)
		}
	}
	return mono
}

func TestACoughIsAKnock(t *testing.T) {
	for seed := range uint64(5) {
		x := append(make([]float32, 2*talks.Rate), talks.Sounds(talks.Cough, 3*time.Second, seed)...)
		for i, v := range talks.Pink(len(x), seed) {
			x[i] += 0.02 * v
		}
		heard := listens(t, talks.Rate, x, nil)
		if s := seconds(heard, listening.Knock); s < 0.2 || s > 1 {
			t.Errorf("cough %d: a knock for %.2f s, want 0.2 to 1", seed, s)
		}
		if seconds(heard, listening.Speech) > 0 || seconds(heard, listening.Singing) > 0 || seconds(heard, listening.Clapping) > 0 {
			t.Errorf("cough %d: speech %v, singing %v, clapping %v s", seed, seconds(heard, listening.Speech), seconds(heard, listening.Singing), seconds(heard, listening.Clapping))
		}
	}
}

// What begins is in the features within 300 ms.
func TestFeaturesComeSoon(t *testing.T) {
	t.Parallel()
	const begins, soon = 3, 300 * time.Millisecond
	first := func(of []listening.Features, is func(listening.Features) bool) time.Duration {
		for _, f := range of {
			if f.At > begins*time.Second && is(f) {
				return f.At - begins*time.Second
			}
		}
		return time.Hour
	}
	for i, v := range talks.Voices() {
		x := append(make([]float32, begins*talks.Rate), talk(t, v, 0, uint64(i)).Samples...)
		start := begins * talks.Rate
		for math.Abs(float64(x[start])) < 0.01 { // where it can be heard
			start++
		}
		heard := listens(t, talks.Rate, x[start-begins*talks.Rate:], nil)
		voice := first(heard, func(f listening.Features) bool { return f.Voice && f.Pause == 0 && !math.IsInf(f.Speech, 0) })
		loud := first(heard, func(f listening.Features) bool { return f.Momentary > -50 && f.Loudness > -60 })
		t.Logf("%s: speech after %v, loudness after %v", v.Name, voice, loud)
		if voice > soon || loud > soon {
			t.Errorf("%s: speech after %v, loudness after %v, want %v at most", v.Name, voice, loud, soon)
		}
	}
	for what, kind := range map[talks.What]listening.Kind{talks.Cough: listening.Knock, talks.Clapping: listening.Knock} {
		x := append(make([]float32, begins*talks.Rate), talks.Sounds(what, 2*time.Second, 1)...)
		if d := first(listens(t, talks.Rate, x, nil), func(f listening.Features) bool { return f.Sound == kind }); d > soon {
			t.Errorf("%v: a knock after %v, want %v at most", what, d, soon)
		}
	}
	// A voice that grows louder by 12 dB.
	x := append([]float32(nil), talk(t, talks.Voices()[0], 0, 1).Samples...)
	plain := listens(t, talks.Rate, x, nil)
	at := 10 * talks.Rate
	for !plain[at*100/talks.Rate].Voice {
		at += talks.Rate / 10
	}
	for i := at; i < len(x); i++ {
		x[i] *= 4
	}
	louder := listens(t, talks.Rate, x, nil)
	k := at*100/talks.Rate + 30
	if d := louder[k].Speech - plain[k].Speech; d < 1 {
		t.Errorf("12 dB more show as %.1f LU within 300 ms", d)
	}
}

// delayed gives what a microphone hears of a loudspeaker, some time later and duller.
func delayed(plays []float32, by time.Duration, gain float32) []float32 {
	out, low := make([]float32, len(plays)), float32(0)
	for i := range out {
		x := float32(0)
		if k := i - int(by.Seconds()*talks.Rate); k >= 0 {
			x = plays[k]
		}
		low += 0.6 * (x - low)
		out[i] = gain * low
	}
	return out
}

func TestTheKnownOutputIsDiscounted(t *testing.T) {
	minutesOfSound(t)
	t.Parallel()
	clean := talk(t, talks.Voices()[0], 0, 5)
	pad := talks.Pad(len(clean.Samples), 6)
	for _, by := range []time.Duration{0, 23 * time.Millisecond, 130 * time.Millisecond, 480 * time.Millisecond} {
		alone := listens(t, talks.Rate, delayed(pad, by, 1), pad)
		voice, leak := 0, 0.0
		for _, f := range alone[300:] {
			leak += f.Leak / float64(len(alone)-300)
			if f.Voice {
				voice++
			}
		}
		t.Logf("a pad alone after %v: leak %.2f", by, leak)
		if leak < 0.9 || float64(voice) > 0.02*float64(len(alone)) {
			t.Errorf("a pad alone after %v: leak %.2f, voice for %d of %d frames; want 0.9 at least, and 2 %% at most", by, leak, voice, len(alone))
		}
	}
	without := listens(t, talks.Rate, clean.Samples, nil)
	for _, c := range []struct{ dB, share float64 }{{-10, 0.1}, {-3, 0.33}} { // the power ratio over one and it
		in := clean.In(only(none, c.dB), 5)
		heard := listens(t, talks.Rate, in.Samples, in.Known)
		leak, off, n := 0.0, 0.0, 0.0
		for k, f := range heard {
			if k > 500 && f.Voice && without[k].Voice {
				leak, off, n = leak+f.Leak, off+math.Abs(f.Speech-without[k].Speech), n+1
			}
		}
		t.Logf("speech and a pad %v dB under it: leak %.2f, loudness of the speech off by %.2f LU on average", -c.dB, leak/n, off/n)
		if math.Abs(leak/n-c.share) > 0.1 || off/n > 1 {
			t.Errorf("a pad at %v dB: leak %.2f, want %v ± 0.1; loudness of the speech off by %.2f LU, want 1 at most", c.dB, leak/n, c.share, off/n)
		}
	}
	// What bedd plays elsewhere explains nothing.
	for name, x := range map[string][]float32{"speech": clean.Samples, "noise": talks.Pink(len(pad), 3)} {
		leak, all := 0.0, listens(t, talks.Rate, x, pad)
		for _, f := range all[300:] {
			leak += f.Leak / float64(len(all)-300)
		}
		t.Logf("%s without the pad: leak %.3f", name, leak)
		if leak > 0.1 {
			t.Errorf("%s without the pad: leak %.2f, want 0.1 at most", name, leak)
		}
	}
}

func TestPausesAreCounted(t *testing.T) {
	said := talk(t, talks.Voices()[0], 0, 4)
	x := append(append([]float32(nil), said.Samples...), make([]float32, 5*talks.Rate)...)
	before := listening.Features{Pause: 0}
	for k, f := range listens(t, talks.Rate, x, nil) {
		if f.Voice != (f.Pause == 0) {
			t.Fatalf("at %v: voice %v in a pause of %v", f.At, f.Voice, f.Pause)
		}
		if k > 0 && !f.Voice && !before.Voice && (f.Pause < before.Pause || f.Pause > before.Pause+20*time.Millisecond) {
			t.Fatalf("at %v the pause goes from %v to %v", f.At, before.Pause, f.Pause)
		}
		if before = f; f.Sound == listening.Speech != f.Voice {
			t.Fatalf("at %v: %v and voice %v", f.At, f.Sound, f.Voice)
		}
	}
	if before.Pause < 5*time.Second || before.Pause > 7*time.Second {
		t.Errorf("five seconds behind the last sentence the pause is %v", before.Pause)
	}
	if before.Speech != none || before.Loudness > -60 || before.Pitch != 0 || before.Syllables != 0 {
		t.Errorf("five seconds behind the last sentence: %+v", before)
	}
}

// recites makes what goes like speech at any rate: harmonics that glide up and down
// by a range in semitones once in 2 s, in 4.5 syllables a second.
func recites(rate, channels int, length, hz, semitones float64) (samples []float32) {
	phase := 0.0
	for i := range int(length * float64(rate)) {
		at := float64(i) / float64(rate)
		f := hz * math.Exp2(semitones/12*(math.Abs(math.Mod(at/2, 1)*2-1)-0.5))
		phase = math.Mod(phase+f/float64(rate), 1)
		x, formant := 0.0, 900+500*math.Sin(2*math.Pi*2.25*at)
		for h := 1.0; h*f < 3500; h++ {
			x += math.Sin(2*math.Pi*h*phase) / (1 + math.Pow((h*f-formant)/300, 2))
		}
		x *= 0.05 * math.Pow(0.5-0.5*math.Cos(2*math.Pi*4.5*at), 1.5)
		for range channels {
			samples = append(samples, float32(x))
		}
	}
	return samples
}

// Closed forms: the median and the range (ten parts of a hundred off at either end) of
// an even glide, and the syllables, at any rate and any number of channels.
func TestARecitalAtAnyRateAndChannels(t *testing.T) {
	minutesOfSound(t)
	t.Parallel()
	for _, c := range []struct {
		rate, channels int
		hz, semitones  float64
	}{
		{8000, 1, 120, 10}, {11025, 1, 210, 5}, {16000, 2, 90, 8}, {22050, 1, 300, 6},
		{44100, 1, 160, 12}, {48000, 3, 120, 10}, {96000, 1, 240, 8}, {192000, 8, 120, 10}, {12345, 2, 200, 10},
	} {
		samples := recites(c.rate, c.channels, 6, c.hz, c.semitones)
		e := newEar(t, c.rate, c.channels)
		e.Hear(samples, nil)
		f := e.Features()
		if f.At != 6*time.Second || f.Sound != listening.Speech {
			t.Errorf("%d Hz, %d channels: %v at %v, want speech at 6 s", c.rate, c.channels, f.Sound, f.At)
		}
		if math.Abs(f.Syllables/4.5-1) > 0.15 || math.Abs(f.Pitch/c.hz-1) > 0.06 || math.Abs(f.Range/(0.8*c.semitones)-1) > 0.15 {
			t.Errorf("%d Hz, %d channels: %.2f syllables/s, pitch %.1f Hz, range %.2f; want 4.5, %v, %.2f", c.rate, c.channels, f.Syllables, f.Pitch, f.Range, c.hz, 0.8*c.semitones)
		}
	}
}

// The features don't depend on how the signal is cut.
func TestSameFeaturesWhateverTheBlocks(t *testing.T) {
	samples, known := recites(44100, 2, 6, 130, 7), make([]float32, 6*44100)
	for i := range known {
		known[i] = 0.1 * float32(math.Sin(2*math.Pi*330*float64(i)/44100))
		samples[2*i] += known[i] / 4
	}
	want := listening.Features{}
	for _, block := range []int{len(known), 1, 64, 4096, 441} {
		e := newEar(t, 44100, 2)
		for i := 0; i < len(known); i += block {
			to := min(i+block, len(known))
			e.Hear(samples[2*i:2*to], known[i:to])
		}
		if got := e.Features(); want == (listening.Features{}) {
			want = got
		} else if got != want {
			t.Errorf("blocks of %d: %+v, want %+v", block, got, want)
		}
	}
}

// wrong reports what is wrong with features that cannot be.
func wrong(f listening.Features) string {
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	for _, l := range []float64{f.Loudness, f.Momentary, f.Speech} {
		if l != none && !finite(l) || l > 60 {
			return "loudness"
		}
	}
	switch {
	case f.Sound >= listening.NumKinds || f.Voice != (f.Sound == listening.Speech):
		return "kind"
	case !(f.Syllables >= 0 && f.Syllables < 50):
		return "syllables"
	case f.Pitch != 0 && !(f.Pitch >= 60 && f.Pitch <= 510):
		return "pitch"
	case !(f.Range >= 0 && f.Range <= 37):
		return "range"
	case f.Pause < 0 || f.Pause > f.At+time.Second/50:
		return "pause"
	case !(f.Leak >= 0 && f.Leak <= 1):
		return "leak"
	}
	return ""
}

// Whatever is heard, the features stay within what they may be, and a second of
// silence later the ear hears as before.
func TestAnySamplesAreHeard(t *testing.T) {
	t.Parallel()
	strange := rapid.SampledFrom([]float32{
		0, 1, -1, 0.5, float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), math.MaxFloat32, -math.MaxFloat32, 1e-40, 2,
	})
	rapid.Check(t, func(rt *rapid.T) {
		rate := rapid.SampledFrom([]int{8000, 11025, 22050, 44100, 48000}).Draw(rt, "rate")
		channels := rapid.SampledFrom([]int{1, 2, 3, 8}).Draw(rt, "channels")
		e := newEar(t, rate, channels)
		for range rapid.IntRange(1, 8).Draw(rt, "blocks") {
			pattern := rapid.SliceOfN(strange, 1, 12).Draw(rt, "pattern")
			offset := rapid.SampledFrom([]float32{0, 0.3, -1}).Draw(rt, "offset")
			block := make([]float32, rapid.IntRange(0, 6000).Draw(rt, "length"))
			for i := range block {
				block[i] = pattern[i%len(pattern)] + offset
			}
			known := block[:len(block)/rapid.IntRange(1, 9).Draw(rt, "known")]
			e.Hear(block, known)
			if w := wrong(e.Features()); w != "" {
				rt.Fatalf("%s: %+v", w, e.Features())
			}
		}
		e.Hear(make([]float32, 4*rate*channels), nil)
		if f := e.Features(); f.Sound != listening.Silence || f.Voice || f.Speech != none || f.Loudness > -60 {
			rt.Fatalf("after silence: %+v", f)
		}
	})
}

func FuzzEar(f *testing.F) {
	f.Add([]byte{0, 0, 128, 63, 0, 0, 128, 191}, uint32(48000), byte(1))
	f.Add([]byte{0, 0, 192, 127, 0, 0, 128, 127, 1, 0, 0, 0}, uint32(8000), byte(8))
	f.Add([]byte{}, uint32(0), byte(0))
	f.Fuzz(func(t *testing.T, data []byte, rate uint32, channels byte) {
		e, err := listening.NewEar(listening.EarConfig{Rate: int(rate), Channels: int(channels)})
		if err != nil {
			return
		}
		var samples []float32
		for ; len(data) >= 4; data = data[4:] {
			samples = append(samples, math.Float32frombits(binary.LittleEndian.Uint32(data)))
		}
		for range 1 + 4000/(1+len(samples)) {
			e.Hear(samples, samples)
			if w := wrong(e.Features()); w != "" {
				t.Fatalf("%s: %+v", w, e.Features())
			}
		}
	})
}
