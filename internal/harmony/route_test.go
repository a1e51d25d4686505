package harmony

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

// Routes as a player would write them; common practice, no source.
func TestLand(t *testing.T) {
	for _, tt := range []struct {
		from, in, to, first string
		ending              Ending
		want                string
	}{
		{"C", "C", "G", "G", DominantEnding, "D7 G | pivot -1"},
		{"C", "C", "G", "G", SuspendedEnding, "Dsus4 G | pivot -1"},
		{"C", "C", "G", "G", PlagalEnding, "G | pivot 0"},
		{"C", "C", "D", "D", DominantEnding, "Em A D | pivot 0"},
		{"C", "C", "D", "D", PlagalEnding, "G D | pivot 0"},
		{"C", "C", "Bb", "Bb", DominantEnding, "F Bb | pivot 0"},
		{"C", "C", "Am", "Am", DominantEnding, "E Am | pivot -1"},
		{"C", "C", "Eb", "Eb", DominantEnding, "F Bb Eb | chromatic 1"},
		{"C", "C", "Eb", "Eb", PlainEnding, "Eb | chromatic 0"},
		{"C", "C", "A", "A", SuspendedEnding, "Esus4 A | pivot 0"},
		{"Dm", "C", "C", "C", DominantEnding, "G C | none 0"},
		{"F", "C", "C", "C", DominantEnding, "G7 C | none 0"},
		{"F", "C", "C", "C", PlagalEnding, "C | none 0"},
		{"Gm7", "Bb", "G", "G", SuspendedEnding, "Dsus4 G | pivot 0"},
		{"Cm", "Cm", "C", "C", DominantEnding, "G C | pivot 0"},
		{"C", "C", "C", "C", DominantEnding, " | none 0"},
		{"C#", "C#", "Db", "Db", DominantEnding, " | none 0"}, // under another name
		{"C", "C", "G", "C", PlainEnding, " | none 0"},
		{"G7", "C", "C", "C", DominantEnding, "C | none 0"}, // it is on the dominant already
		{"G7", "C", "C", "C", SuspendedEnding, "C | none 0"},
		{"Gsus4", "C", "C", "C", SuspendedEnding, "C | none 0"},
		{"Gsus4", "C", "C", "C", DominantEnding, "G C | none 0"},
		{"C", "C", "D", "A7", DominantEnding, "Em A7 | pivot 0"}, // it starts on the dominant
		{"Bb", "C", "C", "C", DominantEnding, "G C | none 0"},    // from a borrowed chord
		{"Cno3no5/F", "C", "Bb", "Bb", DominantEnding, "F Bb | pivot -1"},
	} {
		r := Land(mustChord(t, tt.from), mustKey(t, tt.in), mustKey(t, tt.to), mustChord(t, tt.first), tt.ending)
		if got := routeText(r); got != tt.want {
			t.Errorf("from %s in %s to %s in %s, %v: %q, want %q", tt.from, tt.in, tt.first, tt.to, tt.ending, got, tt.want)
		}
	}
}

func routeText(r Route) string {
	var symbols []string
	for _, c := range r.Chords[:r.N] {
		symbols = append(symbols, c.Symbol())
	}
	return fmt.Sprintf("%s | %v %d", strings.Join(symbols, " "), r.Turn, r.TurnAt)
}

// allKeys are twelve major and twelve minor keys under their practical names.
func allKeys() (list []pitch.Key) {
	for _, minor := range []bool{false, true} {
		for up := range 12 {
			list = append(list, pitch.Key{Minor: minor}.Transpose(up))
		}
	}
	return list
}

// moves is Piston's table of usual root progressions as he words it: usual,
// sometimes, less often.
var moves = [7][3]string{
	{"4 5", "6", "2 3"},
	{"5", "4 6", "1 3"},
	{"6", "4", "1 2 5"},
	{"5", "1 2", "3 6"},
	{"1", "4 6", "2 3"},
	{"2 5", "3 4", "1"},
	{"1 3", "6", "2 4 5"},
}

func moveCost(a, b int) int {
	for i, cost := range []int{0, 1, 3} {
		if a == b || strings.Contains(moves[a-1][i], fmt.Sprint(b)) {
			return cost
		}
	}
	return 5
}

