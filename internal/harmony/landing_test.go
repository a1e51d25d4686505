package harmony

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bedd/internal/pitch"
)

// The plain route over the dominant triad of the new key: common practice.
func TestLanding(t *testing.T) {
	for _, tt := range []struct{ from, in, to, first, want string }{
		{"C", "C", "D", "D", "A D"},
		{"Am", "C", "G", "G", "D G"},
		{"F", "C", "Eb", "Eb", "Bb Eb"},
		{"C", "C", "Am", "Am", "E Am"},
		{"C", "C", "Bbm", "Bbm", "F Bbm"},
		{"C", "C", "G", "Em7", "D Em7"},
		{"C", "C", "Gb", "Gb", "Db Gb"},
		{"C", "C", "G", "C", ""},
		{"C#", "C#", "Db", "Db", ""},
		{"C/E", "C", "G", "C", "D C"},
		{"C6", "C", "Am", "Am7", "E Am7"}, // the same tones over another bass
		{"Am7/C", "C", "C", "C6", ""},
		{"G", "C", "C", "C", "C"},
		{"G7", "C", "C", "C", "C"},
		{"G/B", "C", "C", "C", "C"},
		{"F#", "F#", "Cb", "Cb", "Cb"},
		{"Cno3no5/F", "C", "Bb", "Bb", "F Bb"},
		{"Am(#5)/F", "C", "Bb", "Bb", "Bb"}, // sounds F
		{"Gm", "Bb", "C", "C", "G C"},
		{"Gsus4", "C", "C", "C", "G C"},
		{"E", "A", "Am", "Am", "Am"},
		{"Em", "C", "Am", "Am", "E Am"},
		{"C", "C", "D", "A", "A"},
		{"C", "C", "D", "A7", "A7"},
		{"A", "A", "D", "A7", "A7"},
	} {
		route, n := Landing(mustChord(t, tt.from), mustKey(t, tt.in), mustKey(t, tt.to), mustChord(t, tt.first))
		var got []string
		for _, c := range route[:n] {
			got = append(got, c.Symbol())
		}
		if strings.Join(got, " ") != tt.want {
			t.Errorf("from %s in %s to %s in %s: %v, want %q", tt.from, tt.in, tt.first, tt.to, got, tt.want)
		}
	}
}

func TestLandingEndsOnTheFirstChordAndNeverTurnsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, first := chords().Draw(t, "from"), chords().Draw(t, "first")
		in, to := keys().Draw(t, "in"), keys().Draw(t, "to")
		route, n := Landing(from, in, to, first)
		last := from
		for _, c := range route[:n] {
			if c.SoundsLike(last) {
				t.Fatalf("from %v the route %v has a step that changes nothing", from, route[:n])
			}
			last = c
		}
		if !last.SoundsLike(first) {
			t.Fatalf("from %v the route %v does not end on %v", from, route[:n], first)
		}
		for _, c := range route[n:] {
			if c != (Chord{}) {
				t.Fatalf("beyond its %d chords the route has %v", n, c)
			}
		}
		if n == 2 && !pitch.SetOf(to.Tonic.Class().Up(7), to.Tonic.Class().Up(11), to.Tonic.Class().Up(2)).Contains(route[0].Classes()) {
			t.Fatalf("the route to %v goes over %v", to, route[0])
		}
	})
}
