package session

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

const ms = time.Millisecond

func plainMoment(t testing.TB, key, home, away string) bed.Moment {
	t.Helper()
	k, err := pitch.ParseKey(key)
	if err != nil {
		t.Fatal(err)
	}
	m, err := gathering.Plain(k, home, away, harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// evening is a moment in C that leads to a song in G, and a second one.
func evening(t testing.TB) []bed.Moment {
	m := plainMoment(t, "C", "1 4", "6m 2m")
	m.NextKey = pitch.Key{Tonic: pitch.Name{Letter: 4}}
	m.NextChord = harmony.Diatonic(m.NextKey, 1)
	return []bed.Moment{m, plainMoment(t, "D", "1 5", "")}
}

// heard is a session whose output is kept, watched and read as words.
type heard struct {
	*Session
	take    *Take
	watcher *bedtest.Watcher
}

func newHeard(t testing.TB, rig gathering.Rig, moments []bed.Moment, ports ...Destination) *heard {
	t.Helper()
	h := &heard{take: &Take{}, watcher: bedtest.NewWatcher(rig.Bed)}
	s, err := New(rig, moments, fan{h.take, watching{h.watcher}}, ports...)
	if err != nil {
		t.Fatal(err)
	}
	h.Session = s
	s.SetUp(0)
	return h
}

// fan tells several recorders.
type fan []Recorder

func (f fan) Send(at time.Duration, from Origin, msg []byte) {
	for _, o := range f {
		o.Send(at, from, msg)
	}
}

func (f fan) Mark(a bed.Action) {
	for _, o := range f {
		o.Mark(a)
	}
}

// controls are the controllers that a bed sends, and what each is there for.
var controls = map[byte]bed.ActionKind{11: bed.SetLevel, 74: bed.SetBrightness}

// watching turns the bed's messages and marks back into actions for a watcher.
type watching struct{ w *bedtest.Watcher }

func (o watching) Send(at time.Duration, from Origin, msg []byte) {
	if from != Warm && from != Air {
		return
	}
	a := bed.Action{At: at, Layer: bed.Layer(from - Warm), Note: msg[1], Velocity: msg[2]}
	switch msg[0] & 0xF0 {
	case 0x80:
		a.Kind = bed.ReleaseNote
	case 0xB0:
		a.Kind, a.Value = controls[msg[1]], msg[2]
	}
	o.w.See(a)
}

func (o watching) Mark(a bed.Action) { o.w.See(a) }

// words gives the marks since the last call.
func (h *heard) words() string {
	var out []string
	for _, a := range h.take.Marks {
		text, ok := Marker(a)
		switch {
		case ok:
			out = append(out, text)
		case a.Kind == bed.Tell:
			out = append(out, "("+a.Notice.String()+")")
		case a.Kind == bed.ChangeMoment:
			out = append(out, fmt.Sprintf("moment %d", a.Value+1))
		}
	}
	h.take.Marks = h.take.Marks[:0]
	return strings.Join(out, ", ")
}

func (h *heard) switchAt(at time.Duration, number, value byte) {
	h.Message(at, []byte{0xB0, number, value})
}

func (h *heard) finish(t testing.TB) {
	t.Helper()
	h.watcher.InputEnded(h.now)
	h.End(h.now)
	h.watcher.Finish()
	for _, f := range h.watcher.Faults() {
		t.Error(f)
	}
	if n := h.Sounding(); n != 0 {
		t.Errorf("%d notes still sound at the end", n)
	}
}

// The default rig's feet, press by press.
func TestDefaultRigFeet(t *testing.T) {
	const left, right, stay, out = 80, 81, 82, 83
	type step struct {
		at    time.Duration
		foot  byte
		value byte
		want  string // what was marked by now
	}
	down, up := byte(127), byte(0)
	for name, steps := range map[string][]step{
		"left brings in, then steps the way round": {
			{0, left, down, "do bring-in, chord C"}, {200 * ms, left, up, ""},
			{4000 * ms, left, down, "chord F"}, {4200 * ms, left, up, ""},
			{6000 * ms, left, down, "chord C"}, {6200 * ms, left, up, ""},
		},
		"right arms swap, then land, then nothing special": {
			{0, left, down, "do bring-in, chord C"}, {100 * ms, left, up, ""},
			{1000 * ms, right, down, ""}, {1100 * ms, right, up, ""}, {1500 * ms, left, down, "do swap, chord Am"}, {1600 * ms, left, up, ""},
			{2000 * ms, right, down, ""}, {2100 * ms, right, up, ""}, {2200 * ms, right, down, ""}, {2300 * ms, right, up, ""},
			{2400 * ms, right, down, ""}, {2500 * ms, right, up, ""}, {2600 * ms, left, down, "chord Dm"}, {2700 * ms, left, up, ""},
		},
		"a landing is walked by left presses, then holds; out now ends the moment": {
			{0, left, down, "do bring-in, chord C"}, {100 * ms, left, up, ""},
			{1000 * ms, right, down, ""}, {1100 * ms, right, up, ""}, {1200 * ms, right, down, ""}, {1300 * ms, right, up, ""},
			{2000 * ms, left, down, "do land, chord D7"}, {2100 * ms, left, up, ""},
			{3000 * ms, left, down, "chord G"}, {3100 * ms, left, up, ""},
			{4000 * ms, left, down, "(landed: the bed holds)"}, {4100 * ms, left, up, ""},
			{5000 * ms, out, down, "do out-now"}, {5100 * ms, out, up, ""},
			{6000 * ms, left, down, "moment 2, do bring-in, chord D"}, {6100 * ms, left, up, ""},
		},
		"a long right press fades, and what it armed is undone": {
			{0, left, down, "do bring-in, chord C"}, {100 * ms, left, up, ""},
			{1000 * ms, right, down, ""}, {1699 * ms, 1, 0, ""}, {1701 * ms, 1, 0, "do fade"}, {2000 * ms, right, up, ""},
			{3000 * ms, left, down, "do bring-in"}, {3100 * ms, left, up, ""}, // comes back on the current chord
			{4000 * ms, left, down, "chord F"}, {4100 * ms, left, up, ""}, // nothing armed
		},
		"stay: feet wait, out still works": {
			{0, left, down, "do bring-in, chord C"}, {100 * ms, left, up, ""},
			{1000 * ms, stay, down, "do stay on"}, {1100 * ms, stay, up, ""},
			{2000 * ms, left, down, "(stay is on)"}, {2100 * ms, left, up, ""},
			{2500 * ms, right, down, "(stay is on)"}, {2600 * ms, right, up, ""},
			{3000 * ms, stay, down, "do stay off"}, {3100 * ms, stay, up, ""},
			{3500 * ms, left, down, "chord F"}, {3600 * ms, left, up, ""},
			{4000 * ms, stay, down, "do stay on"}, {4100 * ms, stay, up, ""},
			{5000 * ms, out, down, "do stay off, do out-now"}, {5100 * ms, out, up, ""},
		},
		"out held: all notes off on all channels": {
			{0, left, down, "do bring-in, chord C"}, {100 * ms, left, up, ""},
			{1000 * ms, out, down, "do out-now"}, {1701 * ms, 1, 0, "do all-notes-off"}, {1800 * ms, out, up, ""},
		},
		"bounce counts once": {
			{0, left, down, "do bring-in, chord C"}, {2 * ms, left, up, ""}, {5 * ms, left, down, ""}, {180 * ms, left, up, ""},
			{182 * ms, left, down, ""}, {186 * ms, left, up, ""}, {1000 * ms, left, down, "chord F"}, {1100 * ms, left, up, ""},
		},
		"a bring-in interrupted by a fade comes back": {
			{0, left, down, "do bring-in, chord C"}, {100 * ms, left, up, ""},
			{500 * ms, right, down, ""}, {1300 * ms, right, up, "do fade"},
			{1400 * ms, left, down, "do bring-in"}, {1500 * ms, left, up, ""},
		},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHeard(t, gathering.DefaultRig(), evening(t))
			for i, s := range steps {
				h.switchAt(s.at, s.foot, s.value)
				if got := h.words(); got != s.want {
					t.Errorf("step %d at %v: %q, want %q", i, s.at, got, s.want)
				}
			}
			h.finish(t)
		})
	}
}

