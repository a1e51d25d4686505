package harmony

import "bedd/internal/pitch"

// What gives a figure away. Common practice, no source.
const (
	openingNotes  = 4 // the notes by which a figure is known
	openingLeast  = 3 // a shorter one is not known by itself
	ornamentNotes = 2 // between two notes of a figure, at most
	ornamentStep  = 2 // semitones from one of them, at most
)

// opening gives the first notes of a figure, without repeats; it is not ok where
// they are too few to know it by.
func opening(figure []int) (notes [openingNotes]int, n int, ok bool) {
	for _, note := range figure {
		if n > 0 && notes[n-1] == note {
			continue
		}
		if n == openingNotes {
			break
		}
		notes[n] = note
		n++
	}
	return notes, n, n >= openingLeast
}

// FindFigure looks in a line of notes for the opening of a figure: its first
// four notes, or all of three; repeats count as one note. Where the line is a
// loop, it may run on from the end to the beginning. The opening is found in any
// transposition: by semitones, or, where it has four notes, by the steps of the
// keys that the figure and the line are in. Between two of its notes the line may
// have up to two others, each at most a tone from one of them. What is given is
// the place in the line at which the opening begins.
//
// Notes are MIDI note numbers. No allocation; O(line).
func FindFigure(figure []int, of pitch.Key, line []int, in pitch.Key, loop bool) (at int, found bool) {
	f := finder{line: line, in: in, loop: loop}
	var ok bool
	if f.opening, f.n, ok = opening(figure); !ok {
		return 0, false
	}
	for i, note := range f.opening[:f.n] {
		f.steps[i] = staffStep(note, of)
	}
	for at := range line {
		for _, tonal := range [...]bool{false, true} {
			if f.tonal = tonal; (!tonal || f.n == openingNotes) && f.goesOn(at, 1, at) {
				return at, true
			}
		}
	}
	return 0, false
}

// staffStep is a note's place on the staff as the key spells it: letters from C-1 up.
func staffStep(note int, k pitch.Key) int {
	name := k.Spell(pitch.ClassOf(note))
	natural := note - int(name.Alter)
	return natural/12*7 + int(name.Letter)
}

// finder looks for an opening from one note of the line.
type finder struct {
	opening, steps [openingNotes]int
	n              int
	line           []int
	in             pitch.Key
	loop, tonal    bool
}

// note is the line's note at a place, which in a loop may lie beyond its end.
func (f *finder) note(i int) (note int, ok bool) {
	if f.loop {
		return f.line[i%len(f.line)], true
	}
	if i >= len(f.line) {
		return 0, false
	}
	return f.line[i], true
}

// goesOn reports whether the opening's notes from number k on follow after a
// place in the line, the first of all being at start.
func (f *finder) goesOn(start, k, after int) bool {
	if k == f.n {
		return true
	}
	last, _ := f.note(after)
	extra := 0
	for i := after + 1; extra <= ornamentNotes; i++ {
		next, ok := f.note(i)
		if !ok || i-start > len(f.line)*openingNotes {
			return false
		}
		if before, _ := f.note(i - 1); next == before {
			continue // a repeat is no other note
		}
		if f.fits(start, k, next) && f.adorned(after, i, last, next) && f.goesOn(start, k+1, i) {
			return true
		}
		extra++
	}
	return false
}

// fits reports whether a note is the opening's note number k, as transposed.
func (f *finder) fits(start, k, note int) bool {
	first, _ := f.note(start)
	if f.tonal {
		return staffStep(note, f.in)-staffStep(first, f.in) == f.steps[k]-f.steps[0]
	}
	return note-first == f.opening[k]-f.opening[0]
}

// adorned reports whether the notes between two places are ornaments of one of
// the notes there.
func (f *finder) adorned(from, to, a, b int) bool {
	for i := from + 1; i < to; i++ {
		if n, _ := f.note(i); min(abs(n-a), abs(n-b)) > ornamentStep {
			return false
		}
	}
	return true
}

func abs(n int) int { return max(n, -n) }

// GivesAway reports whether the opening of a figure can be played on some notes,
// in any octave, where it stands or moved to the tonic of the key they are in,
// and which of them to leave out so that it cannot: the one that comes last in
// it. Left out, another may have to be. No allocation.
func GivesAway(figure []int, of pitch.Key, notes pitch.Set, in pitch.Key) (leave pitch.Class, given bool) {
	opening, n, ok := opening(figure)
	if !ok {
		return 0, false
	}
	for _, up := range [...]int{0, int(in.Tonic.Class()) - int(of.Tonic.Class())} {
		given, seen := true, pitch.Set(0)
		for _, note := range opening[:n] {
			c := pitch.ClassOf(note + up)
			if given = given && notes.Has(c); !seen.Has(c) {
				leave = c
			}
			seen = seen.Add(c)
		}
		if given {
			return leave, true
		}
	}
	return 0, false
}
