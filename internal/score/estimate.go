package score

import (
	"math"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// What the estimate weighs, in parts of what sounds in a beat: by ear, on invented
// tunes.
const (
	foreign   = 1.0  // a note that is not the chord's
	bassRoot  = 0.35 // the lowest note is the root
	diatonic  = 0.25 // the chord is the key's own
	notBass   = 0.15 // the lowest note is none of the chord's
	rare      = 0.2  // the chord is diminished: most often it is a seventh chord without its root
	changeBar = 0.5  // another chord at the beginning of a bar
	change    = 1.0  // another chord elsewhere
)

// maxBeats bounds the work: a thousand bars.
const maxBeats = 4000

// longestNote bounds how much of a note counts, in beats: what sounds for longer is
// a drone.
const longestNote = 64

// guess is a triad that may be meant.
type guess struct {
	chord   harmony.Chord
	classes pitch.Set
	root    pitch.Class
	own     bool // the key's
	rare    bool
}

// estimate finds the triads under notes, given in order: of all ways through
// major, minor and diminished triads, one a beat, the one that fits best, a change
// having its price. Beat and bar are in quarter notes.
func estimate(notes []note, key pitch.Key, beat, bar float64) []timedChord {
	all := guesses(key)
	heard := beats(notes, beat)
	if len(heard) == 0 {
		return nil
	}
	perBar := max(1, int(math.Round(bar/beat)))
	sums := make([]float64, len(all))
	from := make([][]int16, len(heard))
	for b := range heard {
		price := change
		if b%perBar == 0 {
			price = changeBar
		}
		best := 0
		for i := range sums {
			if sums[i] > sums[best] {
				best = i
			}
		}
		from[b] = make([]int16, len(all))
		next := make([]float64, len(all))
		for i := range all {
			before := i
			if b > 0 && sums[best]-price > sums[i] {
				before = best
			}
			next[i] = sums[i]
			if before != i {
				next[i] = sums[best] - price
			}
			from[b][i] = int16(before)
			next[i] += heard[b].fits(&all[i])
		}
		sums = next
	}
	at := 0
	for i := range sums {
		if sums[i] > sums[at] {
			at = i
		}
	}
	path := make([]int, len(heard))
	for b := len(heard) - 1; b >= 0; b-- {
		path[b] = at
		at = int(from[b][at])
	}
	var chords []timedChord
	for b, i := range path {
		if b == 0 || path[b-1] != i {
			chords = append(chords, timedChord{float64(b) * beat, all[i].chord})
		}
	}
	if heard[0].sum() == 0 && len(chords) > 1 { // what comes before the first note
		chords[0].at = 0
	}
	return chords
}

func guesses(key pitch.Key) (all []guess) {
	for root := range pitch.Class(12) {
		for _, suffix := range []string{"", "m", "dim"} {
			chord, err := harmony.ParseChord(key.Spell(root).String() + suffix)
			if err != nil {
				continue // a name with three accidentals
			}
			g := guess{chord: chord, classes: chord.Classes(), root: root, rare: suffix == "dim", own: key.Classes().Contains(chord.Classes())}
			if dominant := key.Tonic.Class().Up(7); key.Minor && suffix == "" && root == dominant {
				g.own = true
			}
			all = append(all, g)
		}
	}
	return all
}

// beatHeard is what sounds during one beat.
type beatHeard struct {
	weights
	bass  pitch.Class
	known bool // there is a bass
}

// fits rates a chord for a beat, a silent one for none.
func (h *beatHeard) fits(g *guess) float64 {
	sum := h.sum()
	if sum == 0 {
		return 0
	}
	fit := 0.0
	for c, w := range h.weights {
		if g.classes.Has(pitch.Class(c)) {
			fit += w / sum
		} else {
			fit -= foreign * w / sum
		}
	}
	if g.own {
		fit += diatonic
	}
	if g.rare {
		fit -= rare
	}
	switch {
	case !h.known:
	case h.bass == g.root:
		fit += bassRoot
	case !g.classes.Has(h.bass):
		fit -= notBass
	}
	return fit
}

// beats adds up what sounds in each beat.
func beats(notes []note, beat float64) []beatHeard {
	end := 0.0
	for _, n := range notes {
		end = max(end, n.at+n.long)
	}
	heard := make([]beatHeard, min(int(math.Ceil(end/beat)), maxBeats))
	lowest := make([]int, len(heard))
	for _, n := range notes {
		n.long = min(n.long, longestNote*beat)
		for b := int(n.at / beat); b < len(heard) && float64(b)*beat < n.at+n.long; b++ {
			h := &heard[b]
			from, to := max(n.at, float64(b)*beat), min(n.at+n.long, float64(b+1)*beat)
			if to <= from {
				continue
			}
			h.weights[pitch.ClassOf(n.pitch)] += to - from
			if !h.known || n.pitch < lowest[b] {
				h.bass, h.known, lowest[b] = pitch.ClassOf(n.pitch), true, n.pitch
			}
		}
	}
	return heard
}
