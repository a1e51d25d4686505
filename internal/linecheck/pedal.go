package linecheck

import (
	"slices"
	"time"
)

// pedalStep finds the intensity pedal, moved from heel to toe and back to rest.
type pedalStep struct{}

const (
	leastWay    = 40 // of 127: less is no pedal's way
	leastValues = 8
	stillFor    = 1500 * time.Millisecond
	fullWay     = 100 // of 127: less is told
)

func (pedalStep) hear(*Check, heard) {}

func (s *pedalStep) pass(c *Check) {
	var best *trail
	for _, t := range c.ear.trails {
		if s.eligible(c, t) && (best == nil || t.values > best.values) {
			best = t
		}
	}
	if best == nil {
		s.none(c)
		return
	}
	c.told = nil
	w := best.way()
	window := settled(w.path, c.now)
	if window == nil || len(w.ends) < 3 || w.ends[len(w.ends)-1] != w.end(window) {
		if last := best.last().at; c.now-last >= nothingFor {
			c.tell(troubleHalfway())
		}
		return
	}
	s.finish(c, best, w)
}

// eligible reports whether a source moves as a pedal does.
func (s *pedalStep) eligible(c *Check, t *trail) bool {
	if t.what != controller || t.values < leastValues || t.most-t.least < leastWay || c.learned(t.source) != "" {
		return false
	}
	if c.keysOwn(t.source) && (t.number == 1 || t.number == 2 || t.number >= 64 && t.number <= 69) && c.handsPlay() {
		return false // a wheel, breath, or the damper
	}
	upper := t.source
	upper.number -= 32
	if t.number >= 32 && t.number < 64 {
		if u := c.ear.find(upper); u != nil && u.values >= leastValues {
			return false
		}
	}
	return true
}

// way is where a source has been, without single wild values.
type way struct {
	path        []sample
	least, most uint16
	ends        []bool // those it has visited in turn, true the upper
}

// way smooths by the median of three neighbours. A visit to an end counts from two
// samples on: the outer sixth of the way is its end.
func (t *trail) way() (w way) {
	w.path = slices.Clone(t.samples)
	for i := 1; i+1 < len(t.samples); i++ {
		a, b, c := t.samples[i-1].value, t.samples[i].value, t.samples[i+1].value
		w.path[i].value = max(min(a, b), min(max(a, b), c))
	}
	w.least, w.most = w.path[0].value, w.path[0].value
	for _, s := range w.path {
		w.least, w.most = min(w.least, s.value), max(w.most, s.value)
	}
	margin := (w.most - w.least) / 6
	stays, was := 0, 0
	for _, s := range w.path {
		where := 0
		if s.value <= w.least+margin {
			where = -1
		} else if s.value >= w.most-margin {
			where = 1
		}
		if where != was {
			stays = 0
		}
		was = where
		if stays++; where != 0 && stays >= 2 {
			if upper := where > 0; len(w.ends) == 0 || w.ends[len(w.ends)-1] != upper {
				w.ends = append(w.ends, upper)
			}
		}
	}
	return w
}

// end is the end that a resting pedal is nearer to, true the upper.
func (w way) end(window []sample) bool {
	return 2*int(middle(window)) > int(w.least)+int(w.most)
}

// settled gives where a pedal rests at the end, without the moment in which it came
// there; nil where it has not yet rested long enough.
func settled(path []sample, now time.Duration) []sample {
	last := len(path) - 1
	from, least, most := last, path[last].value, path[last].value
	for from > 0 {
		v := path[from-1].value
		if max(most, v)-min(least, v) > leastWay/4 {
			break
		}
		from, least, most = from-1, min(least, v), max(most, v)
	}
	came := path[from].at
	if now-came < stillFor+arriving {
		return nil
	}
	for from < last && path[from].at < came+arriving {
		from++
	}
	return path[from:]
}

// arriving is how long a foot takes for the last bit of the way.
const arriving = 300 * time.Millisecond

func middle(window []sample) uint16 {
	values := make([]uint16, len(window))
	for i, s := range window {
		values[i] = s.value
	}
	slices.Sort(values)
	return values[len(values)/2]
}

