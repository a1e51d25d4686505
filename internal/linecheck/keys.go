package linecheck

import (
	"fmt"
	"slices"
	"time"
)

// restStep listens to what moves while nobody touches anything.
type restStep struct{}

// restFor is how long that is. Common practice, no source: an idle pedal that chatters
// does so several times a second.
const restFor = 4 * time.Second

func (*restStep) hear(*Check, heard) {}

func (*restStep) pass(c *Check) {
	if c.now-c.began < restFor {
		return
	}
	lines := []string{"nothing moves by itself"}
	for _, t := range c.ear.trails {
		if t.what == note || t.what == program || t.jumps() || t.most-t.least >= leastWay {
			continue // somebody played or moved it
		}
		c.noise.add(t)
		if t.what == controller && len(t.samples) > 2 {
			c.tell(troubleChatter(c.control(t.source), c.noise[t.source]))
			lines = nil
		}
	}
	c.done(lines...)
}

func (*restStep) answer(*Check, Answer) {}

func (*restStep) prompt(c *Check, p *Prompt) {
	left := max(0, restFor-(c.now-c.began))
	p.Big = "hands off"
	p.Say = []string{"Hands and feet off. Touch nothing for a moment: bedd listens for what moves by itself.", fmt.Sprintf("%.0f s", left.Seconds())}
	p.Care = careFeet
}

// jumps reports whether a source goes to and fro as a switch does: few values, far apart.
func (t *trail) jumps() bool {
	few := 4
	if t.what == pressure {
		few = 6 // it may rise in steps
	}
	return t.what == note || t.values == 1 || t.values <= few && t.most-t.least >= 32
}

// keysStep finds the keyboard: middle C first, then some playing.
type keysStep struct {
	middle  time.Duration // when C came
	came    bool
	c       heard
	playing bool
	since   time.Duration
	notes   int
	keys    Keys
}

const (
	twinsWithin = 150 * time.Millisecond // keys that arrive twice
	playFor     = 8 * time.Second
	fewestNotes = 4
	middleC     = 60
)

func (s *keysStep) hear(c *Check, h heard) {
	if h.what != note || h.value == 0 {
		return
	}
	if !s.came {
		s.came, s.middle, s.c = true, h.at, h
	} else if s.playing && h.in == s.c.in {
		s.notes++
	}
}

func (s *keysStep) pass(c *Check) {
	switch {
	case !s.came:
		c.silent(c.began, c.nothing("middle C"))
	case !s.playing && c.now-s.middle >= twinsWithin:
		s.identify(c)
	case s.playing && c.now-s.since >= playFor && s.notes >= fewestNotes:
		s.finish(c)
	case s.playing && s.notes < fewestNotes:
		c.silent(s.since+playFor, c.nothing("more of your keys"))
	}
}

// identify takes what came with the first key.
func (s *keysStep) identify(c *Check) {
	s.playing, s.since = true, c.now
	c.untell(c.nothing("middle C"))
	s.keys = Keys{Input: c.gear.Ins[s.c.in], Channel: int(s.c.channel) + 1}
	off := int(s.c.number) - middleC
	if s.keys.Transposed = ((off+5)%12+12)%12 - 5; s.keys.Transposed != 0 {
		c.tell(troubleTransposed(s.keys.Transposed))
	} else if off != 0 {
		c.tell(troubleOctave(off / 12))
	}
	for _, t := range c.ear.trails {
		if t.what == note && t.in != s.c.in && t.number == s.c.number && t.most > 0 {
			c.tell(troubleTwins(s.keys.Input, c.gear.Ins[t.in]))
		}
	}
}

func (s *keysStep) finish(c *Check) {
	for _, t := range c.ear.trails {
		if t.in != s.c.in {
			continue
		}
		channel := int(t.channel) + 1
		switch {
		case t.what == note && !slices.Contains(s.keys.Channels, channel) && t.most > 0:
			s.keys.Channels = append(s.keys.Channels, channel)
		case t.what == controller && !c.noise.has(t.source) && (t.most-t.least >= 32 || t.values == 1):
			s.keys.Controls = append(s.keys.Controls, c.control(t.source))
		}
	}
	slices.Sort(s.keys.Channels)
	if len(s.keys.Channels) > 1 && s.layered(c) {
		c.tell(troubleZones(s.keys.Channels))
	}
	c.found.Keys = &s.keys
	c.noise.addControls(c.gear, &s.keys)
	c.done(fmt.Sprintf("keys: %s, channel %d", s.keys.Input, s.keys.Channel))
}

// layered reports whether middle C itself came on several channels.
func (s *keysStep) layered(c *Check) bool {
	return slices.ContainsFunc(c.ear.trails, func(t *trail) bool {
		return t.what == note && t.in == s.c.in && t.number == s.c.number && t.channel != s.c.channel && t.first().at-s.middle < twinsWithin
	})
}

func (s *keysStep) answer(*Check, Answer) {}

func (s *keysStep) prompt(c *Check, p *Prompt) {
	if !s.playing {
		p.Big = "middle C"
		p.Say = []string{"Press the C in the middle of your keyboard, once, by itself.", "That tells which input your keys are, their channel, and whether they are transposed."}
		return
	}
	p.Big = "play on"
	p.Say = []string{"Play for some seconds as you do on stage: both hands, damper pedal, wheels, all that your hands use.", "Leave switches and intensity pedal alone."}
	p.Heard = append(p.Heard, fmt.Sprintf("%s, channel %d", s.keys.Input, s.keys.Channel))
}

// keysOwn reports whether a source is the keyboard's: what its hands move.
func (c *Check) keysOwn(s source) bool {
	k := c.found.Keys
	return k != nil && c.gear.Ins[s.in] == k.Input && (int(s.channel)+1 == k.Channel || slices.Contains(k.Channels, int(s.channel)+1))
}

// handsPlay reports whether keys came during this step.
func (c *Check) handsPlay() bool {
	return slices.ContainsFunc(c.ear.trails, func(t *trail) bool { return t.what == note && c.keysOwn(t.source) })
}
