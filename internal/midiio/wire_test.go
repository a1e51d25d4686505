package midiio

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// The rig of these tests: the player on channel 1, the bed on 2, both on 3.
var rig = WireConfig{Channels: [16]Use{1: Reserved, 2: Shared}}

func newRig() (*Wire, *synth) {
	s := new(synth)
	return NewWire(rig, s), s
}

func on(ch, key, velocity byte) []byte      { return []byte{0x90 | ch, key, velocity} }
func off(ch, key byte) []byte               { return []byte{0x80 | ch, key, 30} }
func control(ch, number, value byte) []byte { return []byte{0xB0 | ch, number, value} }

// What may happen to a wire, as steps of a table.
func player(w *Wire, msg ...byte) func()  { return func() { w.Player(0, msg) } }
func carried(w *Wire, msg ...byte) func() { return func() { w.Carried(msg) } }
func bedSays(w *Wire, msg ...byte) func() { return func() { w.Bed(0, msg) } }
func finish(w *Wire) func()               { return func() { w.Finish(0) } }
func allOff(w *Wire) func()               { return func() { w.AllNotesOff(0) } }
func dies(s *synth) func()                { return func() { s.dead = true } }
func returned(w *Wire, s *synth) func()   { return func() { s.dead = false; w.Returned(0) } }
func resume(w *Wire) func()               { return func() { w.Resume(0) } }

// silence is how all notes off is heard on channels.
func silence(channels ...byte) string {
	var list []string
	for _, ch := range channels {
		for _, number := range []byte{64, 123, 120} {
			list = append(list, fmt.Sprintf("ledger %X", control(ch, number, 0)))
		}
	}
	return strings.Join(list, ", ")
}

