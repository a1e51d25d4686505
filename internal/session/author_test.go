package session

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

// author makes up nights.
type author struct {
	*rand.Rand
	e      *night
	at     time.Duration
	last   int          // the input that played last
	keys   [3][][2]byte // channel and key of what each input holds down
	feet   []bool       // switches that are down
	pedal  int          // where the pedal is
	asleep int          // events until the core takes what waits again
}

// newNight makes up a night with so many events, not counting when the core
// takes what waits.
func newNight(t testing.TB, seed uint64, events int) *night {
	a := author{Rand: rand.New(rand.NewPCG(seed, 5)), e: &night{seed: seed}}
	a.chooseRig(t)
	a.chooseInputs()
	a.choosePlan(t)
	a.feet = make([]bool, len(a.e.rig.Feet))
	for range events {
		a.wait()
		a.event()
	}
	return a.e
}

func pick[T any](a *author, from ...T) T { return from[a.IntN(len(from))] }

func (a *author) chooseRig(t testing.TB) {
	rig := openRig(t, pick(a, gathering.RigNames()...))
	c := &rig.Bed
	c.Voicing.Stillness = pick(a, 0, 0.6, 1)
	c.Voicing.NoBass = c.Voicing.NoBass || a.IntN(4) == 0
	c.Balance.Floor, c.Balance.Ceiling, c.Balance.NoAir = pick(a, math.Inf(-1), -14), pick(a, 0, -6.0), a.IntN(4) == 0
	c.Feel.Room, c.Feel.Holds = pick(a, 0, 0.8), pick(a, time.Second, 2*time.Minute, dynamics.Always)
	c.Lift, c.Brightness.Off = pick[uint8](a, 0, 5), a.IntN(4) == 0
	c.BringIn = pick(a, 300*ms, 3*time.Second)
	c.Fade = pick(a, 500*ms, 6*time.Second)
	c.Leave = pick(a, 100*ms, 500*ms)
	c.Overlap = pick(a, bed.MinOverlap, 120*ms, time.Second)
	c.Arms = bed.Armable()
	rig.Out = pick(a, 0, 0, 0, -12, 5, 12)
	rig.In = pick(a, 0, 0, -12, 1)
	rig.Setup = a.IntN(4) > 0
	rig.Share = rig.Share || a.IntN(5) == 0
	if a.IntN(3) == 0 {
		rig.Player.Aside = map[uint8]uint8{rig.Layers[bed.Warm].Channel: 4, rig.Layers[bed.Air].Channel: rig.Player.Channel}
	}
	if a.IntN(4) == 0 {
		for i := range rig.Feet {
			rig.Feet[i].Switch.Channel = -1
		}
	}
	a.e.rig = rig
}

// chooseInputs says what each input is for. The third belongs to the device of
// port 1, which sounds by itself; what is for feet alone goes nowhere.
func (a *author) chooseInputs() {
	for i := range a.e.inputs {
		in := input{role: pick(a, midiio.AnyRole, midiio.AnyRole, midiio.KeysRole, midiio.FeetRole), to: ^midiio.Outputs(0)}
		if i == 2 {
			in.to &^= 1 << 1
		}
		if in.role == midiio.FeetRole {
			in.to = 0
		}
		for port := range parts {
			if in.to.Has(port) && FilterOf(&a.e.rig, in.role, parts[port]).Nothing() && parts[port]&midiio.PianoPart != 0 {
				in.past |= 1 << port
			}
		}
		a.e.inputs[i] = in
	}
}

