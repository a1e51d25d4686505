package session

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// deafPort takes everything and costs nothing.
type deafPort struct{}

func (deafPort) Send(midiio.Source, []byte) bool { return true }

// synth is a port with an instrument behind it that hears until it is pulled
// out, and then forgets nothing.
type synth struct {
	unplugged bool
	heard     []string
	on        [16][128]int
	level     [16]uint8 // expression
	damper    [16]uint8
}

func (y *synth) Send(_ midiio.Source, msg []byte) bool {
	if y.unplugged {
		return false
	}
	y.heard = append(y.heard, fmt.Sprintf("%X", msg))
	ch := msg[0] & 15
	switch kind := msg[0] & 0xF0; {
	case kind == 0x90 && msg[2] > 0:
		y.on[ch][msg[1]]++
	case kind == 0x90 || kind == 0x80:
		y.on[ch][msg[1]] = max(y.on[ch][msg[1]]-1, 0)
	case kind == 0xB0 && msg[1] == 11:
		y.level[ch] = msg[2]
	case kind == 0xB0 && msg[1] == 64:
		y.damper[ch] = msg[2]
	}
	return true
}

func (y *synth) sounding() (list []string) {
	for ch := range y.on {
		for note, n := range y.on[ch] {
			for range n {
				list = append(list, fmt.Sprintf("%d/%d", ch+1, note))
			}
		}
	}
	return list
}

// take is what was heard since it was last asked.
func (y *synth) take() []string {
	heard := y.heard
	y.heard = nil
	return heard
}

// Piano and bed go where they are to go, and nowhere else.
func TestPartsOfPorts(t *testing.T) {
	var all, piano, pad synth
	h := newHeard(t, gathering.DefaultRig(), evening(t),
		Destination{&all, midiio.AllParts}, Destination{&piano, midiio.PianoPart}, Destination{&pad, midiio.BedPart})
	if got := piano.take(); len(got) > 0 {
		t.Errorf("the piano's synth is prepared for a bed: %v", got)
	}
	if got, want := all.take(), pad.take(); !slices.Equal(got, want) || len(got) == 0 {
		t.Errorf("prepared with %v and %v", got, want)
	}
	h.Message(0, []byte{0x90, 60, 80})
	h.Message(0, []byte{0xF0, 1, 0xF7})
	for name, y := range map[string]*synth{"all": &all, "piano": &piano} {
		if got, want := y.take(), []string{"903C50", "F001F7"}; !slices.Equal(got, want) {
			t.Errorf("%s hears %v, want %v", name, got, want)
		}
	}
	h.Ask(time.Second, gathering.Order{Command: bed.BringIn})
	h.Advance(3 * time.Second)
	if got, want := pad.take(), all.take(); !slices.Equal(got, want) || len(got) == 0 {
		t.Errorf("the pad hears %v, want %v", got, want)
	}
	if got := piano.take(); len(got) > 0 {
		t.Errorf("the piano's synth hears the bed: %v", got)
	}
	h.Thru(3*time.Second, []byte{0x90, 62, 80}, Passage{Role: midiio.AnyRole, To: 1 << 1}) // played on the first synth's own keys
	if got := all.take(); len(got) > 0 {
		t.Errorf("keys sound twice: %v", got)
	}
	if got, want := piano.take(), []string{"903E50"}; !slices.Equal(got, want) {
		t.Errorf("the other synth hears %v, want %v", got, want)
	}
	h.End(4 * time.Second)
	for _, y := range []*synth{&all, &piano, &pad} {
		if got := y.sounding(); len(got) > 0 {
			t.Errorf("at the end %v sound", got)
		}
	}
}

