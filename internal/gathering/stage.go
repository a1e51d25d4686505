package gathering

import (
	"slices"

	"bedd/internal/bed"
	"bedd/internal/harmony"
)

// BedSongs is what the bed needs of every song, in order, so that a moment that
// nobody planned can lead there: the best of what is suggested, else the library's
// first pair. Songs whose key is not known are there too, and no landing leads to
// them.
func (a *Adviser) BedSongs(g *Gathering) []bed.Song {
	songs := make([]bed.Song, len(g.Songs))
	for i, s := range g.Songs {
		b := &songs[i]
		b.Key, b.First, b.Figure = s.Key, s.First, s.Figure
		b.Then = slices.IndexFunc(g.Moments, func(m Moment) bool { return m.After >= i })
		called := Gathering{Songs: g.Songs, Comfort: g.Comfort, Moments: []Moment{{After: -1, Then: i, Bed: bed.Moment{Key: s.Key}}}}
		if !s.NoKey {
			for _, best := range a.Suggest(&called, 0, 1) {
				b.Home, b.Away = best.HomeChords, best.AwayChords
			}
		}
		if pair, ok := a.library.First(s.Key.Minor); ok && len(b.Home) == 0 {
			m, err := Plain(s.Key, pair.Home, pair.Away, harmony.FromTonic)
			if err == nil {
				b.Home, b.Away = m.Home, m.Away
			}
		}
		if len(b.Home) == 0 {
			b.Home = []harmony.Chord{harmony.Diatonic(s.Key, 1)}
		}
	}
	return songs
}
