package soundcheck

import (
	"errors"
	"fmt"
	"math"

	"bedd/internal/bed"
	"bedd/internal/clarity"
	"bedd/internal/dynamics"
)

// WCAG asks for this much between speech and what is behind it, in dB, where speech is
// recorded (Web Content Accessibility Guidelines 2, success criterion 1.4.7, level AAA).
const WCAG = 20.0

// Wish is what is asked of a bed under a voice.
type Wish struct {
	Target float64 // the index that speech keeps to at least, 0…1
	Under  float64 // how far the bed stays under the voice at least, LU
}

// Bedding is a bed that was sounded or recorded, and how its rig can keep it down.
type Bedding struct {
	Rows   []Row
	Config bed.Config // the rig's
	Law    bool       // the rows were sounded by the rig's law of levels; else they were recorded at its fullest
}

// Place is where one row of a bed stands against a voice.
type Place struct {
	Row     Row
	LUFS    float64 // as loud as the rig lets it get, the fader at the recordings' scale
	Drops   float64 // how far under the voice it is where the index drops below the target, LU; negative is over it, −Inf never
	Under   float64 // how far under the voice it should be at least, LU
	ByIndex bool    // for the index's sake, not for the loudness'
	Worst   string  // the chord that leaves least of the words
	Gain    float64 // dB from LUFS to there

	worst int
}

// Words is what becomes of a voice over a bed.
type Words struct {
	Voice  Voice
	Room   clarity.Levels // at the listener, dB SPL
	Wish   Wish
	Alone  float64 // the index without a bed
	Places []Place
	Fader  *float64 // dB by which the desk turns the bed up against the recordings' scale; nil where that is not known
	bed    Bedding
}

// Judge tells what becomes of a voice over a bed. The error is clarity.ErrUnclear where
// the voice alone misses the target.
func Judge(v Voice, room clarity.Levels, b Bedding, w Wish) (Words, error) {
	out := Words{Voice: v, Room: room, Wish: w, Alone: clarity.Index(v.Levels, room), bed: b}
	for _, r := range b.Rows {
		delta, reached := b.delta(r, b.Config.Balance.Ceiling)
		if !reached {
			continue
		}
		p := Place{Row: r, LUFS: r.LUFS + delta}
		limit, err := math.Inf(1), error(nil)
		for i, c := range r.Chords {
			gain, e := clarity.Limit(v.Levels, room, c.Heard.Levels.Plus(v.FullSPL+delta), w.Target)
			if e != nil {
				err = e
				break
			}
			if gain < limit || i == 0 {
				limit, p.Worst, p.worst = gain, c.Name, i
			}
		}
		if err != nil {
			return out, err
		}
		p.Drops = v.LUFS - p.LUFS - limit
		p.Under = max(p.Drops, w.Under)
		p.ByIndex = p.Drops > w.Under
		p.Gain = v.LUFS - p.Under - p.LUFS
		out.Places = append(out.Places, p)
	}
	if len(out.Places) == 0 {
		return out, errors.New("no bed to judge")
	}
	return out, nil
}

// delta gives how much louder a row gets, in dB, than it was sounded, where the rig has
// some ceiling; reached is false where the ceiling keeps the bed from ever being so.
func (b Bedding) delta(r Row, ceiling float64) (db float64, reached bool) {
	c := b.Config
	if !b.Law {
		return ceiling - c.Balance.Ceiling, true
	}
	c.Balance.Ceiling = ceiling
	most := c.Balance.Most()
	// How far past its own intensities a row lasts: a step's margin, the register's.
	past := bed.LiftMargin * 2
	if !r.Lifted {
		past = b.margin()
	}
	from, to := r.From-past, min(1, r.To+b.margin())
	switch {
	case from > most:
		return 0, false
	case c.NoLevel:
		return 0, true
	case c.Feel.Room > 0: // the bed is thin while it makes room, and as loud as before
		return c.Balance.DB(most) - r.LevelDB, true
	}
	return c.Balance.DB(min(to, most)) - r.LevelDB, true
}

// margin is how far past a boundary a density lasts, in intensity.
func (b Bedding) margin() float64 {
	v := b.Config.Voicing
	return dynamics.DefaultMargin / float64(v.Full-v.Thin+1)
}

// Loudest gives the place of the loudest row.
func (w *Words) Loudest() Place {
	loudest := w.Places[0]
	for _, p := range w.Places {
		if p.LUFS > loudest.LUFS {
			loudest = p
		}
	}
	return loudest
}

