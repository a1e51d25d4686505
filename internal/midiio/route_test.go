package midiio_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/midiio"

	"pgregory.net/rapid"
)

// crossing is keys and a synth with a wire between them, as in a session.
type crossing struct {
	*stage
	keys, synth midiio.PortInfo
	in          *midiio.Input
	out         *midiio.Output
	wire        *midiio.Wire
	records     []string
	stop        func()
}

// newCrossing opens keys and synth and settles the way between them.
func newCrossing(t *testing.T, prepare func(c *crossing), wished, left bool) *crossing {
	t.Helper()
	c := &crossing{stage: new(stage)}
	c.machine.Announce()
	c.keys, c.synth = c.machine.Plug(input("Keys")), c.machine.Plug(output("Synth"))
	if prepare != nil {
		prepare(c)
	}
	c.start = time.Now()
	c.Ports = midiio.NewPorts(midiio.PortsConfig{
		System: &c.machine,
		Clock:  func() time.Duration { return time.Since(c.start) },
		Lost: func(n midiio.Change) {
			if n.Way == midiio.Out {
				c.wire.Lost()
			}
		},
		Returned: func(n midiio.Change) {
			if n.Way == midiio.Out {
				c.wire.Returned(time.Since(c.start))
			}
		},
		Carries: func(r midiio.Route) { c.write("%v by %d: %v", r.Connection, r.By, r.Err) },
		Record:  func(list []midiio.Connection) { c.records = append(c.records, fmt.Sprint(list)) },
	})
	var err error
	if c.out, err = c.OpenOut(c.synth); err != nil {
		t.Fatal(err)
	}
	c.wire = midiio.NewWire(midiio.WireConfig{}, sink{c.out})
	c.in, err = c.OpenIn(c.keys, func(at time.Duration, msg []byte, by midiio.Carried) {
		switch {
		case by.Ours.Has(0):
			c.wire.Carried(msg)
		case !by.Others.Has(0):
			c.wire.Player(at, msg)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	r := c.Route(c.in, 0, wished, func(midiio.Connection) bool { return left })
	c.write("%v by %d: %v", r.Connection, r.By, r.Err)
	c.Listen(true)
	c.stop = c.run()
	return c
}

func (c *crossing) connection() midiio.Connection { return midiio.Connection{In: c.keys, Out: c.synth} }

// hears plays on the keys and wants the synth to hear some messages.
func (c *crossing) hears(t *testing.T, want string, played ...byte) {
	t.Helper()
	if len(played) > 0 {
		c.machine.Play(c.keys, played...)
	}
	if got := fmt.Sprintf("%X", c.machine.Sent(c.synth)); got != want {
		t.Errorf("after % X the synth hears %s, want %s", played, got, want)
	}
}

func (c *crossing) recorded(t *testing.T, want ...string) {
	t.Helper()
	if !slices.Equal(c.records, want) {
		t.Errorf("on record were\n%s\nwant\n%s", strings.Join(c.records, "\n"), strings.Join(want, "\n"))
	}
	c.records = nil
}

// The piano goes by the connection alone, bedd knows of it, and at the end both
// the connection and what the keys still hold are ended, once.
func TestRouteOfBeddsOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := newCrossing(t, nil, true, false)
		defer c.stop()
		c.recorded(t, "[Keys to Synth]")
		c.hears(t, "[903C50]", 0x90, 60, 80)
		c.hears(t, "[903E50]", 0x90, 62, 80)
		c.hears(t, "[803C40]", 0x80, 60, 64)
		if n := c.wire.Sounding(); n != 1 {
			t.Errorf("the ledger counts %d notes, want 1", n)
		}
		pass(time.Second)
		c.hears(t, "[]")
		if err := c.Disconnect(); err != nil {
			t.Error(err)
		}
		if c.machine.Connected(c.connection()) {
			t.Error("the connection is still there")
		}
		c.hears(t, "[803E40]")
		c.recorded(t, "[]")
		c.hears(t, "[903F50]", 0x90, 63, 80) // bedd itself again
		c.Listen(false)
		c.wire.Close(0)
		pass(time.Second)
		c.expect(t, "0s Keys to Synth by 1: <nil>")
	})
}

// All notes off ends what the keys hold past bedd too.
func TestRouteIsInTheLedger(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := newCrossing(t, nil, true, false)
		defer c.stop()
		c.hears(t, "[903C50]", 0x90, 60, 80)
		c.wire.AllNotesOff(0)
		if got := c.machine.Sent(c.synth); fmt.Sprintf("%X", got[0]) != "803C40" {
			t.Errorf("all notes off begins with % X", got[0])
		}
	})
}

