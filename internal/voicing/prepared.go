package voicing

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// What is kept for later calls: at most preparedChords chords, and candidates of
// at most keptEach a chord and number of voices and keptTogether in all, some
// 1 MiB. What is beyond begins anew.
const (
	preparedChords = 512
	keptEach       = 128
	keptTogether   = 1 << 14
)

// prepared has what depends only on a chord, its key and the settings.
type prepared struct {
	chords map[inKey]*preparedChord
	kept   int // candidates
}

type inKey struct {
	chord harmony.Chord
	key   pitch.Key
}

type preparedChord struct {
	tonality tonality
	lists    [MaxUpper + 1][]candidate // by number of upper notes; nil where there is none or it is not kept
}

// of gives what is prepared of a chord, which stays valid whatever else is.
func (p *prepared) of(e *Engine, c harmony.Chord, key pitch.Key) *preparedChord {
	if known, ok := p.chords[inKey{c, key}]; ok {
		return known
	}
	if p.chords == nil || len(p.chords) == preparedChords {
		p.chords, p.kept = map[inKey]*preparedChord{}, 0
	}
	known := &preparedChord{tonality: e.s.tonality(c, key)}
	p.chords[inKey{c, key}] = known
	return known
}

// keep keeps a copy of the complete list of n upper notes of a chord, if it is
// short.
func (p *prepared) keep(known *preparedChord, n int, list []candidate) {
	if len(list) == 0 || len(list) > keptEach {
		return
	}
	if p.kept += len(list); p.kept > keptTogether {
		p.chords, p.kept = nil, 0
		return
	}
	known.lists[n] = append([]candidate(nil), list...)
}
