package midiio

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// thinning drives a thinner by a made-up clock.
type thinning struct {
	thinner
	now time.Duration
	got []arrival
}

func (l *thinning) pass(at time.Duration, msg []byte) {
	l.got = append(l.got, arrival{at: at, msg: slices.Clone(msg)})
}

func (l *thinning) until(at time.Duration) {
	for {
		next, waits := l.advance(l.now, l.pass)
		if !waits || next > at {
			break
		}
		l.now = max(next, l.now)
	}
	l.now = at
}

func (l *thinning) send(msg []byte) { l.take(l.now, msg, l.pass) }

// Every kind of value at 500 a second, for ten seconds, and sixteen at once after a
// pause, pass at once and unchanged.
func TestOrdinaryControlsPassUnchanged(t *testing.T) {
	var l thinning
	var want []arrival
	send := func(v byte) {
		for _, m := range [][]byte{control(0, 1, v), control(0, 33, v), control(0, damper, v), control(3, 11, v), {0xD0, v}, {0xE0, v, v}, {0xA0, 60, v}, {0xA0, 61, v}} {
			want = append(want, arrival{at: l.now, msg: m})
			l.send(m)
		}
	}
	for i := range 5000 {
		l.until(time.Duration(i) * 2 * time.Millisecond)
		send(byte(i * 37 % 60)) // on one side of 64
	}
	l.until(11 * time.Second)
	for i := range byte(16) {
		send(i)
	}
	same := func(a, b arrival) bool { return a.at == b.at && bytes.Equal(a.msg, b.msg) }
	if !slices.EqualFunc(l.got, want, same) || l.left.Load() > 0 {
		t.Errorf("%d of %d pass, %d are left out", len(l.got), len(want), l.left.Load())
	}
}

// A broken pedal sends 5,000 values a second: some 500 pass, and those that switch
// over; the newest is never older than 2 ms; a hand's notes on the same channel pass
// at once, and so do what their pedal's switching over says.
func TestFloodIsThinned(t *testing.T) {
	for name, value := range map[string]func(i int) byte{
		"trembling":     func(i int) byte { return byte(90 + i%7) },
		"about 64":      func(i int) byte { return byte(63 + i%2) },
		"all over":      func(i int) byte { return byte(i * 41 % 128) },
		"a swept pedal": func(i int) byte { return byte(63.5 + 63*float64(i%10_000-5000)/5000) },
	} {
		var l thinning
		values, notes := 0, 0
		said, saidAt := byte(0), time.Duration(0)
		for i := range 50_000 {
			l.until(time.Duration(i) * 200 * us)
			v := value(i)
			l.send(control(0, 11, v))
			said, saidAt = v, l.now
			if i%250 == 0 {
				l.send(on(0, 60, 1))
				if last := l.got[len(l.got)-1]; last.at != l.now || last.msg[0] != noteOn || l.got[len(l.got)-2].msg[2] != v {
					t.Fatalf("%s: a note passes as % X after % X", name, last.msg, l.got[len(l.got)-2].msg)
				}
			}
		}
		l.until(l.now + time.Second)
		for _, a := range l.got {
			if a.msg[0] == noteOn {
				notes++
			} else {
				values++
			}
		}
		last := l.got[len(l.got)-1]
		if last.msg[2] != said || last.at > saidAt+valueEvery {
			t.Errorf("%s: the last value is %d at %v, want %d at %v or soon after", name, last.msg[2], last.at, said, saidAt)
		}
		if notes != 200 || values > 6000+200+2*valueBurst || values < 4900 || l.left.Load() != uint64(50_000-values) {
			t.Errorf("%s: %d notes, %d values pass in 10 s, %d are left out", name, notes, values, l.left.Load())
		}
		if want := "controller 11 on channel 1"; controlNumber(l.last.Load()).String() != want {
			t.Errorf("%s: it is %v", name, controlNumber(l.last.Load()))
		}
	}
}