func TestAllNotesOffReachesEveryChannel(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	h.switchAt(0, 80, 127)
	h.Message(time.Second, []byte{0x90, 60, 80})
	h.Message(time.Second, []byte{0xB0, 64, 127})
	h.take.sent = nil
	h.Ask(2*time.Second, gathering.Order{Command: bed.AllNotesOff})
	// A panic that must silence a held pedal needs CC 64 = 0 as well as CC 123
	// (MIDI 1.0 Detailed Specification 4.2: channel mode messages).
	seen := map[byte][]byte{}
	offs := 0
	for _, s := range h.take.Sent() {
		if s.Data[0]&0xF0 == 0x80 {
			offs++
		} else if s.Data[0]&0xF0 == 0xB0 {
			seen[s.Data[0]&15] = append(seen[s.Data[0]&15], s.Data[1])
		}
	}
	if offs < 4 {
		t.Errorf("%d real note-offs, want the bed's and the player's", offs)
	}
	for ch := byte(0); ch < 16; ch++ {
		if want := []byte{64, 123, 120}; !bytes.HasSuffix(seen[ch], want) {
			t.Errorf("channel %d gets controllers %v, want %v", ch+1, seen[ch], want)
		}
	}
	if n := h.Sounding(); n != 0 {
		t.Errorf("%d notes still sound", n)
	}
}

