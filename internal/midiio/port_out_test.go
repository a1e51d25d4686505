package midiio

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// cable is an output that takes down what arrives until it is pulled out.
type cable struct {
	sent   []string
	pulled bool
	closed bool
}

func (c *cable) Send(msg []byte) (int, error) {
	if !c.pulled {
		c.sent = append(c.sent, fmt.Sprintf("%X", msg))
	}
	return len(msg), nil
}
func (c *cable) Overruns() uint64 { return 0 }
func (c *cable) Alive() bool      { return !c.pulled }
func (c *cable) Close() error     { c.closed = true; return nil }

func TestOutputRefuses(t *testing.T) {
	c := new(cable)
	o := testOutput(c)
	for _, msg := range [][]byte{nil, {0x90, 60}, {60, 1}, {0xF0, 1}, {0xF7}, {0x90, 60, 200}, {0xF4}, sysex(MaxSysEx + 1)} {
		if !o.Send(Player, msg) {
			t.Errorf("% X: the port counts as gone", msg)
		}
	}
	if len(c.sent) != 0 || o.Refused() != 8 {
		t.Errorf("sent %v, refused %d, want none and 8", c.sent, o.Refused())
	}
	if !o.Send(Player, sysex(MaxSysEx)) || len(c.sent) != 1 {
		t.Error("the longest SysEx was not sent")
	}
}

func TestOutputEndsAgainWhatWasLost(t *testing.T) {
	first, second := new(cable), new(cable)
	o := testOutput(first)
	send := func(msgs ...[]byte) {
		for _, m := range msgs {
			o.Send(Player, m)
		}
	}
	send(on(0, 60, 1), on(0, 61, 1), on(0, 62, 1), off(0, 60))
	if !o.look() {
		t.Fatal("a port that is there is not alive")
	}
	first.pulled = true
	send(off(0, 61), on(3, 127, 0), control(0, 64, 0), control(1, 66, 0), control(2, 69, 5),
		control(4, 64, 0), control(4, 64, 127), control(5, 123, 0), control(5, 120, 1), []byte{0xC0, 1}, []byte{0xFF})
	if o.look() {
		t.Fatal("a port that went is alive")
	}
	o.lose()
	if !first.closed || o.Send(Player, on(0, 70, 1)) || o.look() {
		t.Error("a lost port takes messages")
	}
	o.restore(second)
	const want = "803D40 B04000 B14200 837F40 B57800 B57B00"
	if got := strings.Join(second.sent, " "); got != want {
		t.Errorf("ended again: %s, want %s", got, want)
	}
	second.sent = nil
	o.lose()
	o.restore(first)
	if len(second.sent) != 0 || !o.Send(Player, on(0, 70, 1)) {
		t.Errorf("the second time: %v", second.sent)
	}
}

// Pulled out at any time between two looks, no note sounds on that the player
// let go: each note-off and pedal up arrives before or after.
func TestOutputLosesNoEnding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first, second := new(cable), new(cable)
		o := testOutput(first)
		var ended []string
		steps := rapid.SliceOfN(rapid.IntRange(0, 9), 1, 60).Draw(t, "steps")
		pull := rapid.IntRange(0, len(steps)-1).Draw(t, "pulled at")
		for i, step := range steps {
			if i == pull {
				first.pulled = true
			}
			key := byte(step * 13)
			switch {
			case step == 0:
				if o.look() == first.pulled {
					t.Fatal("the look is wrong")
				}
				if first.pulled {
					o.lose()
				}
			case step < 5:
				o.Send(Player, on(0, key, 1))
			case o.Send(Player, off(0, key)):
				ended = append(ended, fmt.Sprintf("80%02X", key))
			}
		}
		o.lose()
		o.restore(second)
		arrived := append(first.sent, second.sent...)
		for _, want := range ended {
			if !slices.ContainsFunc(arrived, func(got string) bool { return strings.HasPrefix(got, want) }) {
				t.Fatalf("%s never arrived: %v", want, arrived)
			}
		}
	})
}

func TestOutputDoesNotAllocate(t *testing.T) {
	o := testOutput(deafPort{})
	msg := []byte{0x80, 60, 64}
	if n := testing.AllocsPerRun(1000, func() { o.Send(Player, msg) }); n != 0 {
		t.Errorf("Send allocates %v times, want 0", n)
	}
}

