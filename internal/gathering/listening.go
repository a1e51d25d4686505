package gathering

import (
	"strings"
	"time"

	"bedd/internal/listening"

	"go.yaml.in/yaml/v3"
)

// Listening is whether and how bedd listens to a voice.
type Listening struct {
	On        bool
	Input     string // a part of the sound input's name; empty for the system's own choice
	Manner    listening.Manner
	Clearance listening.Clearance // but for the ceiling, which is the level's
}

// Cleared gives the rig's clearance, with its ceiling.
func (r *Rig) Cleared() listening.Clearance {
	c := r.Listening.Clearance
	c.Ceiling = r.Bed.Balance.Ceiling
	return c
}

func (r *reader) listening(to *Listening) func(*yaml.Node) {
	return func(n *yaml.Node) {
		m, c, before := &to.Manner, &to.Clearance, len(r.faults)
		said := r.mapping(n, "listening",
			field{"on", r.flag("on", &to.On)},
			field{"input", r.text("input", &to.Input)},
			field{"low", r.part("low", 0, 1, &m.Low)},
			field{"high", r.part("high", 0, 1, &m.High)},
			field{"rise", r.span("rise", listening.ShortestTime, listening.LongestTime, &m.Rise)},
			field{"fall", r.span("fall", listening.ShortestTime, listening.LongestTime, &m.Fall)},
			field{"rate", r.part("rate", listening.LeastRate, listening.MostRate, &m.Rate)},
			field{"norm", r.span("norm", listening.ShortestNorm, listening.LongestNorm, &m.Norm)},
			field{"rest", r.span("rest", listening.ShortestRest, time.Hour, &m.Rest)},
			field{"settle-to", r.part("settle-to", 0, 1, &m.SettleTo)},
			field{"settle", r.span("settle", listening.ShortestTime, listening.LongestTime, &m.Settle)},
			field{"under", r.measure("under", "LU", 0, listening.MostUnder, &c.Under)},
			field{"voice", func(n *yaml.Node) {
				if n.Kind == yaml.ScalarNode && strings.TrimSpace(n.Value) == "none" {
					c.Voice = 0
					return
				}
				r.measure("voice", "LUFS", -70, 0, &c.Voice)(n)
			}},
		)
		if said == nil || len(r.faults) > before {
			return
		}
		if !said.has("settle-to") {
			m.SettleTo = min(max(m.SettleTo, m.Low), m.High)
		}
		if err := m.Check(); err != nil {
			line := n.Line
			for _, name := range []string{"low", "high", "settle-to"} {
				line = max(line, said.line(name))
			}
			r.fault(line, "%v", err)
		}
	}
}
