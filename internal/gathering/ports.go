package gathering

import (
	"strings"

	"go.yaml.in/yaml/v3"
)

// Ports are the MIDI ports that a rig takes, each by a part of its name; where a rig
// says nothing bedd chooses by itself.
type Ports struct {
	In, InKeys, InFeet    []string
	Out, OutPiano, OutBed []string
	Thru                  string // auto, on, off: whether the piano goes on to the outputs
}

// Thrus are the words for whether the piano goes on to the outputs.
var Thrus = []string{"auto", "on", "off"}

// maxPorts is more than anyone has.
const maxPorts = 64

func (r *reader) ports(p *Ports) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "ports",
			field{"in", r.portNames("in", &p.In)},
			field{"in-keys", r.portNames("in-keys", &p.InKeys)},
			field{"in-feet", r.portNames("in-feet", &p.InFeet)},
			field{"out", r.portNames("out", &p.Out)},
			field{"out-piano", r.portNames("out-piano", &p.OutPiano)},
			field{"out-bed", r.portNames("out-bed", &p.OutBed)},
			field{"thru", r.choice("thru", &p.Thru, Thrus...)},
		)
	}
}

// portNames reads one name or a list of them.
func (r *reader) portNames(what string, to *[]string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		items := []*yaml.Node{n}
		if n.Kind != yaml.ScalarNode {
			items = r.list(n, what, maxPorts)
		}
		*to = nil
		for _, item := range items {
			s, ok := r.scalar(item, what)
			if !ok {
				continue
			}
			if s = strings.TrimSpace(s); s == "" {
				r.fault(item.Line, "%s needs a part of a port's name: bedd ports lists them", what)
				continue
			}
			*to = append(*to, s)
		}
	}
}