func TestObserveAloneSendsNothingThrough(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	h.Observe(0, []byte{0x90, 60, 80}, midiio.AnyRole)
	h.Observe(time.Second, []byte{0xB0, 80, 127}, midiio.AnyRole)
	for _, s := range h.take.Sent() {
		if s.From == Thru {
			t.Errorf("% X goes through", s.Data)
		}
	}
	if got, want := h.words(), "do bring-in, chord C"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	h.finish(t)
}

// On a shared sound the input's thread may end a note of the bed's, whose track
// does not depend on what the core is doing.
func TestSharedSoundFromTwoThreads(t *testing.T) {
	rig := openRig(t, "one-sound")
	s, err := New(rig, evening(t), silent{})
	if err != nil {
		t.Fatal(err)
	}
	s.SetUp(0)
	s.Ask(0, gathering.Order{Command: bed.BringIn})
	done := make(chan bool)
	go func() {
		defer close(done)
		for i := range 2000 {
			note := byte(55 + i%24)
			s.Thru(time.Duration(i)*ms, []byte{0x90, note, 60}, Passage{Role: midiio.AnyRole})
			s.Thru(time.Duration(i)*ms, []byte{0x80, note, 0}, Passage{Role: midiio.AnyRole})
		}
	}()
	for i := range 200 {
		s.Ask(time.Duration(i)*10*ms, gathering.Order{Command: bed.Next})
	}
	<-done
	s.End(3 * time.Second)
	if n := s.Sounding(); n != 0 {
		t.Errorf("%d notes sound at the end", n)
	}
}

// Whoever ends the bed's notes, each ends in its own track.
func TestEndsStandInTheTracksOfTheirNotes(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Advance(time.Second)
	h.Finish(3 * time.Second) // in the middle of sound, as when the program is cut short
	on := map[string]int{}
	for _, s := range h.take.Sent() {
		if len(s.Data) == 3 && (s.Data[0]&0xF0 == 0x90 || s.Data[0]&0xF0 == 0x80) {
			key := fmt.Sprintf("%v %d", s.From, s.Data[1])
			if s.Data[0]&0xF0 == 0x90 {
				on[key]++
			} else {
				on[key]--
			}
		}
	}
	for key, n := range on {
		if n != 0 {
			t.Errorf("%s has %d ons more than offs", key, n)
		}
	}
}

func TestSetUpOrder(t *testing.T) {
	// Bank Select takes effect at the next Program Change; on the wire CC 0, CC 32,
	// Program Change (General MIDI 2).
	rig := gathering.DefaultRig()
	rig.Layers[bed.Warm].BankSet, rig.Layers[bed.Warm].Bank = true, [2]uint8{121, 1}
	h := newHeard(t, rig, evening(t))
	var got []string
	for _, s := range h.take.Sent() {
		got = append(got, fmt.Sprintf("%v %X", s.From, s.Data))
	}
	want := []string{"setup B10079", "setup B12001", "setup C159", "setup B10764", "setup B10B00",
		"setup C25E", "setup B2075A", "setup B20B00"}
	if !slices.Equal(got, want) {
		t.Errorf("set-up\n%q, want\n%q", got, want)
	}
}

