package session

import (
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
)

// What a note of the player's and the bed's levels cost, with a journal and without:
// twelve notes and a foot on the pedal for a second, written to a real disk beside
// it.
func BenchmarkSecond(b *testing.B) {
	for _, kept := range []bool{false, true} {
		name := map[bool]string{false: "alone", true: "journalled"}[kept]
		b.Run(name, func(b *testing.B) {
			s, err := New(gathering.DefaultRig(), evening(b), silent{}, Destination{deafPort{}, midiio.AllParts})
			if err != nil {
				b.Fatal(err)
			}
			if kept {
				w := journal.Start(journal.Options{Dir: b.TempDir(), Header: journal.Header{Began: time.Now()}})
				s.Journal(w)
				defer w.Close(0, "asked", 0)
			}
			s.SetUp(0)
			s.Message(0, []byte{0xB0, 80, 127})
			at, i := time.Duration(0), 0
			var msg [3]byte
			send := func(at time.Duration, status, first, second byte) {
				msg = [3]byte{status, first, second}
				s.Message(at, msg[:])
			}
			b.ReportAllocs()
			for b.Loop() {
				for range 12 {
					i++
					at += time.Second / 12
					send(at, 0x90, byte(40+i%40), 70)
					send(at, 0xB0, 11, byte(i*3%128))
					send(at+10*ms, 0x80, byte(40+i%40), 0)
				}
			}
		})
	}
}