func TestWire(t *testing.T) {
	everywhere := silence(1, 2, 0, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
	type say struct {
		do   func()
		want string // what the synth hears
	}
	for _, c := range []struct {
		name  string
		steps func(w *Wire, s *synth) []say
	}{
		{"carried by another way: not sent, but ended, or let go where it went through", func(w *Wire, _ *synth) []say {
			return []say{
				{carried(w, 0x90, 60, 9), ""}, {carried(w, 0x90, 62, 9), ""}, {carried(w, 0x90, 62, 0), ""},
				{carried(w, 0xB0, 64, 127), ""}, {carried(w, 0xE0, 0, 70), ""}, {carried(w, 0xF8), ""}, {carried(w, 0x90, 60), ""},
				{carried(w, 0x91, 60, 9), ""}, {carried(w, 0x92, 60, 9), ""}, // the bed's channel and a shared one
				{finish(w), "ledger 803C40, ledger B04000"},
				{player(w, 0x90, 60, 9), "player 903C09"}, {carried(w, 0x80, 60, 5), ""}, {finish(w), ""},
				{carried(w, 0x90, 60, 9), ""}, {player(w, 0x80, 60, 5), "player 803C05"}, {finish(w), ""},
			}
		}},
		{"carried before a loss: ended on return", func(w *Wire, s *synth) []say {
			return []say{
				{carried(w, 0x90, 60, 9), ""}, {w.Lost, ""}, {carried(w, 0x80, 60, 5), ""}, {carried(w, 0x90, 62, 9), ""},
				{returned(w, s), "ledger 803C40"}, {finish(w), ""},
			}
		}},
		{"open: unchanged, doubled and late offs too", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {player(w, 0x90, 60, 8), "player 903C08"},
				{player(w, 0x90, 60, 0), "player 903C00"}, {player(w, 0x80, 60, 5), "player 803C05"}, {player(w, 0x80, 60, 5), "player 803C05"},
				{player(w, 0xB0, 123, 0), "player B07B00"}, {player(w, 0xC0, 4), "player C004"},
				{player(w, 0xF0, 1, 0xF7), "player F001F7"}, {player(w, 0xF8), "player F8"},
			}
		}},
		{"open: the bed stays out", func(w *Wire, _ *synth) []say {
			return []say{{bedSays(w, 0x90, 60, 9), ""}, {bedSays(w, 0xB0, 7, 9), ""}, {bedSays(w, 0xF0, 1, 0xF7), "bed F001F7"}}
		}},
		{"reserved: the player stays out", func(w *Wire, _ *synth) []say {
			return []say{{player(w, 0x91, 60, 9), ""}, {player(w, 0xB1, 7, 9), ""}, {player(w, 0x81, 60, 9), ""}, {player(w, 0xD1, 60), ""}}
		}},
		{"reserved: two layers, one note", func(w *Wire, _ *synth) []say {
			return []say{
				{bedSays(w, 0xC1, 89), "bed C159"}, {bedSays(w, 0x91, 60, 9), "bed 913C09"}, {bedSays(w, 0x91, 60, 8), ""},
				{bedSays(w, 0x81, 60, 0), ""}, {bedSays(w, 0x81, 60, 0), "bed 813C00"}, {bedSays(w, 0x81, 60, 0), ""},
			}
		}},
		{"shared: the player lets go first", func(w *Wire, _ *synth) []say {
			return []say{
				{bedSays(w, 0x92, 60, 9), "bed 923C09"},
				{player(w, 0x92, 60, 99), "bed 823C40, player 923C63"},
				{player(w, 0x82, 60, 7), ""}, {bedSays(w, 0x82, 60, 1), "player 823C01"},
			}
		}},
		{"shared: the bed lets go first", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0x92, 60, 99), "player 923C63"}, {bedSays(w, 0x92, 60, 9), ""},
				{bedSays(w, 0x82, 60, 1), ""}, {player(w, 0x92, 60, 0), "player 923C00"}, {player(w, 0x92, 60, 0), ""},
			}
		}},
		{"shared: the damper holds the player's notes, not the bed's", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0xB2, 64, 64), ""},
				{player(w, 0x92, 60, 9), "player 923C09"}, {bedSays(w, 0x92, 64, 9), "bed 924009"},
				{player(w, 0x82, 60, 0), ""}, {bedSays(w, 0x82, 64, 0), "bed 824000"},
				{player(w, 0xB2, 64, 64), ""}, {player(w, 0xB2, 64, 63), "player 823C40"}, {player(w, 0xB2, 64, 0), ""},
			}
		}},
		{"shared: struck again under the damper", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0xB2, 64, 127), ""}, {player(w, 0x92, 60, 9), "player 923C09"}, {player(w, 0x82, 60, 0), ""},
				{player(w, 0x92, 60, 10), "player 823C40, player 923C0A"}, {player(w, 0xB2, 64, 0), ""}, {player(w, 0x82, 60, 0), "player 823C00"},
			}
		}},
		{"shared: what would harm the bed stays out", func(w *Wire, _ *synth) []say {
			says := []say{{player(w, 0xC2, 1), ""}, {player(w, 0xB2, 1, 9), "player B20109"}, {player(w, 0xE2, 0, 64), "player E20040"}}
			for _, number := range []byte{0, 32, 66, 69, 120, 121, 123, 124, 125, 126, 127} {
				says = append(says, say{player(w, 0xB2, number, 0), ""})
			}
			return append(says, say{player(w, 0xB2, 122, 0), "player B27A00"})
		}},
		{"finish", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {player(w, 0x90, 60, 9), "player 903C09"},
				{player(w, 0xB0, 64, 40), "player B04028"}, {player(w, 0xB5, 66, 127), "player B5427F"},
				{bedSays(w, 0x91, 48, 9), "bed 913009"}, {player(w, 0x92, 50, 9), "player 923209"},
				{finish(w), "bed 813040, ledger 823240, ledger 803C40, ledger 803C40, ledger B04000, ledger B54200"}, {finish(w), ""},
			}
		}},
		{"closed", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {bedSays(w, 0x91, 48, 9), "bed 913009"},
				{func() { w.Close(0) }, "bed 813040, ledger 803C40"},
				{player(w, 0x90, 60, 9), ""}, {player(w, 0x80, 60, 9), ""}, {bedSays(w, 0x91, 48, 9), ""}, {func() { w.Prepare(0, control(1, 7, 9)) }, ""}, {resume(w), ""},
			}
		}},
		{"finish: the damper counts as up", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0xB2, 64, 127), ""}, {player(w, 0x92, 60, 9), "player 923C09"}, {player(w, 0x82, 60, 0), ""},
				{finish(w), "ledger 823C40"}, {player(w, 0x92, 60, 9), "player 923C09"}, {player(w, 0x82, 60, 0), "player 823C00"},
			}
		}},
		{"all notes off", func(w *Wire, _ *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {bedSays(w, 0x91, 48, 9), "bed 913009"},
				{player(w, 0xB2, 64, 127), ""}, {player(w, 0xB0, 64, 127), "player B0407F"},
				{allOff(w), "bed 813040, ledger 803C40, " + everywhere},
				{bedSays(w, 0x81, 48, 0), ""}, {player(w, 0x80, 60, 0), "player 803C00"},
				{player(w, 0x92, 60, 9), "player 923C09"}, {player(w, 0x82, 60, 0), "player 823C00"}, // the damper counts as up
				{finish(w), ""},
			}
		}},
		{"lost and returned", func(w *Wire, s *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {player(w, 0xB0, 64, 127), "player B0407F"},
				{bedSays(w, 0x91, 48, 9), "bed 913009"}, {player(w, 0x92, 50, 9), "player 923209"},
				{w.Lost, ""},
				{player(w, 0x80, 60, 9), ""}, {player(w, 0x90, 72, 9), ""}, {player(w, 0xB0, 64, 0), ""}, {player(w, 0xB3, 64, 99), ""},
				{bedSays(w, 0x81, 48, 0), ""}, {bedSays(w, 0x91, 50, 9), ""}, {bedSays(w, 0xB1, 7, 9), ""},
				{player(w, 0x92, 51, 9), ""}, {player(w, 0x82, 50, 9), ""}, {player(w, 0xF8), ""},
				{returned(w, s), "bed 813040, ledger 823240, ledger 803C40, ledger B04000, ledger B34063"}, {returned(w, s), ""},
				{resume(w), "bed 913209"}, {resume(w), ""}, {bedSays(w, 0x81, 50, 0), "bed 813200"}, {player(w, 0x82, 51, 0), ""}, {player(w, 0x80, 72, 0), "player 804800"},
			}
		}},
		{"what the bed held all along is struck again, as it was", func(w *Wire, s *synth) []say {
			return []say{
				{bedSays(w, 0x91, 48, 77), "bed 91304D"}, {player(w, 0x92, 50, 9), "player 923209"}, {bedSays(w, 0x92, 50, 66), ""},
				{w.Lost, ""}, {returned(w, s), "bed 813040, ledger 823240"},
				{func() { w.Prepare(0, control(1, 7, 100)) }, "ledger B10764"}, {resume(w), "bed 91304D, bed 923242"},
				{bedSays(w, 0x82, 50, 1), "bed 823201"}, {player(w, 0x82, 50, 9), ""}, {bedSays(w, 0x81, 48, 1), "bed 813001"},
			}
		}},
		{"all notes off while lost: nothing is struck again", func(w *Wire, s *synth) []say {
			return []say{
				{bedSays(w, 0x91, 48, 77), "bed 91304D"}, {w.Lost, ""}, {allOff(w), ""},
				{returned(w, s), "bed 813040, " + everywhere}, {resume(w), ""},
			}
		}},
		{"only what is no note prepares, and only the bed's channels", func(w *Wire, s *synth) []say {
			prepare := func(msg ...byte) func() { return func() { w.Prepare(0, msg) } }
			return []say{
				{prepare(0xC1, 89), "ledger C159"}, {prepare(0xC0, 89), ""}, {prepare(0x91, 60, 9), ""}, {prepare(0x81, 60, 9), ""},
				{prepare(0xC1), ""}, {prepare(0xF0, 0x7E, 0xF7), "ledger F07EF7"},
			}
		}},
		{"every pedal that holds is put where the player has it", func(w *Wire, s *synth) []say {
			return []say{
				{player(w, 0xB0, 66, 127), "player B0427F"}, {player(w, 0xB0, 69, 127), "player B0457F"}, {player(w, 0xB0, 67, 127), "player B0437F"},
				{w.Lost, ""}, {player(w, 0xB0, 66, 0), ""}, {player(w, 0xB0, 67, 0), ""}, {player(w, 0xB0, 64, 90), ""},
				{returned(w, s), "ledger B0405A, ledger B04200, ledger B0457F"},
				{finish(w), "ledger B04000, ledger B04500"},
			}
		}},
		{"all notes off while lost", func(w *Wire, s *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {w.Lost, ""}, {allOff(w), ""}, {finish(w), ""},
				{returned(w, s), "ledger 803C40, " + everywhere}, {w.Lost, ""}, {returned(w, s), ""},
			}
		}},
		{"the damper moves after all notes off while lost", func(w *Wire, s *synth) []say {
			return []say{
				{w.Lost, ""}, {allOff(w), ""}, {player(w, 0xB2, 64, 64), ""}, {player(w, 0xB0, 64, 70), ""},
				{returned(w, s), everywhere + ", ledger B04046"},
				{player(w, 0x92, 60, 9), "player 923C09"}, {player(w, 0x82, 60, 0), ""}, {player(w, 0xB2, 64, 0), "player 823C40"},
			}
		}},
		{"a port that dies of an off owes it", func(w *Wire, s *synth) []say {
			return []say{
				{player(w, 0x90, 60, 9), "player 903C09"}, {bedSays(w, 0x91, 48, 9), "bed 913009"}, {player(w, 0xB0, 64, 127), "player B0407F"},
				{dies(s), ""}, {player(w, 0x80, 60, 9), ""}, {player(w, 0xB0, 64, 0), ""}, {bedSays(w, 0x81, 48, 0), ""},
				{returned(w, s), "bed 813040, ledger 803C40, ledger B04000"},
			}
		}},
		{"a port that dies of an on may have sounded it", func(w *Wire, s *synth) []say {
			return []say{{dies(s), ""}, {player(w, 0x90, 60, 9), ""}, {player(w, 0x80, 60, 9), ""}, {returned(w, s), "ledger 803C40"}}
		}},
		{"a port that dies of a second strike", func(w *Wire, s *synth) []say {
			return []say{{bedSays(w, 0x92, 60, 9), "bed 923C09"}, {dies(s), ""}, {player(w, 0x92, 60, 99), ""}, {returned(w, s), "bed 823C40"}}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w, s := newRig()
			for i, step := range c.steps(w, s) {
				step.do()
				if got := s.take(); got != step.want {
					t.Errorf("step %d: the synth hears %q, want %q", i+1, got, step.want)
				}
			}
		})
	}
}

