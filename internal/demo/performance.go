// Package demo makes the invented performance that the demo plays and the tests run.
package demo

import (
	"math"
	"math/rand/v2"
	"sort"

	"bedd/internal/midiio"
)

const (
	division = 480
	bpm      = 76
)

// score collects events by seconds.
type score struct {
	events []midiio.Event
	random *rand.Rand
}

func tick(at float64) int64 { return int64(math.Round(at * bpm / 60 * division)) }

func (s *score) send(at float64, msg ...byte) {
	s.events = append(s.events, midiio.Event{Tick: tick(at), Data: msg})
}

func (s *score) say(at float64, text string) {
	s.events = append(s.events, midiio.Event{Tick: tick(at), Data: midiio.TextMeta(midiio.Text, text)})
}

// note plays a key of the piano; every other note ends as a note-on of velocity 0.
func (s *score) note(at, length float64, key, velocity byte) {
	s.send(at, 0x90, key, velocity)
	if len(s.events)%2 == 0 {
		s.send(at+length, 0x90, key, 0)
	} else {
		s.send(at+length, 0x80, key, 50)
	}
}

// chord plays keys together as fingers do, a few milliseconds apart.
func (s *score) chord(at, length float64, velocity byte, keys ...byte) {
	for i, k := range keys {
		s.note(at+0.009*float64(i), length, k, velocity-byte(i%3*4))
	}
}

func (s *score) control(at float64, number, value byte) { s.send(at, 0xB0, number, value) }

// press is a momentary switch with contacts that bounce for a few milliseconds
// (mean 1.6 ms, worst 6.2 ms: Ganssle, A Guide to Debouncing).
func (s *score) press(at, length float64, number byte) {
	s.edge(at, number, 127)
	s.edge(at+length, number, 0)
}

func (s *score) edge(at float64, number, value byte) {
	s.control(at, number, value)
	if s.random.IntN(3) > 0 {
		s.control(at+0.002, number, 127-value)
		s.control(at+0.0045, number, value)
	}
}

// sweep moves the pedal, with a worn potentiometer's jitter.
func (s *score) sweep(from, to float64, low, high byte) {
	for at := from; at < to; at += 0.025 {
		x := (at - from) / (to - from)
		value := float64(low) + (float64(high)-float64(low))*(1-math.Cos(math.Pi*x))/2
		value += float64(s.random.IntN(3) - 1)
		s.control(at, 11, byte(min(max(math.Round(value), 0), 127)))
	}
	s.control(to, 11, high)
}

// Performance is 54 seconds at the piano on an invented evening: the last words
// of a talk in E flat, the way into a song in B flat, and the next moment's
// first breath. It has the mess of real life: notes that overlap and are struck
// twice, notes that the bed sounds too, a damper pedal, switches that bounce, a
// quick double press, a latching switch, a pedal sweep with jitter, note-offs as
// velocity 0, SysEx, a 14-bit pair, a stray zone on a channel of the bed's, a
// bring-in that a fade interrupts, and notes left hanging at the end.
//
// It is meant for the rig saltmere and the plan winter-lights.
func Performance() midiio.OutFile {
	s := &score{random: rand.New(rand.NewPCG(1, 2))}
	s.setUp()
	s.bringIn()
	s.home()
	s.swell()
	s.away()
	s.hands()
	s.landing()
	s.ending()
	sort.SliceStable(s.events, func(i, j int) bool { return s.events[i].Tick < s.events[j].Tick })
	conductor := []midiio.Event{
		{Data: midiio.TempoMeta(60_000_000 / bpm)},
		{Data: midiio.TimeMeta(4, 2)},
		{Data: midiio.KeyMeta(-3, false)},
	}
	end := s.events[len(s.events)-1].Tick
	return midiio.OutFile{Division: division, Tracks: []midiio.OutTrack{
		{Name: "conductor", Events: conductor, End: end},
		{Name: "player", Events: s.events, End: end},
	}}
}

func (s *score) setUp() {
	s.send(0, 0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7) // General MIDI 1 on
	s.send(0, 0xC0, 0)
	s.control(0, 7, 100) // volume as a 14-bit pair
	s.control(0, 39, 64)
	s.sweep(0.05, 0.35, 34, 18) // the foot takes its place
	s.say(0.4, "Maud Terrick turns to the last page")
	s.control(0.5, 64, 127)
	s.chord(0.6, 2.2, 46, 39, 46, 67)
	s.note(1.9, 0.9, 70, 44)
	s.note(2.6, 0.8, 72, 48) // overlaps the one before
	s.control(2.95, 64, 0)
	s.control(3.05, 64, 127)
	s.chord(3.1, 1.8, 45, 44, 60, 63)
}

