package harmony

import "bedd/internal/pitch"

// maxTriads is how many triads a key has at most: seven on its scale, and in
// minor two with the raised seventh.
const maxTriads = 9

// Triads appends the triads of a key in the order of their degrees. In major
// they are the seven on its scale. In minor they are the seven of natural minor,
// and beside the fifth and seventh degrees' own the major triad on the fifth and
// the diminished one on the raised seventh.
// Hot path: no allocation when buf has room for nine.
func Triads(k pitch.Key, buf []Chord) []Chord {
	scale := k.Scale()
	for step, root := range scale {
		buf = append(buf, Chord{Root: root, Bass: root, quality: diatonicTriad(k, step)})
		switch {
		case k.Minor && step == 4:
			buf = append(buf, Dominant(k))
		case k.Minor && step == 6:
			root.Alter++
			buf = append(buf, Chord{Root: root, Bass: root, quality: diminishedTriad})
		}
	}
	return buf
}

// Dominant is the major triad on the fifth degree, in minor too.
func Dominant(k pitch.Key) Chord {
	root := k.Scale()[4]
	return Chord{Root: root, Bass: root, quality: majorTriad}
}

// Pivot is a chord that two keys have in common, as each spells it.
type Pivot struct {
	Here, There Chord
}

// Pivots lists the triads that both keys have ([Triads]), in the order of the
// first one's degrees. Allocates.
func Pivots(here, there pitch.Key) []Pivot {
	var list []Pivot
	for _, a := range Triads(here, nil) {
		for _, b := range Triads(there, nil) {
			if a.Root.Class() == b.Root.Class() && a.quality == b.quality {
				list = append(list, Pivot{a, b})
			}
		}
	}
	return list
}

// CloselyRelated lists the keys whose signature differs by one accidental at
// most: in C major Am, F, Dm, G and Em, the relative key before those with a
// flat more, those with a sharp more last, each in the mode of k first.
func CloselyRelated(k pitch.Key) [5]pitch.Key {
	flatter := pitch.Key{Tonic: k.Tonic.Up(pitch.Interval{Steps: 3, Semitones: 5}), Minor: k.Minor}
	sharper := pitch.Key{Tonic: k.Tonic.Up(pitch.Interval{Steps: 4, Semitones: 7}), Minor: k.Minor}
	return [5]pitch.Key{k.Relative(), flatter, flatter.Relative(), sharper, sharper.Relative()}
}

// keyMap tells which chords belong to a key, and on which degree.
type keyMap struct {
	step     [12]int8 // of the scale, 0…6, or foreign
	scale    pitch.Set
	harmonic pitch.Set // in minor, the scale with the raised seventh
}

const foreign = int8(-1)

func mapOf(k pitch.Key, scale *[7]pitch.Name) (m keyMap) {
	for c := range m.step {
		m.step[c] = foreign
	}
	for i, n := range scale {
		m.step[n.Class()] = int8(i)
		m.scale = m.scale.Add(n.Class())
	}
	m.harmonic = m.scale
	if k.Minor {
		seventh := scale[6].Class()
		m.step[seventh.Up(1)] = 6
		m.harmonic = m.scale.Without(seventh).Add(seventh.Up(1))
	}
	return m
}

// of gives the step of the scale that a chord stands on, 0…6, or foreign. What
// belongs to the key has no tone but the scale's, or over the fifth and the
// raised seventh degree of a minor key those of harmonic minor.
func (m *keyMap) of(root pitch.Class, classes pitch.Set) int8 {
	step := m.step[root]
	switch {
	case step == foreign, m.scale.Contains(classes):
		return step
	case (step == 4 || step == 6) && m.harmonic.Contains(classes):
		return step
	}
	return foreign
}
