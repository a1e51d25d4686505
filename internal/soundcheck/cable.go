package soundcheck

import (
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
	"bedd/internal/session"
)

// Cable is how busy a MIDI cable is that carries a rig's piano and bed at its busiest.
type Cable struct {
	Baud   int     `json:"baud"`
	Bytes  int     `json:"most_bytes_waiting"`
	Wait   float64 `json:"player_waits_ms"`         // at most
	ForBed float64 `json:"player_waits_for_bed_ms"` // at most
}

// busyChord is ten fingers.
var busyChord = []byte{36, 43, 48, 52, 55, 60, 64, 67, 72, 76}

// BusyCable reckons that: every chord of a moment, at full intensity and while it grows,
// with a chord of ten fingers struck and damped at each change. It is reckoned, not
// measured, by what a line of so many bits a second takes.
func BusyCable(rig gathering.Rig, m bed.Moment, baud int) (Cable, error) {
	take := new(session.Take)
	m.Intensity = 1
	s, err := session.New(rig, []bed.Moment{m}, take)
	if err != nil {
		return Cable{}, err
	}
	at := time.Duration(0)
	s.SetUp(at)
	ch := rig.Player.Channel
	do := func(c bed.Command) {
		s.Ask(at, gathering.Order{Command: c})
		s.Advance(at)
		for _, n := range busyChord {
			s.Message(at, []byte{0x90 | ch, n, 100})
		}
		s.Message(at, []byte{0xB0 | ch, 64, 127})
		at += chordTime / 2
		s.Ask(at, gathering.Order{Command: bed.Swell})
		s.Message(at, []byte{0xB0 | ch, 64, 0})
		for _, n := range busyChord {
			s.Message(at, []byte{0x80 | ch, n, 64})
		}
		at += chordTime / 2
		s.Advance(at)
	}
	do(bed.BringIn)
	for range len(m.Home) {
		do(bed.Next)
	}
	if len(m.Away) > 0 {
		do(bed.Swap)
		for range len(m.Away) {
			do(bed.Next)
		}
	}
	s.End(at)
	l := take.Load(baud)
	return Cable{l.Baud, l.Bytes, inMS(l.Wait), inMS(l.ForBed)}, nil
}

func inMS(d time.Duration) float64 { return hundredths(float64(d.Microseconds()) / 1000) }

// Trial is a moment to try a rig with: in C, home 1 4, away 6m 2m.
func Trial() bed.Moment {
	key := pitch.Key{}
	at := func(degrees ...int) (list []harmony.Chord) {
		for _, d := range degrees {
			list = append(list, harmony.Diatonic(key, d))
		}
		return list
	}
	return bed.Moment{Key: key, Home: at(1, 4), Away: at(6, 2)}
}

// DINCable is a MIDI cable's rate.
const DINCable = midiio.DINBaud
