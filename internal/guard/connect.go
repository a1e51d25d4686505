package guard

import (
	"errors"
	"fmt"

	"bedd/internal/midiio"
)

// Connect connects the inputs with the outputs as bedd did the piano, those that the
// board says may be, and leaves what is connected already. From then on all that
// the keys send reaches the synth. record is called with the new connections,
// before they are made.
func (d Duty) Connect(system midiio.System, b *Board, record func([]midiio.Connection) error) error {
	var list []midiio.Connection
	var troubles []error
	for _, r := range d.Routes {
		if !b.Connectable(r.In) {
			continue
		}
		in, err := find(system.Ins, d.Ins[r.In])
		if err != nil {
			troubles = append(troubles, fmt.Errorf("%s: %w", d.Ins[r.In].Name, err))
			continue
		}
		out, err := find(system.Outs, d.Outs[r.Out])
		if err != nil {
			troubles = append(troubles, fmt.Errorf("%s: %w", d.Outs[r.Out].Name, err))
			continue
		}
		if c := (midiio.Connection{In: in, Out: out}); !system.Connected(c) {
			list = append(list, c)
		}
	}
	if len(list) > 0 {
		troubles = append(troubles, record(list))
	}
	for _, c := range list {
		troubles = append(troubles, system.Connect(c))
	}
	return errors.Join(troubles...)
}
