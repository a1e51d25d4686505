package main

import (
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// safeNotes gives the right hand's notes with every step of a path.
func safeNotes(p voicing.Path, key pitch.Key, low, high uint8) [][]voicing.SafeNote {
	all := make([][]voicing.SafeNote, len(p.Steps))
	for i, s := range p.Steps {
		var next voicing.Step
		switch {
		case i+1 < len(p.Steps):
			next = p.Steps[i+1]
		case p.Loop:
			next = p.Steps[0]
		}
		all[i] = voicing.SafeNotes(nil, s.Chord, &s.Voicing, next.Chord, &next.Voicing, key, low, high)
	}
	return all
}

type safeNote struct {
	Note int    `json:"note"`
	To   int    `json:"to"` // where a neighbour resolves; the note itself where it may rest
	Use  string `json:"use"`
}

func safeJSON(notes []voicing.SafeNote) []safeNote {
	out := []safeNote{}
	for _, n := range notes {
		out = append(out, safeNote{int(n.Note), int(n.To), n.Use.String()})
	}
	return out
}

// safeText names the notes without their octaves, each once, in the order in
// which they first come.
func safeText(c harmony.Chord, notes []voicing.SafeNote, key pitch.Key) string {
	var parts [voicing.Neighbour + 1][]string
	var named [voicing.Neighbour + 1]pitch.Set
	for _, n := range notes {
		k := pitch.ClassOf(int(n.Note))
		if named[n.Use].Has(k) {
			continue
		}
		named[n.Use] = named[n.Use].Add(k)
		name := c.Spell(k, key).String()
		if n.Use == voicing.Neighbour {
			name += ">" + c.Spell(pitch.ClassOf(int(n.To)), key).String()
		}
		parts[n.Use] = append(parts[n.Use], name)
	}
	var words []string
	for _, p := range parts {
		words = append(words, strings.Join(p, " "))
	}
	return strings.Join(words, " | ")
}
