package linecheck

import (
	"math/rand/v2"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
	"bedd/internal/session"

	"pgregory.net/rapid"
)

var boardAndKeys = Gear{Ins: []string{"Stage", "Board"}, Outs: []string{"Stage", "Module"}, Same: []int{0, -1}}

// walk is a player who does as the prompts say, on made-up gear.
type walk struct {
	t     rapid.TB
	m     *made
	c     *Check
	now   time.Duration
	saw   map[string]int
	sent  []Act
	quits time.Duration
}

func newWalk(t rapid.TB, m *made, steps ...Step) *walk {
	return &walk{t: t, m: m, c: New(boardAndKeys, Found{}, steps...), saw: map[string]int{}, quits: 10 * time.Minute}
}

// tick lets 20 ms pass.
func (w *walk) tick() {
	until := w.now + 20*ms
	for _, a := range w.m.take(until) {
		w.c.Hear(max(a.at, w.now), a.in, a.data)
	}
	w.now = until
	w.c.Advance(w.now)
	w.sent = append(w.sent, w.c.Acts()...)
}

func (w *walk) passes(d time.Duration) {
	from := w.now
	w.m.idle(from, from+d)
	if w.m.together && w.m.keys != nil {
		w.m.play(from, from+d)
	}
	for w.now < from+d {
		w.tick()
	}
}

// presses treads twice, briefly, with a second between.
func (w *walk) presses(b *box, times int) {
	r := w.m.r
	at := w.now + 100*ms
	for range times {
		lasts := time.Duration(80+r.IntN(350)) * ms
		if w.m.slow && times > 1 { // once more, and let go at once
			lasts = time.Duration(800+r.IntN(200)) * ms
			at += time.Second
		}
		w.m.tread(at, b, lasts)
		at += time.Duration(1000+r.IntN(100)) * ms
	}
	w.passes(at - w.now)
}

// through goes through all steps as an obedient player.
func (w *walk) through() Found {
	w.t.Helper()
	for !w.c.Over() {
		p := w.c.Prompt()
		key := string(p.Step) + "/" + p.Big
		if w.saw[key]++; w.saw[key] > 40 || w.now > w.quits {
			w.t.Fatalf("it goes on asking: %+v\nfound %+v", p, w.c.Found())
		}
		do(w, p)
	}
	return w.c.Found()
}

// do is what the player does about a prompt.
func do(w *walk, p Prompt) {
	m := w.m
	switch p.Step {
	case Rest:
		w.passes(time.Second)
	case Piano:
		if p.Big == "middle C" {
			w.m.key(w.now+200*ms, 60, 300*ms)
			hold := w.m.together
			w.m.together = false
			w.passes(time.Second)
			w.m.together = hold
		} else {
			w.m.play(w.now, w.now+2*time.Second)
			w.passes(2 * time.Second)
		}
	case Left, Right:
		b := m.left
		if p.Step == Right {
			b = m.right
		}
		if b == nil {
			w.c.Answer(w.now, Skip)
			return
		}
		times := 2
		if p.Big == "once more" {
			times = 1
		}
		w.presses(b, times)
		w.passes(1500 * ms)
	case Foot:
		if m.pedal == nil {
			w.c.Answer(w.now, Skip)
			return
		}
		if m.pedal.at > 0 {
			m.rocks(w.now+100*ms, 500*ms, 0)
			w.passes(time.Second)
		}
		rocks := time.Duration(600+m.r.IntN(900)) * ms
		m.rocks(w.now+300*ms, rocks, 1)
		m.rocks(w.now+300*ms+rocks+200*ms, rocks, 0)
		w.passes(2*rocks + 500*ms)
		w.passes(2500 * ms)
	default:
		w.c.Answer(w.now, Skip)
	}
}