// Messages that aren't whole never reach the wire.
func TestWireRefusesBrokenMessages(t *testing.T) {
	w, s := newRig()
	for _, msg := range [][]byte{nil, {}, {60}, {0x90}, {0x90, 60}, {0x90, 60, 128}, {0x90, 60, 1, 1}, {0xC0, 1, 1}, {0xF0, 1}, {0xF0}, {0xF0, 0x80, 0xF7}, {0xF4}, {0xF7}} {
		if !w.Player(0, msg) {
			t.Errorf("the player's % X passes", msg)
		}
		if len(msg) > 0 {
			msg = slices.Clone(msg)
			msg[0] |= 1
		}
		if !whole(msg) && !w.Bed(0, msg) {
			t.Errorf("the bed's % X passes", msg)
		}
	}
	if got := s.take(); got != "" || w.Refused() != 13 {
		t.Errorf("the synth hears %s, refused %d, want nothing and 13", got, w.Refused())
	}
}

func TestWireCountsRefused(t *testing.T) {
	w, _ := newRig()
	for _, c := range []struct {
		msg     []byte
		refused bool
	}{
		{on(0, 60, 9), false}, {on(1, 60, 9), true}, {off(1, 60), true}, {on(2, 60, 9), false},
		{control(2, 123, 0), true}, {control(2, 64, 0), false}, {[]byte{0xC2, 1}, true}, {[]byte{0xF8}, false},
	} {
		if got := w.Player(0, c.msg); got != c.refused {
			t.Errorf("% X refused: %v, want %v", c.msg, got, c.refused)
		}
	}
	if w.Refused() != 4 {
		t.Errorf("refused %d, want 4", w.Refused())
	}
}

