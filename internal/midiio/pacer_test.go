package midiio

import (
	"slices"
	"testing"
	"time"
)

const us = time.Microsecond

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

// After the player's longest SysEx, which takes two thirds of a second, a note waits
// for that, and not for a chord change and all notes off besides.
func TestNoNoteWaitsForTheBedAfterSysEx(t *testing.T) {
	long := make([]byte, MaxSysEx)
	long[0], long[len(long)-1] = sysexStart, sysexEnd
	for start := 100 * time.Millisecond; start < time.Second; start += 10 * time.Millisecond {
		l := newPacing(DINBaud, inTime)
		l.send(Player, long)
		for i := range byte(7) {
			l.send(Bed, on(1, 40+i, 60))
			l.send(Bed, control(1, 11, i))
			l.send(Bed, on(2, 60+i, 60))
		}
		for ch := range byte(7) {
			l.send(Ledger, control(ch, allNotesOff, 0))
		}
		l.until(start)
		l.send(Player, on(8, 60, 80))
		if l.worst.forOthers > 3*time.Millisecond || l.worst.more > 3*time.Millisecond {
			t.Fatalf("after %v a note waits %v for the bed, %v more than without it", start, l.worst.forOthers, l.worst.more)
		}
		l.until(time.Second)
		if l.bed.n > 0 {
			t.Fatalf("%d messages of the bed's still wait", l.bed.n)
		}
	}
}

// Beside a player who leaves the line no pause, the bed's note comes late, but comes.
func TestBedIsHeardOnALineThatIsNeverIdle(t *testing.T) {
	l := newPacing(DINBaud, inTime)
	for i := range byte(10) { // the line stays so far behind
		l.send(Player, on(8, i, 80))
	}
	l.send(Bed, on(1, 40, 60))
	for i := range 1000 {
		l.until(l.now + l.line.takes(3))
		l.send(Player, on(8, byte(i%128), 80))
	}
	i := slices.IndexFunc(l.got, func(a arrival) bool { return a.msg[0] == 0x91 })
	if i < 0 || l.got[i].at < bedPatience || l.got[i].at > bedPatience+10*time.Millisecond {
		t.Errorf("of %d messages the bed's is number %d", len(l.got), i)
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
