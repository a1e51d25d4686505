package midiio

import (
	"slices"
	"testing"
	"time"
)

const us = time.Microsecond

// cableModel is a serial line by itself: bytes leave one after the other, each
// as late as its place says.
type cableModel struct {
	byteTime time.Duration
	bytes    []cableByte
}

type cableByte struct {
	from    Source
	channel uint8
	end     time.Duration // when it has left
}

func newCable(baud float64) *cableModel {
	return &cableModel{byteTime: time.Duration(10 * float64(time.Second) / baud)}
}

// put gives the line a message, and tells how long its first byte waits, and how
// much of that is for others than the player, on other channels.
func (c *cableModel) put(at time.Duration, from Source, msg []byte) (wait, forOthers time.Duration) {
	start := at
	for i := len(c.bytes) - 1; i >= 0 && c.bytes[i].end > at; i-- {
		b := c.bytes[i]
		start = max(start, b.end)
		if b.from != Player && b.channel != msg[0]&15 {
			forOthers += min(b.end-at, c.byteTime)
		}
	}
	for i := range msg {
		c.bytes = append(c.bytes, cableByte{from, msg[0] & 15, start + time.Duration(i+1)*c.byteTime})
	}
	return start - at, forOthers
}

// arrival is a message that has come out of a pacer.
type arrival struct {
	at   time.Duration
	from Source // the player's have channels of their own here
	msg  []byte
}

// pacing drives a pacer by a made-up clock, whose alarms may be late.
type pacing struct {
	*Pacer
	now     time.Duration
	late    func() time.Duration
	cable   *cableModel
	alone   *cableModel // with the player's messages only
	sending Source
	got     []arrival
	worst   struct{ forOthers, more time.Duration } // of the player's messages
}

// newPacing is a pacer for a cable of the usual rate, in front of one of some
// other, on which the player has the channels from 8 on.
func newPacing(real float64, late func() time.Duration) *pacing {
	l := &pacing{late: late, cable: newCable(real), alone: newCable(real)}
	l.Pacer = NewPacer(DINBaud, func(msg []byte) {
		from := Bed
		if msg[0]&15 >= 8 || msg[0] >= sysexStart {
			from = l.sending
		}
		l.Sent(l.now, len(msg))
		wait, forOthers := l.cable.put(l.now, from, msg)
		l.got = append(l.got, arrival{l.now, from, slices.Clone(msg)})
		if from == Player {
			alone, _ := l.alone.put(l.now, Player, msg)
			l.worst.forOthers = max(l.worst.forOthers, forOthers)
			l.worst.more = max(l.worst.more, wait-alone)
		}
	})
	return l
}

// until lets time pass.
func (l *pacing) until(at time.Duration) {
	for {
		due, waits := l.Deadline()
		if due = max(due, l.now) + l.late(); !waits || due > at {
			break
		}
		l.now, l.sending = due, Bed
		if l.values.n > 0 {
			l.sending = Player // what comes out on the player's channels
		}
		l.Advance(due)
	}
	l.now = at
}

func (l *pacing) send(from Source, msg []byte) {
	l.sending = from
	l.Send(l.now, from, msg)
}

func inTime() time.Duration { return 0 }

// The worst of moments at once: a chord change in two layers of seven voices,
// levels, the set-up after a reset, all notes off on every channel, and ten fingers
// at any time in between. No note waits more than 3 ms for what bedd sends, on the
// slowest cable that the standard allows and on the fastest, and however late the
// pacer is woken.
func TestNoNoteWaits3msForTheBed(t *testing.T) {
	for _, real := range []float64{DINBaud * 0.99, DINBaud, DINBaud * 1.01} {
		for _, lateness := range []time.Duration{0, 300 * us, 2 * time.Millisecond} {
			for start := time.Duration(0); start < 60*time.Millisecond; start += 170 * us {
				l := newPacing(real, func() time.Duration { return lateness })
				play := func(until time.Duration) { // ten fingers, 5 ms after each other
					for l.now < until {
						l.until(min(l.now+5*time.Millisecond, until))
						if l.now >= start {
							l.send(Player, on(8, byte(l.now/time.Millisecond%128), 80))
						}
					}
				}
				for key := range byte(7) {
					l.send(Bed, on(1, 40+key, 60))
					l.send(Bed, on(2, 60+key, 60))
				}
				play(20 * time.Millisecond)
				for ch := range byte(2) {
					l.send(Bed, control(1+ch, 11, 40))
					for _, m := range [][]byte{control(1+ch, 0, 121), control(1+ch, 32, 0), {0xC1 + ch, 89}, control(1+ch, 7, 100), control(1+ch, 11, 0)} {
						l.send(Ledger, m)
					}
				}
				play(25 * time.Millisecond)
				for key := range byte(7) {
					l.send(Bed, off(1, 40+key))
					l.send(Bed, off(2, 60+key))
				}
				play(30 * time.Millisecond)
				for ch := range byte(16) {
					if ch == 8 {
						continue // where the player must come after it
					}
					for _, c := range []byte{damper, allNotesOff, allSoundOff} {
						l.send(Ledger, control(ch, c, 0))
					}
				}
				play(400 * time.Millisecond)
				if l.worst.forOthers > 3*time.Millisecond || l.worst.more > 3*time.Millisecond {
					t.Fatalf("%v baud, alarms %v late, fingers from %v: a note waits %v for the bed, %v more than without it", real, lateness, start, l.worst.forOthers, l.worst.more)
				}
				if _, waits := l.Deadline(); waits {
					t.Fatalf("%d messages still wait", l.bed.n)
				}
			}
		}
	}
}

