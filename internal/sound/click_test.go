package sound

import (
	"math"
	"testing"
)

// clickDB is our measure of a click: the highest sample of what is left
// above 6 kHz, in dBFS. Held pads and strings have next to nothing there, a
// step or a kink has.
func clickDB(interleaved []float32) float64 {
	peak := 1e-9
	for side := range 2 {
		var filters [2]biquad // Butterworth, fourth order
		for i, q := range []float64{0.5412, 1.3066} {
			k := math.Tan(math.Pi * 6000 / 48000)
			a0 := 1 + k/q + k*k
			filters[i] = biquad{b0: 1 / a0, b1: -2 / a0, b2: 1 / a0, a1: 2 * (k*k - 1) / a0, a2: (1 - k/q + k*k) / a0}
		}
		for i := side; i < len(interleaved); i += 2 {
			y := filters[1].next(filters[0].next(float64(interleaved[i])))
			if i > 2*200 { // the filters' own start
				peak = max(peak, math.Abs(y))
			}
		}
	}
	return 20 * math.Log10(peak)
}

func TestClickMeasureHearsAStep(t *testing.T) {
	sound := sine(4800, 100, 0.1, 48000)
	if got := clickDB(sound); got > -90 {
		t.Errorf("a plain sine: %.1f dB, want under -90", got)
	}
	for i := 4800; i < len(sound); i++ {
		sound[i] += 0.01
	}
	if got := clickDB(sound); got < -50 {
		t.Errorf("a step of -40 dBFS: %.1f dB, want over -50", got)
	}
}

// Whatever happens to sounding notes happens without a click: nothing above
// −50 dBFS is asked for, and all keep well under it.
func TestNothingClicks(t *testing.T) {
	oneGoroutine(t)
	for _, c := range []struct {
		name string
		do   func(s *Synth, channel byte)
	}{
		{"note off", func(s *Synth, ch byte) { s.Send(0x80|ch, 36, 0); s.Send(0x80|ch, 60, 0) }},
		{"all sound off", func(s *Synth, ch byte) { s.Send(0xB0|ch, 120, 0) }},
		{"damper let go", func(s *Synth, ch byte) {
			s.Send(0xB0|ch, 64, 127)
			s.Send(0x80|ch, 36, 0)
			s.Send(0xB0|ch, 64, 0)
		}},
		{"sostenuto let go", func(s *Synth, ch byte) {
			s.Send(0xB0|ch, 66, 127)
			s.Send(0x80|ch, 36, 0)
			s.Send(0xB0|ch, 66, 0)
		}},
		{"soft pedal", func(s *Synth, ch byte) { s.Send(0xB0|ch, 67, 127) }},
		{"modulation", func(s *Synth, ch byte) { s.Send(0xB0|ch, 1, 127) }},
		{"all notes off", func(s *Synth, ch byte) { s.Send(0xB0|ch, 123, 0) }},
		{"volume to 0", func(s *Synth, ch byte) { s.Send(0xB0|ch, 7, 0) }},
		{"volume to 127", func(s *Synth, ch byte) { s.Send(0xB0|ch, 7, 127) }},
		{"expression to 0", func(s *Synth, ch byte) { s.Send(0xB0|ch, 11, 0) }},
		{"pan", func(s *Synth, ch byte) { s.Send(0xB0|ch, 10, 0) }},
		{"reverb", func(s *Synth, ch byte) { s.Send(0xB0|ch, 91, 127) }},
		{"chorus", func(s *Synth, ch byte) { s.Send(0xB0|ch, 93, 127) }},
		{"darker", func(s *Synth, ch byte) { s.Send(0xB0|ch, 74, 0) }},
		{"reset", func(s *Synth, ch byte) { s.Send(0xB0|ch, 11, 50); s.Send(0xB0|ch, 121, 0) }},
		{"bend", func(s *Synth, ch byte) { s.Send(0xE0|ch, 0, 0) }},
		{"program", func(s *Synth, ch byte) { s.Send(0xC0|ch, 88, 0); s.Send(0xC0|ch, 0, 0) }},
	} {
		for _, sound := range []struct {
			program byte
			most    float64
		}{{0, -70}, {88, -74}, {89, -72}} {
			s := newSynth(t, 48000)
			s.Send(0xC1, sound.program, 0)
			play(s, 0.1)
			for _, key := range bedKeys {
				s.Send(0x91, key, 90)
			}
			play(s, 1.2)
			before := clickDB(play(s, 0.3))
			// The step itself needs frames in front for the measure's start.
			out := play(s, 0.02)
			c.do(s, 1)
			after := clickDB(append(out, play(s, 0.3)...))
			if after > sound.most {
				t.Errorf("%s, program %d: %.1f dB above 6 kHz, before %.1f, want at most %g", c.name, sound.program, after, before, sound.most)
			}
		}
	}
}

