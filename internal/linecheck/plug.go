package linecheck

import (
	"fmt"
	"slices"
	"time"
)

// plugStep has a cable pulled out and put in again.
type plugStep struct {
	stage  int // 0 pull, 1 plug in, 2 press
	since  time.Duration
	lostAt time.Duration
	found  Replug
	in     int
}

// plugWithin is how long a cable may take, each way.
const plugWithin = time.Minute

func (s *plugStep) pass(c *Check) {
	if s.found.Input == "" {
		s.begin(c)
	}
	if c.step == s && s.stage > 0 && c.now-s.since >= plugWithin {
		c.tell(troubleNotBack(s.found.Input))
	}
}

// begin chooses the feet's input, or the keys'.
func (s *plugStep) begin(c *Check) {
	name := ""
	switch {
	case len(c.found.Feet) > 0:
		name = c.found.Feet[0].Input
	case c.found.Keys != nil:
		name = c.found.Keys.Input
	}
	if s.in = slices.Index(c.gear.Ins, name); s.in < 0 {
		c.found.Skipped = append(c.found.Skipped, Plug)
		c.enter(c.at + 1)
		return
	}
	s.found.Input, s.since = name, c.now
}

func (s *plugStep) moved(c *Check, in int, lost bool) {
	switch {
	case in != s.in:
	case lost && s.stage == 0:
		s.stage, s.since, s.lostAt, s.found.Noticed = 1, c.now, c.now, true
	case !lost && s.stage == 1:
		s.stage, s.since = 2, c.now
		s.found.Away = seconds(c.now - s.lostAt)
	}
}

func (s *plugStep) answer(c *Check, a Answer) {
	if a == Yes && s.stage < 2 && !s.found.Noticed {
		s.stage, s.since = s.stage+1, c.now
	}
}

func (s *plugStep) hear(c *Check, h heard) {
	if s.stage != 2 || h.in != s.in || h.value == 0 || c.noise.has(h.source) && h.what == controller {
		return
	}
	s.found.Heard = seconds(c.now - s.since)
	c.told = nil
	if !s.found.Noticed {
		c.tell(troubleUnnoticed(s.found.Input))
	}
	c.found.Plugged = &s.found
	c.done(fmt.Sprintf("%s pulled out and back: heard again", s.found.Input))
}

func seconds(d time.Duration) float64 { return float64(d.Milliseconds()) / 1000 }

func (s *plugStep) prompt(c *Check, p *Prompt) {
	p.Care = careFeet
	switch s.stage {
	case 0:
		p.Big = "unplug"
		p.Say = []string{"Pull out the cable of " + s.found.Input + ". bedd should notice; if it doesn't, press enter."}
		p.Choices = append(p.Choices, Choice{Yes, "it is out"})
	case 1:
		p.Big = "plug in"
		p.Say = []string{"Put it in again."}
		if !s.found.Noticed {
			p.Choices = append(p.Choices, Choice{Yes, "it is in"})
		}
	default:
		p.Big = "press it"
		p.Say = []string{"Press one of its switches or keys: is it heard?"}
	}
}
