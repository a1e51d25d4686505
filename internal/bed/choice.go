package bed

import (
	"time"

	"bedd/internal/pitch"
)

// Choice is what the player is choosing.
type Choice uint8

// The choices.
const (
	NoChoice Choice = iota
	WhichSong
	WhichKey
)

func (c Choice) String() string { return [...]string{"", "next song", "key"}[c] }

// choiceTime is how long a choice waits for the next press before it closes and
// nothing was chosen. By ear: long enough to read a title, short enough that a
// foot that forgot it finds its usual step.
const choiceTime = 12 * time.Second

// choosing is a choice that is open. Nothing of it is heard until it is taken.
type choosing struct {
	what   Choice
	at     int // a song's number, 0 for none, or a tonic's class
	first  int // where it began: after a whole round it closes
	before int // for a long press, which undoes what its short one moved
	until  time.Duration
}

// choose takes what a choice makes of a command; done is false where the command
// means what it always does.
func (b *Bed) choose(at time.Duration, e Event, out []Action) (_ []Action, done bool) {
	switch e.Command {
	case ChooseSong:
		if len(b.c.Songs) == 0 {
			return tell(at, NoSongs, out), true
		}
		if b.choice.what != WhichSong {
			b.open(at, WhichSong, b.likelySong())
			return out, true
		}
		b.browse(at, +1)
		return out, true
	case ChooseKey:
		if b.choice.what != WhichKey {
			b.open(at, WhichKey, int(b.likelyKey()))
			return out, true
		}
		b.browse(at, +1)
		return out, true
	case Take:
		if b.choice.what == NoChoice {
			return tell(at, NothingChosen, out), true
		}
		return b.takeChoice(at, out), true
	}
	if b.choice.what == NoChoice {
		return out, false
	}
	switch e.Command {
	case Step:
		return b.takeChoice(at, out), true
	case Arm, Next:
		b.browse(at, +1)
		return out, true
	case Previous:
		b.browse(at, -1)
		return out, true
	case KeyTo:
		if b.choice.what == WhichKey {
			b.choice.at = int(e.Tonic)
			return b.takeChoice(at, out), true
		}
	case BringIn:
		if b.phase == Silent {
			return b.takeChoice(at, out), false
		}
	}
	return out, false
}

func (b *Bed) open(at time.Duration, what Choice, first int) {
	b.choice = choosing{what: what, at: first, first: first, before: first, until: at + choiceTime}
}

// browse goes to another answer; once round it closes.
func (b *Bed) browse(at time.Duration, by int) {
	n := 12
	if b.choice.what == WhichSong {
		n = len(b.c.Songs) + 1
	}
	c := &b.choice
	c.before, c.until = c.at, at+choiceTime
	if c.at = (c.at + by + n) % n; c.at == c.first {
		*c = choosing{}
	}
}

// takeChoice carries out what was chosen, and closes the choice.
func (b *Bed) takeChoice(at time.Duration, out []Action) []Action {
	c := b.choice
	if c.what == WhichKey {
		if b.stay {
			return tell(at, StayIsOn, out)
		}
		b.choice = choosing{}
		return b.ask(at, Event{Kind: Asked, Command: KeyTo, Tonic: pitch.Class(c.at)}, out)
	}
	b.choice = choosing{}
	if b.phase == Silent && c.at > 0 {
		if !b.callUp(c.at) {
			out = b.toMoment(at, b.moment, out)
			return tell(at, CannotVoice, out)
		}
	} else {
		b.leadTo(at, c.at)
	}
	return append(out, Action{Kind: Did, At: at, Command: Take, Song: uint16(c.at)})
}

// likelySong is the song that the player most likely means: in silence the one
// that the plan has next, while the bed sounds the one after that which leads now;
// songs that have begun already come last.
func (b *Bed) likelySong() int {
	first := b.c.Moments[b.moment].NextSong
	if b.phase != Silent || b.called {
		first = b.song + 1
	}
	n := len(b.c.Songs)
	for i := range n {
		if song := (max(first, 1)-1+i)%n + 1; !b.used.Has(song) {
			return song
		}
	}
	return (max(first, 1)-1)%n + 1
}

// likelyKey is the next song's where that is another, else a semitone up.
func (b *Bed) likelyKey() pitch.Class {
	now := b.planKey.Tonic.Class()
	if to, _ := b.destination(); to.Tonic.Class() != now {
		return to.Tonic.Class()
	}
	return now.Up(1)
}