// Below tells that the bed at its loudest is now some LU under the voice at the desk.
func (w *Words) Below(lu float64) {
	gain := w.Voice.LUFS - lu - w.Loudest().LUFS
	w.Fader = &gain
}

// AsRecorded tells that voice and bed were recorded at the same gain.
func (w *Words) AsRecorded() {
	gain := 0.0
	w.Fader = &gain
}

// Gain gives by how many dB the whole bed may still be turned up: the least that any
// row has, from the recordings' scale. Turned up by it the bed is as loud as it should
// ever be.
func (w *Words) Gain() float64 {
	least := math.Inf(1)
	for _, p := range w.Places {
		least = min(least, p.Gain)
	}
	return least
}

// Under gives how far the bed at its loudest is under the voice where it is as loud as
// it should ever be, in LU.
func (w *Words) Under() float64 { return w.Voice.LUFS - w.Loudest().LUFS - w.Gain() }

// Over gives by how many dB the bed is too loud as the fader stands; negative is room to
// spare.
func (w *Words) Over() float64 { return *w.Fader - w.Gain() }

// ceilingStep is how finely a ceiling is written, in dB.
const ceilingStep = 0.5

func nextCeiling(db float64) float64 { return math.Ceil(db/ceilingStep-1) * ceilingStep }

// lowestCeiling leaves a pedal somewhere to go.
func lowestCeiling(b dynamics.Balance) float64 {
	return max(b.Floor+dynamics.LeastRange, math.Ceil(dynamics.Bottom))
}

// ErrNoCeiling says that no ceiling of the rig is low enough.
var ErrNoCeiling = errors.New("no ceiling of this rig brings the bed down far enough: the fader has to come down")

// Ceiling gives the highest ceiling, never above the rig's own, under which the bed
// stays where it should as the fader stands. It returns ErrNoCeiling where there is none.
func (w *Words) Ceiling() (db float64, err error) {
	own := w.bed.Config.Balance.Ceiling
	lowest := lowestCeiling(w.bed.Config.Balance)
	for db = own; db >= lowest; db = nextCeiling(db) {
		fits := true
		for _, p := range w.Places {
			now, _ := w.bed.delta(p.Row, own)
			then, reached := w.bed.delta(p.Row, db)
			fits = fits && (!reached || *w.Fader <= p.Gain+now-then+1e-9)
		}
		if fits {
			return db, nil
		}
		if w.bed.Config.NoLevel && w.bed.Law {
			break // a ceiling that sends no levels is no ceiling
		}
	}
	return own, ErrNoCeiling
}

// Hear tells how the words come through over a row's worst chord, the bed turned up by
// some dB against the recordings' scale.
func (w *Words) Hear(p Place, fader float64) clarity.Heard {
	return clarity.Hear(w.Voice.Levels, w.Room.With(w.Bed(p, fader)))
}

// Bed gives a row's worst chord at the listener, dB SPL, the bed turned up by some dB.
func (w *Words) Bed(p Place, fader float64) clarity.Levels {
	delta, _ := w.bed.delta(p.Row, w.bed.Config.Balance.Ceiling)
	return p.Row.Chords[p.worst].Heard.Levels.Plus(w.Voice.FullSPL + delta + fader)
}

// LowPass gives how many dB more of a row there may be behind a low-pass of two poles
// (Butterworth, 12 dB an octave) at some Hz on the bed's channel of the desk, as far as
// the words are concerned.
func (w *Words) LowPass(p Place, hz float64) (more float64, err error) {
	behind := w.Bed(p, 0)
	for i, f := range clarity.Centres {
		behind[i] -= 10 * math.Log10(1+math.Pow(f/hz, 4))
	}
	a, err := clarity.Limit(w.Voice.Levels, w.Room, w.Bed(p, 0), w.Wish.Target)
	if err != nil {
		return 0, err
	}
	b, err := clarity.Limit(w.Voice.Levels, w.Room, behind, w.Wish.Target)
	if math.IsInf(a, 1) {
		return 0, err
	}
	return b - a, err
}

// Check says what is wrong with a wish, if anything.
func (w Wish) Check() error {
	switch {
	case !(w.Target > 0 && w.Target <= 1):
		return fmt.Errorf("a target of %v is out of range: more than 0, up to 1", w.Target)
	case !(w.Under >= 0 && w.Under <= 60):
		return fmt.Errorf("a bed %v LU under the voice is out of range 0…60", w.Under)
	}
	return nil
}
