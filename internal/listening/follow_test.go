package listening_test

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"bedd/internal/listening"
	"bedd/internal/listening/talks"
)

// featuresOf gives the features that an ear has of a talk, every 20 ms.
func featuresOf(t *testing.T, talk talks.Talk) (all []listening.Features) {
	t.Helper()
	ear, err := listening.NewEar(listening.EarConfig{Rate: talk.Rate, Channels: 1})
	if err != nil {
		t.Fatal(err)
	}
	n := int(block.Seconds() * float64(talk.Rate))
	for i := 0; i+n <= len(talk.Samples); i += n {
		var known []float32
		if talk.Known != nil {
			known = talk.Known[i : i+n]
		}
		ear.Hear(talk.Samples[i:i+n], known)
		all = append(all, ear.Features())
	}
	return all
}

// unheard is the level of what is not there.
var unheard = math.Inf(-1)

// From signal to intensity: each voice in two of five rooms, each room twice.
func TestEarAndSpeakerFollowTheScript(t *testing.T) {
	minutesOfSound(t)
	rooms := []talks.Room{{Noise: unheard, Leak: unheard}, {Noise: -20, Leak: unheard}, {Noise: -10, Leak: unheard}, {Noise: unheard, Leak: -10}, {Noise: unheard, Leak: -3}}
	for i, s := range scripts() {
		talk := give(t, s)
		for _, room := range []talks.Room{rooms[i], rooms[(i+2)%len(rooms)]} {
			what := fmt.Sprintf("%s, %v", s.Voice.Name, room)
			t.Run(what, func(t *testing.T) {
				t.Parallel()
				features := featuresOf(t, talk.In(room, s.Seed))
				agrees(t, what, talk, follow(t, listening.DefaultManner(), features))
			})
		}
	}
}

// Talks by other seeds than those that the speaker was fitted with (10 to 33): each voice
// wanders without a plan. Who begins at an end of his range is taken for usual at first,
// so that one in twelve may go less well.
func TestTalksThatNothingWasFittedTo(t *testing.T) {
	minutesOfSound(t)
	const talksHere = 12
	sum, below := 0.0, 0
	for seed := uint64(40); seed < 40+talksHere; seed++ {
		voices := talks.Voices()
		talk := give(t, talks.Script{Voice: voices[int(seed)%len(voices)], Curve: talks.Wanders(seed), Length: talkLength, Seed: seed})
		a := talk.Compare(follow(t, listening.DefaultManner(), featuresOf(t, talk)))
		t.Logf("seed %d: %.3f, lag %v", seed, a.Correlation, a.Lag)
		sum += a.Correlation
		if a.Correlation < 0.85 {
			below++
		}
		if a.Lag >= 6*time.Second || a.Correlation < 0.75 {
			t.Errorf("seed %d: correlation %.3f, lag %v", seed, a.Correlation, a.Lag)
		}
	}
	if mean := sum / talksHere; mean < 0.88 || below > 1 {
		t.Errorf("mean correlation %.3f, %d of %d below 0.85", mean, below, talksHere)
	}
}

// mostFalse is how far what is no speech may raise the intensity.
const mostFalse = 0.05

// Applause, singing and coughs, alone and after speech.
func TestNothingButSpeechRaises(t *testing.T) {
	minutesOfSound(t)
	v := talks.Voices()[1]
	for _, spoken := range []time.Duration{0, 40 * time.Second} {
		for _, what := range []talks.What{talks.Clapping, talks.Singing, talks.Cough, talks.Quiet} {
			talk := talks.Talk{Rate: talks.Rate} // of nobody
			if spoken > 0 {
				talk = give(t, talks.Script{Voice: v, Curve: talks.Swells(30 * time.Second), Length: spoken, Seed: 9})
			}
			from := talk.Length()
			talk.Samples = append(talk.Samples, talks.Sounds(what, 20*time.Second, 9)...)
			s, err := listening.NewSpeaker(listening.DefaultManner())
			if err != nil {
				t.Fatal(err)
			}
			before, _ := s.Intensity()
			most, why := 0.0, map[listening.Hold]int{}
			for _, f := range featuresOf(t, talk) {
				if v, _ := s.Intensity(); f.At <= from {
					before = v
				}
				s.Hear(f)
				if v, _ := s.Intensity(); f.At > from {
					most = max(most, v-before)
					why[s.Why()]++
				}
			}
			t.Logf("%-8v after %3v of speech: raises it by %.3f; %v", what, spoken, most, why)
			if most > mostFalse {
				t.Errorf("%v after %v of speech raises the intensity by %.3f, more than %v", what, spoken, most, mostFalse)
			}
		}
	}
}

// Applause and a song in the middle of a talk: it keeps still, and goes on with the
// speaker it knows.
func TestItKeepsStillThroughApplauseAndSong(t *testing.T) {
	minutesOfSound(t)
	s := scripts()[0]
	s.Curve, s.Length = talks.Swells(40*time.Second), 90*time.Second
	for i, what := range []talks.What{talks.Clapping, talks.Singing} {
		from := time.Duration(30+30*i) * time.Second
		s.Others = append(s.Others, talks.Other{Span: talks.Span{From: from, To: from + 10*time.Second}, What: what})
	}
	talk := give(t, s)
	heard := follow(t, listening.DefaultManner(), featuresOf(t, talk))
	at := func(when time.Duration) float64 {
		i, _ := slices.BinarySearchFunc(heard, when, func(p talks.Point, d time.Duration) int { return cmp.Compare(p.At, d) })
		return heard[i].Intensity
	}
	for _, o := range talk.Others {
		before, after := at(o.From), at(o.To)
		t.Logf("%v: %.3f before, %.3f after", o.What, before, after)
		if math.Abs(after-before) > mostFalse {
			t.Errorf("%v moves it from %.3f to %.3f", o.What, before, after)
		}
	}
	if a := talk.Others[1].To; math.Abs(at(talk.Length()-time.Second)-at(a)) < 0.05 {
		t.Errorf("it does not go on after %v", a)
	}
}
