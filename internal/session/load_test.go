package session

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"bedd/internal/midiio"
)

// forBedAtMost is how long a note of the player's may wait for the bed on a cable.
const forBedAtMost = 3 * time.Millisecond

// pacedFaults sends a take through a MIDI cable's pace and tells what it breaks of
// what holds before it: no note of the bed's is struck twice, there is no hole where
// the bed meant none, in the end nothing sounds, and the player waits for nothing.
// It gives too how long the player waited at most for what the bed had sent. With a stall the machine stands still for so long again and again, and then sends
// all at once.
func pacedFaults(take *Take, stall time.Duration) (faults []string, forBed time.Duration) {
	var now time.Duration
	fault := func(format string, args ...any) {
		faults = append(faults, fmt.Sprintf("%v: ", now)+fmt.Sprintf(format, args...))
	}
	meant, heard := map[[2]byte]bool{}, map[[2]byte]bool{}
	silences := 0               // how often the bed has meant silence
	ends := map[[2]byte][]int{} // by note: how often that had been when its ends that wait were asked for
	arrived := 0
	var p *midiio.Pacer
	p = midiio.NewPacer(midiio.DINBaud, func(msg []byte) {
		arrived++
		p.Sent(now, len(msg))
		if !isBedNote(msg) {
			return
		}
		key := [2]byte{msg[0] & 15, msg[1]}
		if msg[0]&0xF0 == 0x90 {
			if heard[key] {
				fault("note %v is struck again", key)
			}
			heard[key] = true
			return
		}
		delete(heard, key)
		asked := ends[key][0]
		ends[key] = ends[key][1:]
		if len(heard) == 0 && len(meant) > 0 && asked == silences {
			fault("a hole: note %v ended, though since then others were to sound", key)
		}
	})
	until := func(at time.Duration) {
		for due, waits := p.Deadline(); waits && due < at; due, waits = p.Deadline() {
			now = max(due, now)
			p.Advance(now)
		}
		now = at
	}
	for _, s := range take.Sent() {
		if stall > 0 {
			s.At = (s.At + stall - 1) / stall * stall
		}
		until(s.At)
		before, void := arrived, p.Load().Overtaken
		var end *[2]byte
		if isBedNote(s.Data) {
			key := [2]byte{s.Data[0] & 15, s.Data[1]}
			if s.Data[0]&0xF0 == 0x90 {
				meant[key] = true
			} else {
				delete(meant, key)
				ends[key], end = append(ends[key], silences), &key
				if len(meant) == 0 {
					silences++
				}
			}
		}
		p.Send(now, s.From.source(), s.Data)
		if end != nil && p.Load().Overtaken > void { // its strike had not gone out
			ends[*end] = ends[*end][:len(ends[*end])-1]
		}
		if s.From == Thru && isNote(s.Data) && s.Data[0]&0xF0 != 0xA0 && arrived == before {
			fault("the player's % X waits", s.Data)
		}
	}
	until(now + 10*time.Second)
	if len(heard) > 0 {
		fault("at the end %v sound", heard)
	}
	return faults, p.Load().ForBed
}

// isBedNote reports whether a message is a note on the channels that are the bed's
// where the rig names no others.
func isBedNote(msg []byte) bool { return isNote(msg) && (msg[0]&15 == 1 || msg[0]&15 == 2) }

// What the report says of a cable is what a plain queue of bytes makes of the demo:
// the player's messages at once, and the rest not later than they would be alone.
func TestReportTellsOfTheCable(t *testing.T) {
	f, err := midiio.ReadFile("../../testdata/winter-lights.mid")
	if err != nil {
		t.Fatal(err)
	}
	take, refused, end, err := Perform(openRig(t, "saltmere"), demoMoments(t), f, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, stall := range []time.Duration{0, 40 * time.Millisecond, 300 * time.Millisecond, 2 * time.Second} {
		if faults, forBed := pacedFaults(take, stall); len(faults) > 0 || forBed > forBedAtMost {
			t.Errorf("with stalls of %v: %v, the player waits %v for the bed", stall, faults, forBed)
		}
	}
	text, err := json.Marshal(take.Report(Cues(f), end, refused))
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Cable struct {
			Baud  int     `json:"baud"`
			Bytes int     `json:"most_bytes_waiting"`
			At    float64 `json:"at_s"`
			Wait  float64 `json:"player_waits_ms"`
			Bed   float64 `json:"player_waits_for_bed_ms"`
		} `json:"midi_cable"`
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	// A queue that serves all in order is never shorter, nor longer for more than
	// what the slowest cable takes longer.
	const byteTime = 10 / (31250 * 0.99)
	free, alone, most, at, own := 0.0, 0.0, 0.0, 0.0, 0.0
	for _, s := range take.Sent() {
		now := s.At.Seconds()
		takes := byteTime * float64(len(s.Data))
		if s.From == Thru {
			own = max(own, alone-now)
			alone = max(alone, now) + takes
		}
		if free = max(free, now) + takes; free-now > most {
			most, at = free-now, now
		}
	}
	if c := got.Cable; c.Baud != 31250 || c.Bytes != int(most/byteTime+0.99) || c.At != at || c.Bed > 3 || c.Bed < 0 || c.Wait > 1000*own+c.Bed || c.Wait < 1000*own {
		t.Errorf("the report says %+v; a plain queue has %.2f bytes at %v, the player alone waits %.2f ms", c, most/byteTime, at, 1000*own)
	}
}