// A port that comes back gets the offs owed first, then the set-up, then the
// bed's notes of now, and rises from nothing to the level of the other ports,
// which notice nothing of it (I3).
func TestReturnedPortRises(t *testing.T) {
	var lost, other synth
	h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&lost, midiio.AllParts}, Destination{&other, midiio.AllParts})
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Message(time.Second, []byte{0x90, 72, 80})
	h.Advance(4 * time.Second)
	before := lost.sounding()
	h.Lost(0)
	lost.unplugged = true
	h.Ask(5*time.Second, gathering.Order{Command: bed.Next})
	h.Message(6*time.Second, []byte{0x80, 72, 0})
	h.Advance(8 * time.Second)
	if !h.Gone(0) || h.Gone(1) {
		t.Errorf("gone: %v, %v; want the first alone", h.Gone(0), h.Gone(1))
	}
	lost.take()
	other.take()
	lost.unplugged = false
	h.Returned(8*time.Second, 0)
	if got := other.take(); len(got) > 0 {
		t.Errorf("the other port hears of the return: %v", got)
	}
	got := lost.take()
	stage, strikes := 0, 0
	for _, m := range got {
		now := map[byte]int{'8': 0, '9': 2}[m[0]]
		if m[0] == 'B' || m[0] == 'C' {
			now = 1
		}
		if now < stage {
			t.Errorf("%s comes too late in %v", m, got)
		}
		if stage = now; now == 2 {
			strikes++
		}
	}
	offs := slices.IndexFunc(got, func(m string) bool { return m[0] != '8' })
	if offs != len(before) || strikes != len(other.sounding()) || !slices.Equal(lost.sounding(), other.sounding()) {
		t.Errorf("%d offs for %v, then %d strikes for %v: %v", offs, before, strikes, other.sounding(), got)
	}
	last := uint8(0)
	for at := 8 * time.Second; at <= 11*time.Second; at += 10 * ms {
		h.Advance(at)
		if at < 10900*ms && lost.level[1] >= other.level[1] || lost.level[1] < last || int(lost.level[1]) > int(last)+2 {
			t.Fatalf("%v after the return its level is %d after %d, the other's %d", at-8*time.Second, lost.level[1], last, other.level[1])
		}
		last = lost.level[1]
	}
	if lost.level != other.level {
		t.Errorf("a bring-in later its levels are %v, want %v", lost.level, other.level)
	}
	h.Advance(3 * time.Minute) // until the hands' presence is gone
	if _, waits := h.Deadline(); waits {
		t.Error("a bed at rest still wants to be woken")
	}
	h.finish(t)
}

// Where the bed doesn't play, its channels are the player's like all others, and a
// sound that is shared elsewhere is the piano's alone.
func TestPianoAloneHasAllChannels(t *testing.T) {
	for name, msgs := range map[string][][]byte{
		"default":   {{0x91, 60, 80}, {0xB1, 7, 90}, {0x81, 60, 64}},
		"one-sound": {{0x90, 60, 80}, {0xB0, 64, 127}, {0x80, 60, 64}, {0xC0, 5}, {0xB0, 64, 0}},
	} {
		var piano synth
		h := newHeard(t, openRig(t, name), evening(t), Destination{&piano, midiio.PianoPart})
		var want []string
		for _, msg := range msgs {
			h.Message(0, msg)
			want = append(want, fmt.Sprintf("%X", msg))
		}
		if got := piano.take(); !slices.Equal(got, want) {
			t.Errorf("rig %s: the piano's synth hears %v, want %v", name, got, want)
		}
	}
}

// A bring-in is as soft on a port that came back as anywhere, also when the port
// came back in silence, or all notes off came while it rose.
func TestBringInAfterReturnIsSoft(t *testing.T) {
	for name, then := range map[string]func(h *heard){
		"returned in silence": func(h *heard) {
			h.Ask(6*time.Second, gathering.Order{Command: bed.OutNow})
			h.Returned(8*time.Second, 0)
		},
		"all notes off while rising": func(h *heard) {
			h.Returned(6*time.Second, 0)
			h.Ask(7*time.Second, gathering.Order{Command: bed.AllNotesOff})
		},
	} {
		var y synth
		h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&y, midiio.AllParts})
		h.Ask(0, gathering.Order{Command: bed.BringIn})
		h.Advance(5 * time.Second)
		h.Lost(0)
		then(h)
		h.Advance(10 * time.Second)
		y.take()
		h.Ask(10*time.Second, gathering.Order{Command: bed.BringIn})
		if got := y.take(); y.level[1] > 0 || len(y.sounding()) == 0 {
			t.Errorf("%s: the bring-in strikes at level %d: %v", name, y.level[1], got)
		}
		h.Advance(20 * time.Second)
		if want := uint8(h.View().Level[bed.Warm]); y.level[1] != want {
			t.Errorf("%s: level %d, want %d", name, y.level[1], want)
		}
	}
}

// A bed that leaves while a port rises is over when it is silent.
func TestLeavingEndsARise(t *testing.T) {
	var y synth
	h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&y, midiio.AllParts})
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Returned(5*time.Second, 0)
	h.Leave(5100*ms, true)
	h.Advance(5700 * ms)
	if at, waits := h.Deadline(); waits || len(y.sounding()) > 0 {
		t.Errorf("it still waits until %v; %v sound", at, y.sounding())
	}
}

// failing is a port with a fault in it.
type failing struct{ armed bool }

func (f *failing) Send(midiio.Source, []byte) bool {
	if f.armed {
		panic("the port's own")
	}
	return true
}

// A port that fails at the end does not keep the others from theirs.
func TestFinishReachesEveryPort(t *testing.T) {
	var bad failing
	var good synth
	h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&bad, midiio.AllParts}, Destination{&good, midiio.AllParts})
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Message(time.Second, []byte{0x90, 60, 80})
	bad.armed = true
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the fault is kept secret")
			}
		}()
		h.Finish(2 * time.Second)
	}()
	if got := good.sounding(); len(got) > 0 {
		t.Errorf("%v sound", got)
	}
	good.take()
	h.Thru(3*time.Second, []byte{0x90, 60, 80}, Passage{Role: midiio.AnyRole, To: ^midiio.Outputs(0)}) // a thread that is late
	if got := good.take(); len(got) > 0 {
		t.Errorf("after the end the synth hears %v", got)
	}
}

