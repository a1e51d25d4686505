package linecheck

import (
	"fmt"
	"slices"
	"time"
)

// switchStep finds one foot switch, or, as the step more, as many as are pressed.
type switchStep struct {
	is      Step
	suspect *source // it may be latching: it is to be pressed once more
	base    int     // changes that it had by then
}

const (
	quietFor = 1200 * time.Millisecond // after a press until it counts as over; the player waits a second between two
	slowGap  = 700 * time.Millisecond  // a brief press is shorter, the time between two longer
	apart    = 300 * time.Millisecond  // between two messages of two presses
	mostFeet = 8
	lowestA  = 21 // an 88-key keyboard's keys
	highestC = 108
)

func (s *switchStep) hear(*Check, heard) {}

// eligible reports whether a source may be a foot's, with the keys played all the while.
func (s *switchStep) eligible(c *Check, t *trail) bool {
	if t.what == bend || t.what == polyPressure || !t.jumps() || c.noise.has(t.source) || c.learned(t.source) != "" {
		return false
	}
	if !c.keysOwn(t.source) {
		return true
	}
	switch t.what {
	case note:
		return (t.number < lowestA || t.number > highestC) || s.onlyKey(c, t)
	case pressure:
		return false
	case controller:
		hands := t.number >= 64 && t.number <= 69 || t.number == 1 || t.number == 2
		return !hands || !c.handsPlay()
	}
	return true
}

// onlyKey reports whether nothing else of the keyboard was played, as where its lowest
// keys are the switches.
func (s *switchStep) onlyKey(c *Check, t *trail) bool {
	return !slices.ContainsFunc(c.ear.trails, func(o *trail) bool { return o != t && o.what == note && c.keysOwn(o.source) })
}

// learned is the switch that a source is already, whichever input it comes from: a rig
// tells switches apart by what they send.
func (c *Check) learned(x source) Step {
	if _, known := kinds[x.what]; !known {
		return ""
	}
	is := c.control(x)
	for _, f := range c.found.Feet {
		if is.Input = f.Input; f.Control == is {
			return f.Step
		}
	}
	return ""
}

func (s *switchStep) pass(c *Check) {
	var open []*trail
	last := c.began
	for _, t := range c.ear.trails {
		if s.eligible(c, t) {
			open = append(open, t)
			last = max(last, t.last().at)
		}
	}
	if len(open) == 0 {
		s.none(c)
		return
	}
	if c.now-last < quietFor {
		return
	}
	if s.suspect != nil {
		s.confirm(c)
		return
	}
	if s.programs(c, open) {
		return
	}
	slices.SortStableFunc(open, func(a, b *trail) int { return rank[a.what] - rank[b.what] })
	for _, t := range open {
		if s.read(c, t, open) {
			return
		}
	}
	if c.now-last >= 3*quietFor && len(c.told) == 0 {
		c.tell(troubleUnclear())
	}
}

// rank says which message of a press counts where there are several.
var rank = map[what]int{controller: 0, note: 1, program: 2, pressure: 3}

// none tells what is wrong where nothing came that may be a foot's.
func (s *switchStep) none(c *Check) {
	for _, t := range c.ear.trails {
		if as := c.learned(t.source); as != "" && c.now-t.last().at >= quietFor {
			c.tell(troubleSame(as))
			return
		}
	}
	if s.is != More {
		c.silent(c.began, c.nothing("the "+string(s.is)+" switch"))
	}
}

// programs recognises a switch that steps through programs.
func (s *switchStep) programs(c *Check, open []*trail) bool {
	for _, t := range open {
		for _, o := range open {
			if t != o && t.what == program && o.what == program && t.in == o.in && t.channel == o.channel && !s.better(open) {
				c.tell(troublePrograms(c.gear.Ins[t.in]))
				return true
			}
		}
	}
	return false
}

func (s *switchStep) better(open []*trail) bool {
	return slices.ContainsFunc(open, func(t *trail) bool { return rank[t.what] < rank[program] })
}

// read tells what a source is, if it has been pressed twice.
func (s *switchStep) read(c *Check, t *trail, open []*trail) bool {
	list, bounce := t.changes()
	gaps := make([]time.Duration, 0, len(list))
	for i := 1; i < len(list); i++ {
		gaps = append(gaps, list[i].at-list[i-1].at)
	}
	slow := !slices.ContainsFunc(gaps, func(g time.Duration) bool { return g < slowGap })
	n := len(list)
	switch {
	case t.what == program:
		if t.presses() < 2 {
			return false
		}
		s.finish(c, t, Switch{}, open)
	case n == 1 && t.presses() < 2:
		return false
	case n == 1 && list[0].on:
		c.tell(troubleOnOnly(c.control(t.source)))
	case n == 1:
		c.tell(troubleWeak(c.control(t.source), t.most))
	case n >= 2 && slow:
		s.suspect, s.base = &t.source, n
	case n >= 4 && n%2 == 0:
		s.finish(c, t, Switch{Inverted: list[n-1].on, Bounces: milliseconds(bounce)}, open)
	default:
		return false
	}
	return true
}

