package main

import (
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// set is a number of problems with the same number of voices in one range.
type set struct {
	Name       string              `json:"-"`
	Voices     int                 `json:"-"`
	Low        uint8               `json:"low"` // note numbers
	High       uint8               `json:"high"`
	Dictionary map[string][]string `json:"dictionary"` // theirs: intervals by suffix
	Problems   []problem           `json:"problems"`
}

// problem is a progression and the notes that sound before it.
type problem struct {
	Chords []string `json:"chords"`
	Start  notes    `json:"start"`

	key pitch.Key
}

func (s *set) chords() (n int) {
	for _, p := range s.Problems {
		n += len(p.Chords)
	}
	return n
}

// notes are note numbers, ascending. (JSON has bytes as text, so they are wide.)
type notes []int

func (n notes) bytes() []uint8 {
	b := make([]uint8, len(n))
	for i, note := range n {
		b[i] = uint8(note)
	}
	return b
}

// Progressions by degree, common practice, no source. Major and minor keys, and
// chords from outside the key.
const triads = `
1 4 5 1; 1 5 6m 4; 1 6m 4 5; 1 4 6m 5; 6m 4 1 5; 1 3m 4 5; 1 2m 5 1; 1 6m 2m 5; 4 5 3m 6m; 1 5 6m 3m 4 1 4 5;
1 b7 4 1; 1 4m 1 5; 1 3M 6m 4m; 1 b6 b7 1; 1 1aug 4 4m; 2m 7dim 1 6m; 1 #4dim 5 1; 1 7dim 3M 6m 2m 5 1 4`

const minorTriads = `
1 6 3 7; 1 4 5M 1; 1 7 6 5M; 1 4 7 3 6 2dim 5M 1`

// Sevenths whose close inversions hold no semitone: bedd never sounds one.
const sevenths = `
2m7 57 1dom7 6m7; 57 3m7 6m7 57; 6m7 2m7 57 1dom7; 3m7 6dom7 2m7 57; 1dom7 4dom7 1dom7 57; 2m7b5 57 1m7 4m7; 7m7b5 3dom7 6m7 2m7;
1dom7 #1dim7 2m7 57; 3m7 b3dim7 2m7 57; 6m7 2dom7 57 1dom7; 4dom7 b7dom7 b6dom7 57; 6m7 b6dom7 2m7 57 3m7 6dom7 2m7 57`

// sets returns the problems: each progression in twelve keys.
func sets() []set {
	three := set{
		Name: "triads in 3 voices, C3 to C5", Voices: 3, Low: 48, High: 72,
		Dictionary: map[string][]string{ // the library's own
			"M":   {"1P 3M 5P", "3M 5P 8P", "5P 8P 10M"},
			"m":   {"1P 3m 5P", "3m 5P 8P", "5P 8P 10m"},
			"o":   {"1P 3m 5d", "3m 5d 8P", "5d 8P 10m"},
			"aug": {"1P 3M 5A", "3M 5A 8P", "5A 8P 10M"},
		},
	}
	four := set{
		Name: "sevenths in 4 voices, G3 to G5", Voices: 4, Low: 55, High: 79,
		Dictionary: map[string][]string{ // in the same manner: every close inversion
			"7":    {"1P 3M 5P 7m", "3M 5P 7m 8P", "5P 7m 8P 10M", "7m 8P 10M 12P"},
			"m7":   {"1P 3m 5P 7m", "3m 5P 7m 8P", "5P 7m 8P 10m", "7m 8P 10m 12P"},
			"m7b5": {"1P 3m 5d 7m", "3m 5d 7m 8P", "5d 7m 8P 10m", "7m 8P 10m 12d"},
			"dim7": {"1P 3m 5d 7d", "3m 5d 7d 8P", "5d 7d 8P 10m", "7d 8P 10m 12d"},
		},
	}
	for up := range 12 {
		major, minor := pitch.Key{}.Transpose(up), pitch.Key{Minor: true}.Transpose(up)
		three.add(triads, major)
		three.add(minorTriads, minor)
		four.add(sevenths, major)
	}
	return []set{three, four}
}

// add adds progressions, each to start from the key's tonic triad in root
// position, as high as every key allows, with its root doubled where there are
// four voices.
func (s *set) add(progressions string, k pitch.Key) {
	tonic := harmony.Diatonic(k, 1)
	span := 7
	if s.Voices == 4 {
		span = 12
	}
	root := int(s.High) - span
	root -= (root - int(tonic.Root.Class())) % 12
	var start notes
	for _, t := range tonic.Tones(nil) {
		start = append(start, root+int(t.Interval.Semitones))
	}
	if s.Voices == 4 {
		start = append(start, root+span)
	}
	for line := range strings.SplitSeq(progressions, ";") {
		chords, err := harmony.ParseProgression(line, k, harmony.FromTonic)
		if err != nil {
			panic(err)
		}
		p := problem{Start: start, key: k}
		for _, c := range chords {
			p.Chords = append(p.Chords, c.Symbol())
		}
		s.Problems = append(s.Problems, p)
	}
}
