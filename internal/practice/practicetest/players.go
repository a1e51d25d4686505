// Package practicetest plays the tasks of a practice as good and bad players would, through a session as it is live.
package practicetest

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/practice"
	"bedd/internal/session"
)

// Player is how somebody plays.
type Player string

// The players.
const (
	Perfect  Player = "perfect"
	Lazy     Player = "lazy"      // re-strikes everything at every change, with a hole before it
	WrongKey Player = "wrong key" // all a semitone too high
	Late     Player = "late"      // a while behind everything
	Flat     Player = "flat"      // always as loud
	Leaky    Player = "leaky"     // plays the figure that is to be kept
	Random   Player = "random"    // any key at any time
	Idle     Player = "idle"      // nothing at all
)

// Players are all of them.
var Players = []Player{Perfect, Lazy, WrongKey, Late, Flat, Leaky, Random, Idle}

// message is something that a player sends.
type message struct {
	at   time.Duration
	data []byte
}

// change is a chord that the bed is going to enter.
type change struct {
	at    time.Duration
	chord harmony.Chord
}

// The default rig's feet and pedal.
const (
	stepSwitch = 80
	armSwitch  = 81
	pedal      = 11
	damper     = 64
)

// script is what a player is going to do.
type script struct {
	task    practice.Task
	player  Player
	random  *rand.Rand
	moment  bed.Moment
	send    []message
	lateFor time.Duration
}

func (s *script) say(at time.Duration, data ...byte) {
	s.send = append(s.send, message{max(at, 0), data})
}

func (s *script) press(at time.Duration, control byte) {
	s.say(at, 0xB0, control, 127)
	s.say(at+100*time.Millisecond, 0xB0, control, 0)
}

// Play plays a task. The same seed plays it alike.
func Play(t practice.Task, p Player, seed uint64) (practice.Take, error) {
	m, err := t.Moment()
	if err != nil {
		return practice.Take{}, err
	}
	rig := quickRig()
	s := script{task: t, player: p, random: rand.New(rand.NewPCG(seed, 1)), moment: m}
	if p == Late {
		s.lateFor = 2200 * time.Millisecond
	}
	switch p {
	case Idle:
	case Random:
		s.playAnything()
	default:
		s.play(rig.Bed.Ending)
	}
	return perform(t, m, rig, s.send)
}

// quickRig is the default rig with a bed of three voices, which is quickly found: the
// hands are what is judged.
var quickRig = sync.OnceValue(func() gathering.Rig {
	rig := gathering.DefaultRig()
	v := &rig.Bed.Voicing
	v.Voices, v.Thin, v.Full, v.Plain, v.Colours, v.Stillness = 3, 3, 3, true, 0, 0
	rig.Bed.Lift = 0
	return rig
})

// perform gives the take of somebody who sends messages.
func perform(t practice.Task, m bed.Moment, rig gathering.Rig, send []message) (practice.Take, error) {
	room := new(room)
	s, err := session.New(rig, []bed.Moment{m}, room)
	if err != nil {
		return practice.Take{}, err
	}
	s.Watch(func(at time.Duration, e bed.Event, v bed.View) {
		room.Hear(at, e, v.Place, v.Phase != bed.Silent, v.Intensity)
	})
	s.SetUp(0)
	room.Begin(0)
	slices.SortStableFunc(send, func(a, b message) int { return int(a.at - b.at) })
	steps := t.Steps
	for len(send) > 0 || len(steps) > 0 {
		if len(steps) > 0 && (len(send) == 0 || steps[0].At <= send[0].at) {
			command, ok := bed.ParseCommand(steps[0].Command)
			if !ok {
				return practice.Take{}, fmt.Errorf("there is no command %q", steps[0].Command)
			}
			s.Ask(steps[0].At, gathering.Order{Command: command})
			steps = steps[1:]
			continue
		}
		if send[0].at < t.Lasts {
			s.Message(send[0].at, send[0].data)
		}
		send = send[1:]
	}
	s.Advance(t.Lasts)
	take := room.Take(t.Lasts)
	s.End(t.Lasts)
	return take, nil
}

// room hears a session for the recorder alone.
type room struct{ practice.Recorder }

func (r *room) Send(time.Duration, session.Origin, []byte) {}

// playAnything plays what comes.
func (s *script) playAnything() {
	for at := time.Duration(0); at < s.task.Lasts; at += time.Duration(100+s.random.IntN(700)) * time.Millisecond {
		n := byte(36 + s.random.IntN(49))
		s.say(at, 0x90, n, byte(20+s.random.IntN(107)))
		s.say(at+time.Duration(100+s.random.IntN(2000))*time.Millisecond, 0x80, n, 64)
		if s.random.IntN(4) == 0 {
			s.say(at, 0xB0, pedal, byte(s.random.IntN(128)))
		}
		if s.random.IntN(8) == 0 {
			s.press(at, []byte{stepSwitch, armSwitch}[s.random.IntN(2)])
		}
	}
}

