package gathering

import (
	"strings"

	"bedd/internal/dynamics"
	"bedd/internal/midiio"

	"go.yaml.in/yaml/v3"
)

// Pedal is the intensity pedal; [bed.Config] has its ends.
type Pedal struct {
	On      bool
	Control midiio.Control // a controller
	Fine    bool           // 14 bits: the controller 32 above carries the lower seven
}

// Raw gives the reading 0…16383, as the bed takes it, of the pedal's
// controller, and of the one 32 above where the pedal is fine. Each is 0…127.
func (p Pedal) Raw(value, low uint8) uint16 {
	if !p.Fine {
		low = 0
	}
	return uint16(value&0x7F)<<7 | uint16(low&0x7F)
}

// toe is the reading at the far end of a pedal that was never calibrated.
func toe(fine bool) uint16 {
	if fine {
		return dynamics.MaxRaw
	}
	return 127 << 7
}

// lastController is the last number that is no channel mode message (MIDI 1.0,
// channel mode messages).
const lastController = 119

func (r *reader) pedal(rig *Rig) func(*yaml.Node) {
	return func(n *yaml.Node) {
		pedal, ends := &rig.Pedal, &rig.Bed.Pedal
		if n.Kind == yaml.ScalarNode && strings.TrimSpace(n.Value) == "none" {
			*pedal = Pedal{}
			return
		}
		var bits string
		most := func() int {
			if pedal.Fine {
				return dynamics.MaxRaw
			}
			return 127
		}
		end := func(what string, to *uint16) func(*yaml.Node) {
			return func(n *yaml.Node) {
				r.whole(what, 0, most(), func(v int) {
					if *to = uint16(v); !pedal.Fine {
						*to <<= 7
					}
				})(n)
			}
		}
		said := r.mapping(n, "the pedal",
			field{"bits", func(n *yaml.Node) {
				r.choice("pedal bits", &bits, "7", "14")(n)
				pedal.Fine = bits == "14"
				ends.Toe = toe(pedal.Fine)
			}},
			field{"controller", r.byteFrom("pedal controller", 0, 127, &pedal.Control.Number)},
			field{"channel", r.channelOrAny("pedal channel", &pedal.Control.Channel)},
			field{"heel", end("pedal heel", &ends.Heel)},
			field{"toe", end("pedal toe", &ends.Toe)},
			field{"dead", r.part("pedal dead zone", 0, 0.45, &ends.Dead)},
			field{"noise", r.part("pedal noise", 0, 0.1, &ends.Noise)},
		)
		switch number := pedal.Control.Number; {
		case said == nil:
		case number > lastController:
			r.fault(said.line("controller"), "pedal controller %d is a channel mode message: controllers 0…%d can be a pedal", number, lastController)
		case pedal.Fine && number > 31:
			r.fault(said["bits"].Line, "a pedal of 14 bits is on one of the controllers 0…31, not on %d", number)
		case ends.Heel == ends.Toe:
			r.fault(n.Line, "the pedal's heel and toe are the same")
		}
	}
}
