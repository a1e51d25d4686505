package gathering

import (
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"bedd/configs"
	"bedd/internal/bed"
	"bedd/internal/dynamics"

	"go.yaml.in/yaml/v3"
)

// usualBreath is how long a breath is unless the rig says so: an adult at rest
// takes 12 to 20 a minute (from memory); a slow one suits what it is for.
const usualBreath = 4 * time.Second

// longestBreath keeps every built-in feel within the ranges of its times.
const longestBreath = 20 * time.Second

// defaultFeel is the feel of a rig that names none.
const defaultFeel = "steady"

const feelsName = "feels" + extension

// feel is a way in which the bed answers, under a name that a rig can give.
type feel struct {
	name string
	says string // what it is like, in a sentence
	node *yaml.Node
}

// feels has the built-in ones, which are read once.
var feels = sync.OnceValue(func() []feel {
	data, err := configs.FS.ReadFile(feelsName)
	if err != nil {
		panic(err) // it is built in
	}
	read, err := readFeels(feelsName, data)
	if err != nil {
		panic(err)
	}
	return read
})

func readFeels(name string, data []byte) (read []feel, err error) {
	r := &reader{breath: usualBreath}
	if root := r.document(data, "it lists feels"); root != nil {
		for _, item := range r.list(root, "feels", 100) {
			f, c := feel{node: item}, bed.DefaultConfig()
			said := r.feelMapping(item, &f, &c)
			r.need(item, said, "name", "a feel has name and says:")
			r.need(item, said, "says", "a feel has name and says:")
			if slices.ContainsFunc(read, func(other feel) bool { return other.name == f.name }) {
				r.fault(item.Line, "there is a feel %q already", f.name)
			}
			read = append(read, f)
		}
	}
	return read, fileError(name, r.faults)
}

func (r *reader) feelMapping(n *yaml.Node, f *feel, c *bed.Config) fields {
	return r.mapping(n, "a feel", append([]field{
		{"name", r.text("name", &f.name)},
		{"says", r.text("says", &f.says)},
	}, r.feelFields(c)...)...)
}

// feel takes over all that a feel of the given name says.
func (r *reader) feel(c *bed.Config) func(*yaml.Node) {
	return func(n *yaml.Node) {
		var names []string
		for _, f := range feels() {
			names = append(names, f.name)
		}
		var name string
		if r.choice("feel", &name, names...)(n); name != "" {
			mustFeel(name, r.breath, c)
		}
	}
}

// mustFeel takes over all that a built-in feel says, which is right for any breath.
func mustFeel(name string, breath time.Duration, c *bed.Config) {
	all := feels()
	i := slices.IndexFunc(all, func(f feel) bool { return f.name == name })
	r := &reader{breath: breath}
	r.feelMapping(all[i].node, &feel{}, c)
	if err := fileError(feelsName, r.faults); err != nil {
		panic(err)
	}
}

// feelFields are what a feel, and a rig besides, can say of how the bed answers.
func (r *reader) feelFields(c *bed.Config) []field {
	return []field{
		{"foot", r.footFeel(c)},
		{"level", r.level(c)},
		{"times", r.times(c)},
		{"swell", r.goal("swell", &c.Feel.Swell)},
		{"settle", r.goal("settle", &c.Feel.Settle)},
		{"playing", r.playing(&c.Feel)},
		{"grows", r.grows(c)},
	}
}

func (r *reader) footFeel(c *bed.Config) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "foot",
			field{"curve", r.word("curve", func(s string) error {
				curve, err := dynamics.ParseCurve(s)
				if err == nil {
					c.Pedal.Curve = curve
				}
				return err
			})},
			field{"holds", func(n *yaml.Node) {
				if n.Kind == yaml.ScalarNode && strings.TrimSpace(n.Value) == "always" {
					c.Feel.Holds = dynamics.Always
					return
				}
				r.breaths("holds", 0, time.Hour, &c.Feel.Holds)(n)
			}},
		)
	}
}

