package listening

import (
	"fmt"
	"math"
	"time"
)

// Manner is how a [Speaker] answers to a voice. Start from [DefaultManner].
type Manner struct {
	Rise, Fall time.Duration // time constants of growing and of coming down, ShortestTime…LongestTime
	Rate       float64       // the most that the intensity moves, a second, LeastRate…MostRate
	Low, High  float64       // the band that the player allows, 0 ≤ Low < High ≤ 1
	Rest       time.Duration // how long it waits in silence before it settles, at least ShortestRest
	SettleTo   float64       // what it settles to, inside the band
	Settle     time.Duration // time constant of settling, ShortestTime…LongestTime
	Norm       time.Duration // of speech, over which the speaker's own norm is learned, ShortestNorm…LongestNorm
}

// DefaultManner is by ear and by the synthetic talks of the tests: slow enough not
// to be noticed as a move. The features look back some seconds themselves, so that it
// is up to four seconds behind the speaker; with six and ten seconds for rise and fall
// it was five to nine.
func DefaultManner() Manner {
	return Manner{
		Rise: 2 * time.Second, Fall: 2500 * time.Millisecond,
		Rate: 0.05,
		Low:  0.1, High: 0.8,
		Rest: 20 * time.Second, SettleTo: 0.2, Settle: 20 * time.Second,
		Norm: 90 * time.Second,
	}
}

// What a [Manner] may ask for. A pause of speech lasts up to 1.4 s (Campione &
// Véronis 2002, Kazlauskienė & Kalašinskaitė 2019), so a rest is longer; the others
// are by ear.
const (
	ShortestTime = 500 * time.Millisecond
	LongestTime  = 5 * time.Minute
	LeastRate    = 0.002
	MostRate     = 0.2
	ShortestRest = 2 * time.Second
	ShortestNorm = 10 * time.Second
	LongestNorm  = 30 * time.Minute
)

// Check says what is wrong with the manner, if anything.
func (m Manner) Check() error {
	for _, d := range []struct {
		what string
		time time.Duration
	}{{"rise", m.Rise}, {"fall", m.Fall}, {"settle", m.Settle}} {
		if d.time < ShortestTime || d.time > LongestTime {
			return fmt.Errorf("%s in %v is out of range %v…%v", d.what, d.time, ShortestTime, LongestTime)
		}
	}
	switch {
	case !(m.Rate >= LeastRate && m.Rate <= MostRate):
		return fmt.Errorf("a rate of %v a second is out of range %v…%v", m.Rate, LeastRate, MostRate)
	case !(m.Low >= 0 && m.Low < m.High && m.High <= 1):
		return fmt.Errorf("the band from %v to %v is none within 0…1", m.Low, m.High)
	case m.Rest < ShortestRest:
		return fmt.Errorf("a rest of %v is no longer than a speaker's pauses: it takes at least %v", m.Rest, ShortestRest)
	case !(m.SettleTo >= m.Low && m.SettleTo <= m.High):
		return fmt.Errorf("settling to %v leaves the band %v…%v", m.SettleTo, m.Low, m.High)
	case m.Norm < ShortestNorm || m.Norm > LongestNorm:
		return fmt.Errorf("a norm over %v is out of range %v…%v", m.Norm, ShortestNorm, LongestNorm)
	}
	return nil
}

// Hold is why the intensity does not follow the voice.
type Hold uint8

// The reasons. It keeps its value for all of them but Settles.
const (
	Follows Hold = iota // there is none: it follows
	Learns              // the speaker is not known yet
	InSilence
	InSinging
	InClapping
	InKnock
	Settles // the silence has lasted

	numHolds
)

func (h Hold) String() string {
	if h < numHolds {
		return [...]string{"follows", "learning", "silence", "singing", "clapping", "knock", "settles"}[h]
	}
	return "unknown"
}

const (
	// mostStep is the longest time that one call may let go by: what was not heard
	// counts for no more, so that a stall is not made up for by a jump.
	mostStep = 250 * time.Millisecond
	// usable is how much speech it takes to say something of a speaker. By ear: one
	// or two sentences.
	usable = 5 * time.Second
	// kept is what the norm of one who speaks after a rest counts for, in speech
	// heard: it may be somebody else. By ear.
	kept = 20 * time.Second
	// broken is how many times as fast speech undoes a silence, so that what is taken
	// for speech now and then does not keep it from settling. When half a rest is
	// undone, after a second of speech by default, it follows again. By ear.
	broken = 10
	// gentle is how many spreads from the norm lead tanh 1, three quarters, of the
	// way from the middle to an end of the band. By ear.
	gentle = 1.7
)