// Keys and synth that somebody else has connected get nothing from bedd, and what
// they hold at the end goes on; bedd carries as soon as they are cut off, and stops
// when they are connected.
func TestRouteOfOthers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, wished := range []bool{false, true} {
			c := newCrossing(t, func(c *crossing) {
				if err := c.machine.Connect(c.connection()); err != nil {
					t.Fatal(err)
				}
			}, wished, false)
			c.hears(t, "[903C50]", 0x90, 60, 80)
			if n := c.wire.Sounding(); n != 0 {
				t.Errorf("the ledger counts %d notes of a connection that stays", n)
			}
			if err := c.Disconnect(); err != nil {
				t.Error(err)
			}
			c.hears(t, "[]")
			if !c.machine.Connected(c.connection()) {
				t.Error("another's connection was ended")
			}
			if err := c.machine.Disconnect(c.connection()); err != nil {
				t.Fatal(err)
			}
			pass(time.Millisecond)
			c.hears(t, "[803C40]", 0x80, 60, 64)
			if err := c.machine.Connect(c.connection()); err != nil {
				t.Fatal(err)
			}
			pass(time.Millisecond)
			c.hears(t, "[903C50]", 0x90, 60, 80)
			c.expect(t, "0s Keys to Synth by 2: <nil>", "0s Keys to Synth by 0: <nil>", "1ms Keys to Synth by 2: <nil>")
			if slices.ContainsFunc(c.records, func(s string) bool { return s != "[]" }) {
				t.Errorf("on record: %v", c.records)
			}
			c.stop()
		}
	})
}

// A connection that somebody cuts is not made again: bedd carries. One whose
// device was pulled out is made when it is back, and in between nothing hangs.
func TestRouteThroughCutAndLoss(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := newCrossing(t, nil, true, false)
		defer c.stop()
		c.hears(t, "[903C50]", 0x90, 60, 80)
		if err := c.machine.Disconnect(c.connection()); err != nil {
			t.Fatal(err)
		}
		pass(time.Second)
		c.hears(t, "[803C40]", 0x80, 60, 64)
		c.hears(t, "[903C50]", 0x90, 60, 80)
		if n := c.wire.Sounding(); n != 1 {
			t.Errorf("the ledger counts %d notes, want 1", n)
		}
		c.expect(t, "0s Keys to Synth by 1: <nil>", "0s Keys to Synth by 0: <nil>")

		c.machine.Unplug(c.synth)
		pass(time.Second)
		c.machine.Play(c.keys, 0x80, 60, 64)
		c.synth = c.machine.Plug(output("Synth"))
		pass(time.Second)
		c.hears(t, "[803C40 803C40]") // by the output, which may have lost it, and by the ledger
		c.hears(t, "[903E50]", 0x90, 62, 80)
		c.expect(t, "2s Keys to Synth by 1: <nil>")

		c.machine.Unplug(c.keys)
		pass(time.Millisecond)
		c.keys = c.machine.Plug(input("Keys"))
		pass(time.Millisecond)
		c.in.LetGo(func(time.Duration, []byte) {}) // though they are connected again
		c.hears(t, "[803E40]")
		c.hears(t, "[904050]", 0x90, 64, 80)
		c.expect(t, "3.001s Keys to Synth by 1: <nil>")
	})
}

// What an earlier bedd has left counts as this one's: until it listens nothing
// changes, then bedd carries in its place, or the connection goes on.
func TestRouteLeftByAnEarlierBedd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, wished := range []bool{false, true} {
			c := newCrossing(t, func(c *crossing) {
				if err := c.machine.Connect(c.connection()); err != nil {
					t.Fatal(err)
				}
			}, wished, true)
			c.hears(t, "[903C50]", 0x90, 60, 80)
			if err := c.TakeOver(); err != nil {
				t.Error(err)
			}
			if got := c.machine.Connected(c.connection()); got != wished {
				t.Errorf("wished %v, connected %v", wished, got)
			}
			c.hears(t, "[803C40]", 0x80, 60, 64)
			c.hears(t, "[903C51]", 0x90, 60, 81)
			if err := c.Disconnect(); err != nil {
				t.Error(err)
			}
			if c.machine.Connected(c.connection()) {
				t.Error("it is left again")
			}
			c.wire.Close(0)
			if got := fmt.Sprintf("%X", c.machine.Sent(c.synth)); !strings.HasPrefix(got, "[803C40") {
				t.Errorf("wished %v: at the end the synth hears %s", wished, got)
			}
			c.stop()
		}
	})
}