// presses counts messages that are as far apart as presses are.
func (t *trail) presses() (n int) {
	var last time.Duration
	for i, s := range t.samples {
		if i == 0 || s.at-last >= apart {
			n++
		}
		last = s.at
	}
	return n
}

func milliseconds(d time.Duration) int { return int((d + time.Millisecond - 1) / time.Millisecond) }

// confirm judges a switch by one more press.
func (s *switchStep) confirm(c *Check) {
	t := c.ear.find(*s.suspect)
	list, bounce := t.changes()
	switch n := len(list) - s.base; {
	case n == 0:
	case n == 1:
		s.finish(c, t, Switch{Latching: true, Bounces: milliseconds(bounce)}, nil)
	case n == 2:
		s.finish(c, t, Switch{Inverted: list[len(list)-1].on, Bounces: milliseconds(bounce)}, nil)
	default:
		s.base = len(list)
		c.tell(troubleUnclear())
	}
}

// finish keeps a switch.
func (s *switchStep) finish(c *Check, t *trail, w Switch, open []*trail) {
	w.Step, w.Control = s.is, c.control(t.source)
	c.told = nil
	if w.Inverted {
		c.tell(troubleInverted(s.is))
	}
	if w.Latching {
		c.tell(troubleLatching(s.is))
	}
	if w.Bounces >= 20 {
		c.tell(troubleBounce(s.is, w.Bounces))
	}
	for _, o := range open {
		if o != t && o.in == t.in && o.presses() >= 2 && o.first().at-t.first().at < apart {
			c.tell(troubleAlso(c.control(o.source)))
		}
	}
	c.shared(t.source)
	c.found.Feet = append(c.found.Feet, w)
	line := fmt.Sprintf("%s: %s, %s", s.is, w.Control, w.how())
	if s.is != More {
		c.done(line)
		return
	}
	c.found.Troubles = append(c.found.Troubles, c.told...)
	c.said = append(c.said, line)
	c.ear, c.began, c.told, *s = ear{}, c.now, nil, switchStep{is: More}
	if len(c.found.Feet) >= mostFeet {
		c.done()
	}
}

// how is a switch's way in a few words.
func (w Switch) how() string {
	switch {
	case w.Kind == kinds[program].String():
		return "one message a press"
	case w.Latching:
		return "latching"
	case w.Inverted:
		return "momentary, inverted"
	}
	return "momentary"
}

// shared tells when another input sends the same control on the same channel.
func (c *Check) shared(x source) {
	for in := range c.gear.Ins {
		o := x
		if o.in = in; in != x.in && (c.noise.has(o) || c.ear.find(o) != nil) {
			c.tell(troubleTwoDevices(c.control(x), c.gear.Ins[in]))
		}
	}
}

func (s *switchStep) answer(c *Check, a Answer) {
	if s.is == More && a == Yes {
		c.done()
	}
}

func (s *switchStep) prompt(c *Check, p *Prompt) {
	p.Care = careFeet
	p.Say = []string{fmt.Sprintf("Press the %s switch twice, briefly, with a second between. You may go on playing.", s.is)}
	switch {
	case s.suspect != nil:
		p.Big = "once more"
		p.Say = []string{"Press the same switch once more, and let go at once."}
	case s.is == Left:
		p.Big = "left ×2"
		p.Say = append(p.Say, "This is the switch that brings the bed in and steps its chords.")
	case s.is == Right:
		p.Big = "right ×2"
		p.Say = append(p.Say, "This one changes what the next left press does; held, it fades.")
	default:
		p.Big = "more? ×2"
		p.Say = []string{"Press it twice, briefly, with a second between."}
		p.Say = append(p.Say, fmt.Sprintf("Is there another switch? It gets: %s.", moreDoes(c.found.count(More))), "Enter if that was all.")
		p.Choices = append(p.Choices, Choice{Yes, "that was all"})
	}
}

func (f Found) count(s Step) (n int) {
	for _, w := range f.Feet {
		if w.Step == s {
			n++
		}
	}
	return n
}
