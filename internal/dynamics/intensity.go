package dynamics

import (
	"math"
	"time"
)

// Source is what an intensity comes from.
type Source uint8

// The sources, the weakest first: a stronger one wins while it has something to
// say.
const (
	FromPlan Source = iota
	FromListening
	FromPlaying
	FromFoot
	FromStay
	FromCeiling

	numSources
)

func (s Source) String() string {
	if s < numSources {
		return [...]string{"moment", "listening", "playing", "foot", "stay", "ceiling"}[s]
	}
	return "unknown"
}

const (
	// settled is how near is there: under half a step of a 7-bit controller.
	settled = 0.002
	// heard is how long what was listened to counts, if nothing follows it. By ear:
	// longer than a speaker pauses.
	heard = 4 * time.Second
)

// Making room, by ear: the strength of the playing between which the bed gives
// way, and how fast it does so and comes back, in parts of all the room a second.
const (
	softRoom   = 0.45
	hardRoom   = 0.8
	roomGiven  = 0.5
	roomReturn = 0.15
)

// Intensity joins everything that asks for more or less into one smooth number
// 0…1: how much the moment asks for. Each source counts by a weight that never
// jumps, so nothing is heard when one hands over to the next:
//
//	want ← plan, or where a foot last left it
//	want ← want + weight·(source − want), for listening, playing, foot in turn
//
// A foot that moves weighs 1 at once and for as long as it holds; then its weight
// goes evenly to 0 in the time of handing over. One that takes over comes in where
// it meets the value. The value follows what is wanted
// at a bounded rate. Create it with [NewIntensity]; times that go back count as
// standing still.
type Intensity struct {
	Trend Trend

	feel       Feel
	rise, fall float64 // of the intensity a second
	slope      float64 // how many dB a whole unit of intensity is
	most       float64 // the ceiling

	plan    float64
	base    float64 // what holds where nothing else is asked for: the plan, or
	left    bool    // where a foot left it
	voice   float64 // as it was last listened to
	clear   float64 // the intensity up to which the words stay clear over the bed
	voiceAt time.Duration
	listens bool

	foot      Foot
	reference float64       // where the foot was when it last decided
	decides   bool          // a foot has moved, or begun a swell or a settling
	moved     time.Duration // when it last did
	trod      bool          // a foot has moved the pedal,
	trodAt    time.Duration // at last then
	meeting   meeting
	shape     Shape
	shaping   bool

	offset float64
	stay   bool
	stayed time.Duration

	sounds bool // from Start to Rest
	value  float64
	room   float64 // how much room is made, 0…1
	at     time.Duration
}

// NewIntensity makes an intensity that asks for nothing.
func NewIntensity(p Pedal, f Feel, b Balance) Intensity {
	return Intensity{feel: f, rise: f.Rise / b.slope(), fall: f.Fall / b.slope(), slope: b.slope(), most: b.Most(), clear: 1, foot: Foot{pedal: p}}
}

// Plan sets what the plan asks for, 0…1, at a time. A foot that still decides goes
// on doing so.
func (i *Intensity) Plan(at time.Duration, want float64) {
	i.look(at)
	if w := i.footWeight(at); w < 1 {
		i.decides = false
	}
	i.plan, i.base, i.left = want, want, false
}

// Listen notes how intense a voice is, 0…1, and by how many dB under its loudest the
// bed is to stay for the words' sake, 0 for none and at most at the pedal's heel. That
// limit binds the plan, the playing, what a foot has left and listening itself; a foot
// that decides, a nudge and stay pass it.
func (i *Intensity) Listen(at time.Duration, want, easedDB float64) {
	i.voice, i.clear, i.voiceAt, i.listens = unit(want), 1, max(at, i.voiceAt), true
	if easedDB > 0 {
		i.clear = unit(1 - easedDB/i.slope)
	}
}

// Nudge adds to whatever the other sources ask for, from a time on until a foot
// moves, as far as there is room: what cannot be heard is not stored up.
func (i *Intensity) Nudge(at time.Duration, by float64) {
	i.look(at)
	want, _ := i.asked(at)
	i.offset = min(max(want+i.offset+by, 0), i.most) - want
}

