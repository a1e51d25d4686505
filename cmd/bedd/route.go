package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/guard"
	"bedd/internal/midiio"
	"bedd/internal/session"
)

// routing is how the piano goes to the outputs: by bedd, or by connections that
// outlive it and are on record for a bedd that starts later.
type routing struct {
	how      string // of gathering.Routes
	rig      *gathering.Rig
	screen   *screen
	keeping  sync.Mutex          // guards the record: ports keep it from a goroutine of theirs
	record   *guard.Record       // nil where none can be kept
	leavings *guard.Leavings     // of earlier bedds
	left     []midiio.Connection // those that are there
	settled  []midiio.Connection // the piano's ways
	ways     []guard.Route       // the same by numbers
	news     chan midiio.Route
	past     bool // the piano goes past bedd, or has gone
}

// newRouting finds what earlier bedds have left.
func newRouting(system midiio.System, how string, rig *gathering.Rig, screen *screen) *routing {
	if how == "" {
		how = rig.Player.Route
	}
	r := &routing{how: how, rig: rig, screen: screen, leavings: new(guard.Leavings), news: make(chan midiio.Route, 64)}
	dir, err := guard.LockDir()
	if err == nil {
		if r.leavings, err = guard.FindLeavings(dir); r.leavings == nil {
			r.leavings = new(guard.Leavings)
		}
	}
	if err == nil {
		r.record, err = guard.NewRecord(dir)
	}
	if err != nil && !errors.Is(err, guard.ErrSystem) {
		screen.line(err.Error())
	}
	for _, c := range r.leavings.List {
		if system.Connected(c) && !among(r.left, c) {
			r.left = append(r.left, c)
		}
	}
	return r
}

// keep puts connections on record.
func (r *routing) keep(list []midiio.Connection) {
	r.keeping.Lock()
	defer r.keeping.Unlock()
	if r.record == nil {
		return
	}
	if err := r.record.Set(list); err != nil {
		r.screen.line(err.Error())
	}
}

// add settles an input's way to an output, both by their number and verdict. It
// fails when a connection is asked for that can't do what the rig wants.
func (r *routing) add(ports *midiio.Ports, in *midiio.Input, number int, role midiio.Role, output int, parts midiio.Part) error {
	filter := session.FilterOf(r.rig, role, parts)
	if r.how == "kernel" && len(filter.Changes) > 0 {
		return badInput{fmt.Errorf("the route is kernel, but bedd %s on the way, which the kernel can't: use --route bedd, or change the rig", strings.Join(filter.Changes, " and "))}
	}
	wished := r.how == "kernel" || r.how == "auto" && filter.Nothing()
	r.ways = append(r.ways, guard.Route{In: number, Out: output})
	route := ports.Route(in, output, wished, func(c midiio.Connection) bool { return among(r.left, c) })
	r.settled = append(r.settled, route.Connection)
	if errors.Is(route.Err, midiio.ErrNoConnect) {
		if r.how == "kernel" {
			return badInput{fmt.Errorf("the route is kernel, but %w", route.Err)}
		}
		return nil
	}
	if route.By == midiio.ByConnection && !wished {
		return nil // what an earlier bedd has left is taken over
	}
	if r.past = r.past || route.By != midiio.ByBedd; route.By != midiio.ByBedd || route.Err != nil {
		r.screen.line(words(route, filter))
	}
	return nil
}

// among reports whether a connection is in a list, by what tells connections apart:
// their places in the system's list change.
func among(list []midiio.Connection, c midiio.Connection) bool {
	return slices.ContainsFunc(list, func(other midiio.Connection) bool {
		return other.In.String() == c.In.String() && other.Out.String() == c.Out.String()
	})
}

// words tells who carries the piano.
func words(route midiio.Route, filter session.Filter) string {
	unfiltered := ""
	if len(filter.LeftOut) > 0 {
		unfiltered = "; what bedd would leave out goes along: " + strings.Join(filter.LeftOut, ", ")
	}
	if len(filter.Changes) > 0 {
		unfiltered += "; there nobody " + strings.Join(filter.Changes, " or ")
	}
	switch {
	case route.Err != nil:
		return fmt.Sprintf("bedd carries the piano from %v: %v", route.Connection, route.Err)
	case route.By == midiio.ByConnection:
		return fmt.Sprintf("the piano goes from %v inside the kernel, whatever becomes of bedd%s", route.Connection, unfiltered)
	case route.By == midiio.ByOthers:
		return fmt.Sprintf("the piano goes from %v by a connection that is not bedd's, so bedd sends none of it there%s", route.Connection, unfiltered)
	}
	return fmt.Sprintf("bedd carries the piano from %v: their connection is gone", route.Connection)
}

// takeOver ends what earlier bedds have left of the given inputs, now that this one
// carries. What they left of others' is none of its business.
func (r *routing) takeOver(system midiio.System, ports *midiio.Ports, ins []*midiio.Input) {
	mine := func(c midiio.Connection) bool {
		return slices.ContainsFunc(ins, func(in *midiio.Input) bool { return in.Port().String() == c.In.String() })
	}
	err := ports.TakeOver()
	for _, c := range r.left {
		if !mine(c) {
			continue
		}
		if !among(r.settled, c) {
			err = errors.Join(err, system.Disconnect(c))
		}
		r.screen.line("an earlier bedd died; this one takes over the piano from " + c.String())
	}
	if err = errors.Join(err, r.leavings.Forget(mine)); err != nil {
		r.screen.line(err.Error())
	}
}

// close ends the connections, but leaves what was not taken over as it is. It does
// nothing the second time.
func (r *routing) close(ports *midiio.Ports) {
	err := errors.Join(ports.Disconnect(), r.leavings.Forget(func(midiio.Connection) bool { return false }))
	r.keeping.Lock()
	defer r.keeping.Unlock()
	if r.record != nil {
		err = errors.Join(err, r.record.Remove())
	}
	r.record = nil
	if err != nil {
		r.screen.line(err.Error())
	}
}

// changed tells of another carrier.
func (r *routing) changed(route midiio.Route, now time.Duration) {
	r.past = r.past || route.By != midiio.ByBedd
	r.screen.line(glance.Clock(now) + "  (" + words(route, session.Filter{}) + ")")
}
