package sound

import (
	"fmt"
	"math"
	"sync/atomic"
)

const (
	toneStartDB   = -60.0 // where a tone begins, dBFS
	toneRise      = 6.0   // and how fast it goes to its level, dB/s
	toneRampTime  = 0.050 // seconds from nothing, and back to it
	toneGapEvery  = 3.0   // seconds: where both sides sound the left one pauses,
	toneGapLength = 0.25  // as in EBU Tech 3304 (from memory)
)

// Side is where a calibration tone sounds.
type Side int

// The sides.
const (
	Both Side = iota // the left one pauses for a moment every 3 s, to tell them apart
	Left
	Right
)

// ToneConfig is what a Tone is made with.
type ToneConfig struct {
	Rate    int     // frames a second, 8000…192000
	Hz      float64 // 20…20000, and under half the rate
	LevelDB float64 // peak, dBFS, −60…−6
	Side    Side
}

// Tone is a sine to set levels by. It begins at −60 dBFS and rises to its level
// at 6 dB a second, so that there is time to turn down.
type Tone struct {
	config   ToneConfig
	turn     float64 // 0…1
	level    float64 // dBFS, on its way
	at       int     // frames since the start
	ramp     float64 // 0…1: from nothing, and back to it
	gap      float64 // the same of the pauses
	shown    atomic.Int64
	restart  atomic.Bool
	stopping atomic.Bool
}

// NewTone makes a tone.
func NewTone(c ToneConfig) (*Tone, error) {
	if c.Rate < 8000 || c.Rate > 192000 {
		return nil, fmt.Errorf("tone at %d frames a second: 8000…192000 can be played", c.Rate)
	}
	if top := min(20000, float64(c.Rate)/2-1); !(c.Hz >= 20 && c.Hz <= top) {
		return nil, fmt.Errorf("tone of %g Hz: 20…%g can be played", c.Hz, top)
	}
	if !(c.LevelDB >= toneStartDB && c.LevelDB <= -6) {
		return nil, fmt.Errorf("tone at %g dBFS: −60…−6 can be played", c.LevelDB)
	}
	t := &Tone{config: c}
	t.begin()
	return t, nil
}

func (t *Tone) begin() {
	t.turn, t.level, t.at, t.ramp, t.gap = 0, toneStartDB, 0, 0, 1
	t.shown.Store(int64(toneStartDB))
}

// Render fills out with interleaved stereo.
// Hot path: no allocation.
func (t *Tone) Render(out []float32) {
	if t.restart.Swap(false) {
		t.begin()
	}
	rate := float64(t.config.Rate)
	aim, step := 1.0, 1/(toneRampTime*rate)
	if t.stopping.Load() {
		aim = 0
	}
	clear(out)
	for i := 0; i+1 < len(out); i += 2 {
		t.level = min(t.config.LevelDB, t.level+toneRise/rate)
		t.ramp = towards(t.ramp, aim, step)
		t.gap = towards(t.gap, t.pause(), step)
		x := smoothStep(t.ramp) * math.Pow(10, t.level/20) * math.Sin(2*math.Pi*t.turn)
		if t.config.Side != Right {
			out[i] = float32(smoothStep(t.gap) * x)
		}
		if t.config.Side != Left {
			out[i+1] = float32(x)
		}
		t.turn += t.config.Hz / rate
		t.turn -= math.Floor(t.turn)
		t.at++
	}
	t.shown.Store(int64(math.Round(t.level)))
}

// pause gives 0 while the left side pauses, else 1.
func (t *Tone) pause() float64 {
	every := int(toneGapEvery * float64(t.config.Rate))
	if t.config.Side == Both && t.at >= every && t.at%every < int(toneGapLength*float64(t.config.Rate)) {
		return 0
	}
	return 1
}

func towards(x, aim, step float64) float64 { return x + max(-step, min(step, aim-x)) }

// Level gives where the tone is, in whole dBFS. Any goroutine may ask.
func (t *Tone) Level() int { return int(t.shown.Load()) }

// Stop lets the tone go within 50 ms. Any goroutine may call it.
func (t *Tone) Stop() { t.stopping.Store(true) }

// Restart makes it begin again from the start, as on another device. Any
// goroutine may call it.
func (t *Tone) Restart() { t.restart.Store(true) }
