package review

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// rollHigh is about how high the piano roll is.
const rollHigh = 150

// roll draws the bed's notes: as long as its first chord lasts a note has moved,
// then it is held.
func (c *score) roll(d *drawing, chords []Chord) {
	each := min(rollHigh/float64(c.high-c.low+1), 6)
	y := func(note int) float64 { return d.y + each*float64(c.high-note) }
	for note := c.low; note <= c.high; note++ {
		if note%12 == 0 {
			d.put(`<path class="octave" d="M%d %sh%s"/>`, marginLeft, num(y(note)+each/2), num(d.wide))
			d.side(y(note)+each/2+3, fmt.Sprintf("C%d", note/12-1))
		}
	}
	var held, moved strings.Builder
	for _, n := range c.s.Struck {
		if n.From >= d.to {
			break
		}
		if n.To <= d.from {
			continue
		}
		turns := n.To // when the chord that it came with is over
		if i := slices.IndexFunc(chords, func(ch Chord) bool { return ch.From > n.From && !ch.Same }); i >= 0 {
			turns = min(chords[i].From, n.To)
		}
		if len(chords) > 0 && chords[0].From > n.From { // came with an earlier chord
			turns = n.From
		}
		bar(d, &moved, n.From, turns, y(int(n.Number))+each*0.1, each*0.8)
		bar(d, &held, turns, n.To, y(int(n.Number))+each*0.3, each*0.4)
	}
	d.put(`<path class="held" d="%s"/>`, held.String())
	d.put(`<path class="moved" d="%s"/>`, moved.String())
	d.y += each*float64(c.high-c.low+1) + 6
}

// bar adds a rectangle to a path.
func bar(d *drawing, path *strings.Builder, from, to time.Duration, y, high float64) {
	from, to = max(from, d.from), min(to, d.to)
	if to <= from {
		return
	}
	x := d.x(from)
	wide := max(d.x(to)-x, 0.5)
	fmt.Fprintf(path, "M%s %sh%sv%sh-%sz", num(x), num(y), num(wide), num(high), num(wide))
}

// pianoHigh is how high the hardest strike is drawn.
const pianoHigh = 14

// piano draws the player's strikes, of those in one place the hardest.
func (c *score) piano(d *drawing) {
	hardest := map[int]uint8{}
	for _, n := range c.s.Played {
		if d.shows(n.From) {
			x := int(d.x(n.From))
			hardest[x] = max(hardest[x], n.Velocity)
		}
	}
	var path strings.Builder
	for x := marginLeft; x <= drawnWide; x++ {
		if v := hardest[x]; v > 0 {
			fmt.Fprintf(&path, "M%d %sv-%s", x, num(d.y+pianoHigh), num(pianoHigh*float64(v)/127))
		}
	}
	d.put(`<path class="strikes" d="%s"/>`, path.String())
	d.side(d.y+pianoHigh-4, "piano")
	d.y += pianoHigh + 8
}
