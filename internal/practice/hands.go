package practice

import (
	"fmt"
	"slices"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// What the hands' part of a change is measured by. By ear.
const (
	around      = 800 * time.Millisecond  // a change of the hands may come so much before the bed's, and its notes go on so long after
	atMost      = 4 * time.Second         // later than that is no answer to the bed's change any more
	settle      = 50 * time.Millisecond   // fingers of one hand come down within it
	fullHand    = 3                       // notes, from which the lowest one counts as the bass
	firstComing = 1500 * time.Millisecond // the hands need so long to join the bed
)

// hands measures what the hands did over a list of the bed's chords. Notes are sorted by
// when they began.
type hands struct {
	key    pitch.Key
	notes  []Note
	chords []Entry
	end    time.Duration
}

func handsOf(s set, t Take) hands {
	h := hands{key: s.key, notes: slices.Clone(t.Notes), end: t.Lasted}
	slices.SortStableFunc(h.notes, func(a, b Note) int { return int(a.On - b.On) })
	for _, c := range t.Chords {
		if c.Chord.IsZero() {
			continue
		}
		if n := len(h.chords); n > 0 && h.chords[n-1].Chord == c.Chord {
			continue
		}
		h.chords = append(h.chords, c)
	}
	return h
}

// until is when the chord of a number gives way to the next.
func (h *hands) until(i int) time.Duration {
	if i+1 < len(h.chords) {
		return h.chords[i+1].At
	}
	return h.end
}

// at gives the notes that sound at a time, ascending, each number once.
func (h *hands) at(t time.Duration) (list []Note) {
	for _, n := range h.notes {
		if n.On > t {
			break
		}
		if n.Off > t {
			list = append(list, n)
		}
	}
	slices.SortFunc(list, func(a, b Note) int { return int(a.Number) - int(b.Number) })
	return list
}

// change is what the hands did as the bed went from one chord to the next.
type change struct {
	could, held int           // notes that both chords have: as many as sounded or might have, and as many as went on
	late        time.Duration // until the hands had the new chord, atMost where they never had
	gap         time.Duration // nothing sounded
	over        time.Duration // the longest that a note went on which the new chord does not have
	moved, best int           // semitones that the upper notes moved, and the least that would have done
	rated       bool          // moved and best are known
}

// changeTo measures the change to the chord of a number, from 1.
func (h *hands) changeTo(i int, optimum *optimum) change {
	at, from, to := h.chords[i].At, h.chords[i-1].Chord, h.chords[i].Chord
	until := h.until(i)
	after := min(at+atMost, until)
	earliest := max(at-around, h.chords[i-1].At)
	c := change{late: atMost}

	// The hands' own change: their first strike near the bed's.
	own := at
	for _, n := range h.notes {
		if n.On >= earliest && n.On < after {
			own = n.On
			break
		}
	}
	before := h.at(min(own, at) - 1)
	// When the hands have the new chord: its bass below, and nothing else than its tones.
	reached := after
	for _, t := range h.moments(earliest, after) {
		now := h.at(t)
		if len(now) > 0 && pitch.ClassOf(int(now[0].Number)) == to.BassClass() && belongs(now, to.Classes()) {
			reached, c.late = t, max(t-at, 0)
			break
		}
	}
	if len(before) == 0 && c.late < atMost {
		c.late = max(c.late, own-at)
	}
	judged := max(reached, at) + settle
	for k, n := range before {
		class := pitch.ClassOf(int(n.Number))
		bass := k == 0 && class == from.BassClass() && len(before) >= fullHand
		if bass || !to.Classes().Has(class) {
			continue
		}
		c.could++
		if n.Off > min(judged, until-1) {
			c.held++
		}
	}
	if shared := from.Classes().Intersect(to.Classes()); c.could == 0 && shared.Len() > 0 {
		c.could = 1
	}
	c.gap = h.silence(earliest, min(max(judged, at+around), until))
	struck := own
	for _, n := range before {
		if !to.Classes().Has(pitch.ClassOf(int(n.Number))) {
			c.over = max(c.over, n.Off-max(struck, at-around))
		}
	}
	if now := h.at(min(judged, until-1)); c.late < atMost && len(before) >= fullHand && len(now) >= fullHand {
		c.moved, c.best, c.rated = optimum.compare(before, now, to, h.key)
	}
	return c
}

// moments are the times within two others at which what sounds changes, and the first.
func (h *hands) moments(from, to time.Duration) []time.Duration {
	list := []time.Duration{from}
	for _, n := range h.notes {
		for _, t := range [2]time.Duration{n.On, n.Off} {
			if t > from && t < to {
				list = append(list, t)
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

func belongs(notes []Note, classes pitch.Set) bool {
	for _, n := range notes {
		if !classes.Has(pitch.ClassOf(int(n.Number))) {
			return false
		}
	}
	return true
}

// silence is how long nothing sounds between two times.
func (h *hands) silence(from, to time.Duration) (sum time.Duration) {
	edge := from
	for _, n := range h.notes {
		if n.On >= to {
			break
		}
		if n.Off <= edge {
			continue
		}
		if n.On > edge {
			sum += n.On - edge
		}
		edge = max(edge, n.Off)
	}
	return sum + max(to-edge, 0)
}

// presence is the share of the time, once the bed is there, in which the hands sound.
func (h *hands) presence() float64 {
	if len(h.chords) == 0 {
		return 0
	}
	from := min(h.chords[0].At+firstComing, h.end)
	if from < 0 || h.end <= from {
		return 0
	}
	sounds := 1 - float64(h.silence(from, h.end))/float64(h.end-from)
	return 1 - falls(sounds, 0.2, 0.85) // the rest is what gap counts
}

// wrong is the share of the sounding time that is against chord and key: what is out of
// the key and the chord counts whole; a note of the key that rubs with the chord, a
// semitone above one of its tones, half.
func (h *hands) wrong() float64 {
	var all, bad time.Duration
	for _, n := range h.notes {
		class := pitch.ClassOf(int(n.Number))
		for i, c := range h.chords {
			from, to := c.At, h.until(i)
			if i == 0 {
				from = min(from, 0)
			}
			on, off := max(n.On, from), min(n.Off, to)
			if off <= on {
				continue
			}
			all += off - on
			if rub := h.rubs(class, c.Chord); rub > 0 {
				// Around a change the other chord's notes are right too.
				if i > 0 && h.rubs(class, h.chords[i-1].Chord) == 0 {
					on = max(on, from+around)
				}
				if i+1 < len(h.chords) && h.rubs(class, h.chords[i+1].Chord) == 0 {
					off = min(off, to-around)
				}
				bad += time.Duration(rub * float64(max(off-on, 0)))
			}
		}
	}
	if all == 0 {
		return 0
	}
	return float64(bad) / float64(all)
}

// rubs is how far a class is against a chord in the key: 0 not at all … 1.
func (h *hands) rubs(class pitch.Class, c harmony.Chord) float64 {
	switch {
	case c.Classes().Has(class):
		return 0
	case !h.key.Classes().Has(class):
		return 1
	case c.Classes().Has(class.Up(-1)):
		return 0.5
	}
	return 0
}

// optimum asks the voicing engine for the least movement. The zero value asks nothing.
type optimum struct {
	wanted  bool
	engines [mostUpper + 1]*voicing.Engine // by the number of upper notes
}

// What is compared with the engine: so many upper notes, in this range.
const (
	mostUpper           = 5
	lowestUp, highestUp = 45, 86
)

// compare gives by how many semitones the upper notes moved, and by how many they had
// to for the new chord with as many notes; not known where the engine has no voicing.
func (o *optimum) compare(before, now []Note, to harmony.Chord, key pitch.Key) (moved, best int, known bool) {
	a, b := upper(before), upper(now)
	if !o.wanted || len(a) != len(b) || len(a) > mostUpper || min(a[0], b[0]) < lowestUp || max(a[len(a)-1], b[len(b)-1]) > highestUp {
		return 0, 0, false
	}
	e := o.engines[len(a)]
	if e == nil {
		s := voicing.DefaultSettings()
		s.Low, s.High, s.Voices, s.Thin, s.Full = lowestUp, highestUp, len(a), len(a), len(a)
		s.Plain, s.Colours, s.Stillness, s.Weights = true, 0, 0, voicing.MovementOnly()
		s.Centre, s.NoBass, s.RungWeight = (lowestUp+highestUp)/2, true, voicing.EvenRungs()
		var err error
		if e, err = voicing.New(s); err != nil {
			return 0, 0, false
		}
		o.engines[len(a)] = e
	}
	from := voicing.Of(voicing.NoBass, a...)
	path, err := e.Path([]harmony.Chord{to}, key, false, &from)
	if err != nil {
		return 0, 0, false
	}
	return voicing.Movement(a, b), path.Movement, true
}

// upper are the notes above the lowest, each once.
func upper(notes []Note) (list []uint8) {
	for _, n := range notes[1:] {
		if len(list) == 0 || list[len(list)-1] != n.Number {
			list = append(list, n.Number)
		}
	}
	return list
}

// changes sums up all changes of a take.
type changes struct {
	could, held int
	late, gaps  []float64 // seconds, milliseconds
	overs       []float64 // milliseconds
	excess      []float64 // semitones beyond the engine's
}

// changes measures all changes; with o wanted, the movement too.
func (h *hands) changes(o optimum) (c changes) {
	for i := 1; i < len(h.chords); i++ {
		if h.until(i)-h.chords[i].At < around { // no time to answer
			continue
		}
		one := h.changeTo(i, &o)
		c.could, c.held = c.could+one.could, c.held+one.held
		c.late = append(c.late, one.late.Seconds())
		c.gaps = append(c.gaps, float64(one.gap)/1e6)
		c.overs = append(c.overs, float64(max(one.over, 0))/1e6)
		if one.rated {
			c.excess = append(c.excess, float64(max(one.moved-one.best, 0)))
		}
	}
	return c
}

// What counts as well done and as not done at all. By ear.
const (
	goodLate, badLate     = 0.4, 2.5   // seconds
	goodGap, badGap       = 40, 500    // ms
	goodOver, badOver     = 200, 1500  // ms
	goodExcess, badExcess = 2, 14      // semitones
	goodWrong, badWrong   = 0.005, 0.2 // of the time
)

// addHeld and the like put a measure into a score with its weight.
func (c *changes) addHeld(s *score, weight float64) {
	if c.could == 0 { // no chord has changed
		return
	}
	n := fmt.Sprintf("%d of %d", c.held, c.could)
	s.add(weight, "shared notes held", n, n+" shared notes held", share(float64(c.held), float64(c.could)),
		"Let the fingers lie that both chords have in common: only what must move, moves.")
}

func (c *changes) addLate(s *score, weight float64) {
	if len(c.late) == 0 {
		return
	}
	n := fmt.Sprintf("%.1f s", mean(c.late))
	s.add(weight, "behind the bed", n, n+" behind the bed", falls(mean(c.late), goodLate, badLate),
		"Have the next chord ready before the bed goes there, the bass above all.")
}

func (c *changes) addSmooth(s *score, weight float64) {
	if len(c.gaps) == 0 {
		return
	}
	gap, over := mean(c.gaps), mean(c.overs)
	s.add(weight, "gap at a change", fmt.Sprintf("%.0f ms", gap), fmt.Sprintf("%.0f ms of silence at a change", gap), falls(gap, goodGap, badGap),
		"Let go of the old chord only when the new one sounds.")
	s.add(weight/2, "old notes ringing on", fmt.Sprintf("%.0f ms", over), fmt.Sprintf("old notes ring on for %.0f ms", over), falls(over, goodOver, badOver),
		"Change the damper with the chord: what the new one lacks is to end.")
}

func (c *changes) addMoved(s *score, weight float64) {
	if len(c.excess) == 0 {
		return
	}
	n := fmt.Sprintf("%.1f semitones", mean(c.excess))
	s.add(weight, "moved more than needed", n, n+" moved more than needed at a change", falls(mean(c.excess), goodExcess, badExcess),
		"Look for the nearest notes of the new chord, also for those that move.")
}

func (h *hands) addWrong(s *score, weight float64) {
	wrong := h.wrong()
	n := fmt.Sprintf("%.0f %%", 100*wrong)
	s.spoilt = 1 - falls(wrong, goodWrong, badWrong)
	s.add(weight, "wrong notes", n, n+" of the time on wrong notes", falls(wrong, goodWrong, badWrong),
		"Find the key's own notes first, slowly and without the bed; then again.")
}
