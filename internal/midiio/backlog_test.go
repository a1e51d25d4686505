package midiio

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Against a plain list: what goes in comes out, in order, in whatever parts.
func TestBacklogKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b backlog
		var want [][]byte
		n := 0
		put := func(msg []byte, taken int) {
			size := 0
			for _, m := range want {
				size += len(m) + backlogHead
			}
			fits := size+len(msg)-taken+backlogHead <= backlogSize
			if got := b.put(msg, taken); got != fits {
				t.Fatalf("%d bytes onto %d of %d: room %v", len(msg)-taken, size, backlogSize, got)
			}
			if fits {
				want = append(want, bytes.Clone(msg[taken:]))
			}
		}
		t.Repeat(map[string]func(*rapid.T){
			"note": func(*rapid.T) { n++; put([]byte{0x90, byte(n % 128), byte(n / 128 % 128)}, 0) },
			"sysex": func(t *rapid.T) {
				msg := sysex(rapid.IntRange(2, MaxSysEx).Draw(t, "length"))
				msg[1] = byte(n % 128)
				put(msg, 0)
			},
			"begun": func(t *rapid.T) {
				if len(want) == 0 {
					msg := sysex(rapid.IntRange(3, MaxSysEx).Draw(t, "length"))
					put(msg, rapid.IntRange(1, len(msg)-1).Draw(t, "taken"))
				}
			},
			"take": func(t *rapid.T) {
				if len(want) == 0 {
					return
				}
				k := rapid.IntRange(0, len(want[0])).Draw(t, "bytes")
				b.take(k)
				if want[0] = want[0][k:]; len(want[0]) == 0 {
					want = want[1:]
				}
			},
			"": func(t *rapid.T) {
				if b.messages != len(want) {
					t.Fatalf("%d messages, want %d", b.messages, len(want))
				}
				if len(want) > 0 && !bytes.Equal(b.first(), want[0]) {
					t.Fatalf("first % X, want % X", b.first(), want[0])
				}
			},
		})
	})
}

func TestBacklogHoldsWhatItSays(t *testing.T) {
	var b backlog
	n := 0
	for b.put([]byte{0x90, 60, 1}, 0) {
		n++
	}
	if n != 13_107 {
		t.Errorf("%d messages of three bytes, want 13107", n)
	}
}

// thread is an output whose receiver takes so many bytes and then no more, until
// it is given room again.
type thread struct {
	room     int
	got      []byte
	overruns uint64
}

func (c *thread) Send(msg []byte) (taken int, err error) {
	taken = len(msg)
	if c.room < taken {
		if msg[0] != sysexStart && msg[0] >= 0x80 {
			return 0, ErrSlow
		}
		taken, err = c.room, ErrSlow
	}
	c.room -= taken
	c.got = append(c.got, msg[:taken]...)
	return taken, err
}
func (c *thread) Overruns() uint64 { return c.overruns }
func (c *thread) Alive() bool      { return true }
func (c *thread) Close() error     { return nil }

func TestSlowReceiverGetsAllInOrder(t *testing.T) {
	c := &thread{room: 10}
	o := testOutput(c)
	var want []byte
	for i, msg := range [][]byte{on(0, 1, 1), on(0, 2, 1), sysex(9), on(0, 3, 1), {0xFA}, off(0, 3)} {
		if !o.Send(Player, msg) {
			t.Errorf("message %d: the port counts as gone", i)
		}
		want = append(want, msg...)
	}
	if !bytes.Equal(c.got, want[:10]) {
		t.Errorf("first it gets % X, want % X", c.got, want[:10])
	}
	c.room = 4
	if _, waits := o.catchUp(); !waits {
		t.Error("all has been sent, it says")
	}
	c.room = 100
	if _, waits := o.catchUp(); waits || !bytes.Equal(c.got, want) {
		t.Errorf("then % X, want % X", c.got, want)
	}
	if o.Delayed() != 4 || o.LeftOut() != 0 {
		t.Errorf("%d delayed, %d left out; want 4, 0", o.Delayed(), o.LeftOut())
	}
	o.Send(Player, []byte{0xFC})
	if got := c.got[len(c.got)-1]; got != 0xFC || o.Delayed() != 4 {
		t.Errorf("afterwards %X, %d delayed", got, o.Delayed())
	}
}

// More than the backlog holds: what is left out is left out to the last, and what
// it ended is ended before anything else is sent.
func TestTooManyForTheBacklog(t *testing.T) {
	c := new(thread)
	o := testOutput(c)
	o.Send(Player, sysex(MaxSysEx))
	for len(o.waiting.buf)-o.waiting.end > 1000 {
		o.Send(Player, sysex(500))
	}
	for range 500 {
		o.Send(Player, on(0, 60, 1))
	}
	left := o.LeftOut()
	o.Send(Player, off(0, 60))
	o.Send(Player, on(0, 61, 1))
	o.Send(Player, control(1, damper, 0))
	if left == 0 || o.LeftOut() != left+3 {
		t.Fatalf("%d left out, then %d", left, o.LeftOut())
	}
	c.room = 1 << 20
	o.Send(Player, on(0, 62, 1))
	want := "803C40 B14000 903E01"
	if got := fmt.Sprintf("%X", c.got); !strings.HasSuffix(got, strings.ReplaceAll(want, " ", "")) {
		t.Errorf("at the end %s, want %s", got[len(got)-40:], want)
	}
}