// How late the bed's own notes are then: fourteen at once take what the cable takes.
func TestNewNotesTakeWhatTheCableTakes(t *testing.T) {
	l := newPacing(DINBaud, inTime)
	for key := range byte(7) {
		l.send(Bed, off(1, 30+key))
		l.send(Bed, control(1, 11, 20+key))
		l.send(Bed, on(1, 40+key, 60))
		l.send(Bed, on(2, 60+key, 60))
	}
	l.until(time.Second)
	last := time.Duration(0)
	for i, a := range l.got {
		if a.msg[0]&0xF0 == noteOn {
			last = a.at
			if i >= 16 {
				t.Errorf("a new note comes after %d messages", i)
			}
		}
	}
	if want := 16 * 970 * us; last > want {
		t.Errorf("the last new note goes out after %v, want %v at most", last, want)
	}
}

// A pedal that sends 500 values a second, which is half of what the cable carries,
// comes through whole while the bed changes and a hand plays; none of its values is
// late by more than the bed and one note take.
func TestOrdinaryPedalBesideTheBed(t *testing.T) {
	l := newPacing(DINBaud, inTime)
	sent := map[byte]time.Duration{}
	next, worst := byte(0), time.Duration(0)
	for i := range 2000 {
		l.until(time.Duration(i) * 2 * time.Millisecond)
		if i%250 == 0 {
			for key := range byte(7) {
				l.send(Bed, on(1, 40+key, 60))
				l.send(Bed, on(2, 60+key, 60))
			}
		}
		if i%250 == 125 {
			for key := range byte(7) {
				l.send(Bed, off(1, 40+key))
				l.send(Bed, off(2, 60+key))
			}
		}
		if i%50 == 3 {
			l.send(Player, on(8, 60, byte(1+i%100)))
		}
		v := byte(i % 60)
		sent[v] = l.now
		l.send(Player, control(8, 11, v))
		for _, a := range l.got {
			if a.msg[0] == control(8, 11, 0)[0] {
				if a.msg[2] != next {
					t.Fatalf("at %v value %d comes where %d is due", a.at, a.msg[2], next)
				}
				worst = max(worst, a.at-sent[next])
				next = (next + 1) % 60
			}
		}
		l.got = l.got[:0]
	}
	if worst > 3*time.Millisecond || l.Load().Overtaken > 0 || next != 2000%60 {
		t.Errorf("a value goes out %v late, %d are void, the next would be %d", worst, l.Load().Overtaken, next)
	}
}

// scene is a second of playing: a chord change in two layers, levels each 20 ms, and
// a hand's notes and pedal.
func scene(p *Pacer, now *time.Duration, data *[3]byte) (messages int) {
	send := func(from Source, a, b, c byte) {
		*data = [3]byte{a, b, c}
		p.Send(*now, from, data[:])
		messages++
	}
	for step := range byte(50) {
		until := *now + 20*time.Millisecond
		for due, waits := p.Deadline(); waits && due < until; due, waits = p.Deadline() {
			*now = max(due, *now)
			p.Advance(*now)
		}
		*now = until
		send(Bed, 0xB1, 11, 20+step)
		send(Bed, 0xB2, 11, 10+step)
		send(Player, 0xB8, damper, step)
		for key := range byte(7) {
			switch step {
			case 10:
				send(Bed, 0x91, 40+key, 60)
				send(Bed, 0x92, 60+key, 60)
			case 12:
				send(Bed, 0x81, 40+key, 64)
				send(Bed, 0x82, 60+key, 64)
			}
		}
		send(Player, 0x98, 60+step, 100*(step&1))
	}
	return messages
}

func scenePacer() (p *Pacer, now *time.Duration, data *[3]byte) {
	now = new(time.Duration)
	p = NewPacer(DINBaud, func(msg []byte) { p.Sent(*now, len(msg)) })
	return p, now, new([3]byte)
}

func TestPacingDoesNotAllocate(t *testing.T) {
	p, now, data := scenePacer()
	if n := testing.AllocsPerRun(100, func() { scene(p, now, data) }); n != 0 {
		t.Errorf("a second of playing allocates %v times, want 0", n)
	}
}

func BenchmarkPacerScene(b *testing.B) {
	p, now, data := scenePacer()
	messages := 0
	b.ReportAllocs()
	for b.Loop() {
		messages += scene(p, now, data)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(messages), "ns/message")
}

// A full queue: the most that one message can cost.
func BenchmarkPacerFull(b *testing.B) {
	p, now, _ := scenePacer()
	msg := []byte{0xB1, 7, 0}
	for i := range maxPaced + 4 {
		p.Send(*now, Ledger, []byte{0xB1 + byte(i%2), byte(i % 64), 0})
	}
	b.ReportAllocs()
	for b.Loop() {
		p.Send(*now, Ledger, msg)
	}
}

// Where the machine stalls between a decision and the line, the bed that sends
// nothing is not to blame.
func TestWithoutTheBedNobodyWaitsForIt(t *testing.T) {
	now := time.Duration(0)
	var p *Pacer
	p = NewPacer(DINBaud, func(msg []byte) {
		now += time.Duration(msg[2]) * 50 * us
		p.Sent(now, len(msg))
	})
	for i := range 5000 {
		now += 200 * us
		p.Advance(now)
		p.Send(now, Player, control(0, 11, byte(i%60)))
		if i%50 == 0 {
			p.Send(now, Player, on(9, 60, 10))
		}
	}
	if l := p.Load(); l.ForBed != 0 || l.Wait == 0 {
		t.Errorf("the load is %+v", l)
	}
}