// What goes aside to the player's channel is the player's for the bed, too.
func TestAsideIsHeardByTheBed(t *testing.T) {
	rig := gathering.DefaultRig()
	rig.Player.Aside = map[uint8]uint8{1: 0, 2: 5}
	h := newHeard(t, rig, evening(t))
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Advance(4 * time.Second)
	h.words()
	for _, key := range []byte{50, 62, 65, 69} {
		h.Message(4*time.Second, []byte{0x91, key, 60})
		h.Message(4*time.Second, []byte{0x92, key + 1, 60})
	}
	h.Ask(4100*ms, gathering.Order{Command: bed.Capture})
	if got, want := h.words(), "do capture, chord Dm"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	h.finish(t)
}

// A synth that the player's keyboard resets is prepared again, and what the bed
// holds is struck again there, from nothing.
func TestResetSynthIsPreparedAgain(t *testing.T) {
	for name, reset := range map[string][]byte{
		"General MIDI 1 on": {0xF0, 0x7E, 0x7F, 9, 1, 0xF7}, "General MIDI 2 on": {0xF0, 0x7E, 0x7F, 9, 3, 0xF7}, "reset": {0xFF},
	} {
		var y synth
		h := newHeard(t, gathering.DefaultRig(), evening(t), Destination{&y, midiio.AllParts})
		setUp := y.take()
		h.Ask(0, gathering.Order{Command: bed.BringIn})
		h.Advance(10 * time.Second)
		h.Message(10*time.Second, reset)
		y.take()
		y.on, y.level = [16][128]int{}, [16]uint8{1: 127, 2: 127} // what a reset does
		h.Advance(10*time.Second + resetTime)
		got := y.take()
		var prepared []string
		bright, brightened := fmt.Sprintf("4A%02X", h.View().Brightness), 0
		for _, m := range got {
			switch {
			case strings.HasSuffix(m, bright):
				brightened++
			case m[0] == 'B' || m[0] == 'C':
				prepared = append(prepared, m)
			}
		}
		if brightened != int(bed.NumLayers) {
			t.Errorf("%s: then comes %v with %d times the brightness, %s", name, got, brightened, bright)
		}
		if len(prepared) < len(setUp) || !slices.Equal(prepared[:len(setUp)], setUp) || y.level[1] != 0 {
			t.Errorf("%s: then comes %v at level %d, want %v", name, got, y.level[1], setUp)
		}
		if want := int(h.View().Voicing.N)*2 + 1; len(y.sounding()) != want {
			t.Errorf("%s: %v sound, want %d notes", name, y.sounding(), want)
		}
		h.Advance(15 * time.Second)
		if want := uint8(h.View().Level[bed.Warm]); y.level[1] != want {
			t.Errorf("%s: five seconds later the level is %d, want %d", name, y.level[1], want)
		}
	}
}

// In a rig with one sound the player strikes what the bed holds: in the file, its
// tracks put together, the new strike stands.
func TestStrikeOverTheBedStandsInTheFile(t *testing.T) {
	h := newHeard(t, openRig(t, "one-sound"), evening(t))
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Advance(4 * time.Second)
	key := h.View().Voicing.Upper[0]
	h.Message(5*time.Second, []byte{0x90, key, 99})
	h.End(6 * time.Second)
	var struck, ended int64 = -1, -1
	for _, track := range h.take.File(ClockOf(nil), evening(t)[0].Key).Tracks {
		for _, e := range track.Events {
			switch {
			case len(e.Data) != 3 || e.Data[1] != key:
			case e.Data[0] == 0x90 && e.Data[2] == 99:
				struck = e.Tick
			case e.Data[0] == 0x80 && (ended < 0 || e.Tick < ended):
				ended = e.Tick
			}
		}
	}
	if struck < 0 || ended >= struck || ended < 0 {
		t.Errorf("struck at tick %d, the bed's ended at %d", struck, ended)
	}
}

func BenchmarkThru(b *testing.B) {
	s, err := New(gathering.DefaultRig(), evening(b), NewTake(), Destination{deafPort{}, midiio.AllParts})
	if err != nil {
		b.Fatal(err)
	}
	on, off := []byte{0x90, 60, 80}, []byte{0x80, 60, 64}
	b.ReportAllocs()
	for b.Loop() {
		s.Thru(0, on, Passage{Role: midiio.AnyRole, To: 1})
		s.Thru(0, off, Passage{Role: midiio.AnyRole, To: 1})
	}
}
