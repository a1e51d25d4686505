package gathering

import (
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/voicing"

	"go.yaml.in/yaml/v3"
)

func (r *reader) voicing(v *voicing.Settings) func(*yaml.Node) {
	return func(n *yaml.Node) {
		var centre uint8
		before := len(r.faults)
		said := r.mapping(n, "voicing",
			field{"voices", r.voices(v)},
			field{"range", func(n *yaml.Node) {
				r.notes("range", &v.Low, &v.High)(n)
				v.Centre = (float64(v.Low) + float64(v.High)) / 2
			}},
			field{"centre", r.note("centre", &centre)},
			field{"bass", r.bass(v)},
			field{"stillness", r.part("stillness", 0, 1, &v.Stillness)},
			field{"colours", r.whole("colours", 0, voicing.MaxUpper, func(c int) { v.Colours = c })},
			field{"colour", r.word("colour", func(s string) (err error) { v.Palette, err = voicing.ParsePalette(s); return err })},
			field{"plain", r.flag("plain", &v.Plain)},
			field{"pedal-point", r.word("pedal-point", func(s string) (err error) { v.PedalPoint, err = voicing.ParsePedalPoint(s); return err })},
			field{"weights", r.weights(&v.Weights)},
		)
		if !said.has("centre") || len(r.faults) > before {
			return
		}
		v.Centre = float64(centre)
		if centre < v.Low || centre > v.High {
			r.fault(said.line("centre"), "centre %s lies outside the range", said["centre"].Value)
		}
	}
}

func (r *reader) weights(w *voicing.Weights) func(*yaml.Node) {
	return func(n *yaml.Node) {
		var accepted []field
		for _, known := range w.All() {
			accepted = append(accepted, field{known.Name, r.part("weight "+known.Name, 0, voicing.MaxWeight, known.At)})
		}
		r.mapping(n, "weights", accepted...)
	}
}

func (r *reader) voices(v *voicing.Settings) func(*yaml.Node) {
	return func(n *yaml.Node) {
		before := len(r.faults)
		r.mapping(n, "voices",
			field{"thin", r.whole("thin", 1, voicing.MaxUpper, func(c int) { v.Thin = c })},
			field{"usual", r.whole("usual", 1, voicing.MaxUpper, func(c int) { v.Voices = c })},
			field{"full", r.whole("full", 1, voicing.MaxUpper, func(c int) { v.Full = c })},
		)
		if len(r.faults) == before && (v.Thin > v.Voices || v.Voices > v.Full) {
			r.fault(n.Line, "voices must grow: thin is %d, usual %d, full %d", v.Thin, v.Voices, v.Full)
		}
	}
}

// bass reads on, off, a range, or "above" and a note.
func (r *reader) bass(v *voicing.Settings) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, "bass")
		floor, above := strings.CutPrefix(s, "above ")
		before := len(r.faults)
		switch {
		case !ok:
		case s == "on":
			v.NoBass = false
		case s == "off":
			v.NoBass = true
		case above:
			width := v.BassHigh - v.BassLow
			if low, ok := r.noteIn(n.Line, "bass", strings.TrimSpace(floor)); ok {
				v.BassLow, v.BassHigh = low, min(low+width, 127)
			}
		default:
			if _, _, ok := cutRange(s); !ok {
				r.fault(n.Line, "bass %q is none of on, off, a range as in C2-D3, above E2", clip(s))
				return
			}
			r.notes("bass", &v.BassLow, &v.BassHigh)(n)
		}
		switch {
		case len(r.faults) > before || v.NoBass:
		case v.BassHigh-v.BassLow < 11:
			r.fault(n.Line, "bass %s does not hold every note: it needs twelve semitones", s)
		case v.BassLow == voicing.NoBass:
			r.fault(n.Line, "bass %s starts too low: note 1 is the lowest", s)
		}
	}
}

func (r *reader) follow(c *bed.Config) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "follow",
			field{"split", r.note("split", &c.Split)},
			field{"steady", r.span("steady", 0, 10*time.Second, &c.Steady)},
			field{"pace", r.span("pace", 0, time.Minute, &c.Pace)},
		)
	}
}

// landing reads how the bed goes into the next song, and leaves there.
func (r *reader) landing(c *bed.Config) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "landing",
			field{"ending", func(n *yaml.Node) {
				var name string
				if r.choice("ending", &name, harmony.Endings()...)(n); name != "" {
					c.Ending, _ = harmony.ParseEnding(name)
				}
			}},
			field{"pace", r.breaths("pace", 500*time.Millisecond, time.Minute, &c.Walk)},
			field{"thin", r.breathsOrNo("thin", 5*time.Minute, &c.Thin)},
			field{"hands", r.breathsOrNo("hands", 5*time.Minute, &c.Hands)},
		)
	}
}

// breathsOrNo reads a time after which something happens, or that it never does.
func (r *reader) breathsOrNo(what string, high time.Duration, to *time.Duration) func(*yaml.Node) {
	return func(n *yaml.Node) {
		if isNo(n) {
			*to = 0
			return
		}
		r.breaths(what, 500*time.Millisecond, high, to)(n)
	}
}
