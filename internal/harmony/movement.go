package harmony

import "bedd/internal/pitch"

// leastMovement is the least total movement in semitones that leads the tones of
// one chord into those of the other, in any octave: every tone of either is the
// end of a way, and only tones of the smaller chord are led to or from more than
// once. Of triads it is the size of their voice leading (Tymoczko 2006, taxicab).
// Both sets hold at least one class.
// Hot path: no allocation; O(classes³).
func leastMovement(a, b pitch.Set) int {
	if a.Len() < b.Len() {
		a, b = b, a
	}
	var large, small [12]pitch.Class
	n, m := ascending(a, &large), ascending(b, &small)
	least := 1 << 10
	for start := range n { // ways that do not cross lead least
		var best [12]int // with the last tone of large led to small's number j
		for i, at := 0, start; i < n; i++ {
			tone := large[at]
			if at++; at == n {
				at = 0
			}
			for j := min(i, m-1); j >= 0; j-- {
				way := best[j]
				switch {
				case j == i && j > 0:
					way = best[j-1]
				case j > 0:
					way = min(way, best[j-1])
				}
				best[j] = way + apart(tone, small[j])
			}
		}
		least = min(least, best[m-1])
	}
	return least
}

// ascending lists the classes of a set.
func ascending(s pitch.Set, into *[12]pitch.Class) (n int) {
	for c := range pitch.Class(12) {
		if s.Has(c) {
			into[n] = c
			n++
		}
	}
	return n
}

// apart is the distance of two classes in semitones, 0…6.
func apart(a, b pitch.Class) int {
	d := int(a) - int(b)
	d = max(d, -d)
	return min(d, 12-d)
}

// shapes are the qualities of the chords on the way, whose movements are known
// beforehand.
var shapes = [...]quality{
	majorTriad, minorTriad, diminishedTriad,
	majorTriad | minorSeventh, suspendedTriad, suspendedTriad | minorSeventh,
}

const unshaped = int8(-1)

func shapeOf(q quality) int8 {
	for i, shape := range shapes {
		if q == shape {
			return int8(i)
		}
	}
	return unshaped
}

// shapeMovement has the least movement from each shape on C to each on every root.
var shapeMovement = func() (table [len(shapes)][len(shapes)][12]uint8) {
	for i, a := range shapes {
		for j, b := range shapes {
			for up := range 12 {
				table[i][j][up] = uint8(leastMovement(a.classes(), b.classes().Transpose(up)))
			}
		}
	}
	return table
}()

// movement is the least movement from x to y in semitones.
func movement(x, y *stop) int {
	if x.shape == unshaped || y.shape == unshaped {
		return leastMovement(x.classes, y.classes)
	}
	return int(shapeMovement[x.shape][y.shape][y.chord.Root.Class().Up(-int(x.chord.Root.Class()))])
}
