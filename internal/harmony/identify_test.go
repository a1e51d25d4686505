package harmony

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

// By ear and common practice, no source: the name a keyboard player writes.
func TestIdentify(t *testing.T) {
	for _, tt := range []struct {
		notes string // from the bass up
		key   string
		want  string
	}{
		// one note: the key's own triad, or major
		{"C", "C", "C"}, {"D", "C", "Dm"}, {"B", "C", "Bdim"}, {"Bb", "C", "Bb"}, {"C", "Am", "C"}, {"E", "Am", "Em"}, {"A", "Eb", "A"}, {"Ab", "Gb", "Abm"},
		// two notes: the key fills in
		{"C G", "C", "C"}, {"D A", "C", "Dm"}, {"D A", "D", "D"}, {"C G", "Eb", "Cm"}, {"C E", "C", "C"}, {"B D", "C", "Bdim"}, {"B D", "G", "Bm"},
		{"E C", "C", "C/E"}, {"G C", "C", "C/G"}, {"C A", "C", "Am/C"}, {"C D", "C", "Csus2"},
		{"C F", "C", "F/C"}, {"C Bb", "F", "C7"}, {"C B", "C", "Cmaj7"}, {"D C", "C", "Dm7"},
		// triads and their inversions
		{"C E G", "C", "C"}, {"E G C", "C", "C/E"}, {"G C E", "C", "C/G"}, {"A C E", "C", "Am"}, {"C E A", "C", "Am/C"},
		{"B D F", "C", "Bdim"}, {"D F B", "C", "Bdim/D"}, {"C E G#", "C", "Caug"}, {"E G# C", "C", "Eaug"},
		{"C F G", "C", "Csus4"}, {"F G C", "C", "Fsus2"}, {"C D G", "C", "Csus2"}, {"G C D", "C", "Gsus4"},
		// sixths and sevenths by the bass
		{"C E G A", "C", "C6"}, {"A C E G", "C", "Am7"}, {"E G A C", "C", "Am7/E"}, {"C Eb G A", "Bb", "Cm6"}, {"A C Eb G", "Bb", "Am7b5"},
		{"G B D F", "C", "G7"}, {"B D F G", "C", "G7/B"}, {"D F G B", "C", "G7/D"}, {"F G B D", "C", "G/F"},
		{"C E G B", "C", "Cmaj7"}, {"E G B C", "C", "Cmaj7/E"}, {"C Eb G B", "Cm", "CmMaj7"}, {"B D F Ab", "C", "Bdim7"}, {"D F Ab B", "C", "Ddim7"},
		{"A E G", "C", "Am7"}, {"G A C E", "C", "Am/G"}, {"C D F A", "C", "Dm/C"},
		// shells
		{"C E Bb", "F", "C7"}, {"C E B", "C", "Cmaj7"}, {"D F C", "C", "Dm7"}, {"B D A", "C", "Bm7b5"}, {"B D A", "D", "Bm7"}, {"C G Bb", "F", "C7"}, {"C G Bb", "Eb", "Cm7"},
		// taller
		{"C E G D", "C", "Cadd9"}, {"C D E", "C", "Cadd9"}, {"C E G Bb D", "F", "C9"}, {"D F A C E", "C", "Dm9"}, {"C E G B D", "C", "Cmaj9"},
		{"C E G A D", "C", "C69"}, {"G C D F", "C", "G7sus4"}, {"G A C D F", "C", "G9sus4"}, {"A C D E G", "C", "Am7add11"}, {"A B C D E G", "C", "Am11"},
		{"C E G Bb Db", "F", "C7b9"}, {"C E Bb A", "F", "C7add13"}, {"F A C E B", "C", "Fmaj7#11"},
		{"C E Bb D A", "F", "C13"}, {"C E G B D A", "C", "Cmaj13"}, {"D F C E B", "C", "Dm13"}, {"C E Bb D F# A", "F", "C13#11"}, {"C E G Bb D F#", "F", "C9#11"},
		{"C E G# Bb Db", "F", "C7#5b9"}, {"C E G# Bb D#", "F", "C7#5#9"}, {"C F G Bb Db", "F", "C7sus4b9"}, {"C D G A", "C", "C6sus2"},
		{"C E G A B", "C", "Cmaj7add13"}, {"C E A B", "C", "Amadd9/C"}, {"C D E F A", "C", "Dmadd9/C"}, {"C E F G B", "C", "Cmaj7add11"},
		// added to the nearest name
		{"C E G F#", "C", "C(#11)"}, {"C E G C#", "C", "C(b9)"}, {"C E G Ab", "C", "C(b13)"}, {"C Eb E G", "C", "C(#9)"}, {"C E G F# D", "C", "C(#11)add9"},
		{"C Eb G F#", "Cm", "Cm(#11)"}, {"A C E F#", "C", "Am6"}, {"D F A G", "C", "Dmadd11"},
		// scales count from the bass: the modes, melodic and harmonic minor
		{"C D E F G A B", "C", "Cmaj13add11"}, {"D E F G A B C", "C", "Dm13add11"}, {"F G A B C D E", "C", "Fmaj13#11"}, {"G A B C D E F", "C", "G13add11"},
		{"A B C D E F G", "C", "Am11addb13"}, {"E F G A B C D", "C", "Em11b9addb13"}, {"A B C D E F G#", "Am", "AmMaj11addb13"},
		// clusters: what sounds, under the nearest name
		{"C C#", "C", "C(b9)"}, {"E F G A", "C", "Fadd9/E"}, {"C D E F G", "C", "Cadd9add11"}, {"C C# D", "C", "Csus2b9"}, {"B C D", "C", "Bdim(b9)"},
		// without a root nothing is guessed
		{"E G Bb D", "C", "Em7b5"}, {"F A C E", "Dm", "Fmaj7"}, {"B D F A", "C", "Bm7b5"},
		// foreign basses
		{"D C E G", "C", "C/D"}, {"G F A C", "C", "F/G"}, {"C Bb D F", "C", "Bb/C"}, {"Bb C E G", "F", "C/Bb"}, {"F C E G", "C", "C/F"}, {"Eb D F# A", "G", "D/Eb"},
		// spelling follows the key
		{"F# A# C#", "Gb", "Gb"}, {"F# A# C#", "B", "F#"}, {"Ab C Eb", "C", "Ab"}, {"G# B D", "Am", "G#dim"}, {"A C# E", "Eb", "A"}, {"C# E A", "Eb", "A/C#"},
		{"C# E# G# B", "C#", "C#7"}, {"C# E# G# B", "Db", "Db7"}, {"C# E# G# B", "F#", "C#7"}, {"C# E# G# B", "Gb", "Db7"}, {"C# E# G# B", "A#m", "C#7"}, {"C# E# G# B", "Bbm", "Db7"},
		{"F A C", "E", "F"}, {"Db F Ab", "C", "Db"}, {"C# E G", "C", "C#dim"}, {"D# F# A C", "C", "D#dim7"}, {"Ab C Eb Gb", "C", "Ab7"}, {"C Db F Ab", "C", "Db/C"},
		{"G# B D", "C", "G#dim"}, {"A C# E", "Gb", "A"}, {"F# A C E", "Am", "F#m7b5"}, {"G# B D F", "Am", "G#dim7"}, {"F G# B D", "Am", "Fdim7"}, {"G A# C#", "G#m", "F##dim"},
		{"C E G# D", "A", "Caugadd9"}, {"B Db F Ab", "C", "Db/B"}, {"Bb D F", "E", "Bb"}, {"A# C# E", "B", "A#dim"}, {"Bb C# E G", "Dm", "Bbdim7"}, {"C Eb G", "B", "Cm"},
		// two and three notes with the bass to settle them
		{"F C D", "C", "F6"}, {"F B", "C", "Bdim/F"}, {"B F", "C", "Bdim"}, {"D F# C", "G", "D7"}, {"G# E", "Am", "E/G#"}, {"E D G#", "Am", "E7"}, {"F B E", "C", "Fmaj7#11"},
	} {
		sounding, bass := heard(t, tt.notes)
		got, ok := Identify(sounding, bass, mustKey(t, tt.key))
		if !ok || got.Symbol() != tt.want {
			t.Errorf("%s in %s is called %v (%v), want %s", tt.notes, tt.key, got, ok, tt.want)
		}
	}
	if c, ok := Identify(0, 3, pitch.Key{}); ok || !c.IsZero() {
		t.Errorf("silence is called %v", c)
	}
}