func TestCaptureTakesWhatIsHeldOrJustStruck(t *testing.T) {
	take := gathering.Order{Command: bed.Capture}
	play := func(h *heard, at time.Duration, keys ...byte) {
		for _, k := range keys {
			h.Message(at, []byte{0x90, k, 70})
		}
	}
	leave := func(h *heard, at time.Duration, keys ...byte) {
		for _, k := range keys {
			h.Message(at, []byte{0x80, k, 0})
		}
	}
	for name, c := range map[string]struct {
		play func(h *heard)
		want string
	}{
		"held": {func(h *heard) { play(h, 9*time.Second, 40, 55, 59, 64) }, "do capture, chord Em"},
		"held by the damper": {func(h *heard) {
			h.switchAt(8*time.Second, 64, 127)
			play(h, 9*time.Second, 43, 59, 62)
			leave(h, 9500*ms, 43, 59, 62)
		}, "do capture, chord G"},
		"the damper came up": {func(h *heard) {
			h.switchAt(8*time.Second, 64, 127)
			play(h, 8*time.Second, 43, 59, 62)
			leave(h, 8500*ms, 43, 59, 62)
			h.switchAt(9*time.Second, 64, 0)
		}, "(no notes to take)"},
		"struck 0.25 s ago":         {func(h *heard) { play(h, 9750*ms, 45, 60, 64); leave(h, 9900*ms, 45, 60, 64) }, "do capture, chord Am"},
		"struck 0.35 s ago":         {func(h *heard) { play(h, 9650*ms, 45, 60, 64); leave(h, 9900*ms, 45, 60, 64) }, "(no notes to take)"},
		"a passing note is left":    {func(h *heard) { play(h, 9*time.Second, 41, 57, 60); play(h, 9800*ms, 58); leave(h, 9860*ms, 58) }, "do capture, chord F"},
		"a first inversion":         {func(h *heard) { play(h, 9*time.Second, 40, 55, 60) }, "do capture, chord C/E"},
		"nothing":                   {func(h *heard) {}, "(no notes to take)"},
		"on another channel":        {func(h *heard) { h.Message(9*time.Second, []byte{0x94, 60, 70}) }, "(no notes to take)"},
		"note-off as velocity zero": {func(h *heard) { play(h, 9*time.Second, 43, 59, 62); h.Message(9100*ms, []byte{0x90, 43, 0}) }, "do capture, chord Bdim"},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHeard(t, gathering.DefaultRig(), evening(t))
			h.Ask(0, gathering.Order{Command: bed.BringIn})
			c.play(h)
			h.words()
			h.Ask(10*time.Second, take)
			if got := h.words(); got != c.want {
				t.Errorf("%q, want %q", got, c.want)
			}
			h.finish(t)
		})
	}
}

func TestCaptureInSilenceBringsIn(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	for _, k := range []byte{38, 57, 62, 65} {
		h.Message(time.Second, []byte{0x90, k, 60})
	}
	h.Ask(2*time.Second, gathering.Order{Command: bed.Capture})
	if got, want := h.words(), "do capture, do bring-in, chord Dm"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	h.finish(t)
}

func TestFollowTheLeftHand(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	h.Ask(0, gathering.Order{Command: bed.BringIn})
	h.Ask(0, gathering.Order{Command: bed.Follow})
	h.words()
	step := func(at time.Duration, want string, msgs ...[3]byte) {
		t.Helper()
		for _, m := range msgs {
			h.Message(at, m[:])
		}
		h.Advance(at)
		if got := h.words(); got != want {
			t.Errorf("at %v: %q, want %q", at, got, want)
		}
	}
	on := func(k byte) [3]byte { return [3]byte{0x90, k, 70} }
	off := func(k byte) [3]byte { return [3]byte{0x80, k, 0} }
	step(3*time.Second, "", on(41), on(48), on(81))             // F and C below, A high above the split
	step(3249*ms, "")                                           // not steady yet
	step(3250*ms, "chord F")                                    // 0.25 s at rest
	step(3400*ms, "", off(41), off(48), on(43), on(50), on(59)) // G
	step(4749*ms, "")                                           // pace: 1.5 s after the last chord
	step(4750*ms, "chord G")
	step(5*time.Second, "", off(43), off(50), off(59), on(36))
	step(5100*ms, "", off(36), on(45)) // C was only passing
	step(6250*ms, "chord Am")
	step(7*time.Second, "", [3]byte{0x91, 36, 70}) // what comes on the bed's channel is not the player
	step(9*time.Second, "")
	h.Ask(9*time.Second, gathering.Order{Command: bed.Follow})
	h.words()
	step(10*time.Second, "", off(45), on(36))
	step(12*time.Second, "")
	h.finish(t)
}

