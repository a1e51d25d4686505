package main

import (
	"strings"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// two is a set of one progression, and answers to it.
func two() set {
	return set{Name: "two", Voices: 3, Low: 48, High: 72, Problems: []problem{{Chords: []string{"C", "F"}, Start: notes{55, 60, 64}}}}
}

func answered(nanos float64, voicings ...notes) answer {
	return answer{Voicings: [][]notes{voicings}, Nanos: nanos}
}

// Movement by hand: from C to F two notes go up a semitone and a tone (common
// practice, no source).
func TestCompareSumsMovement(t *testing.T) {
	least := answered(100, notes{55, 60, 64}, notes{57, 60, 65})
	far := answered(6000, notes{55, 60, 64}, notes{60, 65, 69})
	r, err := compare(two(), least, far)
	if err != nil || r.ours != 3 || r.theirs != 15 || r.notMinimal != 1 || r.worse != 0 || r.verdict() != nil {
		t.Errorf("compare = %+v, %v, %v", r, err, r.verdict())
	}
	r, err = compare(two(), far, least)
	if err != nil || r.worse != 1 || r.notMinimal != 0 {
		t.Errorf("compare = %+v, %v", r, err)
	}
	want := "two: bedd moves more in 1 of 1 progressions\ntwo: bedd is 0.0 times faster a chord, want 50"
	if err := r.verdict(); err == nil || err.Error() != want {
		t.Errorf("verdict = %v, want %s", err, want)
	}
}

func TestCompareRefusesWhatIsNoAnswer(t *testing.T) {
	good := answered(100, notes{55, 60, 64}, notes{57, 60, 65})
	for _, tt := range []struct {
		theirs answer
		want   string
	}{
		{answer{}, "theirs: [C F] is not voiced chord by chord"},
		{answered(1, notes{55, 60, 64}), "theirs: [C F] is not voiced chord by chord"},
		{answered(1, notes{55, 60, 64}, notes{57, 60, 64}), "theirs: [57 60 64] is not F in 3 voices"},
		{answered(1, notes{55, 60, 64}, notes{53, 57, 60, 65}), "theirs: [53 57 60 65] is not F in 3 voices"},
		{answered(1, notes{55, 60, 64}, notes{41, 60, 69}), "theirs: [41 60 69] for F leaves the range or is not ascending"},
		{answered(1, notes{55, 60, 64}, notes{60, 57, 65}), "theirs: [60 57 65] for F leaves the range or is not ascending"},
	} {
		if _, err := compare(two(), good, tt.theirs); err == nil || err.Error() != tt.want {
			t.Errorf("compare says %v, want %s", err, tt.want)
		}
	}
}

func TestProblemsAreFairToBothSides(t *testing.T) {
	progressions := 0
	for _, s := range sets() {
		keys := map[pitch.Class]bool{}
		for _, p := range s.Problems {
			progressions++
			keys[p.key.Tonic.Class()] = true
			if len(p.Start) != s.Voices || p.Start[0] < int(s.Low) || p.Start[s.Voices-1] > int(s.High) {
				t.Errorf("%s: %v starts from %v", s.Name, p.Chords, p.Start)
			}
			for _, symbol := range p.Chords {
				c, err := harmony.ParseChord(symbol)
				if err != nil {
					t.Fatal(err)
				}
				tones := c.Classes()
				if tones.Len() != s.Voices || c.Slash() {
					t.Errorf("%s: %s has not %d tones", s.Name, symbol, s.Voices)
				}
				if tones.Intersect(tones.Transpose(1)) != 0 {
					t.Errorf("%s: %s holds a semitone, which bedd refuses", s.Name, symbol)
				}
				_, suffix, _ := pitch.ParseName(symbol)
				if alias := strings.NewReplacer("dim7", "dim7", "dim", "o").Replace(suffix); s.Dictionary[alias] == nil && alias != "" {
					t.Errorf("%s: the dictionary lacks %q", s.Name, symbol)
				}
			}
		}
		if len(keys) != 12 {
			t.Errorf("%s: %d keys", s.Name, len(keys))
		}
	}
	if progressions < 200 {
		t.Errorf("%d progressions, want at least 200", progressions)
	}
}

// Bedd's own side is an answer to every problem.
func TestOursIsAnAnswer(t *testing.T) {
	for _, s := range sets() {
		engine, err := newEngine(s)
		if err != nil {
			t.Fatal(err)
		}
		ours, err := voiceAll(engine, s)
		if err != nil {
			t.Fatal(err)
		}
		if r, err := compare(s, ours, ours); err != nil || r.worse != 0 || r.ours == 0 {
			t.Errorf("%s: %+v, %v", s.Name, r, err)
		}
	}
}
