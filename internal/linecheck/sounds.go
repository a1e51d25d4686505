package linecheck

import (
	"slices"
	"time"
)

// The soft tone: from nothing to soft in some seconds, and away in one. Levels are by
// ear, on the low side.
const (
	toneProgram  = 89 // General MIDI's warm pad
	toneVelocity = 45
	toneVolume   = 90
	toneMost     = 72 // of 127, by controller 11
	toneRise     = 4 * time.Second
	toneStays    = 4 * time.Second
	toneFall     = time.Second
	toneTick     = 100 * time.Millisecond
)

// tone sends notes softly to an output on a channel 0…15, rising from nothing. It ends by
// itself after some time, or stays until it is ended otherwise.
func (c *Check) tone(out int, channel uint8, ends bool, notes ...uint8) {
	at := c.now
	send := func(after time.Duration, msg ...byte) {
		c.later = append(c.later, timed{at + after, Act{Kind: Send, Out: out, Msg: msg}})
	}
	send(0, 0xB0|channel, 11, 0)
	send(0, 0xC0|channel, toneProgram)
	send(0, 0xB0|channel, 7, toneVolume)
	for _, n := range notes {
		send(0, 0x90|channel, n, toneVelocity)
	}
	for t := toneTick; t <= toneRise; t += toneTick {
		send(t, 0xB0|channel, 11, byte(toneMost*t/toneRise))
	}
	c.sounds = nil
	for _, n := range notes {
		c.sounds = append(c.sounds, Act{Kind: Send, Out: out, Msg: []byte{0x80 | channel, n, 64}})
	}
	if !ends {
		return
	}
	for t := time.Duration(0); t < toneFall; t += toneTick {
		send(toneRise+toneStays+t, 0xB0|channel, 11, byte(toneMost-toneMost*t/toneFall))
	}
	for _, n := range notes {
		send(toneRise+toneStays+toneFall, 0x80|channel, n, 64)
	}
}

// quiet ends what sounds now, and the passing on.
func (c *Check) quiet() {
	c.later = nil
	c.acts = append(c.acts, c.sounds...)
	c.sounds = nil
	if c.passing {
		c.passing = false
		c.acts = append(c.acts, Act{Kind: ThruEnd})
	}
}

// out is the synth's output, −1 where there is none.
func (c *Check) out() int { return slices.Index(c.gear.Outs, c.found.Synth) }

// synthStep asks of each output whether it is heard.
type synthStep struct {
	out   int
	asked bool
}

func (s *synthStep) hear(*Check, heard) {}

func (s *synthStep) pass(c *Check) {
	if len(c.gear.Outs) == 0 {
		c.tell(troubleUnheard(0))
		c.done("no MIDI output: bedd sounds by itself")
	}
}

func (s *synthStep) answer(c *Check, a Answer) {
	switch {
	case a == Yes && !s.asked:
		s.asked = true
		warm, _ := c.found.BedChannels()
		c.tone(s.out, warm, true, middleC)
	case a == Yes:
		c.found.Synth = c.gear.Outs[s.out]
		c.done("synth: " + c.found.Synth)
	case a == No && s.asked && s.out+1 < len(c.gear.Outs):
		c.quiet()
		s.out, s.asked = s.out+1, false
	case a == No && s.asked:
		c.tell(troubleUnheard(len(c.gear.Outs)))
		c.done("no synth was heard: bedd sounds by itself")
	}
}

func (s *synthStep) prompt(c *Check, p *Prompt) {
	p.Care = careSound
	if s.out >= len(c.gear.Outs) {
		return
	}
	name := c.gear.Outs[s.out]
	if !s.asked {
		p.Big = "vol. down"
		p.Say = []string{"A soft note goes to " + name + ", and rises slowly. Turn the volume down, then press enter."}
		p.Choices = append(p.Choices, Choice{Yes, "it is down: sound the note"})
		return
	}
	p.Big = "heard it?"
	p.Say = []string{"A soft note on " + name + ". Volume up slowly until you hear it."}
	p.Choices = append(p.Choices, Choice{Yes, "heard"}, Choice{No, "not heard"})
}

// thruStep finds out by ear whether the keys sound by themselves.
type thruStep struct {
	asked bool // the second question
	own   bool
}

func (s *thruStep) hear(*Check, heard) {}

func (s *thruStep) pass(c *Check) {
	if c.out() < 0 || c.found.Keys == nil {
		c.found.Skipped = append(c.found.Skipped, Thru)
		c.enter(c.at + 1)
	}
}

