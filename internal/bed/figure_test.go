package bed_test

import (
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// topLine gives the highest notes round a home progression, as the bed plays it.
func topLine(t *testing.T, c bed.Config) (line []int, heard bool) {
	r := newRun(t, c)
	r.ask(bed.BringIn)
	r.wait(10 * time.Second)
	for range c.Moments[0].Home {
		v := r.bed.View()
		line = append(line, int(v.Voicing.Upper[v.Voicing.N-1]))
		heard = v.Heard
		r.ask(bed.Next)
		r.wait(5 * time.Second)
	}
	r.end()
	return line, heard
}

// A figure that the bed would play on top is kept out of it, or else the player is
// told; the finder has tests of its own.
func TestTheTopLineKeepsOffTheFigure(t *testing.T) {
	kept, told := 0, 0
	for _, home := range []string{"1 6m 4 5", "1 4 2m 5", "1 3m 6m 4", "1 5 4 6m", "1 2m 4 3m", "1 7 6m 5"} {
		c := withSongs(t)
		c.Moments[0].Home = progression(t, pitch.Key{}, home)
		c.Lift = 0
		usual, heard := topLine(t, c)
		if heard {
			t.Fatalf("%s: without a figure there is none to hear", home)
		}
		if _, known := harmony.FindFigure(usual, pitch.Key{}, usual, pitch.Key{}, true); !known {
			continue // too still a line to be a figure
		}
		c.Songs[1].Key, c.Songs[1].Figure = pitch.Key{}, usual
		line, heard := topLine(t, c)
		_, found := harmony.FindFigure(usual, pitch.Key{}, line, pitch.Key{}, true)
		switch {
		case found && !heard:
			t.Errorf("%s: %v is in %v, and nobody is told", home, usual, line)
		case heard:
			told++
		default:
			kept++
		}
	}
	if kept == 0 {
		t.Errorf("no figure was kept out; %d were told of", told)
	}
	t.Logf("kept out %d, told of %d", kept, told)
}
