package score

import (
	"fmt"
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// Places on the line of fifths from a signature's major tonic to the tonic of a
// mode, and whether it is one of the minor ones.
var modes = map[string]struct {
	fifths int
	minor  bool
}{
	"major": {0, false}, "ionian": {0, false}, "lydian": {-1, false}, "mixolydian": {1, false},
	"minor": {3, true}, "aeolian": {3, true}, "dorian": {2, true}, "phrygian": {4, true}, "locrian": {5, true},
}

// settleKey finds the song's key: the one that is given, else that of the first
// signature, whose mode may be missing, else the one that sounds.
func (x *xmlScore) settleKey(s *Song, given *pitch.Key, notes []note, chords []timedChord) {
	var names []harmony.Chord
	for _, c := range chords {
		names = append(names, c.chord)
	}
	if given != nil {
		s.Key, s.KeyBy = *given, "as given"
		return
	}
	lead := x.melody()
	var all []*part
	if lead != nil {
		all = append(all, lead)
	}
	for _, p := range append(all, x.order...) {
		if len(p.keys) == 0 || p.keys[0].odd {
			continue
		}
		first := p.keys[0]
		if p.transpose%12 == 0 && s.notChosen(first, notes, names) {
			return
		}
		s.fromSignature(first, notes, names)
		if moved := p.transpose % 12; moved != 0 {
			s.Key = spelledAs(s.Key.Transpose(moved), names)
		}
		for _, k := range p.keys[1:] {
			if k.fifths != first.fifths && !k.odd {
				s.remark("the signature changes on the way: this is the key it begins in")
			}
		}
		return
	}
	s.keyByEar(notes, names)
}

// plainly is by how much more a relative key must fit before the signature's mode
// is doubted: by ear.
const plainly = 0.15

// leastInKey is how much of what sounds belongs to a key that a signature means:
// by ear.
const leastInKey = 0.85

// notChosen finds the key by ear where the signature is that of C major or none
// and another key plainly sounds: many programs write it where nobody has chosen
// one.
func (s *Song) notChosen(g signature, notes []note, chords []harmony.Chord) bool {
	w := ofNotes(notes)
	if len(chords) > 0 {
		w = ofChords(chords)
	}
	c, a := pitch.Key{}, pitch.Key{}.Relative()
	said := max(w.inKey(c), w.inKey(a))
	if g.fifths != 0 || g.mode != "major" && g.mode != "" || said >= leastInKey {
		return false
	}
	var heard Song
	heard.keyByEar(notes, chords)
	if w.inKey(heard.Key) <= said {
		return false
	}
	s.Key, s.KeyBy, s.Remarks = heard.Key, heard.KeyBy, append(s.Remarks, heard.Remarks...)
	s.remark("the signature is that of C major, but what sounds is not: the key is guessed")
	return true
}

// fromSignature takes the key of a signature.
func (s *Song) fromSignature(g signature, notes []note, chords []harmony.Chord) {
	mode, known := modes[strings.ToLower(strings.TrimSpace(g.mode))]
	major := ofSignature(g.fifths, false)
	if known {
		s.Key = pitch.Key{Tonic: onFifths(major.Tonic, mode.fifths), Minor: mode.minor}
		s.KeyBy = "from the signature"
		leans := leansToMinor(major, notes, chords)
		switch {
		case mode.fifths != 0 && mode.fifths != 3:
			s.remark("the mode is %s: a plan knows major and minor", strings.ToLower(strings.TrimSpace(g.mode)))
		case mode.minor && leans < -plainly || !mode.minor && leans > plainly:
			s.remark("the signature says %v, but it sounds more like %v: write key: %v if so", s.Key, s.Key.Relative(), s.Key.Relative())
		}
		return
	}
	s.Key = major
	if leansToMinor(major, notes, chords) > 0 {
		s.Key = major.Relative()
	}
	s.KeyBy = fmt.Sprintf("from the signature, %s by what sounds", modeName(s.Key))
}

func modeName(k pitch.Key) string {
	if k.Minor {
		return "minor"
	}
	return "major"
}

// onFifths is the name that many places up the line of fifths.
func onFifths(n pitch.Name, places int) pitch.Name {
	for range places {
		n = n.Up(pitch.Interval{Steps: 4, Semitones: 7})
	}
	for range -places {
		n = n.Up(pitch.Interval{Steps: 3, Semitones: 5})
	}
	return n
}

// leansToMinor is by how much a major key's relative minor fits better, in units of
// correlation.
func leansToMinor(major pitch.Key, notes []note, chords []harmony.Chord) float64 {
	minor := major.Relative()
	if len(chords) == 0 {
		w := ofNotes(notes)
		return w.fits(minor) - w.fits(major)
	}
	return fitsChords(minor, chords) - fitsChords(major, chords)
}

// ofNotes adds up how long each class sounds.
func ofNotes(notes []note) (w weights) {
	for _, n := range notes {
		w[pitch.ClassOf(n.pitch)] += n.long
	}
	return w
}

// keyByEar takes the key that fits what sounds.
func (s *Song) keyByEar(notes []note, chords []harmony.Chord) {
	var fit float64
	if len(chords) > 0 {
		s.Key, fit = keyOfChords(chords)
		s.KeyBy = "guessed from the chords"
	} else {
		s.Key, fit = findKey(ofNotes(notes))
		s.KeyBy = "guessed from the notes"
	}
	const sure = 0.7 // by ear: below it half of what is guessed is another near key
	if fit < sure {
		s.remark("the key is a guess that may be wrong")
	}
}