// At the end of a run nobody wants the notes that wait, but all that they end.
func TestFinishSendsEndingsOnly(t *testing.T) {
	c := &thread{room: 3}
	o := testOutput(c)
	for _, msg := range [][]byte{on(0, 60, 1), on(0, 61, 1), off(0, 60), sysex(20), off(0, 61)} {
		o.Send(Player, msg)
	}
	c.room = 1000
	if err := o.finish(); err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprintf("%X", c.got); got != "903C01803C40803D40" {
		t.Errorf("it gets %s", got)
	}
	if o.Send(Player, on(0, 62, 1)) {
		t.Error("something is sent after the end")
	}
}

// A receiver that lost what it had taken gets the endings again.
func TestOverrunIsMadeGood(t *testing.T) {
	c := &thread{room: 1000}
	o := testOutput(c)
	o.Send(Player, on(0, 60, 1))
	o.Send(Player, off(0, 60))
	c.overruns, c.got = 2, nil
	if !o.look() || fmt.Sprintf("%X", c.got) != "803C40" || o.Overruns() != 2 {
		t.Errorf("it gets % X; %d overruns", c.got, o.Overruns())
	}
	c.got = nil
	if !o.look() || len(c.got) > 0 {
		t.Errorf("the second time % X", c.got)
	}
}

// One that still has no room gets them as soon as it has.
func TestOverrunIsMadeGoodLater(t *testing.T) {
	for name, again := range map[string]func(*Output, *thread){
		"it lost messages": func(o *Output, c *thread) { c.overruns = 1; o.look() },
		"it comes back":    func(o *Output, c *thread) { o.lose(); o.restore(c) },
	} {
		c, late := &thread{room: 6}, make(chan struct{}, 1)
		o := testOutput(c)
		o.late = late
		o.Send(Player, on(0, 60, 1))
		o.Send(Player, off(0, 60))
		c.got = nil
		again(o, c)
		if len(late) == 0 {
			t.Fatalf("%s: nobody is told that something waits", name)
		}
		c.room = 3
		o.catchUp()
		if got := fmt.Sprintf("%X", c.got); got != "803C40" {
			t.Errorf("%s: it gets %s", name, got)
		}
	}
}

// Where losses are told at once, what was sent long before is not ended again.
func TestEndingsAge(t *testing.T) {
	now := time.Duration(0)
	first, second := new(cable), new(cable)
	o := testOutput(first)
	o.clock, o.told = func() time.Duration { return now }, true
	for _, s := range []struct {
		at  time.Duration
		key byte
	}{{0, 1}, {100, 2}, {600, 3}, {900, 4}, {1300, 5}} {
		now = s.at * time.Millisecond
		o.Send(Player, off(0, s.key))
	}
	o.lose()
	o.restore(second)
	if got, want := strings.Join(second.sent, " "), "800340 800440 800540"; got != want {
		t.Errorf("ended again: %s, want %s", got, want)
	}
}

// Whatever the receiver takes and when: all that it gets is a prefix of what was
// sent while nothing is left out, and in the end every ending has arrived after the
// last note-on before it.
func TestSlowReceiverLosesNoEnding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := new(thread)
		o := testOutput(c)
		o.waiting.buf = make([]byte, rapid.IntRange(10, 200).Draw(t, "backlog")) // a small one
		var sent []byte
		down := map[byte]bool{}
		for _, step := range rapid.SliceOfN(rapid.IntRange(0, 12), 1, 200).Draw(t, "steps") {
			key := byte(step % 4)
			switch {
			case step < 5:
				o.Send(Player, on(0, key, 1))
				sent = append(sent, on(0, key, 1)...)
				down[key] = true
			case step < 10:
				o.Send(Player, off(0, key))
				sent = append(sent, off(0, key)...)
				down[key] = false
			case step < 12:
				c.room += step
			default:
				o.catchUp()
			}
			if o.LeftOut() == 0 && !bytes.HasPrefix(sent, c.got) {
				t.Fatalf("got % X of % X", c.got, sent)
			}
		}
		c.room = 1 << 20
		if _, waits := o.catchUp(); waits {
			t.Fatal("something still waits")
		}
		if o.LeftOut() == 0 && !bytes.Equal(sent, c.got) {
			t.Fatalf("got % X of % X", c.got, sent)
		}
		sounds := map[byte]bool{}
		for msg := range slices.Chunk(c.got, 3) {
			sounds[msg[1]] = msg[0] == 0x90
		}
		for key := range byte(4) {
			if sounds[key] && !down[key] {
				t.Fatalf("note %d sounds on: % X of % X", key, c.got, sent)
			}
		}
	})
}

func TestSlowSendDoesNotAllocate(t *testing.T) {
	c := new(thread)
	o := testOutput(c)
	msg := []byte{0x80, 60, 64}
	o.Send(Player, msg) // makes the backlog
	n := testing.AllocsPerRun(1000, func() {
		o.Send(Player, msg)
		o.Send(Player, msg)
		c.room += 3
	})
	if n != 0 {
		t.Errorf("Send to a slow receiver allocates %v times, want 0", n)
	}
}