func heard(t *testing.T, notes string) (sounding pitch.Set, bass pitch.Class) {
	t.Helper()
	first := true
	for rest := notes; rest != ""; {
		n, after, err := pitch.ParseName(rest)
		if err != nil {
			t.Fatal(err)
		}
		if first {
			bass, first = n.Class(), false
		}
		sounding = sounding.Add(n.Class())
		rest = after
		if rest != "" {
			rest = rest[1:]
		}
	}
	return sounding, bass
}

func TestIdentifyNamesWhatItKnowsInRootPosition(t *testing.T) {
	for _, row := range majorTriads {
		major := mustKey(t, strings.Fields(row)[0])
		for _, k := range []pitch.Key{major, major.Relative()} {
			for class := range pitch.Class(12) {
				for _, known := range candidates {
					root := known.quality.rootName(k, class)
					want := Chord{Root: root, Bass: root, quality: known.quality}
					if got, ok := Identify(want.Classes(), class, k); !ok || got != want {
						t.Errorf("%v in %v is called %v", want, k, got)
					}
				}
			}
		}
	}
}

func TestIdentifyKnowsEveryTriadAndSeventh(t *testing.T) {
	for _, suffix := range strings.Fields("m dim aug sus2 sus4 6 m6 7 maj7 m7 mMaj7 m7b5 dim7 7b5 7#5 maj7#5 7sus4 9 maj9 m9 9sus4 69 add9 madd9 7b9 7#9 13 m11") {
		want := mustChord(t, "D"+suffix)
		if got, ok := Identify(want.Classes(), want.BassClass(), mustKey(t, "C")); !ok || got != want {
			t.Errorf("%v is called %v", want, got)
		}
	}
}