// variety is gear of many kinds.
func variety(t *rapid.T) *made {
	draw := func(name string, n int) int { return rapid.IntRange(0, n-1).Draw(t, name) }
	m := &made{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)), together: true}
	m.keys = &keyboard{channel: byte(draw("keys on", 9)), transpose: []int{0, 0, -12, 2, -1}[draw("transposed", 5)],
		aftertouch: draw("aftertouch", 2) == 1, damper: draw("damper", 2) == 1, wheel: draw("wheel", 2) == 1, zone: -1}
	if draw("zone", 4) == 0 {
		m.keys.zone = int(m.keys.channel+1) % 9
	}
	numbers := []byte{80, 81, 82, 20, 64, 0, 102, 67}
	a := draw("left number", len(numbers))
	b := (a + 1 + draw("right number", len(numbers)-1)) % len(numbers)
	foot := func(name string, number byte) *box {
		f := &box{in: 1, number: number, channel: byte(draw(name+" channel", 16)), velocity: byte(1 + draw(name+" velocity", 127))}
		f.sends = []string{"controller", "controller", "controller", "note", "program", "pressure"}[draw(name+" sends", 6)]
		f.bounce = time.Duration([]int{0, 0, 8, 25}[draw(name+" bounces", 4)]) * ms
		switch draw(name+" is", 4) {
		case 0:
			f.latching = f.sends != "program"
		case 1:
			f.inverted = f.sends != "program"
		}
		if f.sends == "pressure" {
			f.number = 0
		}
		return f
	}
	m.left, m.right = foot("left", numbers[a]), foot("right", numbers[b])
	if m.right.sends == "pressure" && m.left.sends == "pressure" {
		m.right.channel = (m.left.channel + 1) % 16
	}
	m.pedal = &rocker{in: 1, number: []byte{11, 4, 7, 16, 40}[draw("pedal number", 5)], channel: byte(draw("pedal channel", 16)), high: 1}
	m.pedal.fine = m.pedal.number < 32 && draw("fine", 2) == 1
	m.pedal.at = []float64{0, 0, 0.5, 1}[draw("pedal rests at", 4)]
	m.slow = draw("slow feet", 4) == 0
	m.pedal.backwards = draw("backwards", 2) == 1
	m.pedal.chatter = []float64{0, 0, 0.012, 0.03}[draw("chatter", 4)]
	if draw("short", 3) == 0 {
		m.pedal.low, m.pedal.high = 0.1, 0.8
	}
	if draw("in the keyboard", 3) == 0 { // pedal and switches in the keyboard's own jacks, on its channel
		m.left.in, m.right.in, m.pedal.in = 0, 0, 0
		m.pedal.channel = m.keys.channel
		m.left.sends, m.left.channel = "controller", m.keys.channel
		m.right.sends, m.right.channel = "controller", m.keys.channel
		m.left.number, m.right.number = 80, 82
	}
	return m
}

// Whatever the gear is, and with the keys played all the while, each thing is found as
// it was built; and bedd, with the rig that comes of it and the same gear, does what the
// feet mean.
func TestGearOfEveryKindIsLearned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := variety(t)
		found := newWalk(t, m, Rest, Piano, Left, Right, Foot).through()
		if k := found.Keys; k == nil || k.Input != "Stage" || k.Channel != int(m.keys.channel)+1 ||
			k.Transposed != (m.keys.transpose+17)%12-5 || (len(k.Channels) > 1) != (m.keys.zone >= 0) {
			t.Fatalf("keys %+v, built %+v", k, m.keys)
		}
		if len(found.Feet) != 2 {
			t.Fatalf("feet %+v", found.Feet)
		}
		for i, b := range []*box{m.left, m.right} {
			f := found.Feet[i]
			number := int(b.number)
			if b.sends == "program" {
				number++
			}
			if f.Kind != b.sends || f.Number != number || f.Channel != int(b.channel)+1 || f.Latching != b.latching || f.Inverted != b.inverted || f.Input != boardAndKeys.Ins[b.in] {
				t.Fatalf("switch %d is %+v, built %+v", i, f, b)
			}
		}
		checkPedal(t, found.Pedal, m.pedal)
		rig, err := gathering.ReadRig("learned.yaml", []byte(found.Rig("learned")))
		if err != nil {
			t.Fatalf("%v\n%s", err, found.Rig("learned"))
		}
		feetMean(t, m, rig)
	})
}