// exhaustive tries every sequence of chords, straight from what Land's doc
// comment says, and gives the least cost.
type exhaustive struct {
	from, first Chord
	in, to      pitch.Key
	stops       []Chord
	arrived     []bool
	ends        []bool
	cost        [][]int // from each stop to each; the last row is from's, the last column the first chord's
}

func (e *exhaustive) degree(c Chord, k pitch.Key) int {
	classes := c.sounding(c.quality)
	for i, n := range k.Scale() {
		if n.Class() == c.Root.Class() && k.Classes().Contains(classes) {
			return i + 1
		}
	}
	if k.Minor {
		seventh := k.Scale()[6].Class()
		harmonic := k.Classes().Without(seventh).Add(seventh.Up(1))
		switch root := c.Root.Class(); {
		case harmonic.Contains(classes) && root == k.Scale()[4].Class():
			return 5
		case harmonic.Contains(classes) && root == seventh.Up(1):
			return 7
		}
	}
	return 0
}

// written is the degree that a chord's root has by its letter.
func written(c Chord, k pitch.Key) int { return int(k.Tonic.To(c.Root).Steps) + 1 }

const never = 1 << 20

func (e *exhaustive) step(x, y Chord, xArrived, yArrived, starts, ends bool) int {
	if x.SoundsLike(y) || xArrived && !yArrived {
		return never
	}
	if !ends && y.quality&(suspendedFourth|minorSeventh) == 0 && y.Root.Class() == e.first.Root.Class() && y.quality&thirds == e.first.quality&thirds {
		return never
	}
	oldX, newX, oldY, newY := e.degree(x, e.in), e.degree(x, e.to), e.degree(y, e.in), e.degree(y, e.to)
	if starts {
		oldX = written(x, e.in)
		if xArrived {
			newX = oldX
		}
	}
	if ends {
		newY = written(y, e.to)
	}
	a, b := x.sounding(x.quality), y.sounding(y.quality)
	cost := 3 + leastMovement(a, b)
	if !ends {
		switch {
		case y.quality == diminishedTriad:
			cost += 6
		case y.quality&sevenths != 0:
			cost++
		}
	}
	if a.Intersect(b) == 0 {
		cost += 8
	}
	switch {
	case !yArrived:
		return cost + moveCost(oldX, oldY)
	case xArrived:
		return cost + moveCost(newX, newY)
	case newX != 0 && oldY != 0:
		return cost + min(moveCost(newX, newY), moveCost(oldX, oldY))
	case newX != 0:
		return cost + moveCost(newX, newY)
	case oldY != 0:
		return cost + moveCost(oldX, oldY)
	case a.Intersect(b) == 0:
		return cost + 12 + 200
	}
	return cost + 200
}

func exhaustiveSearch(from Chord, in, to pitch.Key, first Chord, ending Ending) *exhaustive {
	e := &exhaustive{from: from, first: first, in: in, to: to}
	same := in == to
	scale := to.Scale()
	dominant, fourth := Chord{scale[4], scale[4], majorTriad}, Diatonic(to, 4)
	serves := func(c Chord) bool {
		switch ending {
		case DominantEnding:
			return c.SoundsLike(dominant) || c.Root.Class() == dominant.Root.Class() && c.quality&majorThird != 0
		case SuspendedEnding:
			return c.SoundsLike(dominant) || c.Root.Class() == dominant.Root.Class() && c.quality&(majorThird|suspendedFourth) != 0
		case PlagalEnding:
			return c.Root.Class() == fourth.Root.Class() && c.quality&thirds == fourth.quality&thirds
		}
		return true
	}
	if serves(first) {
		ending = PlainEnding
	}
	add := func(c Chord, arrived, ends bool) {
		e.stops, e.arrived, e.ends = append(e.stops, c), append(e.arrived, arrived), append(e.ends, ends)
	}
	if !same {
		for _, c := range Triads(in, nil) {
			add(c, false, ending == PlainEnding)
		}
	}
	for _, c := range Triads(to, nil) {
		add(c, true, ending == PlainEnding || ending == DominantEnding && c == dominant || ending == PlagalEnding && c == fourth)
	}
	passing := len(e.stops)
	root := dominant.Root.String()
	switch ending {
	case DominantEnding:
		add(mustParse(root+"7"), true, true)
	case SuspendedEnding:
		add(mustParse(root+"sus4"), true, true)
		add(mustParse(root+"7sus4"), true, true)
	}
	n := len(e.stops)
	at := func(i int) (Chord, bool) {
		if i < n {
			return e.stops[i], e.arrived[i]
		}
		return from, same
	}
	e.cost = make([][]int, n+1)
	for i := range e.cost {
		e.cost[i] = make([]int, n+1)
		x, xArrived := at(i)
		for j := range e.cost[i] {
			y, yArrived := first, true
			if j < n {
				y, yArrived = at(j)
			}
			e.cost[i][j] = e.step(x, y, xArrived, yArrived, i == n, j == n)
			if i >= passing && i < n && j < n {
				e.cost[i][j] = never // what serves to end comes last but one
			}
		}
	}
	e.ends = append(e.ends, serves(from))
	return e
}