func (a *author) choosePlan(t testing.TB) {
	for range 1 + a.IntN(3) {
		key := pick(a, "C", "Eb", "F#", "Am", "G")
		m := plainMoment(t, key, pick(a, "1 4", "1 5", "1", "1 6 4 5"), pick(a, "6m 2m", "4 5", ""))
		m.Intensity = pick(a, 0.1, 0.4, 0.9)
		if a.IntN(2) == 0 {
			m.NextKey = pitch.Key{Tonic: pitch.Name{Letter: int8(a.IntN(7))}}
			m.NextChord = harmony.Diatonic(m.NextKey, 1)
		}
		a.e.moments = append(a.e.moments, m)
	}
	c := &a.e.rig.Bed
	c.Walk, c.Thin, c.Hands = pick(a, 100*ms, time.Second), pick(a, 0, time.Second), pick(a, 0, 0, 2*time.Second)
	for i := range a.IntN(4) {
		key := pick(a, "D", "Ab", "Bm")
		m := plainMoment(t, key, "1 4", pick(a, "6 5", ""))
		c.Songs = append(c.Songs, bed.Song{Key: m.Key, First: m.Home[0], Home: m.Home, Away: m.Away, Then: min(i, len(a.e.moments)-1)})
	}
}

// wait lets some time pass: little in a flurry, more between.
func (a *author) wait() {
	a.at += pick(a, 0, 0, 0, ms, ms, 3*ms, 10*ms, 10*ms, 20*ms, 41*ms, 120*ms, 60*ms)
	switch n := a.IntN(1000); {
	case n < 4:
		a.at += 4 * time.Second
	case n < 5:
		a.at += time.Minute
	case n < 30:
		a.at += 720 * ms
	}
}

func (a *author) add(h happening) {
	h.at = a.at
	a.e.happenings = append(a.e.happenings, h)
}

// arrive lets a message come in. Messages of different inputs never come at the
// very same time: who was first would be chance.
func (a *author) arrive(input int, bytes ...byte) {
	if input != a.last {
		a.at += time.Microsecond
		a.last = input
	}
	a.add(happening{deed: arrives, who: input, msg: short(bytes...)})
	if a.asleep > 0 {
		a.asleep--
		return
	}
	switch a.add(happening{deed: takes}); a.IntN(1000) {
	case 0:
		a.asleep = a.IntN(1000)
	default:
		a.asleep = max(0, a.IntN(800)-760)
	}
}

func (a *author) event() {
	input := a.IntN(len(a.e.inputs))
	n := a.IntN(1000)
	if a.asleep > 0 {
		n = a.IntN(900)
	}
	switch {
	case n < 400:
		a.key(input)
	case n < 460:
		a.arrive(input, 0xB0|a.channel(), pick[byte](a, 64, 64, 64, 66, 69), pick[byte](a, 0, 0, 127, byte(a.IntN(128))))
	case n < 560:
		a.other(input)
	case n < 580:
		a.arrive(input, pick(a, []byte{0xF0, 1, 2, 0xF7}, []byte{0xF0, 0x7D, 0xF7}, []byte{0xFA}, []byte{0xFC}, []byte{0xF2, 3, 4}, []byte{0xF3, 5})...)
	case n < 584:
		a.arrive(input, pick(a, []byte{0xFF}, []byte{0xF0, 0x7E, 0x7F, 9, 1, 0xF7}, []byte{0xF0, 0x7E, 0x10, 9, 3, 0xF7})...)
	case n < 760:
		a.foot(input)
	case n < 880:
		a.move(input)
	case a.asleep > 0:
		a.add(happening{deed: unplugs, who: 1 + a.IntN(3), after: a.IntN(30)})
	case n < 970:
		a.ask()
	default:
		a.add(happening{deed: pick(a, unplugs, loses, returns, returns, returns, flaps), who: 1 + a.IntN(3), after: pick(a, 0, a.IntN(30))})
	}
}

func (a *author) channel() byte {
	switch a.IntN(8) {
	case 0:
		return pick(a, a.e.rig.Layers[bed.Warm].Channel, a.e.rig.Layers[bed.Air].Channel)
	case 1:
		return byte(a.IntN(16))
	}
	return a.e.rig.Player.Channel
}