// A damper under a flood of its own values goes down and up, as a foot can: each
// time it is heard at once.
func TestSwitchingOverIsNeverLost(t *testing.T) {
	var l thinning
	random := rand.New(rand.NewPCG(1, 2))
	down := false
	var want, got []string
	for i := range 50_000 {
		l.until(time.Duration(i) * 200 * us)
		v := byte(random.IntN(64))
		if i%75 == 0 { // 67 times a second
			down = !down
			want = append(want, fmt.Sprintf("%v %v", l.now, down))
		}
		if down {
			v += 64
		}
		l.send(control(0, damper, v))
	}
	was := false
	for _, a := range l.got {
		if is := a.msg[2] >= 64; is != was {
			was = is
			got = append(got, fmt.Sprintf("%v %v", a.at, is))
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("heard %d times, said %d times", len(got), len(want))
	}
}

// Random streams: what is no value passes at once and under the values that the
// player had set; in the end every control stands where it was left; the newest
// value of each is never kept for longer than 2 ms; in no time do more pass than
// are allowed.
func TestThinnerOnRandomStreams(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l thinning
		var sent []arrival
		gap := rapid.IntRange(1, 4000).Draw(t, "gap in µs")
		var messages [][]byte
		for _, m := range rapid.SliceOfN(anyMessage(), 1, 200).Draw(t, "messages") {
			messages = append(messages, m)
			if _, isValue := valueOf(m); !isValue || rapid.IntRange(0, 9).Draw(t, "burst") > 0 {
				continue
			}
			for i := range byte(valueBurst + 4) {
				more := slices.Clone(m)
				more[len(m)-1] = (m[len(m)-1] + i) % 128
				messages = append(messages, more)
			}
		}
		for _, m := range messages {
			l.until(l.now + time.Duration(rapid.IntRange(0, gap).Draw(t, "gap"))*us)
			sent = append(sent, arrival{at: l.now, msg: m})
			before := len(l.got)
			l.send(m)
			if _, isValue := valueOf(m); !isValue && (len(l.got) == before || !bytes.Equal(l.got[len(l.got)-1].msg, m)) {
				t.Fatalf("% X waits", m)
			}
		}
		l.until(l.now + valueEvery)
		if l.waiting > 0 {
			t.Fatalf("%d values wait for more than %v", l.waiting, valueEvery)
		}
		if got, want := heardUnder(l.got), heardUnder(sent); !slices.Equal(got, want) {
			t.Fatalf("passed\n%q\nwant\n%q", got, want)
		}
		if len(l.got)+int(l.left.Load()) != len(sent) {
			t.Fatalf("%d pass and %d are left out of %d", len(l.got), l.left.Load(), len(sent))
		}
	})
}

// anyMessage draws messages of a few controls that are often the same.
func anyMessage() *rapid.Generator[[]byte] {
	return rapid.Custom(func(t *rapid.T) []byte {
		ch, v := byte(rapid.IntRange(0, 1).Draw(t, "channel")), byte(rapid.IntRange(0, 127).Draw(t, "value"))
		return rapid.SampledFrom([][]byte{control(ch, 1, v), control(ch, 1, v), control(ch, 33, v), control(ch, damper, v), control(ch, 11, v), {0xD0 | ch, v},
			{0xE0 | ch, v, 0}, {0xE0 | ch, v, 64}, {0xA0 | ch, 60, v}, on(ch, 60, v), off(ch, 60), {0xC0 | ch, v},
			control(ch, dataMSB, v), control(ch, parameterMSB, v), control(ch, allNotesOff, 0), {0xFA}, {0xFF}, {0xF0, 1, v, 0xF7}}).Draw(t, "message")
	})
}

// heardUnder gives each message that is no value with the values that its channel,
// or all if it is for all, has heard before, and the last values of all.
func heardUnder(list []arrival) (out []string) {
	said := map[controlNumber]string{}
	state := func(meant func(controlNumber) bool) string {
		var all []string
		for n, v := range said {
			if meant(n) {
				all = append(all, fmt.Sprintf("%v: %s", n, v))
			}
		}
		slices.Sort(all)
		return strings.Join(all, ", ")
	}
	for _, a := range list {
		if a.msg[0] == sysexStart || a.msg[0] == 0xFF {
			out = append(out, fmt.Sprintf("%X under %s", a.msg, state(func(controlNumber) bool { return true })))
		} else if a.msg[0] > sysexStart {
			out = append(out, fmt.Sprintf("%X", a.msg))
		} else if n, ok := valueOf(a.msg); ok {
			said[n] = fmt.Sprintf("%X", a.msg)
		} else {
			out = append(out, fmt.Sprintf("%X under %s", a.msg, state(func(n controlNumber) bool { return n.channel() == a.msg[0]&15 })))
		}
	}
	return append(out, state(func(controlNumber) bool { return true }))
}

