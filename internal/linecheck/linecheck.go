// Package linecheck walks a player from cables to a rig: what arrives and what the
// player says go in, what to ask and to sound comes out.
package linecheck

import (
	"slices"
	"time"
)

// Gear is what there is to check: the ports that are open, by name. Inputs and
// outputs go by their index here. Same says which output is of an input's own device,
// −1 where none is.
type Gear struct {
	Ins, Outs []string
	Same      []int
}

// Step is a part of the walk that can be repeated by itself.
type Step string

// The steps, in their order.
const (
	Rest    Step = "rest"
	Piano   Step = "keys"
	Left    Step = "left"
	Right   Step = "right"
	More    Step = "more"
	Foot    Step = "pedal"
	Synth   Step = "synth"
	Thru    Step = "thru"
	Layer   Step = "layer"
	Silence Step = "silence"
	Plug    Step = "plug"
)

// Steps are all of them, in their order.
var Steps = []Step{Rest, Piano, Left, Right, More, Foot, Synth, Thru, Layer, Silence, Plug}

// Answer is what the player says.
type Answer uint8

// The answers. Which of them count says [Prompt.Choices].
const (
	Yes Answer = iota + 1
	No
	Again
	Skip
	Back
)

// Choice is an answer that counts now, and what it means.
type Choice struct {
	Answer Answer
	Means  string
}

// Prompt is what the player is to see now.
type Prompt struct {
	Step       Step
	Number, Of int
	Big        string   // at most nine letters, to be read from far away
	Say        []string // what to do, in sentences
	Heard      []string // what came of it so far
	Troubles   []Trouble
	Care       string // a caution that belongs here
	Choices    []Choice
	Over       bool
}

// ActKind is what is to be done for a step.
type ActKind uint8

// The kinds of act.
const (
	Send      ActKind = iota // send Msg to the output Out
	ThruBegin                // pass on what the keys' input brings to the output Out
	ThruEnd                  // pass on nothing any more
)

// Act is something to be done at once.
type Act struct {
	Kind ActKind
	Out  int
	Msg  []byte
}

// Check is a walk through the steps. It is a pure state machine: the caller passes the
// times in, and calls Advance some ten times a second at least. A time that goes back
// counts as the latest. Not safe for several goroutines.
type Check struct {
	gear    Gear
	found   Found
	now     time.Duration
	steps   []Step // those of this walk
	at      int    // the index of the one that goes on; len(steps) when all is over
	began   time.Duration
	step    step
	ear     ear   // what this step has heard
	noise   spans // what moves without being asked
	said    []string
	told    []Trouble // of this step
	acts    []Act
	later   []timed
	sounds  []Act // that end what sounds
	passing bool
}

// timed is an act to come.
type timed struct {
	at time.Duration
	Act
}

// step is one part of the walk. Its prompt fills in what is its own.
type step interface {
	hear(c *Check, h heard)
	pass(c *Check)
	answer(c *Check, a Answer)
	prompt(c *Check, p *Prompt)
}

// New begins a walk through some steps of [Steps], in their order, with what was
// found earlier. What moves by itself is listened for anew in any case.
func New(gear Gear, found Found, steps ...Step) *Check {
	c := &Check{gear: gear, found: found.clone(), noise: spans{}}
	for _, s := range Steps {
		if slices.Contains(steps, s) || s == Rest && needsRest(steps) {
			c.steps = append(c.steps, s)
		}
	}
	c.noise.addControls(gear, c.found.Keys)
	c.enter(0)
	return c
}

// needsRest reports whether a walk has steps that listen to feet.
func needsRest(steps []Step) bool {
	return slices.ContainsFunc(steps, func(s Step) bool { return s == Piano || s == Left || s == Right || s == More || s == Foot })
}

// From gives a step and those after it.
func From(first Step) []Step { return Steps[max(slices.Index(Steps, first), 0):] }

func (c *Check) enter(at int) {
	c.quiet()
	c.at, c.began, c.ear, c.told = at, c.now, ear{}, nil
	if at >= len(c.steps) {
		c.step = nil
		return
	}
	s := c.steps[at]
	c.found.forget(s)
	switch s {
	case Rest:
		c.step = &restStep{}
	case Piano:
		c.step = &keysStep{}
	case Left, Right, More:
		c.step = &switchStep{is: s}
	case Foot:
		c.step = &pedalStep{}
	case Synth:
		c.step = &synthStep{}
	case Thru:
		c.step = &thruStep{}
	case Layer:
		c.step = &layerStep{}
	case Silence:
		c.step = &silenceStep{}
	case Plug:
		c.step = &plugStep{}
	}
	c.step.pass(c) // some have nothing to ask
}

