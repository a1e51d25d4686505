package sound

import "testing"

// busySynth holds six pad notes and sixteen struck piano keys.
func busySynth(b testing.TB) *Synth {
	s := newSynth(b, 48000)
	s.Send(0xC1, 89, 0)
	s.Send(0xB0, 64, 127)
	for _, key := range []byte{36, 55, 60, 64, 67, 69} {
		s.Send(0x91, key, 80)
	}
	for i := range 16 {
		s.Send(0x90, byte(36+3*i), 80)
	}
	return s
}

// The block of 128 frames lasts 2.667 ms at 48 kHz.
func BenchmarkBlock6Pad16Piano(b *testing.B) {
	s := busySynth(b)
	out := make([]float32, 2*128)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		s.Render(out)
		if n++; n%1500 == 0 { // struck again every 4 s, so that the strings do not die out
			for i := range 16 {
				s.Send(0x90, byte(36+3*i), 80)
			}
		}
	}
	const block = 128.0 / 48000
	b.ReportMetric(100*b.Elapsed().Seconds()/float64(b.N)/block, "%of-real-time")
}

// BenchmarkHeldChord holds six notes of a bed on both layers, as under a long
// talk, in blocks of 256 frames: the sound's share of bedd's idle.
func BenchmarkHeldChord(b *testing.B) {
	s := newSynth(b, 48000)
	for channel, program := range map[byte]byte{1: 89, 2: 94} {
		s.Send(0xC0|channel, program, 0)
		for _, key := range []byte{36, 55, 60, 64, 67, 69} {
			s.Send(0x90|channel, key, 80)
		}
	}
	out := make([]float32, 2*256)
	b.ReportAllocs()
	for b.Loop() {
		s.Render(out)
	}
	const block = 256.0 / 48000
	b.ReportMetric(100*b.Elapsed().Seconds()/float64(b.N)/block, "%of-real-time")
}

// BenchmarkMinute renders a minute of a bed of six notes with a piano note
// every half second under the damper pedal.
func BenchmarkMinute(b *testing.B) {
	var events []Event
	at := func(frame int64, status, data1, data2 byte) {
		events = append(events, Event{frame, status, data1, data2})
	}
	at(0, 0xC1, 89, 0)
	for _, key := range []byte{36, 55, 60, 64, 67, 69} {
		at(0, 0x91, key, 80)
	}
	for i := range int64(120) {
		if i%4 == 0 {
			at(i*24000, 0xB0, 64, 0)
			at(i*24000, 0xB0, 64, 127)
		}
		key := byte(48 + 7*i%36)
		at(i*24000, 0x90, key, 70)
		at(i*24000+20000, 0x80, key, 0)
	}
	b.ReportAllocs()
	for b.Loop() {
		s := newSynth(b, 48000)
		sink := func([]float32) error { return nil }
		if err := s.RenderTo(events, 48000/2, sink, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(60*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
}

func BenchmarkLoudness(b *testing.B) {
	l, err := NewLoudness(48000)
	if err != nil {
		b.Fatal(err)
	}
	second := sine(48000, 1000, 0.5, 48000)
	for b.Loop() {
		l.Add(second)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "×real-time")
}