// play plays the task as it is meant, but for the player's own fault.
func (s *script) play(ending harmony.Ending) {
	changes := s.feet(ending)
	if len(changes) == 0 {
		return
	}
	s.hands(changes)
	if len(s.task.Curve) > 0 {
		s.follow()
	}
}

// feet does what the feet are to do, and gives the chords that the bed will enter.
func (s *script) feet(ending harmony.Ending) (list []change) {
	home, away := s.moment.Home, s.moment.Away
	switch s.task.Exercise {
	case "away":
		const pace = 5 * time.Second
		at, i := time.Duration(0), 0
		list = append(list, change{0, home[0]})
		step := func(c harmony.Chord, swap bool) {
			at += pace
			if swap {
				s.press(at-time.Second, armSwitch)
			}
			s.press(at, stepSwitch)
			list = append(list, change{at, c})
		}
		for range s.task.Journeys {
			for i = 1; i < 2*len(home); i++ {
				step(home[i%len(home)], false)
			}
			for i = range away {
				step(away[i], i == 0)
			}
			step(home[0], true)
		}
		for i = 1; at+2*pace < s.task.Lasts; i++ {
			step(home[i%len(home)], false)
		}
	case "land":
		const pace = 4 * time.Second
		way := harmony.Land(home[0], s.moment.Key, s.moment.NextKey, s.moment.NextChord, ending)
		list = append(list, change{0, home[0]})
		at := s.task.Limit - 3*time.Second - time.Duration(way.N-1)*pace + 2*s.lateFor
		s.press(at-time.Second, armSwitch)
		for _, c := range way.Chords[:way.N] {
			s.press(at, stepSwitch)
			list = append(list, change{at, c})
			at += pace
		}
	case "any-key":
		at := s.task.Called
		if len(s.task.Steps) == 0 {
			at += time.Second + 4*s.lateFor
			s.press(at, stepSwitch)
		}
		list = append(list, change{at, home[0]})
		if s.task.Journeys > 0 {
			at += 4 * time.Second
			for i := range home {
				at += 5 * time.Second
				s.press(at, stepSwitch)
				list = append(list, change{at, home[(i+1)%len(home)]})
			}
		}
	default:
		for i, step := range s.task.Steps {
			list = append(list, change{step.At, home[i%len(home)]})
		}
	}
	return list
}

// note is a note that a hand is going to play.
type note struct {
	number  int
	on, off time.Duration
}

// hands plays a chord for each of the bed's, and what is asked for above it.
func (s *script) hands(changes []change) {
	const react, over = 80 * time.Millisecond, 60 * time.Millisecond
	var notes []note
	sounding := map[int]int{} // the note's place in the list
	strike := func(n int, at time.Duration) {
		sounding[n] = len(notes)
		notes = append(notes, note{n, at, s.task.Lasts})
	}
	release := func(n int, at time.Duration) {
		notes[sounding[n]].off = at
		delete(sounding, n)
	}
	bass, uppers := 0, []int(nil)
	last := 0 // of the line
	for i, c := range changes {
		at := c.at + react + s.lateFor
		if s.task.Called > 0 && i == 0 {
			at += time.Second + 4*s.lateFor
		}
		end := s.task.Lasts
		if i+1 < len(changes) {
			end = changes[i+1].at
		}
		was := append([]int{bass}, uppers...)
		if i == 0 {
			was = nil
			uppers = firstUppers(c.chord)
		} else {
			uppers = move(uppers, c.chord)
		}
		bass = low(c.chord.BassClass())
		now := append([]int{bass}, uppers...)
		hole := at
		if s.player == Lazy {
			hole = at - 250*time.Millisecond
		}
		for _, n := range was {
			if s.player == Lazy {
				release(n, hole)
			} else if !slices.Contains(now, n) {
				release(n, at+over)
			}
		}
		for _, n := range now {
			if _, on := sounding[n]; !on || s.player == Lazy {
				strike(n, at)
			}
		}
		if s.player == Lazy && i == 0 { // and again
			for t := at + 2*time.Second; t < end-2*time.Second; t += 2 * time.Second {
				for _, n := range now {
					release(n, t)
					strike(n, t+250*time.Millisecond)
				}
			}
		}
		if s.task.Line > 0 {
			lines := s.line(&notes, c, at, end, uppers, &last)
			if s.player == Lazy { // what is held is struck again with each note of the line
				for _, t := range lines {
					for _, n := range now {
						release(n, t-50*time.Millisecond)
						strike(n, t)
					}
				}
			}
		}
	}
	up := 0
	if s.player == WrongKey {
		up = 1
	}
	for _, n := range notes {
		velocity := 50
		s.say(n.on, 0x90, byte(n.number+up), byte(velocity))
		s.say(n.off, 0x80, byte(n.number+up), 64)
	}
}