func checkPedal(t *rapid.T, p *Pedal, built *rocker) {
	t.Helper()
	if p == nil || p.Number != int(built.number) || p.Channel != int(built.channel)+1 || p.Fine != built.fine || p.Input != boardAndKeys.Ins[built.in] {
		t.Fatalf("pedal %+v, built %+v", p, built)
	}
	most := 127.0
	if built.fine {
		most = 16383
	}
	end := func(x float64) float64 {
		if built.backwards {
			return (1 - x) * most
		}
		return x * most
	}
	slack := (0.02 + 1.5*built.chatter) * most
	if d := float64(p.Heel) - end(built.low); d > slack || d < -slack {
		t.Fatalf("heel %d, built %.0f", p.Heel, end(built.low))
	}
	if d := float64(p.Toe) - end(built.high); d > slack || d < -slack {
		t.Fatalf("toe %d, built %.0f", p.Toe, end(built.high))
	}
}

// feetMean drives a real session with the same gear.
func feetMean(t *rapid.T, m *made, rig gathering.Rig) {
	t.Helper()
	key := pitch.Key{}
	home := []harmony.Chord{harmony.Diatonic(key, 1), harmony.Diatonic(key, 4)}
	away := []harmony.Chord{harmony.Diatonic(key, 6), harmony.Diatonic(key, 2)}
	rig.Bed.Feel.Holds = time.Hour
	v := &rig.Bed.Voicing // simple chords, soon found: they are not the point
	v.Plain, v.Thin, v.Voices, v.Full = true, 1, 2, 2
	s, err := session.New(rig, []bed.Moment{{Key: key, Home: home, Away: away}}, new(session.Take))
	if err != nil {
		t.Fatal(err)
	}
	at := time.Duration(0)
	m.wire = nil
	role := func(in int) midiio.Role {
		name := boardAndKeys.Ins[in]
		switch {
		case len(rig.Ports.In) > 0 && rig.Ports.In[0] == name:
			return midiio.AnyRole
		case len(rig.Ports.InKeys) > 0 && rig.Ports.InKeys[0] == name:
			return midiio.KeysRole
		}
		return midiio.FeetRole
	}
	goes := func(d time.Duration) {
		m.play(at, at+d)
		m.idle(at, at+d)
		for end := at + d; at < end; at += 20 * ms {
			for _, a := range m.take(at + 20*ms) {
				s.Thru(max(a.at, at), a.data, session.Passage{Role: role(a.in)})
				s.Observe(max(a.at, at), a.data, role(a.in))
			}
			s.Advance(at + 20*ms)
		}
	}
	tread := func(b *box) {
		m.tread(at+50*ms, b, 150*ms)
		goes(1500 * ms)
	}
	sees := func(when, chord string) {
		t.Helper()
		if v := s.View(); v.Chord.Symbol() != chord || v.Phase == bed.Silent {
			t.Fatalf("%s: %s, %v, want %s", when, v.Chord.Symbol(), v.Phase, chord)
		}
	}
	goes(time.Second)
	if m.left.latching { // which way it stands, the rig cannot know: its first change counts
		m.left.is = false
	}
	tread(m.left)
	goes(4 * time.Second)
	sees("bring in", "C")
	tread(m.left)
	sees("next", "F")
	tread(m.right)
	tread(m.left)
	sees("swap", "Am")
	m.rocks(at, 2*time.Second, 0.1)
	goes(3 * time.Second)
	m.rocks(at, 2*time.Second, 1)
	goes(15 * time.Second)
	full := s.View().Intensity
	m.rocks(at, 2*time.Second, 0)
	goes(15 * time.Second)
	slack := 0.03 + rig.Bed.Pedal.Noise // so near an end a pedal that wanders can be told to be
	if low := s.View().Intensity; full < 1-slack || low > slack {
		t.Fatalf("intensity is %.3f at the toe and %.3f at the heel: pedal %+v", full, low, rig.Bed.Pedal)
	}
}