// A pad that strikes and never lets go can't make the end long.
func TestWireCountsSixteenStrikes(t *testing.T) {
	w, s := newRig()
	for range 1000 {
		w.Player(0, on(9, 38, 100))
	}
	if len(s.heard) != 1000 || w.Sounding() != maxStrikes {
		t.Errorf("%d strikes heard, %d counted", len(s.heard), w.Sounding())
	}
	s.heard = nil
	w.Finish(0)
	if len(s.heard) != maxStrikes || w.Sounding() != 0 {
		t.Errorf("%d offs, %d left", len(s.heard), w.Sounding())
	}
}

func TestWirePassesTheTime(t *testing.T) {
	w, s := newRig()
	w.Player(3*ms, on(0, 60, 9))
	w.Bed(4*ms, on(1, 60, 9))
	w.Finish(5 * ms)
	want := "[3ms player 903C09 4ms bed 913C09 5ms bed 813C40 5ms ledger 803C40]"
	if got := fmt.Sprint(s.heard); got != want {
		t.Errorf("heard %s, want %s", got, want)
	}
}

// The synth has no lock of its own: the race detector sees whether the wire's
// covers it.
func TestWireFromSeveralGoroutines(t *testing.T) {
	w, s := newRig()
	var hands sync.WaitGroup
	hands.Go(func() {
		for i := range 2000 {
			w.Player(0, on(byte(i%3), byte(i%128), byte(i%100)))
			w.Player(0, control(byte(i%3), 64, byte(i%128)))
		}
	})
	hands.Go(func() {
		for i := range 2000 {
			w.Bed(0, on(byte(1+i%2), byte(i%128), byte(i%100)))
		}
	})
	hands.Go(func() {
		for range 50 {
			w.AllNotesOff(0)
			w.Lost()
			w.Returned(0)
			_, _, _ = w.Sounding(), w.Refused(), w.Gone()
		}
	})
	hands.Wait()
	w.Finish(0)
	if s.sounding() != 0 || w.Sounding() != 0 {
		t.Errorf("%d notes hang, the ledger counts %d", s.sounding(), w.Sounding())
	}
}