func (r *reader) level(c *bed.Config) func(*yaml.Node) {
	return func(n *yaml.Node) {
		var heel string
		b := &c.Balance
		said := r.mapping(n, "level",
			field{"heel", r.choice("heel", &heel, "audible", "silent")},
			field{"floor", r.decibels("floor", math.Ceil(dynamics.Bottom), -dynamics.LeastRange, &b.Floor)},
			field{"ceiling", r.decibels("ceiling", math.Ceil(dynamics.Bottom), 0, &b.Ceiling)},
			field{"rise", r.perSecond("rise", dynamics.LeastRate, dynamics.MostRate, &c.Feel.Rise)},
			field{"fall", r.perSecond("fall", dynamics.LeastRate, dynamics.MostRate, &c.Feel.Fall)},
			field{"air-from", r.part("air-from", 0, 1, &b.AirFrom)},
			field{"air-top", r.decibels("air-top", dynamics.LeastAir, 0, &b.AirTop)},
			field{"step", r.part("step", 0.01, 1, &c.Nudge)},
			field{"velocity", r.byteFrom("velocity", 1, 127, &c.Velocity)},
		)
		if heel == "silent" {
			if said.has("floor") {
				r.fault(said.line("floor"), "floor is the quietest audible level: with heel: silent there is none")
			}
			b.Floor = math.Inf(-1)
		}
		if b.Ceiling < b.Floor {
			r.fault(max(said.line("ceiling"), said.line("floor")), "the ceiling of %vdB lies below the floor of %vdB", b.Ceiling, b.Floor)
		}
	}
}

func (r *reader) times(c *bed.Config) func(*yaml.Node) {
	const tenth = 100 * time.Millisecond
	return func(n *yaml.Node) {
		r.mapping(n, "times",
			field{"bring-in", r.breaths("bring-in", tenth, time.Minute, &c.BringIn)},
			field{"fade", r.breaths("fade", tenth, 2*time.Minute, &c.Fade)},
			field{"out-now", r.breaths("out-now", tenth, 10*time.Second, &c.Leave)},
			field{"overlap", r.span("overlap", bed.MinOverlap, 2*time.Second, &c.Overlap)},
			field{"bloom", r.breaths("bloom", 0, 30*time.Second, &c.Stagger)},
			field{"hand-over", r.breaths("hand-over", dynamics.MinHandOver, 5*time.Minute, &c.Feel.HandOver)},
		)
	}
}

func (r *reader) goal(what string, to *dynamics.Goal) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, what,
			field{"to", r.part(what+" to", 0, 1, &to.To)},
			field{"over", r.breaths(what+" over", dynamics.MinGoal, 5*time.Minute, &to.Over)},
		)
	}
}

func (r *reader) playing(f *dynamics.Feel) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "playing",
			field{"counts", r.part("counts", 0, 1, &f.Playing)},
			field{"room", r.part("room", 0, 1, &f.Room)},
		)
	}
}

// grows reads what goes with the intensity, and by how much.
func (r *reader) grows(c *bed.Config) func(*yaml.Node) {
	return func(n *yaml.Node) {
		var voices, air, level = !c.SameVoices, !c.Balance.NoAir, !c.NoLevel
		r.mapping(n, "grows",
			field{"voices", r.flag("voices", &voices)},
			field{"register", func(n *yaml.Node) {
				if isNo(n) {
					c.Lift = 0
					return
				}
				r.byteFrom("register", 0, bed.MaxLift, &c.Lift)(n)
			}},
			field{"register-from", r.part("register-from", 0, 1, &c.LiftFrom)},
			field{"air", r.flag("air", &air)},
			field{"level", r.flag("level", &level)},
			field{"brightness", func(n *yaml.Node) {
				if c.Brightness.Off = isNo(n); !c.Brightness.Off {
					r.values("brightness", &c.Brightness.Dark, &c.Brightness.Bright)(n)
				}
			}},
		)
		c.SameVoices, c.Balance.NoAir, c.NoLevel = !voices, !air, !level
	}
}

// isNo reports whether a value switches something off.
func isNo(n *yaml.Node) bool {
	s := strings.ToLower(strings.TrimSpace(n.Value))
	return n.Kind == yaml.ScalarNode && (s == "no" || s == "off" || s == "false")
}

// values reads two controller values, as in 56-76; the first may be the larger.
func (r *reader) values(what string, from, to *uint8) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		a, b, ok := cutRange(s)
		if !ok {
			r.fault(n.Line, "%s %q is neither two values of controller 74, as in 56-76, nor no", what, clip(s))
			return
		}
		first, ok1 := r.number(n.Line, what, a, 0, 127)
		second, ok2 := r.number(n.Line, what, b, 0, 127)
		if ok1 && ok2 {
			*from, *to = uint8(first), uint8(second)
		}
	}
}
