// Package bedtest checks what a bed does against its invariants, whoever drives it.
package bedtest

import (
	"fmt"
	"math"
	"time"

	"bedd/internal/bed"
	"bedd/internal/voicing"
)

// moveEvery is the bed's own time between two moves of the levels.
const moveEvery = 20 * time.Millisecond

// Watcher sees every action of a run, in order, and notes what breaks an
// invariant. The zero value is not usable; see [NewWatcher].
type Watcher struct {
	faults []string

	on      [bed.NumLayers]voicing.Pitches
	struck  [bed.NumLayers][128]time.Duration
	left    [bed.NumLayers]voicing.Pitches // released since the last chord was entered
	entered time.Duration
	changes int

	wanted   bool          // between a bring-in and its leaving
	gone     time.Duration // when a bed that leaves must be silent
	patience time.Duration // how long a fade may take
	brought  bool          // the same, from the first strike on
	silenced bool          // after all notes off: levels and notes may jump

	interrupted   bool // at interruptedAt
	interruptedAt time.Duration

	level   [bed.NumLayers]int
	levelAt [bed.NumLayers]time.Duration
	ceiling float64 // dB
	rate    float64 // controller steps per second allowed outside out now
	fast    float64 // the same while leaving fast
	leaving bool
	last    time.Duration
}

// NewWatcher makes a watcher for a bed of the given configuration.
func NewWatcher(c bed.Config) *Watcher {
	w := &Watcher{patience: max(c.Fade, c.Leave) + time.Second, ceiling: c.Balance.Ceiling}
	// The envelope's slope and the intensity's add up (product rule, both at most 1).
	slope := Steepest(c)
	w.rate = 127 * (slope + 1/min(c.BringIn, c.Fade).Seconds())
	w.fast = 127 * (slope + 1/min(c.Leave, c.BringIn, c.Fade).Seconds())
	for l := range w.level {
		w.level[l] = -1
	}
	return w
}

// Steepest gives how fast a layer's level, 0…1, may go at the most, in 1/s: both
// move with the intensity, and with the fullness, which goes with it and with the
// room that is made.
func Steepest(c bed.Config) (slope float64) {
	const grid = 64
	intensity := max(c.Feel.Rise, c.Feel.Fall) / (c.Balance.DB(1) - c.Balance.DB(0.5)) / 2
	fullness := intensity
	if c.Feel.Room > 0 {
		fullness += fastestRoom
	}
	for i := range grid {
		for f := range grid {
			warm, air := c.Balance.Levels(float64(i)/grid, float64(f)/grid)
			louderWarm, louderAir := c.Balance.Levels(float64(i+1)/grid, float64(f)/grid)
			fullerWarm, fullerAir := c.Balance.Levels(float64(i)/grid, float64(f+1)/grid)
			slope = max(slope,
				math.Abs(louderWarm-warm)*intensity*grid+math.Abs(fullerWarm-warm)*fullness*grid,
				math.Abs(louderAir-air)*intensity*grid+math.Abs(fullerAir-air)*fullness*grid)
		}
	}
	return 1.05 * slope // between the points of the grid it may be a little steeper
}

// fastestRoom is how fast the bed makes room, of all the room a second.
const fastestRoom = 0.5

// InputEnded tells the watcher that from now on the bed leaves.
func (w *Watcher) InputEnded(at time.Duration) {
	w.wanted, w.brought, w.leaving, w.gone = false, false, true, max(at, w.last)+w.patience
}

// Interrupted tells the watcher that what sounds is about to be ended and struck
// again, and the levels begin anew: a synth was reset or came back.
func (w *Watcher) Interrupted(at time.Duration) {
	w.brought, w.interrupted, w.interruptedAt = false, true, at
	for l := range w.level {
		w.level[l] = -1
	}
}