// A watcher gets every event in order of time, with the state that the bed is in
// after it, and the levels that were sent by then.
func TestWatcherSeesTheBedAfterEachEvent(t *testing.T) {
	h := newHeard(t, gathering.DefaultRig(), evening(t))
	kinds, last, moved := map[bed.EventKind]int{}, time.Duration(0), 0
	h.Watch(func(at time.Duration, e bed.Event, v bed.View) {
		kinds[e.Kind]++
		if at < last {
			t.Errorf("from %v back to %v", last, at)
		}
		if v != h.View() {
			t.Errorf("at %v it sees another state than the bed is in", at)
		}
		if sent := h.take.Sent(); len(sent) > 0 {
			if s := sent[len(sent)-1]; s.From == Warm && s.Data[1] == 11 && at > 0 {
				moved++
				if int(s.Data[2]) != v.Level[bed.Warm] {
					t.Errorf("at %v warm's level is %d, sent was %d", at, v.Level[bed.Warm], s.Data[2])
				}
			}
		}
		last = at
	})
	h.Message(0, []byte{0x90, 60, 70})
	h.Message(ms, []byte{0xB0, 80, 127})
	h.Message(5*time.Second, []byte{0xB0, 11, 40})
	h.Message(6*time.Second, []byte{0x80, 60, 0})
	h.End(9 * time.Second)
	for kind, want := range map[bed.EventKind]int{bed.NoteStruck: 1, bed.NoteLeft: 1, bed.PedalMoved: 1, bed.Asked: 1, bed.InputEnded: 1} {
		if kinds[kind] != want {
			t.Errorf("%d events of kind %d, want %d", kinds[kind], kind, want)
		}
	}
	if kinds[bed.TimePassed] < 100 || moved < 50 {
		t.Errorf("it sees %d moves of time, %d of levels", kinds[bed.TimePassed], moved)
	}
}

func TestTextOfAFileIsFitForAScreen(t *testing.T) {
	for text, want := range map[string]string{
		"Maud’s last page":                 "Maud’s last page",
		"\x1b[2J\x1b]0;x\x07 hello\nthere": "[2J ]0;x  hello there",
		"Gr\xfc\xdfe":                      "Grüße",
		"":                                 "",
	} {
		if got := readable([]byte(text)); got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}

// silent is an output that keeps nothing.
type silent struct{}

func (silent) Send(time.Duration, Origin, []byte) {}
func (silent) Mark(bed.Action)                    {}

func TestMessagesAllocateNothing(t *testing.T) {
	s, err := New(gathering.DefaultRig(), evening(t), fan{silent{}, NewTake()}, Destination{deafPort{}, midiio.AllParts}, Destination{deafPort{}, midiio.BedPart})
	if err != nil {
		t.Fatal(err)
	}
	s.SetUp(0)
	at, i := time.Duration(0), 0
	msg := make([]byte, 3)
	send := func(at time.Duration, status, data1, data2 byte) {
		msg[0], msg[1], msg[2] = status, data1, data2
		s.Message(at, msg)
	}
	press := func(number byte) {
		send(at+60*ms, 0xB0, number, 127)
		send(at+160*ms, 0xB0, number, 0)
		at += 200 * ms
	}
	round := func() {
		i++
		at += time.Second
		send(at, 0x90, byte(40+i%40), 70)
		send(at, 0xB0, 11, byte(i*37%128))
		send(at+50*ms, 0x80, byte(40+i%40), 0)
		if i%5 == 0 {
			press(81)
		}
		press(80)
	}
	for range 100 {
		round()
	}
	if n := testing.AllocsPerRun(200, round); n != 0 {
		t.Errorf("a second of playing allocates %v times, want 0", n)
	}
}

// The whole way of a 54 s performance to MIDI, reading and set-up included.
func BenchmarkPerform(b *testing.B) {
	rig := openRig(b, "saltmere")
	moments := demoMoments(b)
	b.ReportAllocs()
	for b.Loop() {
		f, err := midiio.ReadFile(demoFile)
		if err != nil {
			b.Fatal(err)
		}
		take, _, _, err := Perform(rig, moments, f, nil)
		if err != nil {
			b.Fatal(err)
		}
		var out bytes.Buffer
		if err := midiio.Write(&out, take.File(ClockOf(f), moments[0].Key)); err != nil {
			b.Fatal(err)
		}
	}
}