// A bedd that fails before it listens leaves the piano as it was.
func TestRouteIsLeftByABeddThatFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := newCrossing(t, func(c *crossing) { _ = c.machine.Connect(c.connection()) }, false, true)
		defer c.stop()
		if err := c.Disconnect(); err != nil || !c.machine.Connected(c.connection()) {
			t.Errorf("the connection was ended, %v", err)
		}
	})
}

// Where no connection can be made bedd carries, and says why.
func TestRouteThatCannotBe(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := newCrossing(t, func(c *crossing) { c.machine.FailConnect(midiio.ErrNoConnect) }, true, false)
		defer c.stop()
		pass(time.Second)
		c.hears(t, "[903C50]", 0x90, 60, 80)
		c.recorded(t, "[Keys to Synth]", "[]")
		c.expect(t, "0s Keys to Synth by 0: "+midiio.ErrNoConnect.Error())
	})
}

// The echo of what went past bedd is known for one.
func TestEchoOfARoute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newStage()
		keys, back := s.machine.Plug(input("Keys")), s.machine.Plug(input("Back"))
		synth := s.machine.Plug(output("Synth"))
		if _, err := s.OpenOut(synth); err != nil {
			t.Fatal(err)
		}
		in, err := s.OpenIn(keys, nil)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.OpenIn(back, nil); err != nil {
			t.Fatal(err)
		}
		if r := s.Route(in, 0, true, nil); r.By != midiio.ByConnection {
			t.Fatalf("carried by %d: %v", r.By, r.Err)
		}
		s.Listen(true)
		for i := range byte(3) {
			s.machine.Play(keys, 0x90, 60+i, 80)
			pass(time.Millisecond)
			s.machine.Play(back, 0x90, 60+i, 80)
			pass(time.Second)
		}
		if n := s.Echoes(); n != 3 {
			t.Errorf("%d echoes, want 3", n)
		}
	})
}

// Whoever connects and cuts, and whatever is pulled out: once the keys are up
// nothing sounds, and of what bedd carried or connected nothing sounds at the end.
func TestRoutesLeaveNothingSounding(t *testing.T) {
	steps := rapid.SliceOfN(rapid.SampledFrom([]string{"press", "press", "press", "release", "connect", "cut", "synth", "keys", "wait"}), 0, 40)
	rapid.Check(t, func(rt *rapid.T) {
		wished, plan := rapid.Bool().Draw(rt, "wished"), steps.Draw(rt, "plan")
		var sounding []string
		synctest.Test(t, func(t *testing.T) {
			c := newCrossing(t, nil, wished, false)
			defer c.stop()
			sounding = c.troubles(plan)
		})
		if len(sounding) > 0 {
			rt.Errorf("at the end %v sound", sounding)
		}
	})
}

// troubles carries out a plan, ends the run, and gives the notes that then sound.
func (c *crossing) troubles(plan []string) (sounding []string) {
	on := map[byte]bool{}
	hear := func() {
		for _, msg := range c.machine.Sent(c.synth) {
			switch msg[0] & 0xF0 {
			case 0x90:
				on[msg[1]] = true
			case 0x80:
				delete(on, msg[1])
			}
		}
	}
	var down []byte
	unplugged, others := false, false
	for i, do := range plan {
		switch do {
		case "press":
			down = append(down, byte(i))
			c.machine.Play(c.keys, 0x90, byte(i), 80)
		case "release":
			if len(down) > 0 {
				c.machine.Play(c.keys, 0x80, down[0], 64)
				down = down[1:]
			}
		case "connect":
			others = !unplugged && c.machine.Connect(c.connection()) == nil || others
		case "cut":
			_ = c.machine.Disconnect(c.connection())
		case "synth":
			if others {
				break // what it then misses is for who has connected it
			}
			if unplugged = !unplugged; unplugged {
				c.machine.Unplug(c.synth)
			} else {
				c.synth = c.machine.Plug(output("Synth"))
			}
		case "keys":
			c.machine.Unplug(c.keys)
			down = nil
			pass(time.Millisecond)
			c.keys = c.machine.Plug(input("Keys"))
			pass(time.Millisecond)
			c.in.LetGo(func(time.Duration, []byte) {})
		case "wait":
			pass(10 * time.Millisecond)
		}
		synctest.Wait() // what has changed is announced
		hear()
	}
	if unplugged {
		c.synth = c.machine.Plug(output("Synth"))
	}
	pass(time.Second)
	if others { // what another's connection has begun is for the keys to end
		for _, key := range down {
			c.machine.Play(c.keys, 0x80, key, 64)
		}
	}
	_ = c.Disconnect()
	c.Listen(false)
	c.wire.Close(0)
	hear()
	for key := range on {
		sounding = append(sounding, fmt.Sprintf("%d", key))
	}
	return sounding
}
