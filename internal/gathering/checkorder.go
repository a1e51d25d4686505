package gathering

import (
	"fmt"
	"slices"

	"bedd/internal/bed"
	"bedd/internal/harmony"
)

// hardInARow is how many songs in keys that lie badly are too many.
const hardInARow = 3

// songs finds songs that follow each other in far keys with nothing between, and
// many in a row in keys that lie badly.
func (c *checker) songs() {
	hard := 0
	for i := range c.g.Songs {
		s := &c.g.Songs[i]
		if s.NoKey {
			continue
		}
		if hard++; c.g.Comfort.Of(s.Key) != Hard {
			hard = 0
		}
		if hard == hardInARow {
			c.found = append(c.found, Finding{Remark, s.Line, s.Title, fmt.Sprintf("it is the %s song in a row in a key that does not lie well under your hands", ordinal(hardInARow)), "an easier key for one of them, or a rig that transposes"})
		}
		if i == 0 || c.momentAfter(i-1) {
			continue
		}
		if before := &c.g.Songs[i-1]; !before.NoKey && len(harmony.Pivots(before.Key, s.Key)) == 0 {
			c.found = append(c.found, Finding{Trouble, s.Line, s.Title, fmt.Sprintf("it follows %q straight from %s into %s: the keys have no chord in common", before.Title, keyName(before.Key), keyName(s.Key)), "put a moment between them, or agree who gives the chord"})
		}
	}
}

// unknown tells of songs that moments lead to of which nothing is known that a bed
// could give away.
func (c *checker) unknown() {
	var titles []string
	line := 0
	for i := range c.g.Songs {
		s := &c.g.Songs[i]
		follows := slices.ContainsFunc(c.g.Moments, func(m Moment) bool { return m.Then == i })
		if !follows || len(s.Sections) > 0 || len(s.Figure) > 0 {
			continue
		}
		if titles = append(titles, fmt.Sprintf("%q", s.Title)); line == 0 {
			line = s.Line
		}
	}
	if more := len(titles) - mostNamed; more > 0 {
		titles = append(titles[:mostNamed], fmt.Sprintf("%d more", more))
	}
	if len(titles) > 0 {
		c.found = append(c.found, Finding{Remark, line, "the songs", fmt.Sprintf("what a bed gives away of %s cannot be told", listed(titles)), "add sections: and figure:"})
	}
}

// mostNamed is how many songs are named in one finding.
const mostNamed = 3

// momentAfter reports whether a moment stands between a song and the next.
func (c *checker) momentAfter(song int) bool {
	return slices.ContainsFunc(c.g.Moments, func(m Moment) bool { return m.After == song })
}

func ordinal(n int) string {
	return [...]string{"", "first", "second", "third", "fourth"}[n]
}

// rigParts finds orders that the plan needs and the rig's feet and keys lack.
func (c *checker) rigParts() {
	away, song := false, false
	for _, m := range c.g.Moments {
		away, song = away || len(m.Bed.Away) > 0, song || m.Then >= 0
	}
	for _, part := range []struct {
		needed   bool
		what     string
		commands []bed.Command
		severity Severity
	}{
		{true, "brings the bed in", []bed.Command{bed.Step, bed.BringIn}, Failure},
		{true, "goes on to the next chord", []bed.Command{bed.Step, bed.Next}, Trouble},
		{away, "goes to away", []bed.Command{bed.Swap}, Trouble},
		{song, "lands in the next song", []bed.Command{bed.Land, bed.LandThrough, bed.FirstChord}, Trouble},
		{true, "lets the bed go", []bed.Command{bed.FadeOut, bed.OutNow}, Trouble},
	} {
		if !part.needed {
			continue
		}
		feet, keys := c.asks(part.commands)
		names := part.commands[0].String()
		switch {
		case feet, keys && len(c.rig.Feet) == 0: // page turners are keys
		case keys:
			c.found = append(c.found, Finding{Remark, 0, "the rig " + c.rig.Name, "no switch " + part.what + ", only a computer key", "give a switch the order " + names})
		default:
			c.found = append(c.found, Finding{part.severity, 0, "the rig " + c.rig.Name, "nothing " + part.what, "give a switch the order " + names})
		}
	}
	if feet, keys := c.asks([]bed.Command{bed.LevelUp, bed.Swell}); !c.rig.Pedal.On && !feet && !keys {
		c.found = append(c.found, Finding{Remark, 0, "the rig " + c.rig.Name, "there is no pedal, and nothing else makes the bed grow but your playing", "give a switch the order swell, another settle"})
	}
}

// asks reports whether a switch, or a computer key, gives one of the orders,
// by itself or by what arm goes round.
func (c *checker) asks(commands []bed.Command) (feet, keys bool) {
	gives := func(o Order) bool {
		return slices.Contains(commands, o.Command) || o.Command == bed.Arm && slices.ContainsFunc(c.rig.Bed.Arms, func(a bed.Command) bool { return slices.Contains(commands, a) })
	}
	for _, f := range c.rig.Feet {
		feet = feet || gives(f.Press) || gives(f.Tap) || gives(f.Hold)
	}
	for _, o := range c.rig.Keys {
		keys = keys || gives(o)
	}
	return feet, keys
}