// The lower half of a value is never passed without the upper half that came before it.
func TestHalvesStayInOrder(t *testing.T) {
	var l thinning
	for i := range 2000 {
		l.until(time.Duration(i) * 500 * us)
		l.send(control(0, 1, byte(i/128)))
		l.send(control(0, 33, byte(i%128)))
	}
	l.until(2 * time.Second)
	upper := byte(0)
	for _, a := range l.got {
		if a.msg[1] == 1 {
			upper = a.msg[2]
			continue
		}
		i := min(int(a.at/(500*us)), 1999) // what was said last
		if position := int(upper)*128 + int(a.msg[2]); position > i || position < i-4 {
			t.Fatalf("at %v the position is %d, the pedal was at %d", a.at, position, i)
		}
	}
	if n := len(l.got); n > 1100 || l.got[n-1].msg[2] != 1999%128 || l.got[n-2].msg[2] != 1999/128 {
		t.Errorf("%d pass, at last % X, % X", n, l.got[n-2].msg, l.got[n-1].msg)
	}
}

func TestWhatIsAValue(t *testing.T) {
	for _, c := range []struct {
		msg  []byte
		want string
	}{
		{control(0, 1, 5), "controller 1 on channel 1"},
		{control(15, 95, 5), "controller 95 on channel 16"},
		{control(0, 102, 5), "controller 102 on channel 1"},
		{control(0, 119, 5), "controller 119 on channel 1"},
		{[]byte{0xD2, 5}, "pressure on channel 3"},
		{[]byte{0xE3, 0, 64}, "pitch bend on channel 4"},
		{[]byte{0xA4, 127, 1}, "pressure of note 127 on channel 5"},
		{control(0, 0, 5), ""}, {control(0, 32, 5), ""}, {control(0, 6, 5), ""}, {control(0, 38, 5), ""},
		{control(0, 96, 5), ""}, {control(0, 98, 5), ""}, {control(0, 101, 5), ""}, {control(0, 120, 5), ""}, {control(0, 127, 5), ""},
		{on(0, 60, 1), ""}, {off(0, 60), ""}, {[]byte{0xC0, 1}, ""}, {[]byte{0xF8}, ""}, {[]byte{0xF2, 1, 1}, ""}, {sysex(5), ""},
	} {
		n, ok := valueOf(c.msg)
		got := n.String()
		if !ok {
			got = ""
		}
		if got != c.want {
			t.Errorf("% X: %q, want %q", c.msg, got, c.want)
		}
	}
}

// passing is a thinner and what lets a message in.
func passing(every time.Duration) (step func(msg []byte)) {
	var l thinner
	var now time.Duration
	pass := func(time.Duration, []byte) {}
	return func(msg []byte) {
		now += every
		l.take(now, msg, pass)
	}
}

func TestThinningDoesNotAllocate(t *testing.T) {
	step := passing(200 * us)
	note, pedal := on(0, 60, 1), control(0, 11, 0)
	n := testing.AllocsPerRun(1000, func() {
		pedal[2] = (pedal[2] + 1) % 128
		step(pedal)
		step(note)
	})
	if n != 0 {
		t.Errorf("a value and a note allocate %v times, want 0", n)
	}
}

func BenchmarkThinner(b *testing.B) {
	for name, c := range map[string]struct {
		every time.Duration
		msg   []byte
	}{"note": {5 * time.Millisecond, on(0, 60, 1)}, "pedal": {5 * time.Millisecond, control(0, 11, 3)}, "flood": {200 * us, control(0, 11, 3)}} {
		b.Run(name, func(b *testing.B) {
			step := passing(c.every)
			b.ReportAllocs()
			for b.Loop() {
				step(c.msg)
			}
		})
	}
}