func mustParse(s string) Chord {
	c, err := ParseChord(s)
	if err != nil {
		panic(err)
	}
	return c
}

// least goes through every way that begins at a stop, with so many chords to
// come before the first.
func (e *exhaustive) least(at, room int) int {
	n := len(e.stops)
	best := never
	if e.ends[at] {
		best = e.cost[at][n]
	}
	if room == 0 {
		return best
	}
	for next := range n {
		if step := e.cost[at][next]; step < never {
			best = min(best, step+e.least(next, room-1))
		}
	}
	return best
}

func TestLandEqualsBruteForce(t *testing.T) {
	keys := allKeys()
	for _, in := range keys {
		for _, to := range keys {
			for degree := 1; degree <= 7; degree++ {
				for ending := range Ending(4) {
					if testing.Short() && (degree+int(ending)+int(in.Tonic.Class()))%7 != 0 {
						continue
					}
					from, first := Diatonic(in, degree), Diatonic(to, 1+degree*degree%7)
					if ending%2 == 0 {
						first = Diatonic(to, 1)
					}
					r := Land(from, in, to, first, ending)
					if from.SoundsLike(first) {
						if r.N != 0 {
							t.Errorf("from %v to %v: %v", from, first, routeText(r))
						}
						continue
					}
					e := exhaustiveSearch(from, in, to, first, ending)
					if want := e.least(len(e.stops), MaxRoute-1); r.Cost != want {
						t.Errorf("from %v in %v to %v in %v, %v: %v costs %d, the best %d", from, in, first, to, ending, routeText(r), r.Cost, want)
					}
				}
			}
		}
	}
}

// Any chord that can be written, in any keys: the route ends on the first chord,
// costs no more than brute force finds, and turns the key chromatically only
// where no way with a common chord is short enough.
func TestLandFromAnyChordEqualsBruteForce(t *testing.T) {
	all := allKeys()
	rapid.Check(t, func(t *rapid.T) {
		from, first := chords().Draw(t, "from"), chords().Draw(t, "first")
		in, to := rapid.SampledFrom(all).Draw(t, "in"), rapid.SampledFrom(all).Draw(t, "to")
		ending := Ending(rapid.IntRange(0, 3).Draw(t, "ending"))
		r := Land(from, in, to, first, ending)
		last := from
		for _, c := range r.Chords[:r.N] {
			if c.SoundsLike(last) {
				t.Fatalf("from %v the route %v has a step that changes nothing", from, routeText(r))
			}
			last = c
		}
		if !last.SoundsLike(first) {
			t.Fatalf("from %v the route %v does not end on %v", from, routeText(r), first)
		}
		for _, c := range r.Chords[r.N:] {
			if c != (Chord{}) {
				t.Fatalf("beyond its %d chords the route has %v", r.N, c)
			}
		}
		if r.N == 0 {
			return
		}
		e := exhaustiveSearch(from, in, to, first, ending)
		cost := e.least(len(e.stops), MaxRoute-1)
		if r.Cost != cost {
			t.Fatalf("from %v in %v to %v in %v, %v: %v costs %d, the best %d", from, in, first, to, ending, routeText(r), r.Cost, cost)
		}
		if (r.Turn == ChromaticTurn) != (cost >= 200) {
			t.Fatalf("from %v in %v to %v in %v, %v: %v turns at a cost of %d", from, in, first, to, ending, routeText(r), cost)
		}
	})
}

