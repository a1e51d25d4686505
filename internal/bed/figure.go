package bed

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// lowerings are by how many semitones the upper range is narrowed from above, one
// after another, where the top line would play the next song's figure.
var lowerings = [...]uint8{2, 4, 7}

// makeGuarded makes the engines for that, where a song has a figure; a range that
// cannot be narrowed so far goes without.
func (b *Bed) makeGuarded() error {
	for _, s := range b.c.Songs {
		if len(s.Figure) == 0 {
			continue
		}
		for _, by := range lowerings {
			narrow := b.c.Voicing
			if narrow.High-narrow.Low < 12+by {
				continue
			}
			narrow.High -= by
			narrow.Centre = min(narrow.Centre, float64(narrow.High))
			e, err := voicing.New(narrow)
			if err != nil {
				return err
			}
			b.guarded = append(b.guarded, e)
		}
		return nil
	}
	return nil
}

// figure is what the bed is not to give away, and the song that it belongs to;
// nil where nothing is to be kept.
func (b *Bed) figure() *Song {
	if b.song == 0 || len(b.c.Songs[b.song-1].Figure) == 0 {
		return nil
	}
	return &b.c.Songs[b.song-1]
}

// guard voices both progressions anew, in narrower ranges, where their top line
// has the next song's figure, and notes where that does not help. At most three
// searches.
func (b *Bed) guard(home, away []voicing.Ladder, from *voicing.Ladder, enter int, key pitch.Key) (h, a []voicing.Ladder) {
	s := b.figure()
	b.heard = s != nil && b.hasFigure(s, home, away, key)
	if !b.heard {
		return home, away
	}
	for _, e := range b.guarded {
		h, a, err := e.Pair(b.chords[Home], b.chords[Away], key, from, enter, nil, nil)
		if err == nil && !b.hasFigure(s, h, a, key) {
			b.heard = false
			return h, a
		}
	}
	return home, away
}

// hasFigure reports whether the top line over one of the progressions, at any
// density, has the opening of a song's figure.
func (b *Bed) hasFigure(s *Song, home, away []voicing.Ladder, key pitch.Key) bool {
	var line [MaxChords]int
	for _, ladders := range [2][]voicing.Ladder{home, away} {
		for rung := b.density.Thin; rung <= b.density.Full; rung++ {
			for i := range ladders {
				v := ladders[i].Rung(rung)
				line[i] = int(v.Upper[v.N-1])
			}
			if _, found := harmony.FindFigure(s.Figure, s.Key, line[:len(ladders)], key, true); found {
				return true
			}
		}
	}
	return false
}