// counter is a sink that costs nothing.
type counter struct{ n int }

func (c *counter) Write(time.Duration, Source, []byte) bool { c.n++; return true }

// hardWork is every path of the wire once.
func hardWork() func(w *Wire) {
	msgs := [][]byte{on(0, 60, 9), on(2, 60, 9), control(2, 64, 127), control(0, 64, 127), off(2, 60), control(2, 64, 0),
		off(0, 60), on(1, 50, 9), {0xF0, 1, 2, 0xF7}, {0xF8}, {0xC2, 1}, {0x90, 1}}
	return func(w *Wire) {
		for _, msg := range msgs {
			w.Player(ms, msg)
			w.Bed(ms, msg)
		}
		w.AllNotesOff(ms)
		w.Lost()
		w.Returned(ms)
		w.Finish(ms)
	}
}

func TestWireAllocatesNothing(t *testing.T) {
	w := NewWire(rig, &counter{})
	work := hardWork()
	if n := testing.AllocsPerRun(1000, func() { work(w) }); n != 0 {
		t.Errorf("%v allocations, want 0", n)
	}
}

func BenchmarkWirePlayer(b *testing.B) {
	w := NewWire(rig, &counter{})
	strike, letGo := on(0, 60, 9), off(0, 60)
	b.ReportAllocs()
	for b.Loop() {
		w.Player(ms, strike)
		w.Player(ms, letGo)
	}
}

// The longest that one message takes, and the 256 before it: the damper lets go
// of all notes.
func BenchmarkWireDamperUp(b *testing.B) {
	w := NewWire(rig, &counter{})
	down, up := control(2, 64, 127), control(2, 64, 0)
	strike, letGo := on(2, 0, 9), off(2, 0)
	b.ReportAllocs()
	for b.Loop() {
		w.Player(ms, down)
		for key := range byte(128) {
			strike[1], letGo[1] = key, key
			w.Player(ms, strike)
			w.Player(ms, letGo)
		}
		w.Player(ms, up)
	}
}

func BenchmarkWireAllNotesOff(b *testing.B) {
	w := NewWire(rig, &counter{})
	b.ReportAllocs()
	for b.Loop() {
		w.AllNotesOff(ms)
	}
}

// What the player sends on the bed's channels goes aside where the rig says so;
// all of it, with its offs and pedals, and the bed stays alone on its own.
func TestWireMovesThePlayerAside(t *testing.T) {
	s := new(synth)
	w := NewWire(WireConfig{Channels: [16]Use{1: Reserved, 2: Reserved}, Aside: map[uint8]uint8{1: 5}}, s)
	for _, step := range []struct {
		do   func()
		want string
	}{
		{player(w, 0x91, 60, 9), "player 953C09"},
		{bedSays(w, 0x91, 60, 7), "bed 913C07"},
		{player(w, 0xB1, 64, 127), "player B5407F"},
		{player(w, 0xC1, 4), "player C504"},
		{player(w, 0x92, 60, 9), ""}, // not moved: refused
		{player(w, 0x81, 60, 3), "player 853C03"},
		{player(w, 0xF0, 0x11, 0xF7), "player F011F7"}, // no channel
		{finish(w), "bed 813C40, ledger B54000"},
	} {
		step.do()
		if got := s.take(); got != step.want {
			t.Errorf("the synth hears %q, want %q", got, step.want)
		}
	}
	if w.Refused() != 1 {
		t.Errorf("%d refused, want 1", w.Refused())
	}
}
