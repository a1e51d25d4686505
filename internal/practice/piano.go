package practice

import (
	"slices"
	"strings"

	"bedd/internal/pitch"
)

// Piano plays by the computer's keys for who has no other: digits are the key's degrees
// above middle C, letters its degrees as a bass. A key that is pressed once more lets
// its note go, since a terminal tells of presses alone. The zero value is in C major
// with nothing held.
type Piano struct {
	key  pitch.Key
	bend int
	held []uint8
	bass uint8 // 0 for none
}

// The keys of a piano.
const (
	upperKeys = "123456789"
	bassKeys  = "asdfghj"
	flatKey   = ","
	sharpKey  = "."
	allOff    = "0"
)

// Plays reports whether a key of the computer's is one of the piano's.
func (p *Piano) Plays(name string) bool {
	return len(name) == 1 && strings.Contains(upperKeys+bassKeys+flatKey+sharpKey+allOff, name)
}

// Keys says which keys do what, for help.
func (p *Piano) Keys() []string {
	return []string{
		"1…9 the key's degrees from middle C up, once more lets go; 0 lets all go",
		"a s d f g h j the degrees as a bass, one at a time",
		", or . before one: a semitone lower, higher",
	}
}

// In moves the piano into a key. What is held stays.
func (p *Piano) In(k pitch.Key) { p.key = k }

// Strike is a note that a piano begins or, with velocity 0, ends.
type Strike struct{ Note, Velocity uint8 }

// velocity of all strikes: soft.
const velocity = 56

// Press gives what a key of the computer's does; it is not known where it is none of
// the piano's.
func (p *Piano) Press(name string) (list []Strike, known bool) {
	if !p.Plays(name) {
		return nil, false
	}
	switch i, j := strings.Index(upperKeys, name), strings.Index(bassKeys, name); {
	case name == flatKey:
		p.bend = -1
		return nil, true
	case name == sharpKey:
		p.bend = 1
		return nil, true
	case name == allOff:
		return p.Release(), true
	case i >= 0:
		n := p.degree(60, i)
		for k, h := range p.held {
			if h == n {
				p.held = append(p.held[:k], p.held[k+1:]...)
				return []Strike{{n, 0}}, true
			}
		}
		p.held = append(p.held, n)
		return []Strike{{n, velocity}}, true
	case j >= 0:
		n := p.degree(36, j)
		was := p.bass
		if p.bass = n; was == n {
			p.bass = 0
			return []Strike{{n, 0}}, true
		}
		list = append(list, Strike{n, velocity})
		if was > 0 {
			list = append(list, Strike{was, 0})
		}
		return list, true
	}
	return nil, false
}

// Held are the notes that are held, ascending.
func (p *Piano) Held() []uint8 {
	list := slices.Clone(p.held)
	if p.bass > 0 {
		list = append(list, p.bass)
	}
	slices.Sort(list)
	return list
}

// degree gives the note of a degree from 0, upwards from the tonic's first place above
// a C, and takes what bends it.
func (p *Piano) degree(c, i int) uint8 {
	scale := p.key.Scale()
	tonic := int(scale[0].Class())
	up := int(scale[i%7].Class().Up(-tonic)) + 12*(i/7)
	n := c + tonic + up + p.bend
	p.bend = 0
	return uint8(n)
}

// Release lets all go.
func (p *Piano) Release() (list []Strike) {
	for _, n := range p.held {
		list = append(list, Strike{n, 0})
	}
	if p.bass > 0 {
		list = append(list, Strike{p.bass, 0})
	}
	p.held, p.bass, p.bend = p.held[:0], 0, 0
	return list
}