func (s *thruStep) answer(c *Check, a Answer) {
	heardIt := a == Yes
	if !s.asked {
		s.asked, s.own, c.passing = true, heardIt, true
		c.acts = append(c.acts, Act{Kind: ThruBegin, Out: c.out()})
		return
	}
	switch {
	case s.own && heardIt:
		c.found.Thru = "off"
		c.tell(troubleDoubled())
	case s.own:
		c.found.Thru = "off"
	default:
		c.found.Thru = "on"
		if !heardIt {
			c.tell(troubleSilentKeys())
		}
	}
	c.done("the piano goes through bedd: " + c.found.Thru)
}

func (s *thruStep) prompt(c *Check, p *Prompt) {
	p.Care = careSound
	if !s.asked {
		p.Big = "heard?"
		p.Say = []string{"Play a few keys, volume low. bedd passes nothing on now: do you hear your keys?"}
	} else {
		p.Big = "heard?"
		p.Say = []string{"bedd passes your keys to " + c.found.Synth + " now. Play again."}
		if s.own {
			p.Big = "doubled?"
			p.Say = append(p.Say, "Are they louder, doubled or hollow, as if two played?")
		}
	}
	p.Choices = append(p.Choices, Choice{Yes, "yes"}, Choice{No, "no"})
}

// layerStep asks for a pad in the keyboard's own sound, which nobody but an ear knows of.
type layerStep struct{ began bool }

func (s *layerStep) hear(*Check, heard) {}

func (s *layerStep) pass(c *Check) {
	if s.began || c.step != s {
		return
	}
	s.began = true
	if c.found.Thru == "on" && c.out() >= 0 {
		c.passing = true
		c.acts = append(c.acts, Act{Kind: ThruBegin, Out: c.out()})
	}
}

func (s *layerStep) answer(c *Check, a Answer) {
	if a == Yes {
		c.tell(troubleLayer())
		c.done("your sound has a pad in it")
		return
	}
	c.done("your sound has no pad in it")
}

func (s *layerStep) prompt(_ *Check, p *Prompt) {
	p.Big = "a chord"
	p.Say = []string{"Strike a chord with your stage sound and hold it for five seconds, without the damper.", "Does a pad or do strings go on under the piano?"}
	p.Choices = append(p.Choices, Choice{Yes, "a pad goes on"}, Choice{No, "it dies away as a piano does"})
}

// silenceStep tries all notes off on held notes.
type silenceStep struct{ stage int }

func (s *silenceStep) hear(*Check, heard) {}

func (s *silenceStep) pass(c *Check) {
	if c.out() < 0 {
		c.found.Skipped = append(c.found.Skipped, Silence)
		c.enter(c.at + 1)
	}
}

// answer: enter sounds the chord, enter again silences it, then it is asked.
func (s *silenceStep) answer(c *Check, a Answer) {
	out := c.out()
	warm, _ := c.found.BedChannels()
	switch {
	case s.stage == 0 && a == Yes:
		s.stage = 1
		c.acts = append(c.acts, Act{Kind: Send, Out: out, Msg: []byte{0xB0 | warm, 64, 127}})
		c.tone(out, warm, false, 48, 55, 64)
		c.sounds = append(c.sounds, Act{Kind: Send, Out: out, Msg: []byte{0xB0 | warm, 64, 0}})
	case s.stage == 1 && a == Yes:
		s.stage = 2
		c.later = nil
		for ch := range byte(16) { // a damper that is down would hold what 123 lets go
			for _, number := range []byte{64, 123, 120} {
				c.acts = append(c.acts, Act{Kind: Send, Out: out, Msg: []byte{0xB0 | ch, number, 0}})
			}
		}
	case s.stage == 2 && a == Yes:
		c.done("all notes off: silent")
	case s.stage == 2:
		c.tell(troubleHangs())
		c.done("all notes off: it went on sounding")
	}
}

func (s *silenceStep) prompt(c *Check, p *Prompt) {
	p.Care = careSound
	switch s.stage {
	case 0:
		p.Big = "all off"
		p.Say = []string{"A soft chord rises slowly, and is held. Volume low, then press enter."}
		p.Choices = append(p.Choices, Choice{Yes, "sound the chord"})
	case 1:
		p.Big = "listen"
		p.Say = []string{"When you hear it, press enter: bedd sends all notes off and all sound off."}
		p.Choices = append(p.Choices, Choice{Yes, "silence it"})
	default:
		p.Big = "silent?"
		p.Say = []string{"Is it silent now, but for the room's echo?"}
		p.Choices = append(p.Choices, Choice{Yes, "silent"}, Choice{No, "it goes on"})
	}
}
