package score

import (
	"math"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// weights are how much each pitch class sounds, by class, in any unit.
type weights [12]float64

// Probe-tone ratings: how well each class, from the tonic up, fits a key
// (Krumhansl and Kessler 1982, "Tracing the dynamic changes in perceived tonal
// organization in a spatial representation of musical keys", Psychological Review
// 89; the figures as in Krumhansl 1990, Cognitive Foundations of Musical Pitch,
// table 2.1).
var (
	majorProfile = weights{6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88}
	minorProfile = weights{6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17}
)

// findKey is Krumhansl and Schmuckler's method (Krumhansl 1990, chapter 4): the
// key whose profile correlates best with the weights. It gives the key under its
// practical name and the correlation, -1…1; nothing sounding fits C, by 0.
func findKey(w weights) (pitch.Key, float64) {
	best, fit := pitch.Key{}, 0.0
	for tonic := range 12 {
		for _, minor := range []bool{false, true} {
			k := pitch.Key{Minor: minor}.Transpose(tonic)
			if r := w.fits(k); r > fit {
				best, fit = k, r
			}
		}
	}
	return best, fit
}

// fits is the correlation of the weights with a key's profile.
func (w weights) fits(k pitch.Key) float64 {
	profile := &majorProfile
	if k.Minor {
		profile = &minorProfile
	}
	tonic := int(k.Tonic.Class())
	var rotated weights
	for c := range rotated {
		rotated[c] = w[(c+tonic)%12]
	}
	return correlation(rotated, *profile)
}

// correlation is Pearson's coefficient; 0 where one does not vary.
func correlation(a, b weights) float64 {
	meanA, meanB := a.sum()/12, b.sum()/12
	var ab, aa, bb float64
	for i := range a {
		x, y := a[i]-meanA, b[i]-meanB
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	if aa*bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

func (w weights) sum() (s float64) {
	for _, v := range w {
		s += v
	}
	return s
}

// inKey is the part of the weights, 0…1, that belongs to the key: its scale, and
// in minor the raised sixth and seventh too.
func (w weights) inKey(k pitch.Key) float64 {
	classes := k.Classes()
	if tonic := k.Tonic.Class(); k.Minor {
		classes = classes.Add(tonic.Up(9)).Add(tonic.Up(11))
	}
	in := 0.0
	for c, v := range w {
		if classes.Has(pitch.Class(c)) {
			in += v
		}
	}
	if sum := w.sum(); sum > 0 {
		return in / sum
	}
	return 1
}

// ofChords adds up the tones of chords, the root and the bass twice.
func ofChords(chords []harmony.Chord) (w weights) {
	for _, c := range chords {
		for class := range pitch.Class(12) {
			if c.Classes().Has(class) {
				w[class]++
			}
		}
		w[c.Root.Class()]++
		w[c.BassClass()]++
	}
	return w
}

// How much the first and the last chord speak for a key when they are its tonic,
// in units of correlation: by ear, on invented progressions.
const (
	startsOnTonic = 0.12
	endsOnTonic   = 0.12
)

// keyOfChords is findKey for chords, where a song is likely to begin and end on
// the tonic. The tonic is spelled as the chords spell it.
func keyOfChords(chords []harmony.Chord) (pitch.Key, float64) {
	if len(chords) == 0 {
		return pitch.Key{}, 0
	}
	best, fit := pitch.Key{}, math.Inf(-1)
	for tonic := range 12 {
		for _, minor := range []bool{false, true} {
			k := pitch.Key{Minor: minor}.Transpose(tonic)
			if r := fitsChords(k, chords); r > fit {
				best, fit = k, r
			}
		}
	}
	return spelledAs(best, chords), min(fit, 1)
}

// fitsChords is how well chords fit a key.
func fitsChords(k pitch.Key, chords []harmony.Chord) float64 {
	r := ofChords(chords).fits(k)
	if isTonic(chords[0], k) {
		r += startsOnTonic
	}
	if isTonic(chords[len(chords)-1], k) {
		r += endsOnTonic
	}
	return r
}

func isTonic(c harmony.Chord, k pitch.Key) bool {
	return c.Root.Class() == k.Tonic.Class() && c.Classes().Contains(harmony.Diatonic(k, 1).Classes())
}

// spelledAs is the key under the name of which more of the chords' roots are
// notes: Gb, not F#, for Gb Cb Db.
func spelledAs(k pitch.Key, chords []harmony.Chord) pitch.Key {
	best, most := k, -1
	for _, tonic := range namesOf(k) {
		name := pitch.Key{Tonic: tonic, Minor: k.Minor}
		count := 0
		for _, c := range chords {
			if name.Spell(c.Root.Class()) == c.Root {
				count++
			}
		}
		if count > most {
			best, most = name, count
		}
	}
	return best
}

// namesOf are the tonics under which a key can be written with at most seven
// accidentals, its own first.
func namesOf(k pitch.Key) []pitch.Name {
	names := []pitch.Name{k.Tonic}
	for _, alter := range []int8{-1, 0, 1} {
		for letter := range int8(7) {
			n := pitch.Name{Letter: letter, Alter: alter}
			other := pitch.Key{Tonic: n, Minor: k.Minor}
			if n.Class() == k.Tonic.Class() && n != k.Tonic && -7 <= other.Signature() && other.Signature() <= 7 {
				names = append(names, n)
			}
		}
	}
	return names
}

// ofSignature is the key of so many sharps, or flats as a negative number.
func ofSignature(sharps int, minor bool) pitch.Key {
	for alter := int8(-1); alter <= 1; alter++ {
		for letter := range int8(7) {
			k := pitch.Key{Tonic: pitch.Name{Letter: letter, Alter: alter}, Minor: minor}
			if k.Signature() == sharps {
				return k
			}
		}
	}
	return pitch.Key{Minor: minor}
}