// See takes the next action.
func (w *Watcher) See(a bed.Action) {
	if a.At < w.last {
		w.fault(a.At, "an action due at %v comes after one due at %v", a.At, w.last)
	}
	if a.At > w.last {
		w.compareWithCeiling()
	}
	w.last = max(w.last, a.At)
	if !w.wanted && !w.silenced && w.gone > 0 && a.At > w.gone && w.on != ([bed.NumLayers]voicing.Pitches{}) {
		w.fault(a.At, "the bed has not left: it should have been silent by %v", w.gone)
		w.gone = a.At + time.Hour
	}
	switch a.Kind {
	case bed.StrikeNote:
		w.strike(a)
	case bed.ReleaseNote:
		w.release(a)
	case bed.SetLevel:
		w.setLevel(a)
	case bed.EnterChord:
		w.entered = a.At
		w.left = [bed.NumLayers]voicing.Pitches{}
		w.changes++
	case bed.Did:
		switch a.Command {
		case bed.BringIn:
			w.wanted, w.leaving = true, false
			w.brought = w.on[bed.Warm] != voicing.Pitches{}
		case bed.FadeOut:
			w.wanted, w.brought, w.gone = false, false, a.At+w.patience
		case bed.OutNow:
			w.wanted, w.brought, w.leaving, w.gone = false, false, true, a.At+w.patience
		case bed.AllNotesOff:
			w.wanted, w.brought, w.silenced = false, false, true
		}
	}
}

// compareWithCeiling looks at the levels when all of one time are there.
func (w *Watcher) compareWithCeiling() {
	if loud := Loudness(w.level); loud > w.ceiling+1e-9 {
		w.fault(w.last, "levels %v are %.2f dB, over the ceiling of %v dB", w.level, loud, w.ceiling)
	}
}

func (w *Watcher) strike(a bed.Action) {
	l, n := a.Layer, a.Note
	if a.Velocity == 0 || n > 127 {
		w.fault(a.At, "%v note %d struck with velocity %d", l, n, a.Velocity)
	}
	anew := w.interrupted && a.At == w.interruptedAt
	if !w.wanted && !w.silenced && !anew && w.on == ([bed.NumLayers]voicing.Pitches{}) {
		w.fault(a.At, "%v note %d is struck in silence, without a bring-in", l, n)
	}
	if w.on[l].Has(n) {
		w.fault(a.At, "%v note %d is struck again while it sounds (I1)", l, n)
	}
	if w.changes > 0 && w.left[l].Has(n) && a.At == w.entered && !w.silenced && !anew {
		w.fault(a.At, "%v note %d is released and struck at one chord change (I1)", l, n)
	}
	w.on[l].Add(n)
	w.struck[l][n] = a.At
	if l == bed.Warm {
		w.brought, w.silenced = w.wanted, false
	}
}

func (w *Watcher) release(a bed.Action) {
	l, n := a.Layer, a.Note
	if !w.on[l].Has(n) {
		w.fault(a.At, "%v note %d is released but does not sound (I3)", l, n)
	}
	w.on[l].Remove(n)
	w.left[l].Add(n)
	if l != bed.Warm || !w.brought {
		return
	}
	var room [128]uint8
	for _, other := range w.on[l].Append(room[:0]) {
		if w.struck[l][other] < a.At {
			return
		}
	}
	w.fault(a.At, "note %d ends before another has begun: a hole (I2)", n)
}

func (w *Watcher) setLevel(a bed.Action) {
	l := a.Layer
	if a.Value > 127 {
		w.fault(a.At, "%v level %d is out of range", l, a.Value)
	}
	if was := w.level[l]; was >= 0 && !w.silenced {
		rate := w.rate
		if w.leaving {
			rate = w.fast
		}
		// Levels move once a breath, and every move that shows is sent, so no rest
		// before it makes a larger one right; both values were rounded.
		allowed := rate*min(a.At-w.levelAt[l]+moveEvery, 2*moveEvery).Seconds() + 1
		if d := math.Abs(float64(int(a.Value) - was)); d > allowed {
			w.fault(a.At, "%v level jumps from %d to %d in %v (I7)", l, was, a.Value, a.At-w.levelAt[l])
		}
	}
	w.level[l], w.levelAt[l] = int(a.Value), a.At
}

// Sounding gives the notes that are on.
func (w *Watcher) Sounding(l bed.Layer) voicing.Pitches { return w.on[l] }

// Changes counts the chords entered.
func (w *Watcher) Changes() int { return w.changes }

// Finish is called when the run is over: nothing may sound.
func (w *Watcher) Finish() {
	for l := range bed.NumLayers {
		if n := w.on[l].Len(); n > 0 {
			w.fault(w.last, "%d %v notes still sound at the end (I3)", n, l)
		}
	}
}

// Faults gives what was found, in order, at most 20.
func (w *Watcher) Faults() []string { return w.faults }

func (w *Watcher) fault(at time.Duration, format string, args ...any) {
	if len(w.faults) < 20 {
		w.faults = append(w.faults, fmt.Sprintf("%v: ", at)+fmt.Sprintf(format, args...))
	}
}