// Start puts the value straight to what is asked for: only while nothing sounds.
func (i *Intensity) Start(at time.Duration) {
	i.at, i.sounds = max(at, i.at), true
	if !i.stay {
		i.value, _ = i.Target(i.at)
		i.room = i.roomWanted(i.at)
	}
}

// Target gives what is asked for at a time, and by whom.
func (i *Intensity) Target(at time.Duration) (float64, Source) {
	i.look(at)
	if i.stay {
		return min(i.value, i.most), FromStay
	}
	want, source := i.asked(at)
	if want = unit(want + i.offset); want > i.most {
		return i.most, FromCeiling
	}
	return want, source
}

// asked gives what all sources together ask for, before any nudge, and which of
// them has the largest share in it.
func (i *Intensity) asked(at time.Duration) (want float64, most Source) {
	want = i.base
	if i.left {
		most = FromFoot
	}
	share := 1.0 // of the one that has most
	heard := i.voiceWeight(at)
	clear := 1 - heard*(1-i.clear)
	for _, s := range [...]struct {
		source      Source
		weight, own float64
	}{
		{FromListening, heard, i.voice},
		{FromPlaying, i.feel.Playing * i.Trend.Presence(at), i.Trend.Strength(at)},
		{FromFoot, i.footWeight(at), i.wish(at)},
	} {
		if s.source == FromFoot && want > clear {
			want, most, share = clear, FromListening, 1
		}
		want += s.weight * (s.own - want)
		if share *= 1 - s.weight; s.weight >= share {
			most, share = s.source, s.weight
		}
	}
	return want, most
}

// voiceWeight gives how far listening counts.
func (i *Intensity) voiceWeight(at time.Duration) float64 {
	if !i.listens {
		return 0
	}
	return unit(1 - (at-i.voiceAt-heard).Seconds()/i.feel.HandOver.Seconds())
}

// roomWanted gives how much room the playing asks for.
func (i *Intensity) roomWanted(at time.Duration) float64 {
	return i.feel.Room * i.Trend.Presence(at) * unit((i.Trend.Strength(at)-softRoom)/(hardRoom-softRoom))
}

// Advance moves the value on to a time and gives it.
func (i *Intensity) Advance(at time.Duration) float64 {
	target, _ := i.Target(at)
	rate := i.rise
	if target < i.value {
		rate = i.fall
	}
	dt := at - i.at
	i.value = Slew(i.value, target, rate, dt)
	if !i.stay {
		want := i.roomWanted(at)
		rate = roomGiven
		if want < i.room {
			rate = roomReturn
		}
		i.room = Slew(i.room, want, rate, dt)
	}
	i.at = max(at, i.at)
	return i.value
}

// Value gives the intensity as it last was: how loud the bed is to be.
func (i *Intensity) Value() float64 { return i.value }

// Fullness gives the intensity less the room that is made for the player: how
// full, high and bright the bed is to be, 0…1.
func (i *Intensity) Fullness() float64 { return i.value * (1 - i.room) }

// Settled reports whether the value has arrived and will stay where it is
// unless something new happens or the time of Next comes.
func (i *Intensity) Settled(at time.Duration) bool {
	target, _ := i.Target(at)
	if math.Abs(target-i.value) > settled {
		return false
	}
	if i.stay {
		return true
	}
	weight := i.footWeight(at)
	switch playing := i.Trend.Presence(at) > settled; {
	case i.foot.stray, i.shaping && at < i.shape.End(), weight > 0 && weight < 1:
		return false
	case weight < 1 && (playing && i.feel.Playing > 0 || i.voiceWeight(at) > 0):
		return false
	case i.feel.Room > 0 && playing, math.Abs(i.roomWanted(at)-i.room) > settled:
		return false
	}
	return true
}

// Next tells when a value that has settled may begin to move by itself: when a
// foot begins to hand over.
func (i *Intensity) Next(at time.Duration) (time.Duration, bool) {
	if i.stay || i.feel.Holds == Always || i.footWeight(at) < 1 {
		return 0, false
	}
	return i.moved + i.feel.Holds, true
}