// Moved to another key, everything lands the same way: the shape of a route
// depends on degrees alone.
func TestLandIsTheSameInEveryKey(t *testing.T) {
	all := allKeys()
	rapid.Check(t, func(t *rapid.T) {
		in, to := rapid.SampledFrom(all).Draw(t, "in"), rapid.SampledFrom(all).Draw(t, "to")
		from, first := Diatonic(in, rapid.IntRange(1, 7).Draw(t, "from")), Diatonic(to, rapid.IntRange(1, 7).Draw(t, "first"))
		ending, up := Ending(rapid.IntRange(0, 3).Draw(t, "ending")), rapid.IntRange(1, 11).Draw(t, "up")
		here := Land(from, in, to, first, ending)
		inUp, toUp := in.Transpose(up), to.Transpose(up)
		there := Land(from.Transpose(in, inUp), inUp, toUp, first.Transpose(to, toUp), ending)
		if here.N != there.N || here.Cost != there.Cost || here.Turn != there.Turn || here.TurnAt != there.TurnAt {
			t.Fatalf("%v, and %d semitones up %v", routeText(here), up, routeText(there))
		}
		for i, c := range here.Chords[:here.N] {
			if c.Classes().Transpose(up) != there.Chords[i].Classes() {
				t.Fatalf("%v, and %d semitones up %v", routeText(here), up, routeText(there))
			}
		}
	})
}

// Last but one stands a chord of the ending, or the bed was on one already, or
// the song starts on one.
func TestLandKeepsTheEnding(t *testing.T) {
	for _, in := range allKeys() {
		for _, to := range allKeys() {
			first := Diatonic(to, 1)
			for degree := 1; degree <= 7; degree++ {
				from := Diatonic(in, degree)
				for ending, want := range map[Ending]string{DominantEnding: "5M 5dom7", SuspendedEnding: "5sus4 57sus4 5M", PlagalEnding: "4 4m"} {
					r := Land(from, in, to, first, ending)
					if r.N == 0 {
						continue
					}
					last := from
					if r.N > 1 {
						last = r.Chords[r.N-2]
					}
					ok := false
					for _, d := range strings.Fields(want) {
						c, err := ParseStep(d, to, FromTonic)
						if err != nil {
							t.Fatal(err)
						}
						ok = ok || c.SoundsLike(last) && (d != "4m" || to.Minor)
					}
					if !ok {
						t.Errorf("from %v in %v to %v, %v: %v", from, in, to, ending, routeText(r))
					}
				}
			}
		}
	}
}

func TestLandDoesNotAllocate(t *testing.T) {
	from, in, to, first := mustChord(t, "F#m7b5/A"), mustKey(t, "Em"), mustKey(t, "Ebm"), mustChord(t, "Cbmaj7")
	sum := 0
	if n := testing.AllocsPerRun(100, func() { sum += Land(from, in, to, first, DominantEnding).N }); n != 0 {
		t.Errorf("Land allocates %v times, want 0", n)
	}
}

func TestEndingsReadBack(t *testing.T) {
	for e := range Ending(4) {
		if got, err := ParseEnding(e.String()); got != e || err != nil {
			t.Errorf("%v reads as %v, %v", e, got, err)
		}
	}
	_, err := ParseEnding("amen")
	if want := `there is no ending "amen": use dominant, suspended, plagal or plain`; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

// The bed asks at every chord: a common way, and the dearest there is, from a chord
// of seven tones in a far key.
func BenchmarkLand(b *testing.B) {
	for _, tt := range []struct{ name, from, in, to, first string }{
		{"near", "Am7", "C", "G", "G"},
		{"far", "F#13#11", "F#m", "Ebm", "Cbmaj13"},
	} {
		b.Run(tt.name, func(b *testing.B) {
			from, in, to, first := mustChord(b, tt.from), mustKey(b, tt.in), mustKey(b, tt.to), mustChord(b, tt.first)
			b.ReportAllocs()
			for b.Loop() {
				Land(from, in, to, first, DominantEnding)
			}
		})
	}
}

func TestFollowingIsPistonsTable(t *testing.T) {
	for from := 1; from <= 7; from++ {
		for to := 1; to <= 7; to++ {
			if got, want := Following(from, to), map[int]Usage{0: Usual, 1: Sometimes, 3: LessOften, 5: Unusual}[moveCost(from, to)]; got != want {
				t.Errorf("from %d to %d: %d, want %d", from, to, got, want)
			}
		}
	}
}
