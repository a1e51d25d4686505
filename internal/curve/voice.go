package curve

import (
	"fmt"
	"math"
	"strings"
	"time"

	"bedd/internal/listening"
	"bedd/internal/session"
)

// Hear takes what was heard of a voice, a hop at a time, in order. It keeps 5 readings a
// second of it.
func (c *Curve) Hear(h listening.Heard) {
	v := &c.voice
	dt := max(h.At-v.at, 0).Seconds()
	v.at = h.At
	if v.seconds == nil {
		v.seconds = map[string]float64{}
	}
	v.seconds[h.Sound.String()] += dt
	if h.Known && h.Why == listening.Follows {
		if v.follows == 0 {
			v.low, v.high = h.Intensity, h.Intensity
		}
		v.follows += dt
		v.low, v.high = min(v.low, h.Intensity), max(v.high, h.Intensity)
	}
	v.eased = max(v.eased, h.Eased)
	if n := len(v.heard); n == 0 || h.At-v.heard[n-1].At >= heardEvery || h.Sound != v.heard[n-1].Sound {
		v.heard = append(v.heard, h)
	}
}

// heardEvery is how often a curve keeps what was heard.
const heardEvery = 200 * time.Millisecond

// voice is what was heard of one.
type voice struct {
	heard                     []listening.Heard
	at                        time.Duration
	seconds                   map[string]float64
	follows, low, high, eased float64
}

// Voice sums up what was heard.
func (c *Curve) Voice() *session.ReportVoice {
	v := c.voice
	r := &session.ReportVoice{Seconds: map[string]float64{}, Low: hundredths(v.low), High: hundredths(v.high), Follows: hundredths(v.follows), Eased: hundredths(v.eased)}
	for what, s := range v.seconds {
		r.Seconds[what] = hundredths(s)
	}
	return r
}

func hundredths(x float64) float64 { return math.Round(100*x) / 100 }

// series are what is drawn of a voice, each with the ends of its scale.
var series = []struct {
	name, unit string
	low, high  float64
	value      func(h listening.Heard) (float64, bool)
}{
	{"loudness", "LUFS", -50, -10, func(h listening.Heard) (float64, bool) { return h.Speech, h.Voice && !math.IsInf(h.Speech, 0) }},
	{"syllables", "/s", 0, 8, func(h listening.Heard) (float64, bool) { return h.Syllables, h.Voice && h.Syllables > 0 }},
	{"pitch", "Hz", 60, 400, func(h listening.Heard) (float64, bool) { return h.Pitch, h.Voice && h.Pitch > 0 }},
	{"asks for", "", 0, 1, func(h listening.Heard) (float64, bool) { return h.Intensity, h.Known }},
}

// bars are the eighths that a terminal draws a value with.
var bars = []rune(" ▁▂▃▄▅▆▇█")

// Rows draws what was heard, and the bed, in lines of so many columns from the start to
// the end.
func (c *Curve) Rows(end time.Duration, columns int) (rows []string) {
	column := func(at time.Duration) int {
		return min(max(int(float64(at)/float64(max(end, 1))*float64(columns)), 0), columns-1)
	}
	line := func(name string, low, high float64, put func(set func(at time.Duration, value float64)), unit string) {
		sum, n := make([]float64, columns), make([]float64, columns)
		put(func(at time.Duration, value float64) { sum[column(at)] += value; n[column(at)]++ })
		var b strings.Builder
		for i := range columns {
			if n[i] == 0 {
				b.WriteRune(' ')
				continue
			}
			part := (sum[i]/n[i] - low) / (high - low)
			b.WriteRune(bars[1+min(max(int(part*8), 0), 7)])
		}
		rows = append(rows, strings.TrimRight(fmt.Sprintf("  %-10s|%s| %g…%g %s", name, b.String(), low, high, unit), " "))
	}
	signs := map[listening.Kind]rune{listening.Speech: '█', listening.Singing: '♪', listening.Clapping: '*', listening.Knock: '!'}
	heard := []rune(strings.Repeat("·", columns))
	for _, h := range c.voice.heard {
		if sign, ok := signs[h.Sound]; ok {
			heard[column(h.At)] = sign
		}
	}
	rows = append(rows, fmt.Sprintf("  %-10s|%s| █ speech ♪ singing * clapping ! knock", "heard", string(heard)))
	for _, s := range series {
		line(s.name, s.low, s.high, func(set func(time.Duration, float64)) {
			for _, h := range c.voice.heard {
				if v, ok := s.value(h); ok {
					set(h.At, v)
				}
			}
		}, s.unit)
	}
	line("bed", 0, 1, func(set func(time.Duration, float64)) {
		for i, s := range c.states {
			until := end
			if i+1 < len(c.states) {
				until = c.states[i+1].at
			}
			for at := s.at; s.sounding && at <= until && at <= end; at += heardEvery {
				set(at, float64(s.intensity))
			}
		}
	}, "")
	return rows
}

// voicePanels draw what was heard: by kind as a strip, and the features as lines.
func (d *drawing) voicePanels() {
	heard := d.curve.voice.heard
	if len(heard) == 0 {
		return
	}
	for i, s := range series {
		y := d.panel(s.name, 56, s.low, s.high)
		for _, v := range []float64{s.low, s.high} {
			d.grid(y(v), strings.Replace(fmt.Sprintf("%g", v), "-", "−", 1))
		}
		var points []point
		for _, h := range heard {
			p := point{at: h.At}
			if v, ok := s.value(h); ok {
				p = point{h.At, v, "voices"}
			}
			points = append(points, p)
		}
		d.steps(points, y)
		d.note(y(s.high), [...]string{"LUFS, of the speech", "a second", "Hz", "by listening"}[i])
	}
	var points []point
	for _, h := range heard {
		p := point{at: h.At}
		if h.Sound != listening.Silence {
			p.class = h.Sound.String()
		}
		points = append(points, p)
	}
	top := d.y - 4
	for _, s := range d.stretches(points) {
		x, end := d.x(s.from), d.x(s.to)
		d.put(`<rect class="strip from-listening" x="%s" y="%s" width="%s" height="14"><title>%s to %s: %s</title></rect>`, coordinate(x), coordinate(top), coordinate(end-x), clock(s.from), clock(s.to), s.class)
		if end-x > width(s.class)+4 {
			d.put(`<text class="inside" x="%s" y="%s">%s</text>`, coordinate((x+end)/2), coordinate(top+11), s.class)
		}
	}
	d.put(`<text class="side" x="%d" y="%s">heard</text>`, marginLeft-8, coordinate(top+11))
	d.y = top + 18
}
