package harmony

import "bedd/internal/pitch"

// Landing returns the plain route from a chord in one key to the first chord
// of a song in another: n chords, 0…2.
//
// There is nothing to do where the bed already sounds the first chord, under
// whatever spelling: the same classes over the same bass. Otherwise the route
// is the major triad on the fifth degree of the song's key, in minor too, and
// the first chord. The first chord alone is left where the bed already is on
// that dominant, or where the song starts on it; a dominant may have a seventh
// or another bass, but not a suspension. The key the bed is in makes no
// difference to this route.
// Hot path: no allocation.
func Landing(from Chord, in pitch.Key, to pitch.Key, first Chord) (route [2]Chord, n int) {
	if from.SoundsLike(first) {
		return route, 0
	}
	root := to.Scale()[4]
	dominant := Chord{Root: root, Bass: root, quality: majorTriad}
	if from.dominates(dominant) || first.dominates(dominant) {
		return [2]Chord{first}, 1
	}
	return [2]Chord{dominant, first}, 2
}

// dominates reports whether the chord sounds like the dominant triad or has
// its root and major third as its own.
func (c Chord) dominates(dominant Chord) bool {
	return c.SoundsLike(dominant) || c.Root.Class() == dominant.Root.Class() && c.quality&majorThird != 0
}
