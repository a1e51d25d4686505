package sound

import (
	"math"
	"testing"

	"bedd/internal/voicing"
)

// The voicings are spaced by the roughness of the pad's partials, from a table
// in internal/voicing: here it is held against the sound. One key lies apart from
// its neighbours by the comb of chorus and room, so six are averaged.
func TestPadHasThePartialsOfTheVoicings(t *testing.T) {
	const keys, c4 = 6, 60
	var measured [128][voicing.Partials]float64 // dB
	registers := []byte{36, 48, c4, 72, 84}
	for _, c := range registers {
		for i := range byte(keys) {
			hz := keyHz(c - 5 + 2*i)
			s := pad(t, 89, c-5+2*i)
			play(s, 2)
			f := spectrumOf(play(s, 8), 48000)
			for n := range measured[c] {
				partial := float64(n+1) * hz
				measured[c][n] += f.bandDB(partial-hz/4, partial+hz/4) / keys
			}
		}
	}
	for _, c := range registers {
		for n, amplitude := range voicing.PadPartials(c) {
			got, want := measured[c][n]-measured[c4][0], 20*math.Log10(amplitude)
			if math.Abs(got-want) > 1.5 {
				t.Errorf("note %d, partial %d: %.1f dB re the fundamental of C4, the voicings have %.1f", c, n+1, got, want)
			}
		}
	}
}
