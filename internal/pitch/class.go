// Package pitch has pitch classes, spelled note names, intervals, keys, scales.
package pitch

import (
	"math/bits"
	"strconv"
	"strings"
)

// Class is a pitch without its octave, 0…11 semitones above C.
type Class int8

// ClassOf returns the class of a note number; any integer is allowed.
func ClassOf(note int) Class {
	return Class(floorMod(note, 12))
}

// Up returns the class that many semitones higher, or lower when negative.
func (c Class) Up(semitones int) Class {
	return ClassOf(int(c) + semitones)
}

// Set is a set of pitch classes, bit n standing for class n. The zero value
// is the empty set; two sets are equal when they hold the same classes.
type Set uint16

// SetOf returns the set of the given classes.
func SetOf(classes ...Class) Set {
	var s Set
	for _, c := range classes {
		s = s.Add(c)
	}
	return s
}

// Add returns the set with c in it.
func (s Set) Add(c Class) Set { return s | 1<<c }

// Without returns the set with c taken out.
func (s Set) Without(c Class) Set { return s &^ (1 << c) }

// Has reports whether c is in the set.
func (s Set) Has(c Class) bool { return s&(1<<c) != 0 }

// Contains reports whether every class of t is in the set.
func (s Set) Contains(t Set) bool { return t&^s == 0 }

// Union returns the classes in either set.
func (s Set) Union(t Set) Set { return s | t }

// Intersect returns the classes in both sets.
func (s Set) Intersect(t Set) Set { return s & t }

// Minus returns the classes of s that are not in t.
func (s Set) Minus(t Set) Set { return s &^ t }

// Len returns the number of classes in the set, 0…12.
func (s Set) Len() int { return bits.OnesCount16(uint16(s)) }

// Transpose moves every class that many semitones up, or down when negative.
func (s Set) Transpose(semitones int) Set {
	n := floorMod(semitones, 12)
	return (s<<n | s>>(12-n)) & (1<<12 - 1)
}

// String lists the classes by number, as in "{0 4 7}".
func (s Set) String() string {
	var b strings.Builder
	b.WriteByte('{')
	for c := range Class(12) {
		if s.Has(c) {
			if b.Len() > 1 {
				b.WriteByte(' ')
			}
			b.WriteString(strconv.Itoa(int(c)))
		}
	}
	b.WriteByte('}')
	return b.String()
}

func floorMod(a, n int) int {
	return ((a % n) + n) % n
}
