package main

import (
	"fmt"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/voicing"
)

// answer is what one side makes of a set.
type answer struct {
	Voicings [][]notes `json:"voicings"` // by problem and chord
	Nanos    float64   `json:"nanos"`    // a chord, the best round's mean
}

// askUs voices the set with bedd's search, with movement as the only price, and
// times it from chord symbols to voicings, as theirs is timed.
func askUs(s set) (answer, error) {
	engine, err := newEngine(s)
	if err != nil {
		return answer{}, err
	}
	a, err := voiceAll(engine, s)
	if err != nil {
		return answer{}, err
	}
	const rounds = 9 // the best counts, so that what else the machine does does not
	for range rounds {
		begun, runs := time.Now(), 0
		for ; time.Since(begun) < 300*time.Millisecond; runs++ {
			for _, p := range s.Problems {
				if _, err := solve(engine, p); err != nil {
					return answer{}, err
				}
			}
		}
		nanos := float64(time.Since(begun).Nanoseconds()) / float64(runs*s.chords())
		if a.Nanos == 0 || nanos < a.Nanos {
			a.Nanos = nanos
		}
	}
	return a, nil
}

func newEngine(s set) (*voicing.Engine, error) {
	settings := voicing.DefaultSettings()
	settings.Low, settings.High, settings.NoBass = s.Low, s.High, true
	settings.Voices, settings.Thin, settings.Full = s.Voices, s.Voices, s.Voices
	settings.Stillness, settings.Plain, settings.Weights = 0, true, voicing.MovementOnly()
	return voicing.New(settings)
}

// voiceAll answers without the time.
func voiceAll(engine *voicing.Engine, s set) (a answer, err error) {
	for _, p := range s.Problems {
		path, err := solve(engine, p)
		if err != nil {
			return answer{}, fmt.Errorf("bedd on %v: %w", p.Chords, err)
		}
		var voicings []notes
		for _, step := range path.Steps {
			var v notes
			for _, n := range step.Voicing.Notes() {
				v = append(v, int(n))
			}
			voicings = append(voicings, v)
		}
		a.Voicings = append(a.Voicings, voicings)
	}
	return a, nil
}

func solve(engine *voicing.Engine, p problem) (voicing.Path, error) {
	var room [16]harmony.Chord
	chords := room[:0]
	for _, symbol := range p.Chords {
		c, err := harmony.ParseChord(symbol)
		if err != nil {
			return voicing.Path{}, err
		}
		chords = append(chords, c)
	}
	start := voicing.Of(voicing.NoBass, p.Start.bytes()...)
	return engine.Path(chords, p.key, false, &start)
}
