package sound

import (
	"math"
	"testing"
)

// bloomDB gives how far the open strings lie under a struck key, by what the
// damper pedal adds while the key is held, in a stretch of sound.
func bloomDB(t *testing.T, key byte, from, seconds float64) float64 {
	sound := func(pedal byte) []float32 {
		s := newSynth(t, 48000)
		s.Send(0xB0, 91, 0)
		s.Send(0xB0, 64, pedal)
		play(s, 0.2)
		s.Send(0x90, key, 90)
		play(s, from)
		return play(s, seconds)
	}
	dry, open := sound(0), sound(127)
	added := make([]float32, len(dry))
	for i := range added {
		added[i] = open[i] - dry[i]
	}
	return levelDB(added) - levelDB(dry)
}

// Light, but there, and there for longer than the note: by ear.
func TestOpenStringsRingLightly(t *testing.T) {
	oneGoroutine(t)
	for _, key := range []byte{36, 48, 60, 72, 84} {
		early, late := bloomDB(t, key, 0.05, 0.5), bloomDB(t, key, 2, 0.5)
		t.Logf("key %d: %.1f dB, after 2 s %.1f dB", key, early, late)
		if early < -45 || early > -18 || late < early {
			t.Errorf("key %d: open strings at %.1f dB re the note, after 2 s %.1f: want -45…-18, then more", key, early, late)
		}
	}
}

func TestDampersStillTheOpenStrings(t *testing.T) {
	oneGoroutine(t)
	s := newSynth(t, 48000)
	s.Send(0xB0, 91, 0)
	s.Send(0xB0, 64, 127)
	play(s, 0.2)
	for _, key := range []byte{48, 52, 55} {
		s.Send(0x90, key, 110)
		s.Send(0x80, key, 0)
	}
	play(s, 1)
	ringing := levelDB(play(s, 0.1))
	s.Send(0xB0, 64, 0)
	play(s, 1.5)
	if left := levelDB(play(s, 0.1)); left > ringing-60 {
		t.Errorf("1.5 s after the pedal came up %.1f dB are left of %.1f, want 60 dB less", left, ringing)
	}
	play(s, 5)
	if !s.channels[0].resting {
		t.Error("the channel does not rest when all is silent")
	}
}

// Over all keys the bloom makes a note louder by a breath at most.
func TestBloomIsLight(t *testing.T) {
	oneGoroutine(t)
	for key := byte(24); key <= 96; key += 6 {
		level := func(pedal byte) float64 {
			s := newSynth(t, 48000)
			s.Send(0xB0, 91, 0)
			s.Send(0xB0, 64, pedal)
			play(s, 0.2)
			s.Send(0x90, key, 90)
			return levelDB(play(s, 1))
		}
		if more := level(127) - level(0); math.Abs(more) > 1.2 {
			t.Errorf("key %d: the pedal changes the level of its first second by %.2f dB, want at most 1.2", key, more)
		}
	}
}