type deafPort struct{}

func (deafPort) Send(msg []byte) (int, error) { return len(msg), nil }
func (deafPort) Overruns() uint64             { return 0 }
func (deafPort) Alive() bool                  { return true }
func (deafPort) Close() error                 { return nil }

func TestEndings(t *testing.T) {
	for _, c := range []struct {
		msg  []byte
		want string
	}{
		{off(15, 127), "8F7F40"},
		{on(0, 0, 0), "800040"},
		{on(0, 0, 1), ""},
		{control(2, 64, 0), "B24000"},
		{control(2, 64, 63), ""}, // half-pedalling: the next value ends it
		{control(2, 120, 0), "B27800"},
		{control(2, 123, 127), "B27B00"},
		{control(2, 11, 0), ""},
		{sysex(8), ""},
	} {
		var e endings
		e.add(c.msg)
		port := new(cable)
		if !e.send(func(msg []byte) bool { _, err := port.Send(msg); return err == nil }) || e != (endings{}) {
			t.Errorf("% X: not all was sent", c.msg)
		}
		if got := strings.Join(port.sent, " "); got != c.want {
			t.Errorf("% X: %s, want %s", c.msg, got, c.want)
		}
	}
}

// sheet is a board that knows what sounds.
type sheet struct{ on map[byte]int }

func (s sheet) Before(msg []byte) {
	if on, _ := noteEdge(msg); on {
		s.on[msg[1]]++
	}
}

func (s sheet) After(msg []byte) {
	if _, off := noteEdge(msg); off {
		s.on[msg[1]]--
	}
}

// notesIn gives the notes that bytes hold.
func notesIn(stream []byte) (list [][]byte) {
	c := &cutter{emit: func(msg []byte) {
		if msg[0] < sysexStart {
			list = append(list, slices.Clone(msg))
		}
	}}
	c.write(stream)
	return list
}

// Whatever waits, for the line or for a receiver that is full: the board has every
// note on it that sounds, and in the end no other.
func TestBoardHasWhatSounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, s := new(thread), sheet{map[byte]int{}}
		o := testOutput(c)
		now := time.Duration(0)
		o.clock = func() time.Duration { return now }
		o.Tell(s)
		if rapid.Bool().Draw(t, "on a cable") {
			o.keepTo(DINBaud)
		}
		down := [8]bool{}
		check := func() {
			sounds := map[byte]int{}
			for _, m := range notesIn(c.got) {
				if m[0]&0xF0 == noteOn {
					sounds[m[1]]++
				} else {
					sounds[m[1]]--
				}
			}
			for key, n := range sounds {
				if n > s.on[key] {
					t.Fatalf("note %d sounds, and the board has %v", key, s.on)
				}
			}
		}
		for range rapid.IntRange(1, 100).Draw(t, "messages") {
			now += time.Duration(rapid.IntRange(0, 3).Draw(t, "ms")) * time.Millisecond
			c.room += rapid.IntRange(0, 6).Draw(t, "room")
			o.catchUp()
			check()
			key := byte(rapid.IntRange(0, 8).Draw(t, "key"))
			if key == 8 {
				o.Send(Player, sysex(7))
			} else if down[key] = !down[key]; down[key] {
				o.Send(Bed, on(1, key, 60))
			} else {
				o.Send(Bed, off(1, key))
			}
			check()
		}
		c.room, now = 1<<20, now+time.Minute
		for range 300 {
			o.catchUp()
			now += time.Millisecond
		}
		check()
		for key, is := range down {
			if want := map[bool]int{true: 1}[is]; s.on[byte(key)] != want {
				t.Fatalf("in the end the board has %v of note %d, want %d", s.on[byte(key)], key, want)
			}
		}
	})
}

// A strike that was on the board when its port went takes none from the next.
func TestBoardAfterALoss(t *testing.T) {
	s := sheet{map[byte]int{}}
	o := testOutput(new(thread))
	o.Tell(s)
	o.Send(Bed, on(1, 60, 60)) // has no room
	o.lose()
	o.restore(&thread{room: 3})
	o.Send(Bed, on(1, 61, 60))
	if s.on[61] != 1 {
		t.Errorf("the board has %v", s.on)
	}
}
