package midiio

import (
	"context"
	"time"
)

// catchUp passes on in time what waits: for a slow receiver, for the line behind an
// output, or because a control sends too many values. It has a goroutine to itself,
// since to look after ports may take long.
func (p *Ports) catchUp(ctx context.Context) {
	defer p.cfg.Mishap()
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-p.late:
		case <-timer.C:
		}
		if wait, waits := p.passLate(); waits {
			timer.Reset(max(wait, 0))
		}
	}
}

// passLate passes on what is due, and tells how long to wait for the rest.
func (p *Ports) passLate() (wait time.Duration, waits bool) {
	sooner := func(w time.Duration, more bool) {
		if more && (!waits || w < wait) {
			wait, waits = w, true
		}
	}
	ins, outs := p.lists()
	for _, in := range ins {
		sooner(in.settle())
	}
	for _, o := range outs {
		sooner(o.catchUp())
	}
	return wait, waits
}
