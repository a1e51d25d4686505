package harmony

import (
	"fmt"
	"strings"

	"bedd/internal/pitch"
)

// Numbers says what degrees count from in a minor key.
type Numbers uint8

const (
	FromTonic Numbers = iota // 1 is the minor tonic
	Relative                 // 1 is the relative major's tonic
)

// Diatonic returns the triad of the key on a degree, 1…7; degrees beyond go on
// into the next octave, so that 8 is 1 again. Minor is natural minor.
func Diatonic(k pitch.Key, degree int) Chord {
	i := (degree-1)%7 + 7
	root := k.Scale()[i%7]
	return Chord{Root: root, Bass: root, quality: diatonicTriad(k, i%7)}
}

// diatonicTriad returns the triad on a step of the scale, 0…6.
func diatonicTriad(k pitch.Key, step int) quality {
	if k.Minor {
		step += 5 // natural minor is the major scale from its sixth degree
	}
	return [7]quality{
		majorTriad, minorTriad, minorTriad, majorTriad, majorTriad, minorTriad, diminishedTriad,
	}[step%7]
}

// ParseStep reads a chord by name, degree or roman numeral, in key k.
//
// What starts with a capital letter A to G is a name, read by ParseChord, the
// same in every key. What starts with 1 to 7, or with I or V in capital or
// small letters, is a degree; flats or sharps may stand before it: b7 is a
// degree, B7 and Bb7 are chords.
//
// A number has the key's own triad unless it is altered or says otherwise, and
// what follows is read as after a name: in C, 2 is Dm, 27 is Dm7 and 2M is D;
// 2maj7 and 2dom7 are on D major; 2M7, which may be either, is refused. An altered number is major: b7 is Bb. A roman
// numeral is major in capitals and minor in small letters: in C, II7 is D7,
// ii7 is Dm7, vii° is Bdim. After a slash stands the bass, a degree that may be
// altered or a name: 1/3, 1/b7, 5/B.
//
// In a minor key the degrees are those of natural minor (in A minor, 5 is Em and
// 7 is G), unless n is Relative.
func ParseStep(s string, k pitch.Key, n Numbers) (Chord, error) {
	c, f := parseStep(s, k, n)
	if f != nil {
		return Chord{}, fmt.Errorf("unknown chord %q: %s", clip(s), f.in(s, 0))
	}
	return c, nil
}

const stepHint = "a chord starts with a letter A to G, a number 1 to 7 or a roman numeral I to VII, after b or # where needed"

func parseStep(s string, k pitch.Key, n Numbers) (Chord, *fault) {
	if s != "" && 'A' <= s[0] && s[0] <= 'G' {
		return parseNamed(s)
	}
	if n == Relative && k.Minor {
		k = k.Relative()
	}
	sc := &scanner{text: s}
	alter, step := sc.degree()
	number := step >= 0
	var triad quality
	switch {
	case number && alter == 0:
		triad = diatonicTriad(k, step)
	case number:
		triad = majorTriad
	default:
		if step, triad = sc.numeral(); step < 0 {
			if f := noChord(s); f != nil {
				return Chord{}, f
			}
			return Chord{}, &fault{0, fmt.Sprintf("%q does not start a chord", clip(s)), stepHint}
		}
	}
	root, ok := altered(k, step, alter)
	if !ok {
		return Chord{}, &fault{0, tooAltered(s[:sc.at], k), "at most two flats or sharps are read"}
	}
	sc.counted = number
	if f := sc.eitherSeventh(); f != nil {
		return Chord{}, f
	}
	q, f := sc.quality(triad, !number && triad == minorTriad)
	if f != nil {
		return Chord{}, f
	}
	c := Chord{Root: root, Bass: root, quality: q}
	if sc.at < len(s) {
		if c.Bass, f = parseBass(s, sc.at+len("/"), k); f != nil {
			return Chord{}, f
		}
	}
	return c, nil
}

// eitherSeventh finds fault with an M before the number of a seventh on a
// numbered degree: M7 is a major seventh after a name, but after a number M is the
// major triad.
func (s *scanner) eitherSeventh() *fault {
	after := &scanner{text: s.text, at: s.at}
	if !s.counted || after.take("M") == "" {
		return nil
	}
	rest := s.text[after.at:]
	number := after.take("13", "11", "9", "7")
	if number == "" {
		return nil
	}
	degree := s.text[:s.at]
	return &fault{
		at:   s.at,
		what: fmt.Sprintf("M%s after %q may be a major seventh chord or a seventh on the major triad", number, degree),
		hint: fmt.Sprintf("write %smaj%s, or %sdom%s", degree, clip(rest), degree, clip(rest)),
	}
}

