package bed

import (
	"slices"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/voicing"
)

// ask carries out a command.
func (b *Bed) ask(at time.Duration, e Event, out []Action) []Action {
	if e.Undo {
		b.armed = b.armedBefore
		b.choice.at = b.choice.before
	}
	var chosen bool
	if out, chosen = b.choose(at, e, out); chosen {
		return out
	}
	if b.stay {
		switch e.Command {
		case Stay:
		case FadeOut, OutNow, AllNotesOff: // told otherwise
			out = b.setStay(at, false, out)
		case Arm:
			b.armedBefore = b.armed // a long press has nothing to undo
			return tell(at, StayIsOn, out)
		default:
			return tell(at, StayIsOn, out)
		}
	}
	switch e.Command {
	case Step:
		return b.step(at, out)
	case Arm:
		b.arm()
	case BringIn:
		return b.bringIn(at, out)
	case Next:
		return b.move(at, +1, out)
	case Previous:
		return b.move(at, -1, out)
	case Swap:
		return b.swap(at, out)
	case Land, LandThrough, FirstChord:
		return b.land(at, e.Command, out)
	case Capture:
		return b.capture(at, out)
	case Follow:
		b.follow, b.steady = !b.follow, false
		b.lefthand = voicing.Pitches{}
		out = append(out, Action{Kind: Did, At: at, Command: Follow, On: b.follow})
		b.watchLeftHand(at)
	case Stay:
		if b.phase == Silent {
			return tell(at, NotSounding, out)
		}
		out = b.setStay(at, !b.stay, out)
		if !b.stay { // the left hand may have moved meanwhile
			b.lefthand = voicing.Pitches{}
			b.watchLeftHand(at)
		}
		return out
	case FadeOut:
		if b.phase == Rising || b.phase == Holding {
			out = append(out, Action{Kind: Did, At: at, Command: FadeOut})
			b.handed = false
			return b.turn(at, causeFade, out)
		}
	case OutNow:
		if b.phase != Silent && b.phase != Leaving {
			out = append(out, Action{Kind: Did, At: at, Command: OutNow})
			return b.turn(at, causeOut, out)
		}
	case AllNotesOff:
		out = append(out, Action{Kind: Did, At: at, Command: AllNotesOff})
		b.follow, b.steady = false, false
		b.hands = hands{}
		out = b.turn(at, causeOff, out)
		return append(out, Action{Kind: SilenceAll, At: at})
	case KeyUp:
		return b.moveKey(at, KeyUp, 1, out)
	case KeyDown:
		return b.moveKey(at, KeyDown, -1, out)
	case KeyTo:
		semitones := int(e.Tonic-b.key.Tonic.Class()+12) % 12
		if semitones > 6 {
			semitones -= 12
		}
		return b.moveKey(at, KeyTo, semitones, out)
	case LevelUp, LevelDown:
		by := b.c.Nudge
		if e.Command == LevelDown {
			by = -by
		}
		b.intensity.Nudge(at, by)
		want, _ := b.intensity.Target(at)
		out = append(out, Action{Kind: Did, At: at, Command: e.Command, Value: uint8(100*want + 0.5)})
	case Swell, Settle:
		if b.phase != Rising && b.phase != Holding {
			return tell(at, NotSounding, out)
		}
		if e.Command == Swell {
			b.intensity.Swell(at)
		} else {
			b.intensity.Settle(at)
		}
		out = append(out, Action{Kind: Did, At: at, Command: e.Command})
	case NextMoment:
		return b.pickMoment(at, b.moment+1, out)
	case PreviousMoment:
		return b.pickMoment(at, b.moment-1, out)
	}
	return out
}

func tell(at time.Duration, n Notice, out []Action) []Action {
	return append(out, Action{Kind: Tell, At: at, Notice: n})
}

// step is the left foot: bring in, or what is armed, or the next chord.
func (b *Bed) step(at time.Duration, out []Action) []Action {
	if b.phase != Rising && b.phase != Holding {
		return b.bringIn(at, out)
	}
	armed := b.armed
	b.armed, b.armedBefore = NoCommand, NoCommand
	if armed == NoCommand {
		armed = Next
	}
	return b.ask(at, Event{Kind: Asked, Command: armed}, out)
}

// arm goes on to the next thing that the next step may do and that would do
// something here, and after the last back to nothing special.
func (b *Bed) arm() {
	b.armedBefore = b.armed
	i := 0
	if b.armed != NoCommand {
		i = slices.Index(b.c.Arms, b.armed) + 1
	}
	for ; i < len(b.c.Arms); i++ {
		if b.armable(b.c.Arms[i]) {
			if b.armed = b.c.Arms[i]; b.armed == Land || b.armed == LandThrough {
				b.prepareWay(&b.ahead)
			}
			return
		}
	}
	b.armed = NoCommand
}

