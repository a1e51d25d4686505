package session

import (
	"time"

	"bedd/internal/midiio"
)

// Load tells how busy a line of so many bits a second would have been with all that
// a take has sent.
func (t *Take) Load(baud int) midiio.Load {
	var now time.Duration
	var p *midiio.Pacer
	p = midiio.NewPacer(baud, func(msg []byte) { p.Sent(now, len(msg)) })
	for _, e := range t.sent {
		for {
			due, waits := p.Deadline()
			if !waits || due >= e.at {
				break
			}
			now = max(due, now)
			p.Advance(now)
		}
		now = max(e.at, now)
		p.Send(now, e.from.source(), t.bytes[e.start:e.start+e.size])
	}
	return p.Load()
}

// source is whose messages those of an origin are on the wire.
func (o Origin) source() midiio.Source {
	switch o {
	case SetUp:
		return midiio.Ledger
	case Thru:
		return midiio.Player
	}
	return midiio.Bed
}
