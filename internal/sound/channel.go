package sound

import "math"

const (
	numChannels = 16

	// Defaults of General MIDI; the sends are GM2's.
	defaultVolume     = 100
	defaultExpression = 127
	defaultCentre     = 64
	defaultReverb     = 40

	levelSmoothing = 0.008 // seconds each of two stages: quick to the foot, without a click
	toneSmoothing  = 0.030

	// Modulation (CC 1) is a vibrato of the pads, ±50 cents at most (the depth
	// range that GM2 starts with); the rate is by ear. The bed never sends it.
	vibratoHz    = 5.2
	vibratoDepth = 50.0 / 1200 // octaves

	rpnNull = 127
)

// timbre is one of the built-in sounds.
type timbre byte

const (
	piano timbre = iota
	warm
	air
)

// timbreOf gives the sound for a General MIDI program number, 0…127 as on
// the wire: 0…7 are pianos and 88…95 pads, of which 89 is the warm one.
// What is not built in is a piano below the pads and warm from there up.
func timbreOf(program byte) timbre {
	switch {
	case program < 88:
		return piano
	case program == 89 || program > 95:
		return warm
	default:
		return air
	}
}

// shares are a timbre's own shares of reverb at CC 91 = 40, and of chorus at
// CC 93 = 0. By ear: a pad without its room sounds like a machine.
var shares = [...]struct{ reverb, chorus float64 }{
	piano: {0.10, 0},
	warm:  {0.26, 0.27},
	air:   {0.32, 0.30},
}

// channel is one MIDI channel: what its controllers say, and their smooth
// course through the running tick.
type channel struct {
	number                            byte
	output                            int // which of the synth's it goes to
	timbre                            timbre
	volume, expression, pan           byte
	brightness, reverb, chorus        byte
	modulation                        byte
	damper, sostenuto, soft           bool
	bend                              int     // −8192…8191
	bendRange                         float64 // semitones
	rpnMSB, rpnLSB                    byte
	leftTarget, rightTarget           float64
	left, right, reverbSend, chorSend ramp
	cutoff                            ramp    // octaves from the timbre's own
	pitch                             ramp    // octaves from the key's own
	vibrato                           ramp    // depth in octaves
	vibratoTurn                       float64 // 0…1
	lastPitch, pitchFactor            float64
	bloom                             bloom
	ran                               bool // through the passage at hand
	resting                           bool // nothing sounds: the courses stand still
	bus                               [2][tick]float64
	sends                             sends
	pads                              [padSlots]*padVoice // those that sound on this channel
	pianos                            [pianoSlots]*pianoVoice
	soundingPads, soundingPianos      int
}

func (c *channel) init(number byte, output int) {
	*c = channel{
		number: number, output: output,
		volume: defaultVolume, pan: defaultCentre, brightness: defaultCentre, reverb: defaultReverb,
		bendRange: 2, resting: true, pitchFactor: 1,
	}
	c.resetControllers()
	c.bloom.gain.set(1)
	c.bloom.quiet = true
}

// resetControllers does what CC 121 asks for (MMA RP-015): volume, pan, the
// program, brightness and the sends stay.
func (c *channel) resetControllers() {
	c.expression, c.modulation = defaultExpression, 0
	c.leftTarget, c.rightTarget = c.gains()
	c.damper, c.sostenuto, c.soft = false, false, false
	c.bend = 0
	c.rpnMSB, c.rpnLSB = rpnNull, rpnNull
}

// gains gives the left and right amplitudes by the level law of the GM1
// Developer Guidelines, p. 9: 40·log10(CC7/127) + 40·log10(CC11/127) dB. Pan
// follows GM2: equal power, 0 and 1 hard left, 64 centre, where both sides
// have the law's amplitude.
func (c *channel) gains() (left, right float64) {
	v, e := float64(c.volume)/127, float64(c.expression)/127
	level := v * v * e * e
	turn := math.Pi / 2 * float64(max(c.pan, 1)-1) / 126
	return level * math.Sqrt2 * math.Cos(turn), level * math.Sqrt2 * math.Sin(turn)
}

// control applies a controller that only this channel's settings hear. Banks
// (CC 0 and 32) do nothing.
func (c *channel) control(number, value byte) {
	switch number {
	case 1:
		c.modulation = value
	case 6: // data entry: the bend range, where RPN 0 is selected
		if c.rpnMSB == 0 && c.rpnLSB == 0 {
			c.bendRange = float64(min(value, 24))
		}
	case 7:
		c.volume = value
	case 10:
		c.pan = value
	case 11:
		c.expression = value
	case 67:
		c.soft = value >= 64
	case 74:
		c.brightness = value
	case 91:
		c.reverb = value
	case 93:
		c.chorus = value
	case 98, 99: // an NRPN is selected: data entry is not for us
		c.rpnMSB, c.rpnLSB = rpnNull, rpnNull
	case 100:
		c.rpnLSB = value
	case 101:
		c.rpnMSB = value
	}
	c.leftTarget, c.rightTarget = c.gains()
}