const stepBassHint = "after the slash write the bass as a degree or a name, as in 1/3, 1/b7, 5/B"

// parseBass reads the degree or note name that must be the rest of s.
func parseBass(s string, at int, k pitch.Key) (pitch.Name, *fault) {
	sc := &scanner{text: s, at: at}
	alter, step := sc.degree()
	if step < 0 {
		bass, f := parseBassName(s, at)
		if f != nil && f.hint == bassHint {
			f.hint = stepBassHint
		}
		return bass, f
	}
	if sc.at < len(s) {
		return pitch.Name{}, notUnderstood(s, sc.at)
	}
	bass, ok := altered(k, step, alter)
	if !ok {
		return pitch.Name{}, &fault{at, tooAltered(s[at:], k), "at most two flats or sharps are read"}
	}
	return bass, nil
}

// degree reads accidentals and a digit 1 to 7, and returns the step of the
// scale, 0…6. Without a digit it returns step -1 and stands after the
// accidentals.
func (s *scanner) degree() (alter, step int) {
	for {
		before := s.at
		a := s.accidental()
		if a == 0 {
			break
		}
		if a*alter < 0 {
			s.at = before // a sharp after a flat is neither
			break
		}
		alter += a
	}
	if d := s.take("1", "2", "3", "4", "5", "6", "7"); d != "" {
		return alter, int(d[0] - '1')
	}
	return alter, -1
}

// numerals has the roman numerals of the scale, with each longer one before
// its own beginning.
var numerals = [...]struct {
	text string
	step int
}{{"VII", 6}, {"VI", 5}, {"V", 4}, {"IV", 3}, {"III", 2}, {"II", 1}, {"I", 0}}

// numeral reads a roman numeral and returns its step of the scale, 0…6, or -1.
func (s *scanner) numeral() (step int, triad quality) {
	for _, n := range numerals {
		if s.take(n.text) != "" {
			return n.step, majorTriad
		}
		if s.take(strings.ToLower(n.text)) != "" {
			return n.step, minorTriad
		}
	}
	return -1, 0
}

// altered returns the name on a step of the scale, 0…6, moved by accidentals;
// it is not ok when the name would need more than two.
func altered(k pitch.Key, step, alter int) (n pitch.Name, ok bool) {
	n = k.Scale()[step]
	sum := int(n.Alter) + alter
	if sum < -2 || sum > 2 {
		return pitch.Name{}, false
	}
	n.Alter = int8(sum)
	return n, true
}

func tooAltered(degree string, k pitch.Key) string {
	return fmt.Sprintf("%q is no note in %v", clip(degree), k)
}

// Degree writes the chord as ParseStep reads it in k, counted from the tonic:
// "1", "6m", "2m7", "b7", "1/3", "5sus4". A minor triad has its m even where
// the key has a minor triad; a major triad that the key does not have is
// written with M or dom: in C, D is "2M" and D7 "2dom7".
func (c Chord) Degree(k pitch.Key) string {
	step, number := degreeOf(c.Root, k)
	triad := majorTriad
	if len(number) == 1 {
		triad = diatonicTriad(k, step)
	}
	s := c.quality.suffix()
	for _, word := range [...]string{"", "M", "dom"} {
		if q, f := (&scanner{text: word + s, counted: true}).quality(triad, false); f == nil && q == c.quality {
			s = word + s
			break
		}
	}
	s = number + s
	if c.Slash() {
		_, bass := degreeOf(c.Bass, k)
		s += "/" + bass
	}
	return s
}

// degreeOf returns the step of the scale, 0…6, that has n's letter, and the
// degree as it is written.
func degreeOf(n pitch.Name, k pitch.Key) (step int, written string) {
	step = int(k.Tonic.To(n).Steps)
	sign, count := "#", int(n.Alter-k.Scale()[step].Alter)
	if count < 0 {
		sign, count = "b", -count
	}
	return step, strings.Repeat(sign, count) + string(rune('1'+step))
}
