package voicing

import (
	"fmt"
	"strings"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// safeLine writes safe notes by name: held ones, tones, neighbours with their
// resolution.
func safeLine(notes []SafeNote, c harmony.Chord, key pitch.Key) string {
	spell := func(n uint8) string { return c.Spell(class(n), key).String() }
	parts := [3][]string{}
	for _, n := range notes {
		s := spell(n.Note)
		if n.Use == Neighbour {
			s += ">" + spell(n.To)
		}
		parts[n.Use] = append(parts[n.Use], s)
	}
	return fmt.Sprintf("%s | %s | %s", strings.Join(parts[0], " "), strings.Join(parts[1], " "), strings.Join(parts[2], " "))
}

// What a player would leave out or resolve: the fourth over a major chord goes
// down, the leading note up, the root over a sounding major seventh down, and a
// borrowed chord takes its own notes with it (common practice, no source): Mixture
// lends Fm the Ab of C minor, beside which the A of C major is a wrong note.
func TestSafeNotes(t *testing.T) {
	eFlat := pitch.Key{Tonic: pitch.Name{Letter: 2, Alter: -1}}
	for _, c := range []struct {
		key       pitch.Key
		now, next string
		sounding  []uint8
		want      string
	}{
		{cMajor, "1", "4", []uint8{60, 64, 67}, "C | E G | D>C F>E A>G B>C"},
		{cMajor, "1", "4", []uint8{60, 64, 67, 69}, "C E G A |  | D>C F>E B>C"},
		{cMajor, "1", "", []uint8{60, 65, 67}, "| C F G | D>C E>F A>G B>C"}, // the bed suspends the third
		{cMajor, "1maj7", "4", []uint8{59, 64, 67}, "| E G B | C>B D>E F>E A>G"},
		{cMajor, "5", "1", []uint8{59, 62, 67}, "G | D B | C>B E>D F>G A>G"},
		{cMajor, "5sus4", "5", []uint8{60, 62, 67}, "D G | C | E>D F>G A>G B>C"},
		{cMajor, "4m", "1", []uint8{60, 65, 68}, "C | F Ab | D>C E>F G>Ab B>C"},
		{cMajor, "5dom7b9", "1", []uint8{59, 65, 68}, "G | D F B | C>B E>F Ab>G"},
		{cMajor, "3dom7", "6m", []uint8{62, 64, 68}, "E | D G# B | C>B F>E A>G#"}, // no G beside the leading note
		{cMajor, "b7", "1", []uint8{62, 65, 70}, "| D F Bb | C>Bb E>F G>F A>Bb"},
		{cMajor, "4M/5", "1", []uint8{60, 65, 69}, "C G | F A | D>C E>F B>C"},
		{cMajor, "6m", "", []uint8{57, 60, 64}, "| C E A | D>C F>E G>A B>C"},
		{eFlat, "1", "4", []uint8{63, 67, 70}, "Eb | G Bb | F>Eb Ab>G C>Bb D>Eb"},
	} {
		now := chords(t, c.key, c.now)[0]
		var next harmony.Chord
		var w Voicing
		if c.next != "" {
			next = chords(t, c.key, c.next)[0]
			if c.next == "4" && len(c.sounding) == 4 {
				w = Of(NoBass, c.sounding...)
			}
		}
		v := Of(NoBass, c.sounding...)
		var octave []SafeNote
		for _, n := range SafeNotes(nil, now, &v, next, &w, c.key, 60, 96) {
			if tonic := 72 + uint8(c.key.Tonic.Class()); n.Note >= tonic && n.Note < tonic+12 {
				octave = append(octave, n)
			}
		}
		got := safeLine(octave, now, c.key)
		if strings.TrimSpace(got) != c.want {
			t.Errorf("%s to %s in %v: %q, want %q", c.now, c.next, c.key, got, c.want)
		}
	}
}

// undelayed gives the classes of a chord and its voicing, but for a tone of the
// chord alone whose upper neighbour sounds in its place.
func undelayed(s sounded) (all pitch.Set) {
	tones, sounding := s.chord.Classes(), s.voicing.Classes()
	for k := range pitch.Class(12) {
		delayed := sounding.Has(k.Up(1)) && !tones.Has(k.Up(1))
		if sounding.Has(k) || tones.Has(k) && !delayed {
			all = all.Add(k)
		}
	}
	return all
}

func TestSafeNotesNeverRubUnresolved(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSettings(t)
		key := cMajor.Transpose(rapid.IntRange(0, 11).Draw(t, "key"))
		key.Minor = rapid.Bool().Draw(t, "minor")
		all := everyRung(t, s, key)
		if len(all) < 2 {
			return
		}
		low := rapid.Uint8Range(0, 120).Draw(t, "hand")
		high := min(127, low+rapid.Uint8Range(0, 40).Draw(t, "width"))
		a, b := all[0], all[len(all)-1]
		notes := SafeNotes(nil, a.chord, &a.voicing, b.chord, &b.voicing, key, low, high)
		heard, later := undelayed(a), undelayed(b)
		use := map[uint8]SafeUse{}
		for i, n := range notes {
			if i > 0 && (n.Use < notes[i-1].Use || n.Use == notes[i-1].Use && n.Note <= notes[i-1].Note) {
				t.Fatalf("%v comes after %v", n, notes[i-1])
			}
			if n.Note < low || n.Note > high || n.To < low || n.To > high {
				t.Fatalf("%v leaves %d…%d", n, low, high)
			}
			if _, twice := use[n.Note]; twice {
				t.Fatalf("note %d is listed twice", n.Note)
			}
			use[n.Note] = n.Use
		}
		for _, n := range notes {
			k := class(n.Note)
			rubs := heard.Has(k.Up(-1)) && !(k == a.chord.Root.Class().Up(4) && a.chord.Classes().Has(k) && a.chord.Classes().Has(k.Up(-1))) // the third of a chord with a sharp ninth rests
			switch n.Use {
			case HeldOver:
				if rubs || !heard.Has(k) || !later.Has(k) || later.Has(k.Up(-1)) && !b.chord.Classes().Has(k.Up(-1)) || n.To != n.Note {
					t.Fatalf("%s to %s: %v does not rest on both", a.chord.Symbol(), b.chord.Symbol(), n)
				}
			case Tone:
				if rubs || !heard.Has(k) || n.To != n.Note {
					t.Fatalf("%s: %v does not rest", a.chord.Symbol(), n)
				}
			case Neighbour:
				to, listed := use[n.To]
				if d := distance(n.Note, n.To); d < 1 || d > 2 || !listed || to == Neighbour {
					t.Fatalf("%s: %v does not resolve", a.chord.Symbol(), n)
				}
			}
		}
		// Every note of the chord that does not rub is listed.
		for n := int(low); n <= int(high); n++ {
			if k := pitch.ClassOf(n); heard.Has(k) && !heard.Has(k.Up(-1)) {
				if u, ok := use[uint8(n)]; !ok || u == Neighbour {
					t.Fatalf("%s: note %d is not listed", a.chord.Symbol(), n)
				}
			}
		}
	})
}

func TestSafeNotesAllocateNothing(t *testing.T) {
	now, next := chord(t, "C"), chord(t, "F")
	v, w := Of(36, 60, 64, 67, 69), Of(41, 60, 64, 67, 69)
	buf := make([]SafeNote, 0, 64)
	if n := testing.AllocsPerRun(100, func() {
		buf = SafeNotes(buf[:0], now, &v, next, &w, cMajor, 60, 84)
	}); n != 0 {
		t.Errorf("SafeNotes allocates %v times, want 0", n)
	}
}