// checkName holds a name to what Identify promises.
func checkName(t interface {
	Helper()
	Fatalf(string, ...any)
}, sounding pitch.Set, bass pitch.Class, k pitch.Key) Chord {
	t.Helper()
	c, ok := Identify(sounding, bass, k)
	sounding = sounding.Add(bass)
	if !ok || c.IsZero() || c.BassClass() != bass || !sounding.Has(c.Root.Class()) {
		t.Fatalf("%v over %d in %v is called %v", sounding, bass, k, c)
	}
	read, err := ParseChord(c.Symbol())
	if err != nil || read != c {
		t.Fatalf("%v reads as %v, %v", c, read, err)
	}
	if !read.Classes().Contains(sounding) {
		t.Fatalf("%v over %d in %v is called %v, which lacks %v", sounding, bass, k, c, sounding.Minus(read.Classes()))
	}
	filled := read.Classes().Minus(sounding)
	if allowed := c.sounding(c.quality & (thirds | fifths)); !allowed.Contains(filled) {
		t.Fatalf("%v over %d in %v is called %v, which has %v besides", sounding, bass, k, c, filled)
	}
	return c
}

// Every set over every bass, counted from C, in every key: a name reads back as
// what sounds, and at most a third and a fifth besides.
func TestEverySetHasATrueName(t *testing.T) {
	for tonic := range pitch.Class(12) {
		for _, minor := range []bool{false, true} {
			k := pitch.Key{Tonic: pitch.Key{Minor: minor}.Spell(tonic), Minor: minor}
			for sounding := pitch.Set(1); sounding < 1<<12; sounding += 2 {
				checkName(t, sounding, 0, k)
			}
		}
	}
}

// A keyboard player reads two additions at sight, hardly three.
func TestNamesAddFewTones(t *testing.T) {
	long := map[int]int{} // sets of each size whose names add more than two tones
	for sounding := pitch.Set(1); sounding < 1<<12; sounding += 2 {
		c, _ := Identify(sounding, 0, pitch.Key{})
		added := strings.Count(c.Symbol(), "add")
		if added > 2 {
			long[sounding.Len()]++
		}
		if added > 4 || added > 2 && sounding.Len() < wholeScale {
			t.Errorf("%v over C is called %v", sounding, c)
		}
	}
	if long[7] > 6 || long[8] > 25 { // of 462 and 330
		t.Errorf("%d names of seven classes add more than two tones, %d of eight", long[7], long[8])
	}
}

func TestNamesInAnyKeyAndOverAnyBass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sounding := pitch.Set(rapid.Uint16Range(1, 1<<12-1).Draw(t, "sounding"))
		bass := pitch.Class(rapid.IntRange(0, 11).Draw(t, "bass"))
		k := keys().Draw(t, "key")
		c := checkName(t, sounding, bass, k)
		if again, _ := Identify(sounding.Add(bass), bass, k); again != c {
			t.Fatalf("%v over %d is called %v, then %v", sounding, bass, c, again)
		}
		// Moved with its key, a sound keeps its name's quality.
		up := rapid.IntRange(1, 11).Draw(t, "up")
		moved, _ := Identify(sounding.Transpose(up), bass.Up(up), k.Transpose(up))
		if moved.quality != c.quality || moved.Root.Class() != c.Root.Class().Up(up) {
			t.Fatalf("%v over %d in %v is called %v, %d semitones higher %v", sounding, bass, k, c, up, moved)
		}
	})
}

func TestIdentifyDoesNotAllocate(t *testing.T) {
	k := mustKey(t, "Eb")
	sounding := pitch.Set(0)
	n := testing.AllocsPerRun(4096, func() {
		sounding = (sounding + 1) % (1 << 12)
		Identify(sounding, pitch.Class(sounding%12), k)
	})
	if n != 0 {
		t.Errorf("Identify allocates %v times, want 0", n)
	}
}

func BenchmarkIdentify(b *testing.B) {
	for _, bm := range []struct {
		name     string
		sounding pitch.Set
	}{{"triad", pitch.SetOf(0, 4, 7)}, {"seventh", pitch.SetOf(2, 5, 7, 11)}, {"all twelve", 1<<12 - 1}} {
		b.Run(bm.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Identify(bm.sounding, 0, pitch.Key{})
			}
		})
	}
}
