package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// A shelf keeps prepared lattices: at least those of the call under way,
// otherwise at most shelfChords with shelfVoicings together, some 24 MiB. Those
// which were not asked for longest go first.
const (
	shelfChords   = 96
	shelfVoicings = 1 << 18
)

type shelf struct {
	lattices []*lattice
	voicings int
	call     int // numbers the calls, so that none loses what it needs
}

// Prepare makes ready what depends only on the chords and their key, so that
// [Engine.Next] need not. What is prepared changes no result. Chords without a
// voicing are passed over. An engine keeps the last 96 chords, fewer where they
// have many voicings. Some 0.1 ms a chord at the default settings.
func (e *Engine) Prepare(chords []harmony.Chord, key pitch.Key) {
	for _, c := range chords {
		e.shelf.call++
		_, _ = e.lattice(c, key) // Next says what is wrong with it
	}
}

// lattice gives the lattice of a chord, from the shelf or built now.
func (e *Engine) lattice(c harmony.Chord, key pitch.Key) (*lattice, error) {
	for _, l := range e.shelf.lattices {
		if l.high > 0 && l.chord == c && l.key == key {
			l.used = e.shelf.call
			return l, nil
		}
	}
	l := e.shelf.free()
	e.shelf.voicings -= l.size()
	err := l.build(e, c, key)
	if err != nil {
		*l = lattice{}
		return nil, err
	}
	e.shelf.voicings += l.size()
	l.used = e.shelf.call
	return l, nil
}

// free gives a place on the shelf.
func (s *shelf) free() *lattice {
	for {
		oldest := -1
		for i, l := range s.lattices {
			if l.used < s.call && (oldest < 0 || l.used < s.lattices[oldest].used) {
				oldest = i
			}
		}
		switch {
		case oldest < 0 || len(s.lattices) < shelfChords && s.voicings < shelfVoicings:
			s.lattices = append(s.lattices, new(lattice))
			return s.lattices[len(s.lattices)-1]
		case s.voicings < shelfVoicings:
			return s.lattices[oldest]
		}
		s.voicings -= s.lattices[oldest].size()
		s.lattices[oldest] = s.lattices[len(s.lattices)-1]
		s.lattices = s.lattices[:len(s.lattices)-1]
	}
}