// after is how long something else is still in what the features look back on,
// when it is over. By ear.
var after = [NumKinds]time.Duration{
	Singing: 1500 * time.Millisecond, Clapping: 1500 * time.Millisecond, Knock: 500 * time.Millisecond,
}

// The cues to how intensely somebody speaks. One who is moved speaks louder,
// higher, faster and with a wider range than is usual for him (review: Juslin &
// Laukka 2003, Psychological Bulletin 129, from memory).
const (
	byLoudness = iota
	byPitch
	byRate
	byRange

	numCues
)

// cues have weights and spreads by ear: how far each wanders while one speaks, to
// begin with and at least and most.
var cues = [numCues]cue{
	byLoudness: {weight: 0.45, spread: 3, least: 2, most: 6},        // LU
	byPitch:    {weight: 0.4, spread: 2, least: 1, most: 5},         // semitones
	byRate:     {weight: 0.1, spread: 0.25, least: 0.15, most: 0.5}, // natural logarithm of syllables a second
	byRange:    {weight: 0.05, spread: 2, least: 1, most: 4},        // semitones
}

type cue struct{ weight, spread, least, most float64 }

// reading gives what the features say to each cue, NaN for nothing that a voice
// can be.
func reading(f Features) (r [numCues]float64) {
	within := func(x, low, high float64) float64 {
		if x >= low && x <= high {
			return x
		}
		return math.NaN()
	}
	r[byLoudness] = within(f.Speech, -100, 20)
	r[byPitch] = 12 * math.Log2(within(f.Pitch, 40, 1000))
	r[byRate] = math.Log(within(f.Syllables, 0.5, 15))
	r[byRange] = within(f.Range, 0.1, 48)
	return r
}

// norm is what is usual for a speaker: between which two ends a cue mostly lies. The
// ends are moved out soon and come in slowly, so that one who stays moved for a while
// is not taken to be calm: a mean would follow him there.
type norm struct {
	low, high float64
	known     float64 // seconds that have gone into it, no more than it goes over
}

const (
	// edge is how many spreads the ends lie from the middle.
	edge = 1.75
	// wide is how many times as far they lie at first: nobody knows yet whether who
	// begins quietly is a quiet speaker. By the talks of the tests, as the next two.
	wide = 1.6
	// inwards is how much more slowly than the norm is known the ends come in.
	inwards = 1.5
	// outwards is the time constant of moving an end out, in seconds. What lies
	// farther away than a part of the norm's width counts as that, so that a shout
	// moves it no more than a loud word. By the talks of the tests.
	outwards  = 20.0
	outermost = 0.3
	innermost = 0.5
)

// learn takes in what has been so for dt seconds. At first the middle is the mean of
// all; then the ends come in at a time constant that grows to what the norm goes
// over.
func (n *norm) learn(c cue, x, dt, over float64) {
	n.known = min(n.known+dt, over)
	if n.known <= usable.Seconds() {
		middle, _ := n.usual(c)
		if n.known == dt {
			middle = x
		}
		middle += (x - middle) * dt / n.known
		n.low, n.high = middle-wide*edge*c.spread, middle+wide*edge*c.spread
		return
	}
	_, spread := n.usual(c)
	width, in := 2*edge*spread, inwards*min(n.known+kept.Seconds(), over)
	toward := func(off float64) float64 { // from an end, outwards positive
		if off > 0 {
			return min(off, outermost*width) * dt / outwards
		}
		return max(off, -innermost*width) * dt / in
	}
	n.low, n.high = n.low-toward(n.low-x), n.high+toward(x-n.high)
}

// usual gives the middle of the norm, and the spread about it, in the cue's bounds.
func (n *norm) usual(c cue) (middle, spread float64) {
	return (n.low + n.high) / 2, min(max((n.high-n.low)/2/edge, c.least), c.most)
}

// Speaker tells from features how intensely somebody speaks, against what is usual
// for this voice in this room: 0…1, inside the band, around its middle. What stands
// out from the speaker's norm by loudness, pitch, rate and range is weighed into one
// wish,
//
//	wish = middle + half·tanh(Σ weight·(cue − usual)/spread / 1.7)
//
// and the intensity follows it with the time constants and at no more than the rate
// of its manner. It keeps still while there is singing, clapping, a knock or a
// pause, and settles when silence lasts. Create it with [NewSpeaker]; it is for one
// goroutine and allocates nothing.
type Speaker struct {
	manner Manner
	norms  [numCues]norm

	value   float64
	begun   bool // there were features
	at      time.Duration
	spoken  time.Duration // how much speech was heard
	silence time.Duration // since somebody spoke or sang, no more than a rest
	rests   bool          // it has been silent for a rest, and is still
	left    time.Duration // how long what was heard besides speech is still in the features
	other   Kind          // what that was
	why     Hold
}

