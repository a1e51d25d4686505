package sound

import (
	"fmt"
	"math"
	"testing"
)

func TestProgramsChooseTheirSound(t *testing.T) {
	want := func(program byte) timbre {
		switch {
		case program <= 87:
			return piano
		case program == 89 || program >= 96:
			return warm
		}
		return air
	}
	for program := range byte(128) {
		if got := timbreOf(program); got != want(program) {
			t.Errorf("program %d is sound %d, want %d", program, got, want(program))
		}
	}
}

// GM1 Developer Guidelines p. 9: 40·log10(CC7/127) + 40·log10(CC11/127) dB.
// The figures are worked out from it, to three places.
func TestLevelLaw(t *testing.T) {
	oneGoroutine(t)
	steady := func(volume, expression byte) float64 {
		s := newSynth(t, 48000)
		s.Send(0xC0, 89, 0)
		s.Send(0xB0, 7, volume)
		s.Send(0xB0, 11, expression)
		play(s, 0.3)
		s.Send(0x90, 60, 100)
		play(s, 1)
		return levelDB(play(s, 0.5))
	}
	full := steady(127, 127)
	for _, c := range []struct {
		volume, expression byte
		want               float64
	}{
		{16, 127, -35.987}, {32, 127, -23.946}, {40, 127, -20.070}, {64, 127, -11.905}, {80, 127, -8.029},
		{90, 127, -5.982}, {96, 127, -4.861}, {100, 127, -4.152}, {110, 127, -2.496},
		{127, 64, -11.905}, {127, 80, -8.029}, {100, 64, -16.057}, {127, 1, -84.152},
	} {
		if got := steady(c.volume, c.expression) - full; math.Abs(got-c.want) > 0.005 {
			t.Errorf("CC7 %d, CC11 %d: %.3f dB, want %.3f", c.volume, c.expression, got, c.want)
		}
	}
	for _, c := range [][2]byte{{0, 127}, {127, 0}} {
		if got := steady(c[0], c[1]); !math.IsInf(got, -1) {
			t.Errorf("CC7 %d, CC11 %d: %.1f dB, want silence", c[0], c[1], got)
		}
	}
}

func TestPanKeepsPower(t *testing.T) {
	for pan := range byte(128) {
		c := channel{volume: 127, expression: 127, pan: pan}
		left, right := c.gains()
		if power := left*left + right*right; math.Abs(power-2) > 1e-12 {
			t.Errorf("CC 10 = %d: power %v, want 2", pan, power)
		}
	}
	for pan, want := range map[byte]float64{0: 0, 1: 0, 64: 1, 127: math.Sqrt2} {
		c := channel{volume: 127, expression: 127, pan: pan}
		if _, right := c.gains(); math.Abs(right-want) > 1e-9 {
			t.Errorf("CC 10 = %d: right side %v, want %v", pan, right, want)
		}
	}
}

type pedalStep struct{ status, data1, data2 byte }

func TestPedalsHoldAndLetGo(t *testing.T) {
	oneGoroutine(t)
	const on, off, cc = 0x90, 0x80, 0xB0
	for _, c := range []struct {
		name  string
		steps []pedalStep
		rings bool
	}{
		{"key down", []pedalStep{{on, 48, 90}}, true},
		{"key up", []pedalStep{{on, 48, 90}, {off, 48, 0}}, false},
		{"note on of velocity 0", []pedalStep{{on, 48, 90}, {on, 48, 0}}, false},
		{"damper up", []pedalStep{{cc, 64, 64}, {on, 48, 90}, {off, 48, 0}}, true},
		{"damper at 63", []pedalStep{{cc, 64, 63}, {on, 48, 90}, {off, 48, 0}}, false},
		{"damper let go", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {off, 48, 0}, {cc, 64, 0}}, false},
		{"damper let go, key down", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {cc, 64, 0}}, true},
		{"damper after the key", []pedalStep{{on, 48, 90}, {off, 48, 0}, {cc, 64, 127}}, false},
		{"sostenuto holds what is down", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {off, 48, 0}}, true},
		{"sostenuto leaves later keys", []pedalStep{{cc, 66, 127}, {on, 48, 90}, {off, 48, 0}}, false},
		{"sostenuto let go", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {off, 48, 0}, {cc, 66, 0}}, false},
		{"sostenuto let go, damper up", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {cc, 64, 127}, {off, 48, 0}, {cc, 66, 0}}, true},
		{"damper let go, sostenuto on", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {cc, 64, 127}, {off, 48, 0}, {cc, 64, 0}}, true},
		{"struck again under sostenuto", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {off, 48, 0}, {on, 48, 90}, {off, 48, 0}}, true},
		{"all notes off", []pedalStep{{on, 48, 90}, {cc, 123, 0}}, false},
		{"mono mode is all notes off", []pedalStep{{on, 48, 90}, {cc, 126, 1}}, false},
		{"all notes off, damper up", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {cc, 123, 0}}, true},
		{"all notes off, then damper down", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {cc, 123, 0}, {cc, 64, 0}}, false},
		{"all notes off, sostenuto on", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {cc, 123, 0}}, true},
		{"all sound off, key down, damper up", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {cc, 120, 0}}, false},
		{"reset, key up", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {off, 48, 0}, {cc, 121, 0}}, false},
		{"reset under sostenuto, key up", []pedalStep{{on, 48, 90}, {cc, 66, 127}, {off, 48, 0}, {cc, 121, 0}}, false},
		{"reset, key down", []pedalStep{{cc, 64, 127}, {on, 48, 90}, {cc, 121, 0}}, true},
		{"another channel's note off", []pedalStep{{on, 48, 90}, {0x81, 48, 0}, {0xB1, 123, 0}, {0xB1, 120, 0}}, true},
	} {
		for _, program := range []byte{0, 89} {
			s := newSynth(t, 48000)
			s.Send(0xB0, 91, 0)
			s.Send(0xC0, program, 0)
			play(s, 0.1)
			for _, step := range c.steps {
				s.Send(step.status, step.data1, step.data2)
				play(s, 0.2)
			}
			play(s, 1.6)
			level := levelDB(play(s, 0.05))
			if rings := level > -55; rings != c.rings {
				t.Errorf("%s, program %d: %.1f dB in the end; rings %v, want %v", c.name, program, level, rings, c.rings)
			}
		}
	}
}

