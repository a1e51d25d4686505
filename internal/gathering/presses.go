package gathering

import "time"

// presses tells how a switch works from how its presses begin and end.
//
//	momentary  ───┐ ┌──────────┐ ┌───   on at its start, off at its end
//	              └─┘          └─┘
//	latching   ───┐            ┌─────   as it began
//	              └────────────┘
//	              |<- pause ->|         what follows is another press
//
// Bounce changes neither how a press begins nor how it ends.
type presses struct {
	count     int           // presses so far, the one that goes on included
	at        time.Duration // of the message that came last
	began, on bool          // at the start of this press, and now
	turnedOn  bool          // on came, ever
	turnedOff bool
	backOff   int // presses before this one that came back to off
	backOn    int
}

// pause is how long nothing comes between two presses. Common practice, no
// source: longer than a brief press, shorter than the second that the player is
// asked to wait.
const pause = 700 * time.Millisecond

func (p *presses) hear(at time.Duration, on bool) {
	if p.count == 0 || at-p.at >= pause {
		p.end()
		p.began = on
		p.count++
	}
	p.at, p.on = at, on
	p.turnedOn, p.turnedOff = p.turnedOn || on, p.turnedOff || !on
}

// end counts the press that goes on.
func (p *presses) end() {
	switch {
	case p.count == 0 || p.began == p.on:
	case p.on:
		p.backOn++
	default:
		p.backOff++
	}
}

// guess is what a rig file says of the switch, as far as it can be told.
func (p presses) guess() string {
	p.end()
	switch {
	case p.backOn > p.backOff:
		return "    inverted: yes # momentary, sends off when pressed\n"
	case p.backOff > 0:
		return "    latching: no # momentary\n"
	case p.turnedOn && p.turnedOff:
		return "    latching: yes # each press was one change\n"
	case p.count == 1:
		return "    # momentary or latching: one message does not tell\n"
	case p.turnedOn:
		return "    # never went under 64: bedd hears only its first press\n"
	}
	return "    # never reached 64: bedd hears no press\n"
}
