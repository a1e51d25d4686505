package listening_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bedd/internal/listening"
	"bedd/internal/listening/talks"
)

const block = 20 * time.Millisecond

// minutesOfSound skips a test of one goroutine that takes very long under the race
// detector.
func minutesOfSound(t *testing.T) {
	t.Helper()
	if raced {
		t.Skip("slow under the race detector")
	}
}

// truth gives features as a faultless ear would have them: of what is spoken in the
// last three seconds, from the script.
func truth(v talks.Voice, t talks.Talk) (all []listening.Features) {
	const back = 3 * time.Second
	next, powers := 0, powers(t)
	for at := block; at < t.Length(); at += block {
		for next+1 < len(t.Sentences) && t.Sentences[next+1].From <= at {
			next++
		}
		f := listening.Features{At: at, Speech: math.Inf(-1), Pause: at - t.Sentences[next].To}
		if now := t.Sentences[next]; at >= now.From && at < now.To {
			f.Sound, f.Voice, f.Pause = listening.Speech, true, 0
		}
		power, syllables, high, spoken := 0.0, 0.0, 0.0, 0.0
		for k := next; k >= 0 && t.Sentences[k].To > at-back; k-- {
			s := t.Sentences[k]
			over := (min(at, s.To) - max(at-back, s.From)).Seconds()
			if over <= 0 {
				continue
			}
			spoken += over
			power += over * powers[k]
			syllables += over * float64(s.Syllables) / (s.To - s.From).Seconds()
			high += over * v.Higher * s.Intensity / 100
		}
		if spoken > 0 {
			f.Speech = 10 * math.Log10(power/spoken)
			f.Syllables = syllables / spoken
			f.Pitch = 110 * math.Exp2(high/spoken)
		}
		all = append(all, f)
	}
	return all
}

// powers gives the mean square of each sentence.
func powers(t talks.Talk) (all []float64) {
	for _, s := range t.Sentences {
		sum, from, to := 0.0, int(s.From.Seconds()*talks.Rate), int(s.To.Seconds()*talks.Rate)
		for _, x := range t.Samples[from:to] {
			sum += float64(x) * float64(x)
		}
		all = append(all, sum/float64(to-from))
	}
	return all
}

// follow lets a speaker hear features, and checks that it keeps to its manner.
func follow(t *testing.T, m listening.Manner, features []listening.Features) (values []talks.Point) {
	t.Helper()
	s, err := listening.NewSpeaker(m)
	if err != nil {
		t.Fatal(err)
	}
	before, at := (m.Low+m.High)/2, time.Duration(0)
	for _, f := range features {
		s.Hear(f)
		v, heard := s.Intensity()
		if !(v >= m.Low && v <= m.High) || math.Abs(v-before) > m.Rate*(f.At-at).Seconds()+1e-9 {
			t.Fatalf("at %v it goes from %v to %v", f.At, before, v)
		}
		if before, at = v, f.At; heard {
			values = append(values, talks.Point{At: f.At, Intensity: v})
		}
	}
	return values
}

const talkLength = 3 * time.Minute

// scripts has each voice once, and each curve.
func scripts() (all []talks.Script) {
	curves := []talks.Curve{talks.Swells(75 * time.Second), talks.Builds(talkLength), talks.Wanders(3), talks.Wanders(4), talks.Swells(60 * time.Second)}
	for i, v := range talks.Voices() {
		all = append(all, talks.Script{Voice: v, Curve: curves[i], Length: talkLength, Seed: uint64(i)})
	}
	return all
}

func give(t *testing.T, s talks.Script) talks.Talk {
	t.Helper()
	talk, err := talks.Give(s)
	if err != nil {
		t.Fatal(err)
	}
	return talk
}

// faults spoils features as far as an ear in a noisy room may: one block in twenty
// takes a pause for speech or speech for a pause, the noise and part of the leak count
// as loudness, syllables are off by 15 % and pitch by two thirds of a semitone for a
// second at a time, and in one second of thirty it is an octave off.
func faults(all []listening.Features, noise float64, seed uint64) []listening.Features {
	r := rand.New(rand.NewPCG(seed, 1))
	spoilt := make([]listening.Features, len(all))
	var syllables, pitch float64
	for i, f := range all {
		if i%int(time.Second/block) == 0 {
			syllables, pitch = math.Exp(0.15*r.NormFloat64()), math.Exp2(0.67/12*r.NormFloat64())
			if r.IntN(30) == 0 {
				pitch *= []float64{0.5, 2}[r.IntN(2)]
			}
		}
		if r.IntN(20) == 0 {
			if f.Voice = !f.Voice; f.Voice {
				f.Sound, f.Pause = listening.Speech, 0
			}
		}
		f.Speech = 10 * math.Log10(math.Pow(10, f.Speech/10)+noise)
		f.Syllables *= syllables
		f.Pitch *= pitch
		spoilt[i] = f
	}
	return spoilt
}

// What the speaker makes of features without a fault, and with many.
func TestTheSpeakerFollowsTheScript(t *testing.T) {
	minutesOfSound(t)
	for _, s := range scripts() {
		talk := give(t, s)
		exact, speech := truth(s.Voice, talk), 0.0
		for _, p := range powers(talk) {
			speech += p / float64(len(talk.Sentences))
		}
		for name, features := range map[string][]listening.Features{"exact": exact, "with faults": faults(exact, 0.3*speech, s.Seed)} {
			agrees(t, s.Voice.Name+", "+name, talk, follow(t, listening.DefaultManner(), features))
		}
	}
}

// agrees checks what was heard of a talk against its script.
func agrees(t *testing.T, what string, talk talks.Talk, heard []talks.Point) {
	t.Helper()
	a := talk.Compare(heard)
	t.Logf("%-36s correlation %.3f, %.3f at a lag of %4.2f s", what, a.Correlation, a.Best, a.Lag.Seconds())
	if !(a.Correlation >= 0.85) || a.Lag >= 6*time.Second {
		t.Errorf("%s: correlation %.3f at a lag of %v, want at least 0.85 and less than 6 s", what, a.Correlation, a.Lag)
	}
}

// Applause that an ear takes for loud speech for a second, after half a minute of real
// speech, raises the intensity by no more than the rate allows in that second, and
// then no further.
func TestApplauseIsNoRise(t *testing.T) {
	const mistaken = time.Second
	s := scripts()[0]
	s.Length = 30 * time.Second
	talk := give(t, s)
	features := truth(s.Voice, talk)
	before := follow(t, listening.DefaultManner(), features)
	for at := talk.Length(); at < talk.Length()+20*time.Second; at += block {
		f := listening.Features{At: at, Sound: listening.Clapping, Speech: -5}
		if at < talk.Length()+mistaken {
			f.Sound, f.Voice = listening.Speech, true
		}
		features = append(features, f)
	}
	heard := follow(t, listening.DefaultManner(), features)
	from := before[len(before)-1].Intensity
	most := from
	for _, p := range heard[len(before):] {
		most = max(most, p.Intensity)
	}
	end := heard[len(heard)-1].Intensity
	if bound := listening.DefaultManner().Rate*mistaken.Seconds() + 0.005; most <= from || most-from > bound || end != most {
		t.Errorf("applause raises %.3f to %.3f and ends at %.3f, want no more than %.3f", from, most, end, bound)
	}
}