// armable reports whether a command would do something here.
func (b *Bed) armable(c Command) bool {
	switch c {
	case Swap:
		return len(b.chords[Away]) > 0 || b.lead == intoSong
	case Land, LandThrough:
		return b.lead != intoSong
	case FirstChord:
		return !b.arrived
	case ChooseSong:
		return len(b.c.Songs) > 0
	}
	return true
}

// bringIn begins on the current chord, or comes back from a fade.
func (b *Bed) bringIn(at time.Duration, out []Action) []Action {
	if b.phase == Rising || b.phase == Holding {
		return out
	}
	silent := b.phase == Silent
	b.handed, b.playsSince = false, never
	out = append(out, Action{Kind: Did, At: at, Command: BringIn})
	if silent {
		out = append(out, Action{Kind: EnterChord, At: at, Chord: b.chord})
		b.changedAt, b.placeAt = at, at
	}
	out = b.turn(at, causeIn, out)
	if silent {
		b.change = Change{Struck: b.sounding[Warm], BeforeKey: b.key}
		b.keyBefore = b.key
	}
	return out
}

func (b *Bed) setStay(at time.Duration, on bool, out []Action) []Action {
	b.stay = on
	b.intensity.Stay(at, on)
	if !on { // what waited goes on a pace later
		b.walkAt, b.goesAt, b.playsSince = max(b.walkAt, at+b.c.Walk), max(b.goesAt, at+b.c.Walk), never
	}
	return append(out, Action{Kind: Did, At: at, Command: Stay, On: on})
}

// move goes by chords along the progression or the landing.
func (b *Bed) move(at time.Duration, by int, out []Action) []Action {
	if b.lead != nowhere {
		return b.walk(at, by, out)
	}
	i := b.index + by
	if b.place == Hand && by < 0 {
		i = b.index // back from the hand's chord to where it was taken
	}
	n := len(b.chords[b.group])
	return b.goTo(at, b.group, (i+n)%n, out)
}

// swap goes to the other progression's first chord; from a landing, home.
func (b *Bed) swap(at time.Duration, out []Action) []Action {
	to := Away
	if b.group == Away || b.lead == intoSong {
		to = Home
	}
	if len(b.chords[to]) == 0 {
		return tell(at, NoAway, out)
	}
	out = append(out, Action{Kind: Did, At: at, Command: Swap})
	return b.goTo(at, to, 0, out)
}

// goTo makes chord i of a progression the current one.
func (b *Bed) goTo(at time.Duration, g Place, i int, out []Action) []Action {
	if b.phase == Silent {
		b.restOn(g, i)
		return out
	}
	if b.chords[g][i] == b.chord { // nothing to hear: it goes on as it is
		b.toPlace(at, g)
		b.group, b.index, b.key = g, i, b.planKey
		b.stopLeading()
		b.onPath = b.onPath && b.ladder == b.ladders[g][i]
		return out
	}
	ladder, onPath := b.ladders[g][i], true
	if engine := b.register(&ladder); engine != b.engine || !b.onPath && b.c.Voicing.Stillness < 1 {
		// Off the prepared path the best way on begins where the bed is now.
		l, err := engine.Next(b.chords[g][i], b.planKey, &b.ladder)
		if err == nil {
			if engine != b.engine { // the bass stays where it would be
				l.Bass = min(l.Bass, ladder.Bass)
			}
			onPath = l == ladder
			ladder = l
		}
	}
	b.toPlace(at, g)
	b.group, b.index = g, i
	b.stopLeading()
	b.key, b.onPath = b.planKey, onPath
	return b.enter(at, b.chords[g][i], ladder, out)
}

// enter changes chord while the bed sounds.
func (b *Bed) enter(at time.Duration, c harmony.Chord, ladder voicing.Ladder, out []Action) []Action {
	before := b.sounding[Warm].Without(b.ending[Warm])
	was := b.chord
	b.chord, b.ladder, b.changedAt = c, ladder, at
	after := b.target(Warm)
	b.change = Change{before.And(after), after.Without(before), before.Without(after), was, b.keyBefore}
	b.keyBefore = b.key
	out = append(out, Action{Kind: EnterChord, At: at, Chord: c})
	return b.aim(at, out)
}

// unplanned enters a chord that was not prepared, or only takes it up while
// silent; the chord that sounds already goes on as it is. Did is the command that
// this carries out, or NoCommand. Where the chord has no voicing it says so,
// reports false, and nothing was carried out.
func (b *Bed) unplanned(at time.Duration, c harmony.Chord, did Command, out []Action) ([]Action, bool) {
	same := c == b.chord && b.phase != Silent
	ladder := b.ladder
	if !same {
		from := &b.ladder
		if b.phase == Silent {
			from = nil
		}
		var err error
		if ladder, err = b.register(nil).Next(c, b.key, from); err != nil {
			return tell(at, CannotVoice, out), false
		}
	}
	if did != NoCommand {
		out = append(out, Action{Kind: Did, At: at, Command: did})
	}
	if same {
		return out, true
	}
	b.onPath = false
	if b.phase == Silent {
		b.chord, b.ladder = c, ladder
		return out, true
	}
	return b.enter(at, c, ladder, out), true
}