// key strikes one, or lets one go that is down; now and then one that is not.
func (a *author) key(input int) {
	down := &a.keys[input]
	switch {
	case a.IntN(30) == 0:
		a.arrive(input, 0x80|a.channel(), byte(a.IntN(128)), 64)
	case len(*down) > 0 && a.IntN(8) < len(*down):
		i := a.IntN(len(*down))
		k := (*down)[i]
		*down = append((*down)[:i], (*down)[i+1:]...)
		if a.IntN(3) == 0 {
			a.arrive(input, 0x90|k[0], k[1], 0)
		} else {
			a.arrive(input, 0x80|k[0], k[1], byte(a.IntN(128)))
		}
	default:
		k := [2]byte{a.channel(), byte(36 + a.IntN(50))}
		if a.IntN(20) == 0 {
			k[1] = byte(a.IntN(128))
		}
		*down = append(*down, k)
		a.arrive(input, 0x90|k[0], k[1], byte(1+a.IntN(127)))
	}
}

// other is what else comes from a keyboard.
func (a *author) other(input int) {
	ch, number, value := a.channel(), byte(a.IntN(128)), byte(a.IntN(128))
	switch a.IntN(6) {
	case 0:
		a.arrive(input, 0xA0|ch, number, value)
	case 1:
		a.arrive(input, 0xC0|ch, number)
	case 2:
		a.arrive(input, 0xD0|ch, value)
	case 3:
		a.arrive(input, 0xE0|ch, number, value)
	default:
		a.arrive(input, 0xB0|ch, pick[byte](a, 0, 1, 7, 11, 32, 120, 121, 123, 126, number), value)
	}
}

// foot presses a switch or lets it go, and now and then it bounces.
func (a *author) foot(input int) {
	if len(a.feet) == 0 {
		a.ask()
		return
	}
	i := a.IntN(len(a.feet))
	if a.IntN(10) > 0 {
		a.feet[i] = !a.feet[i]
	}
	c := a.e.rig.Feet[i].Switch.Control
	ch, value := byte(c.Channel)&15, byte(0)
	if a.feet[i] {
		value = byte(64 + a.IntN(64))
	}
	switch c.Kind {
	case midiio.Controller:
		a.arrive(input, 0xB0|ch, c.Number, value)
	case midiio.Note:
		a.arrive(input, 0x90|ch, c.Number, value)
	case midiio.Program:
		a.arrive(input, 0xC0|ch, c.Number)
	case midiio.Pressure:
		a.arrive(input, 0xD0|ch, value)
	}
}

// move moves the intensity pedal.
func (a *author) move(input int) {
	a.pedal = min(max(a.pedal+a.IntN(31)-15, 0), 127)
	if a.IntN(50) == 0 {
		a.pedal = a.IntN(128)
	}
	p := a.e.rig.Pedal
	number := p.Control.Number
	if p.Fine && a.IntN(2) == 0 {
		number += 32
	}
	a.arrive(input, 0xB0|byte(p.Control.Channel)&15, number, byte(a.pedal))
}

// ask asks for anything; what has to search for voicings, rarely.
func (a *author) ask() {
	o := gathering.Order{Command: pick(a, bed.Step, bed.Arm, bed.BringIn, bed.BringIn, bed.Next, bed.Next, bed.Previous, bed.Swap, bed.Land,
		bed.Capture, bed.Follow, bed.Stay, bed.FadeOut, bed.OutNow, bed.LevelUp, bed.LevelDown,
		bed.LandThrough, bed.FirstChord, bed.ChooseSong, bed.ChooseKey, bed.Take)}
	switch n := a.IntN(100); {
	case n < 4:
		o.Command = pick(a, bed.KeyUp, bed.KeyDown, bed.NextMoment, bed.PreviousMoment)
	case n < 5:
		o = gathering.Order{Command: bed.KeyTo, Tonic: pitch.Class(a.IntN(12))}
	case n < 8:
		o.Command = bed.AllNotesOff
	}
	a.add(happening{deed: asks, order: o})
}
