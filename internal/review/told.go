package review

import (
	"fmt"
	"strings"
	"time"

	"bedd/internal/journal"
)

// The kinds of notice.
const (
	toldKind      = "told"
	noticeKind    = "notice"
	portKind      = "port"
	floodKind     = "flood"
	underKind     = "underrun"
	gapKind       = "gap"
	practisedKind = "practised" // a task is over
)

func delay(what string, p journal.Percentiles) Delay {
	return Delay{what, p.N, p.P50, p.P90, p.P99, p.Max}
}

func (g *gatherer) notice(at time.Duration, kind, words string, bad bool) {
	g.s.Notices = append(g.s.Notices, Notice{at, kind, words, bad})
}

// recent is a record of which the player may be told in words of their own.
type recent struct {
	kind string
	at   time.Duration
	name string // is in the words
}

// sameNews is how soon after a record the player is told of it.
const sameNews = 100 * time.Millisecond

// noticed takes what the player was told. Of a port that was lost or came back, or
// sends too much, and of a sound that stutters there is a record before it, of which
// these are the words. A control that only now and then sends too much is counted
// and not told.
func (g *gatherer) noticed(r *journal.Record) {
	from := g.recent
	g.recent = recent{}
	switch same := r.At-from.at < sameNews && strings.Contains(r.Text, from.name); {
	case !same || from.kind == "":
		g.notice(r.At, noticeKind, r.Text, false)
	case from.kind == floodKind:
		g.notice(r.At, floodKind, r.Text, true)
	default:
		g.s.Notices[len(g.s.Notices)-1].Words = r.Text
	}
}

// port names a port.
func (g *gatherer) port(i int) string {
	if i >= 0 && i < len(g.header.Ports) {
		return g.header.Ports[i].Name
	}
	return fmt.Sprintf("port %d", i+1)
}

func (g *gatherer) wire(r *journal.Record) {
	if r.Wire == nil {
		return
	}
	i, known := g.wires[r.Port]
	if !known {
		i = len(g.s.Wires)
		g.wires[r.Port] = i
		g.s.Wires = append(g.s.Wires, Wire{Name: g.port(r.Port)})
	}
	w := &g.s.Wires[i]
	w.Baud, w.Sent, w.Most, w.At, w.Wait = r.Wire.Baud, r.Wire.Sent, r.Wire.Bytes, r.Wire.At, r.Wire.Wait
}

func (g *gatherer) gap(r *journal.Record) {
	if l := r.Lost; l != nil {
		g.missing.Calls += l.Calls
		g.missing.Thru += l.Thru
		g.missing.Other += l.Other
		g.missing.Damaged += l.Damaged
	}
	g.notice(r.At, gapKind, "records are missing here", true)
}