// A piano's treble has partials above 6 kHz: there the start may be no more than
// what rings on.
func TestNoteOnDoesNotClick(t *testing.T) {
	oneGoroutine(t)
	for program, most := range map[byte]float64{0: -50, 88: -74, 89: -72} {
		for key := byte(24); key <= 96; key += 6 {
			s := newSynth(t, 48000)
			s.Send(0xC0, program, 0)
			play(s, 0.1)
			out := play(s, 0.02)
			s.Send(0x90, key, 80)
			start := clickDB(append(out, play(s, 0.03)...))
			rings := clickDB(play(s, 0.05))
			if start > max(most, rings+6) {
				t.Errorf("program %d, key %d: %.1f dB above 6 kHz, then %.1f, want at most %g", program, key, start, rings, most)
			}
		}
	}
}

func TestPadChordChangeIsNoEvent(t *testing.T) {
	for _, program := range []byte{88, 89} {
		s := pad(t, program, bedKeys...)
		play(s, 2)
		held := play(s, 0.5)
		s.Send(0x91, 41, 80)
		s.Send(0x91, 65, 80)
		s.Send(0x81, 36, 0)
		s.Send(0x81, 64, 0)
		change := play(s, 0.5)
		if got, was := clickDB(change), clickDB(held); got > was+6 {
			t.Errorf("program %d: above 6 kHz %.1f dB at the change, %.1f before", program, got, was)
		}
		// A level that jumps would be heard as a new start.
		last := levelDB(held[len(held)-2*4800:])
		for i := 0; i+2*4800 <= len(change); i += 2 * 4800 {
			level := levelDB(change[i : i+2*4800])
			if math.Abs(level-last) > 2.5 {
				t.Errorf("program %d: level goes from %.1f to %.1f dB within 0.1 s of a chord change", program, last, level)
			}
			last = level
		}
	}
}

// More keys than voices: the longest gone give way, the new ones are heard.
func TestStealingIsGraceful(t *testing.T) {
	oneGoroutine(t)
	s := newSynth(t, 48000)
	s.Send(0xB0, 64, 127)
	play(s, 0.1)
	for key := byte(21); key < 21+pianoVoices; key++ {
		s.Send(0x90, key, 60)
		play(s, 0.02)
	}
	play(s, 1)
	held := play(s, 0.02)
	for key := byte(40); key < 48; key++ { // soft low keys on channel 2: eight more
		s.Send(0x91, key-12, 20)
	}
	if got := clickDB(append(held, play(s, 0.3)...)); got > -50 {
		t.Errorf("eight keys too many: %.1f dB above 6 kHz, want at most -50", got)
	}
	sounding := map[byte]int{}
	for i := range s.pianos {
		if v := &s.pianos[i]; v.sounding {
			sounding[v.channel]++
		}
	}
	if sounding[1] != 8 || sounding[0]+sounding[1] > pianoVoices || sounding[0] < pianoVoices-16 {
		t.Errorf("voices sounding by channel %v, want 8 on channel 1 of at most %d", sounding, pianoVoices)
	}
}

func TestReleasedVoicesAreStolenFirst(t *testing.T) {
	voices := make([]padVoice, 6)
	strike := func(key byte, level float64, released bool) {
		v := claim(voices, 3)
		v.note = note{sounding: true, key: key, released: released, held: !released}
		v.envelope.end = level
	}
	strike(1, 0.1, false)
	strike(2, 0.9, true)
	strike(3, 0.5, false)
	strike(4, 0.5, false) // fades 2
	strike(5, 0.5, false) // fades 1
	fading := map[byte]bool{}
	for i := range voices {
		if v := &voices[i]; v.sounding {
			fading[v.key] = v.fading
		}
	}
	for key, want := range map[byte]bool{1: true, 2: true, 3: false, 4: false, 5: false} {
		if got, known := fading[key]; !known || got != want {
			t.Errorf("key %d fades: %v (there: %v), want %v", key, got, known, want)
		}
	}
	strike(6, 0.5, false) // takes the last place and fades one of 3, 4, 5
	strike(7, 0.5, false) // no place: the quietest fading one, key 1, is cut off
	for i := range voices {
		if voices[i].key == 1 {
			t.Error("key 1 still has its voice, want the quietest fading one to make room")
		}
	}
}

// biquad is a second-order filter, a0 = 1.
type biquad struct{ b0, b1, b2, a1, a2, s1, s2 float64 }

func (f *biquad) next(x float64) float64 {
	y := f.b0*x + f.s1
	f.s1 = f.b1*x - f.a1*y + f.s2
	f.s2 = f.b2*x - f.a2*y
	return y
}