func TestAllSoundOffIsAtOnce(t *testing.T) {
	oneGoroutine(t)
	s := busySynth(t)
	play(s, 1)
	s.Send(0xB1, 120, 0)
	s.Send(0xB0, 120, 0)
	play(s, 0.05)
	if level := levelDB(play(s, 0.2)); level > -80 {
		t.Errorf("50 ms after CC 120 on every channel that sounds: %.1f dB, want under -80, room and all", level)
	}
	s.Send(0x90, 60, 90)
	if level := levelDB(play(s, 0.5)); level < -50 {
		t.Errorf("the next note is at %.1f dB, want it heard", level)
	}
}

// MMA RP-015.
func TestResetLeavesWhatTheStandardLeaves(t *testing.T) {
	var c, want channel
	c.init(0, 0)
	for _, cc := range []byte{7, 10, 74, 91, 93} {
		c.control(cc, 20)
	}
	for _, cc := range []byte{101, 100} {
		c.control(cc, 0)
	}
	c.control(6, 12)
	want = c
	want.expression, want.rpnMSB, want.rpnLSB = 127, 127, 127
	c.control(11, 3)
	c.control(67, 127)
	c.bend, c.damper, c.sostenuto = 99, true, true
	c.resetControllers()
	if got, want := fmt.Sprintf("%+v", c), fmt.Sprintf("%+v", want); got != want {
		t.Errorf("after CC 121\n%s, want\n%s", got, want)
	}
}

func TestPitchBend(t *testing.T) {
	oneGoroutine(t)
	for _, program := range []byte{0, 89} {
		for _, c := range []struct {
			lsb, msb byte
			wide     bool
			cents    float64
		}{
			{0x7F, 0x7F, false, 200 * 8191.0 / 8192}, {0, 0, false, -200}, {0, 96, false, 100}, {0, 64, false, 0},
			{0, 0, true, -1200},
		} {
			s := newSynth(t, 48000)
			s.Send(0xC0, program, 0)
			if c.wide { // RPN 0: bend range
				s.Send(0xB0, 101, 0)
				s.Send(0xB0, 100, 0)
				s.Send(0xB0, 6, 12)
			}
			s.Send(0x90, 69, 90)
			play(s, 1)
			s.Send(0xE0, c.lsb, c.msb)
			play(s, 0.3)
			want := 440 * math.Exp2(c.cents/1200)
			got := spectrumOf(play(s, 2.7), 48000).peak(want, 40)
			if off := centsFrom(got, want); math.Abs(off) > 3 {
				t.Errorf("program %d, bend % X % X: %.2f Hz, want %.2f", program, c.lsb, c.msb, got, want)
			}
		}
	}
}

// Modulation moves a pad's pitch up and down by GM2's 50 cents at most, leaves
// a piano alone, and goes with CC 121.
func TestModulationIsAVibratoOfThePads(t *testing.T) {
	oneGoroutine(t)
	spread := func(program byte, messages ...[2]byte) float64 {
		s := newSynth(t, 48000)
		s.Send(0xC0, program, 0)
		s.Send(0x90, 69, 90)
		for _, m := range messages {
			s.Send(0xB0, m[0], m[1])
		}
		play(s, 1)
		lowest, highest := math.Inf(1), math.Inf(-1)
		for range 400 {
			play(s, 0.005)
			c := &s.channels[0]
			lowest, highest = min(lowest, c.pitchFactor), max(highest, c.pitchFactor)
		}
		return centsFrom(highest, lowest)
	}
	for _, c := range []struct {
		name     string
		program  byte
		messages [][2]byte
		want     float64
	}{
		{"full", 89, [][2]byte{{1, 127}}, 100},
		{"half", 88, [][2]byte{{1, 64}}, 50.4},
		{"none", 89, nil, 0},
		{"reset", 89, [][2]byte{{1, 127}, {121, 0}}, 0},
		{"piano", 0, [][2]byte{{1, 127}}, 0},
	} {
		if got := spread(c.program, c.messages...); math.Abs(got-c.want) > 1 {
			t.Errorf("%s: the pitch moves over %.1f cents, want %.1f", c.name, got, c.want)
		}
	}
}