func (s *score) bringIn() {
	s.say(3.8, "“… we had one lamp then, and it was enough.”")
	s.press(4.0, 0.18, 80)
	s.press(5.0, 0.9, 81) // held: it fades after 0.7 s
	s.say(6.4, "she goes on after all")
	s.press(7.2, 0.15, 80)
	s.control(6.9, 64, 0)
	s.chord(7.6, 2.4, 40, 63, 67, 70) // keys that the bed may sound too
	s.note(9.2, 1.2, 74, 42)
}

func (s *score) home() {
	s.press(11.0, 0.2, 80)
	s.control(11.1, 64, 100)
	s.chord(11.2, 2.0, 43, 60, 63, 68)
	s.send(12.0, 0x92, 50, 70) // an old split zone still sends on channel 3
	s.send(12.6, 0x82, 50, 0)
	s.control(13.6, 64, 0)
	s.press(14.0, 0.08, 80) // a quick double press
	s.press(14.16, 0.09, 80)
	s.send(14.8, 0x90, 63, 50) // struck twice before it is let go
	s.send(15.1, 0x90, 63, 52)
	s.send(15.6, 0x80, 63, 40)
	s.send(15.7, 0x80, 63, 40)
}

func (s *score) swell() {
	s.say(16.2, "“So when the wind took the harbour wall …”")
	s.sweep(16.0, 20.0, 18, 104)
	for i, key := range []byte{67, 70, 72, 75, 74, 70, 72, 67} {
		s.note(16.4+0.42*float64(i), 0.6, key, byte(52+5*i))
	}
	s.chord(20.0, 0.9, 80, 44, 51, 68, 72)
}

func (s *score) away() {
	s.press(20.6, 0.12, 81)
	s.press(21.5, 0.16, 80)
	s.chord(21.6, 2.6, 74, 36, 48, 67, 75)
	s.press(24.5, 0.16, 80)
	s.chord(24.6, 1.9, 70, 41, 53, 68, 72)
	s.edge(26.0, 82, 127) // the latching switch: stay
	s.press(26.6, 0.15, 80)
	s.sweep(26.8, 27.3, 104, 40) // stay: the foot may shift its weight
	s.sweep(27.7, 28.2, 40, 100)
	s.edge(28.5, 82, 0)
	s.say(28.8, "“… nobody sat at home.”")
	s.sweep(29.0, 31.0, 100, 46)
}

func (s *score) hands() {
	s.chord(31.0, 2.4, 58, 43, 58, 62, 65)
	s.note(31.3, 0.06, 64, 40) // a passing note
	s.press(31.8, 0.15, 84)
	s.press(34.0, 0.15, 80)
	s.press(36.0, 0.15, 85)
	s.chord(36.5, 2.3, 55, 44, 51, 60, 63)
	s.chord(39.0, 1.7, 57, 39, 46, 55, 63)
	s.press(41.0, 0.15, 85)
}

func (s *score) landing() {
	s.say(41.6, "“And that is why we light them.”")
	s.press(42.0, 0.12, 81)
	s.press(42.4, 0.12, 81)
	s.press(43.0, 0.15, 80)
	s.chord(43.1, 2.2, 62, 41, 57, 60, 65)
	s.press(45.5, 0.15, 80)
	s.chord(45.6, 1.4, 66, 46, 58, 62, 65)
	s.say(46.8, "the band comes in: Salt on the Window")
	for i, key := range []byte{70, 74, 77, 74, 70, 74} {
		s.note(47.0+0.39*float64(i), 0.3, key, 84)
	}
	s.press(47.5, 0.14, 83)
}

func (s *score) ending() {
	s.say(50.2, "the baskets go round")
	s.sweep(50.0, 50.5, 46, 60)
	s.press(50.5, 0.15, 80)
	s.control(51.0, 64, 127)
	s.chord(51.1, 1.2, 50, 43, 55, 62)
	s.send(53.0, 0x90, 67, 44) // left hanging, with the damper down
	s.send(53.4, 0x90, 71, 40)
	s.control(54.0, 1, 0)
}
