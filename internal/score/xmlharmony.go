package score

import (
	"fmt"
	"math"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

type xmlHarmony struct {
	Roots []struct {
		Step  string  `xml:"root-step"`
		Alter float64 `xml:"root-alter"`
	} `xml:"root"`
	Functions []string `xml:"function"`
	Kinds     []struct {
		Value string `xml:",chardata"`
		Text  string `xml:"text,attr"`
	} `xml:"kind"`
	Basses []struct {
		Step  string  `xml:"bass-step"`
		Alter float64 `xml:"bass-alter"`
	} `xml:"bass"`
	Degrees []struct {
		Value int     `xml:"degree-value"`
		Alter float64 `xml:"degree-alter"`
		Type  string  `xml:"degree-type"`
	} `xml:"degree"`
	Offset float64 `xml:"offset"`
}

// kinds has what stands after the root for each kind of chord (MusicXML 4.0, data
// type kind-value).
var kinds = map[string]string{
	"major": "", "minor": "m", "augmented": "aug", "diminished": "dim",
	"dominant": "7", "major-seventh": "maj7", "minor-seventh": "m7", "diminished-seventh": "dim7",
	"augmented-seventh": "7#5", "half-diminished": "m7b5", "major-minor": "m(maj7)",
	"major-sixth": "6", "minor-sixth": "m6",
	"dominant-ninth": "9", "major-ninth": "maj9", "minor-ninth": "m9",
	"dominant-11th": "11", "major-11th": "maj11", "minor-11th": "m11",
	"dominant-13th": "13", "major-13th": "maj13", "minor-13th": "m13",
	"suspended-second": "sus2", "suspended-fourth": "sus4", "power": "5",
}

// harmony takes the chord of a harmony element. One without a chord, N.C., says
// nothing.
func (p *part) harmony(h xmlHarmony) {
	if len(h.Kinds) == 0 {
		return
	}
	kind := strings.TrimSpace(h.Kinds[0].Value)
	if kind == "none" || strings.EqualFold(strings.TrimSpace(h.Kinds[0].Text), "N.C.") {
		return
	}
	chord, err := p.chord(h, kind)
	if err != nil {
		const most = 5 // remarks
		if len(p.unread) < most {
			p.unread = append(p.unread, err.Error())
		}
		return
	}
	at := p.at + h.Offset/p.divisions
	if math.IsNaN(at) || math.IsInf(at, 0) {
		at = p.at
	}
	p.chords = append(p.chords, timedChord{at, chord})
}

func (p *part) chord(h xmlHarmony, kind string) (harmony.Chord, error) {
	if len(h.Roots) == 0 {
		return harmony.Chord{}, fmt.Errorf("one without a root (kind %q)", clean(kind))
	}
	root, err := p.sounding(h.Roots[0].Step, h.Roots[0].Alter)
	if err != nil {
		return harmony.Chord{}, err
	}
	suffix, known := kinds[kind]
	if !known {
		return harmony.Chord{}, fmt.Errorf("one on %s of kind %q", root, clean(kind))
	}
	text := root.String() + suffix
	var added []string
	for _, d := range h.Degrees {
		more, err := degree(d.Value, int(d.Alter), strings.TrimSpace(d.Type), kind)
		if err != nil {
			return harmony.Chord{}, fmt.Errorf("%s with %w", text, err)
		}
		added = append(added, more)
	}
	if len(added) > 0 {
		text += "(" + strings.Join(added, ",") + ")"
	}
	if len(h.Basses) > 0 {
		bass, err := p.sounding(h.Basses[0].Step, h.Basses[0].Alter)
		if err != nil {
			return harmony.Chord{}, err
		}
		if bass != root {
			text += "/" + bass.String()
		}
	}
	return harmony.ParseChord(text)
}

// sounding is the name of a note as it sounds.
func (p *part) sounding(step string, alter float64) (pitch.Name, error) {
	n := pitch.Name{Alter: int8(min(max(alter, -3), 3))}
	letter := strings.Index("CDEFGAB", strings.TrimSpace(step))
	if len(strings.TrimSpace(step)) != 1 || letter < 0 || n.Alter < -2 || n.Alter > 2 {
		return n, fmt.Errorf("one on a note that there is not, %q", clean(step))
	}
	n.Letter = int8(letter)
	if moved := p.transpose % 12; moved != 0 {
		var from pitch.Key
		if len(p.keys) > 0 && !p.keys[0].odd {
			from = ofSignature(p.keys[0].fifths, false)
		}
		n = from.Transpose(moved).Spell(n.Class().Up(moved))
	}
	return n, nil
}

// degree writes one tone that is added, altered or left out. What is added is
// altered against the scale with a minor seventh (MusicXML 4.0, element
// degree-alter).
func degree(value, alter int, kind, of string) (string, error) {
	if alter < -2 || alter > 2 || value < 1 || value > 13 {
		return "", fmt.Errorf("degree %d altered by %d", value, alter)
	}
	sign := strings.Repeat("#", max(alter, 0)) + strings.Repeat("b", max(-alter, 0))
	tone := fmt.Sprintf("%s%d", sign, value)
	switch kind {
	case "add":
		switch {
		case value == 7 && alter == 0:
			return "", fmt.Errorf("an added seventh")
		case value == 7 && alter == 1:
			return "maj7", nil
		case value%2 == 0 || alter == 0:
			return "add" + tone, nil
		}
		return tone, nil
	case "alter":
		if alter == 0 {
			return "add" + tone, nil
		}
		return tone, nil
	case "subtract":
		return fmt.Sprintf("no%d", value), nil
	}
	return "", fmt.Errorf("a degree of type %q", clean(kind))
}
