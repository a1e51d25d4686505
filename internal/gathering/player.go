package gathering

import (
	"strings"

	"go.yaml.in/yaml/v3"
)

// Player is who plays the piano.
type Player struct {
	Channel uint8           // 0…15
	Aside   map[uint8]uint8 // where what the player sends on a channel of the bed's goes, by channel 0…15
	Route   string          // how the piano goes to the outputs: auto, kernel, bedd
}

// Routes are the words for how the piano goes to the outputs: by bedd, which leaves
// out what is not for them, by a connection inside the kernel, or by the latter
// where bedd would leave out nothing.
var Routes = []string{"auto", "kernel", "bedd"}

func (r *reader) player(rig *Rig) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "the player",
			field{"channel", r.printed("player channel", 16, &rig.Player.Channel)},
			field{"aside", r.aside(&rig.Player)},
			field{"route", r.choice("route", &rig.Player.Route, Routes...)},
		)
		rig.Pedal.Control.Channel = int8(rig.Player.Channel)
	}
}

// aside reads pairs of channels such as "2 to 4".
func (r *reader) aside(p *Player) func(*yaml.Node) {
	const what = "an item of aside"
	return func(n *yaml.Node) {
		p.Aside = nil
		for _, item := range r.list(n, "aside", 16) {
			s, ok := r.scalar(item, what)
			if !ok {
				continue
			}
			from, to, pair := strings.Cut(s, " to ")
			if !pair {
				r.fault(item.Line, "%s is two channels, as in 2 to 4, not %q", what, clip(s))
				continue
			}
			a, ok1 := r.number(item.Line, what, strings.TrimSpace(from), 1, 16)
			b, ok2 := r.number(item.Line, what, strings.TrimSpace(to), 1, 16)
			if !ok1 || !ok2 {
				continue
			}
			if _, twice := p.Aside[uint8(a-1)]; twice {
				r.fault(item.Line, "channel %d goes aside twice", a)
			}
			if p.Aside == nil {
				p.Aside = map[uint8]uint8{}
			}
			p.Aside[uint8(a-1)] = uint8(b - 1)
		}
	}
}
