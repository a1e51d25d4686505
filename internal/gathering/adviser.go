package gathering

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Adviser looks through plans for one rig. It keeps what it has worked out, by
// key and chords, and serves one goroutine at a time.
type Adviser struct {
	rig     Rig
	library Library
	engine  *voicing.Engine

	paths    map[voicedKey]voiced
	landings map[landingKey]landed
	routes   map[ways]map[harmony.Chord]harmony.Route
	grown    [2]*grown // for major and for minor keys
}

// NewAdviser makes an adviser for a rig; it fails where the rig's voicing
// contradicts itself.
func NewAdviser(rig Rig, library Library) (*Adviser, error) {
	e, err := voicing.New(rig.Bed.Voicing)
	if err != nil {
		return nil, err
	}
	return &Adviser{rig: rig, library: library, engine: e, paths: map[voicedKey]voiced{}, landings: map[landingKey]landed{}, routes: map[ways]map[harmony.Chord]harmony.Route{}}, nil
}

// voicedKey names a progression in a key.
type voicedKey struct {
	key    pitch.Key
	chords [mostVoiced]harmony.Chord
	n      int
}

// mostVoiced is how many chords of a progression are looked at; a bed's has two to
// four as a rule.
const mostVoiced = 16

// voiced is what the engine makes of a progression that goes round.
type voiced struct {
	top  []int       // the highest notes, in order
	rest []pitch.Set // what may rest on each chord
	cost float64     // a chord
	held float64     // upper notes that stay at a change, on the average
	err  error       // the range has no room for one of the chords
}

// voice voices a progression that goes round with the rig's usual number of
// voices.
func (a *Adviser) voice(chords []harmony.Chord, key pitch.Key) voiced {
	k := voicedKey{key: key, n: len(chords)}
	copy(k.chords[:], chords)
	if v, known := a.paths[k]; known {
		return v
	}
	v := a.voiceAnew(chords[:min(len(chords), mostVoiced)], key)
	a.paths[k] = v
	return v
}

func (a *Adviser) voiceAnew(chords []harmony.Chord, key pitch.Key) (v voiced) {
	p, err := a.engine.Path(chords, key, len(chords) > 1, nil)
	if err != nil {
		v.err = err
		return v
	}
	var room [128]voicing.SafeNote
	for i, s := range p.Steps {
		notes := s.Voicing.Notes()
		v.top = append(v.top, int(notes[len(notes)-1]))
		v.cost += s.Cost.Total / float64(len(p.Steps))
		v.held += float64(s.Held.Len()) / float64(len(p.Steps))
		next := p.Steps[(i+1)%len(p.Steps)]
		rest := pitch.Set(0)
		for _, n := range voicing.SafeNotes(room[:0], s.Chord, &s.Voicing, next.Chord, &next.Voicing, key, 60, 71) {
			if n.Use != voicing.Neighbour {
				rest = rest.Add(pitch.ClassOf(int(n.Note)))
			}
		}
		v.rest = append(v.rest, rest)
	}
	return v
}