// NewSpeaker makes a speaker of whom nothing is known. The intensity begins in the
// middle of the band.
func NewSpeaker(m Manner) (*Speaker, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	return &Speaker{manner: m, value: (m.Low + m.High) / 2, why: Learns}, nil
}

// Begin puts the intensity where the bed is, as near as the band allows, so that
// listening comes in without a move. Call it whenever the bed has moved, until
// something is heard; from then on it does nothing.
func (s *Speaker) Begin(intensity float64) {
	if s.spoken < usable && !math.IsNaN(intensity) {
		s.value = min(max(intensity, s.manner.Low), s.manner.High)
	}
}

// Hear takes features, in the order of their time, at least four times a second.
// After a gap a quarter of a second counts; a time that goes back counts as standing
// still, and the next is measured from there. No features can move the intensity by
// more than the manner's rate for the time that counts, or out of the band; cues
// that are no number, or nothing that a voice can be, are left out.
func (s *Speaker) Hear(f Features) {
	dt := s.pass(f.At)
	s.why = s.reason(f, dt)
	switch s.why {
	case Follows, Learns:
		s.follow(reading(f), dt)
	case Settles:
		s.move(s.manner.SettleTo, s.manner.Settle, dt)
	}
}

// pass gives how much time counts as gone by.
func (s *Speaker) pass(at time.Duration) time.Duration {
	dt := at - s.at
	switch {
	case !s.begun || at <= s.at:
		dt = 0
	case dt < 0 || dt > mostStep: // less than nothing: it did not fit
		dt = mostStep
	}
	s.begun, s.at = true, at
	return dt
}

// reason tells whether the intensity follows.
func (s *Speaker) reason(f Features, dt time.Duration) Hold {
	s.left = max(s.left-dt, 0)
	if f.Sound < NumKinds && after[f.Sound] > 0 && after[f.Sound] >= s.left {
		s.left, s.other = after[f.Sound], f.Sound
	}
	speaks := f.Sound == Speech && f.Voice
	switch {
	case s.left > 0 && s.other != Knock:
		s.silence = 0
	case speaks:
		s.silence = max(s.silence-broken*dt, 0)
	default:
		s.silence = min(s.silence+dt, s.manner.Rest)
	}
	switch {
	case s.silence == s.manner.Rest:
		s.rests = true
	case s.rests && s.silence < s.manner.Rest/2:
		s.rests = false
		s.forget()
	}
	switch {
	case s.rests:
		return Settles
	case s.left > 0:
		return [NumKinds]Hold{Singing: InSinging, Clapping: InClapping, Knock: InKnock}[s.other]
	case speaks && s.spoken < usable:
		return Learns
	case speaks:
		return Follows
	}
	return InSilence
}

// forget makes the norm easier to change.
func (s *Speaker) forget() {
	for c := range s.norms {
		s.norms[c].known = min(s.norms[c].known, kept.Seconds())
	}
}

// follow learns from what is read and moves towards it.
func (s *Speaker) follow(r [numCues]float64, dt time.Duration) {
	out, weights := 0.0, 0.0
	for c, x := range r {
		if math.IsNaN(x) {
			continue
		}
		if dt > 0 {
			s.norms[c].learn(cues[c], x, dt.Seconds(), s.manner.Norm.Seconds())
		}
		if s.norms[c].known > 0 {
			middle, spread := s.norms[c].usual(cues[c])
			out += cues[c].weight * (x - middle) / spread
			weights += cues[c].weight
		}
	}
	if weights == 0 {
		return
	}
	if s.spoken < usable {
		s.spoken += dt
		return
	}
	middle, half := (s.manner.High+s.manner.Low)/2, (s.manner.High-s.manner.Low)/2
	s.move(middle+half*math.Tanh(out/weights/gentle), 0, dt)
}

// move goes towards a target, at a time constant, or those of rising and falling.
func (s *Speaker) move(target float64, constant, dt time.Duration) {
	if constant == 0 {
		constant = s.manner.Rise
		if target < s.value {
			constant = s.manner.Fall
		}
	}
	step := (target - s.value) * -math.Expm1(-dt.Seconds()/constant.Seconds())
	most := s.manner.Rate * dt.Seconds()
	s.value = min(max(s.value+min(max(step, -most), most), s.manner.Low), s.manner.High)
}

// Intensity gives how intensely somebody speaks, inside the band, and whether enough
// of the speaker is known to say so: after five seconds of speech.
func (s *Speaker) Intensity() (value float64, heard bool) {
	return s.value, s.spoken >= usable
}

// Holds reports whether the intensity keeps still for now.
func (s *Speaker) Holds() bool { return s.why != Follows && s.why != Settles }

// Why tells what it holds for, or that it follows or settles.
func (s *Speaker) Why() Hold { return s.why }