// again begins the step anew.
func (c *Check) again() { c.enter(c.at) }

// done ends the step with what came of it, in words.
func (c *Check) done(lines ...string) {
	s := c.steps[c.at]
	c.found.Done = append(c.found.Done, s)
	c.found.Troubles = append(c.found.Troubles, c.told...)
	c.said = append(c.said, lines...)
	c.enter(c.at + 1)
}

// mostSaid is how many of the lines that tell what was found a prompt shows.
const mostSaid = 3

// tell adds a trouble to those of this step, once.
func (c *Check) tell(t Trouble) {
	t.Step = c.steps[c.at]
	if !slices.Contains(c.told, t) {
		c.told = append(c.told, t)
	}
}

// untell takes a trouble back that is over.
func (c *Check) untell(t Trouble) {
	t.Step = c.steps[c.at]
	c.told = slices.DeleteFunc(c.told, func(o Trouble) bool { return o == t })
}

// Hear takes one whole message that arrived at an input.
func (c *Check) Hear(at time.Duration, in int, msg []byte) {
	c.Advance(at)
	if h, ok := c.ear.hear(c.now, in, msg); ok && c.step != nil {
		c.step.hear(c, h)
	}
}

// Advance lets time pass.
func (c *Check) Advance(at time.Duration) {
	c.now = max(c.now, at)
	for len(c.later) > 0 && c.later[0].at <= c.now {
		c.acts = append(c.acts, c.later[0].Act)
		c.later = c.later[1:]
	}
	if c.step != nil {
		c.step.pass(c)
	}
}

// Answer takes what the player says. What does not count now is passed over.
func (c *Check) Answer(at time.Duration, a Answer) {
	c.Advance(at)
	if c.step == nil || !slices.ContainsFunc(c.Prompt().Choices, func(o Choice) bool { return o.Answer == a }) {
		return
	}
	switch a {
	case Back:
		c.enter(max(c.at-1, 0))
	case Again:
		c.again()
	case Skip:
		c.told = nil
		c.found.Skipped = append(c.found.Skipped, c.steps[c.at])
		c.enter(c.at + 1)
	default:
		c.step.answer(c, a)
	}
}

// Moved takes the loss of a port, or its return.
func (c *Check) Moved(at time.Duration, input bool, index int, lost bool) {
	c.Advance(at)
	if p, ok := c.step.(*plugStep); ok && input {
		p.moved(c, index, lost)
	}
}

// Acts gives what is to be done, in its order, and forgets it.
func (c *Check) Acts() []Act {
	acts := c.acts
	c.acts = nil
	return acts
}

// Stop ends what sounds; Acts has what is to be sent for that.
func (c *Check) Stop() { c.quiet() }

// Found gives what has been found so far; a step that goes on is not in it.
func (c *Check) Found() Found { return c.found.clone() }

// Over reports whether the walk is at its end.
func (c *Check) Over() bool { return c.step == nil }

// Prompt is what the player is to see now.
func (c *Check) Prompt() Prompt {
	p := Prompt{Number: c.at + 1, Of: len(c.steps), Heard: slices.Clone(c.said[max(len(c.said)-mostSaid, 0):]), Over: c.step == nil}
	if c.step == nil {
		p.Number = p.Of
		return p
	}
	p.Step, p.Troubles = c.steps[c.at], slices.Clone(c.told)
	c.step.prompt(c, &p)
	p.Choices = append(p.Choices, Choice{Again, "again from the start of this step"}, Choice{Skip, "skip"})
	if c.at > 0 {
		p.Choices = append(p.Choices, Choice{Back, "back"})
	}
	return p
}

// nothingFor is how long nothing useful may come until the player is told what to look
// at. By ear: long enough to find the foot.
const nothingFor = 10 * time.Second

// silent tells what to look at where a step has waited long for something of use.
func (c *Check) silent(since time.Duration, t Trouble) {
	if c.now-since >= nothingFor {
		c.tell(t)
	}
}