// line brings single notes above a chord, and gives when.
func (s *script) line(notes *[]note, c change, at, end time.Duration, uppers []int, last *int) (times []time.Duration) {
	top := slices.Max(uppers)
	if s.player == Leaky && len(s.task.Figure) > 0 {
		t, up := at+1700*time.Millisecond, 0
		for slices.Min(s.task.Figure)+up <= top {
			up += 12
		}
		for _, n := range s.task.Figure {
			*notes = append(*notes, note{n + up, t, t + 500*time.Millisecond})
			t += 600 * time.Millisecond
		}
		return nil
	}
	for i := range s.task.Line {
		t := at + time.Duration(1800+1400*i)*time.Millisecond
		if t > end-1200*time.Millisecond {
			break
		}
		var can []int
		for n := top + 1; n <= top+12; n++ {
			if !c.chord.Classes().Has(pitch.ClassOf(n)) || *last > 0 && (n-*last > 9 || *last-n > 9) {
				continue
			}
			if len(s.task.Figure) > 0 {
				_, heard := harmony.FindFigure(s.task.Figure, s.moment.NextKey, topLine(append(slices.Clone(*notes), note{n, t, end})), s.moment.Key, false)
				if heard {
					continue
				}
			}
			can = append(can, n)
		}
		if len(can) == 0 {
			continue
		}
		n := can[s.random.IntN(len(can))]
		*last = n
		*notes = append(*notes, note{n, t, min(t+1200*time.Millisecond, end-600*time.Millisecond)})
		times = append(times, t)
	}
	return times
}

// topLine gives the notes that were the highest when they began.
func topLine(notes []note) (line []int) {
	slices.SortStableFunc(notes, func(a, b note) int {
		if a.on != b.on {
			return int(a.on - b.on)
		}
		return b.number - a.number
	})
	for i, n := range notes {
		top := true
		for k, o := range notes {
			top = top && (k == i || o.on > n.on || o.off <= n.on || o.number <= n.number)
		}
		if top {
			line = append(line, n.number)
		}
	}
	return line
}

// low gives a class between C2 and B2.
func low(c pitch.Class) int { return 36 + int(c) }

// firstUppers gives a chord three notes from about middle C up.
func firstUppers(c harmony.Chord) (list []int) {
	for _, class := range wanted(c)[:3] {
		n := 57 + int(class.Up(-9))
		list = append(list, n)
	}
	slices.Sort(list)
	return list
}

// wanted gives a chord's classes in the order in which three voices need them.
func wanted(c harmony.Chord) (list []pitch.Class) {
	for _, s := range []pitch.Set{c.Identity(), c.Classes()} {
		for class := range pitch.Class(12) {
			if s.Has(class) && !slices.Contains(list, class) {
				list = append(list, class)
			}
		}
	}
	return list
}

// Where the upper voices stay, so that they do not wander off.
const lowestUpper, highestUpper = 54, 74

// move leads three voices to a chord: what it has stays, the others go to the nearest
// notes that it lacks, those that tell it apart first.
func move(from []int, c harmony.Chord) []int {
	to := slices.Clone(from)
	var free []int
	var have pitch.Set
	for i, n := range from {
		if class := pitch.ClassOf(n); c.Classes().Has(class) && !have.Has(class) {
			have = have.Add(class)
		} else {
			free = append(free, i)
		}
	}
	best, least := slices.Clone(to), 1<<30
	var try func(k, cost int, have pitch.Set)
	try = func(k, cost int, have pitch.Set) {
		if k == len(free) {
			missing := c.Identity().Minus(have).Len()*100 + (3-min(have.Len(), 3))*40
			if cost+missing < least && ascending(to) {
				best, least = slices.Clone(to), cost+missing
			}
			return
		}
		for d := -7; d <= 7; d++ {
			n := from[free[k]] + d
			if c.Classes().Has(pitch.ClassOf(n)) {
				to[free[k]] = n
				try(k+1, cost+max(d, -d)+4*max(lowestUpper-n, n-highestUpper, 0), have.Add(pitch.ClassOf(n)))
			}
		}
	}
	try(0, 0, have)
	slices.Sort(best)
	return best
}

func ascending(list []int) bool {
	sorted := slices.Sorted(slices.Values(list))
	return len(slices.Compact(sorted)) == len(list)
}

// follow moves the pedal with the speaker.
func (s *script) follow() {
	if s.player == Flat {
		s.say(0, 0xB0, pedal, 60)
		return
	}
	delay := 500*time.Millisecond + 3*s.lateFor
	for at := time.Duration(0); at < s.task.Lasts; at += 200 * time.Millisecond {
		s.say(at+delay, 0xB0, pedal, byte(127*s.task.Voice(at)))
	}
}