func (s *pedalStep) finish(c *Check, t *trail, w way) {
	window := settled(w.path, c.now)
	reversed := w.end(window)
	heel, toe := int(middle(window)), int(w.most)
	if reversed {
		toe = int(w.least)
	}
	span := max(toe-heel, heel-toe)
	wander := 0
	for _, x := range window {
		wander = max(wander, int(x.value)-heel, heel-int(x.value))
	}
	if n, known := c.noise[t.source]; known && int(n.most-n.least) < span/2 {
		wander = max(wander, (int(n.most-n.least)+1)/2)
	}
	p := Pedal{Control: c.control(t.source), Heel: heel, Toe: toe}
	if wander > 0 {
		p.Noise = float64(wander+1) / float64(span)
	}
	if low := lower(c, t); low != nil {
		p.Fine = true
		p.Heel, p.Toe = fineEnds(t, low, reversed, window[0].at)
	}
	if reversed {
		c.tell(troubleBackwards())
	}
	if span < fullWay {
		c.tell(troubleShort(int(w.least), int(w.most)))
	}
	if p.Noise > mostNoise {
		c.tell(troubleRestless(p.Noise))
		p.Noise = mostNoise
	}
	if t.number == 7 || t.number == 1 || t.number == 10 || t.number >= 64 && t.number <= 69 {
		c.tell(troubleVolume(p.Control))
	}
	c.shared(t.source)
	c.found.Pedal = &p
	c.done("pedal: " + p.line())
}

// mostNoise is as much as a rig's pedal may have.
const mostNoise = 0.1

// lower is the trail of the lower seven bits, nil where there is none. They come with
// the upper ones, and may be few different ones.
func lower(c *Check, t *trail) *trail {
	if t.number >= 32 {
		return nil
	}
	x := t.source
	x.number += 32
	if low := c.ear.find(x); low != nil && 2*len(low.samples) >= len(t.samples) {
		return low
	}
	return nil
}

// fineEnds gives heel and toe in 14 bits: MIDI 1.0 has the lower seven follow the upper. It rests since a time.
func fineEnds(upper, low *trail, reversed bool, since time.Duration) (heel, toe int) {
	var path []sample
	u := 0
	for _, s := range low.samples {
		for u+1 < len(upper.samples) && upper.samples[u+1].at <= s.at {
			u++
		}
		path = append(path, sample{s.at, upper.samples[u].value<<7 | s.value})
	}
	least, most := path[0].value, path[0].value
	for _, s := range path {
		least, most = min(least, s.value), max(most, s.value)
	}
	from := len(path) - 1
	for from > 0 && path[from-1].at >= since {
		from--
	}
	heel = int(middle(path[from:]))
	if reversed {
		return heel, int(least)
	}
	return heel, int(most)
}

// none tells what is wrong where no controller has moved as a pedal's does.
func (s *pedalStep) none(c *Check) {
	for _, t := range c.ear.trails {
		if c.noise.has(t.source) && t.what != bend || c.keysOwn(t.source) && c.handsPlay() || c.now-t.last().at < quietFor {
			continue
		}
		input := c.gear.Ins[t.in]
		switch {
		case t.what == bend && t.values >= leastValues:
			c.tell(troubleWrongMessage("pitch bend", input))
			return
		case t.what == pressure && t.values >= leastValues:
			c.tell(troubleWrongMessage("channel pressure (aftertouch)", input))
			return
		case t.what == polyPressure && t.values >= leastValues:
			c.tell(troubleWrongMessage("key pressure (aftertouch)", input))
			return
		case t.what == controller && t.jumps() && t.values > 1 && c.learned(t.source) == "":
			c.tell(troubleOnlySwitches(c.control(t.source)))
			return
		}
	}
	c.silent(c.began, c.nothing("the pedal"))
}

func (pedalStep) answer(*Check, Answer) {}

func (pedalStep) prompt(c *Check, p *Prompt) {
	p.Big = "heel toe"
	p.Say = []string{"Heel down. Slowly to the toe, and slowly back to the heel; leave it there for two seconds.", "You may go on playing. Without a pedal, skip: your playing leads."}
	p.Care = careFeet
}
