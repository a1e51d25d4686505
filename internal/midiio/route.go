package midiio

import "errors"

// Carried says which outputs a message of an input's has reached by itself, through
// a connection inside the system.
type Carried struct {
	Ours   Outputs // one that bedd has made
	Others Outputs // one that somebody else has made
}

// Carrier is who carries an input's messages to an output.
type Carrier uint8

// The carriers.
const (
	ByBedd       Carrier = iota // bedd itself, which may leave some out
	ByConnection                // a connection that bedd has made; all of them
	ByOthers                    // a connection that somebody else has made; all of them
)

// Route tells who carries what goes from an input to an output.
type Route struct {
	Connection
	By  Carrier
	Err error // why no connection could be made
}

// path is one input's way to one output.
type path struct {
	in     *Input
	out    *Output
	number int  // of the output
	wished bool // bedd is to connect them
	up     bool // they are connected
	ours   bool // by bedd
	left   bool // by an earlier bedd, and not taken over yet
	failed bool // they can't be, or somebody has cut them off
}

func (r *path) connection() Connection { return Connection{r.in.Port(), r.out.Port()} }

func (r *path) told(err error) Route {
	by := ByBedd
	switch {
	case r.up && r.ours:
		by = ByConnection
	case r.up:
		by = ByOthers
	}
	return Route{r.connection(), by, err}
}

// carry lets the input's messages know by whom they reach the output. Those that
// have come before go as they would have gone.
func (r *path) carry(up, ours bool) {
	r.in.passing.Lock()
	defer r.in.passing.Unlock()
	r.in.passAll()
	bit := uint64(1) << r.number
	switch {
	case up && !r.up:
		r.out.carried.Add(1)
	case !up && r.up:
		r.out.carried.Add(-1)
	}
	r.up, r.ours = up, ours
	r.in.ours.And(^bit)
	r.in.others.And(^bit)
	switch {
	case up && ours:
		r.in.ours.Or(bit)
	case up:
		r.in.others.Or(bit)
	}
}

// carried is by whom the input's messages go at the moment.
func (in *Input) carried() Carried {
	return Carried{Outputs(in.ours.Load()), Outputs(in.others.Load())}
}

// Route watches an input's way to an output, by its number in the order of
// opening. Where they are connected already, by whomever, bedd is not to send there
// what has arrived by itself. If wished, bedd connects them, now and when a device
// returns, unless somebody cuts the connection: then bedd carries. left tells
// whether a connection was left there by an earlier bedd: it counts as this one's
// own.
//
// The connection is there before bedd stops sending
// and the other way round, so that a message may arrive twice but is never lost.
func (p *Ports) Route(in *Input, number int, wished bool, left func(Connection) bool) Route {
	_, outs := p.lists()
	p.routing.Lock()
	defer p.routing.Unlock()
	r := &path{in: in, out: outs[number], number: number, wished: wished}
	p.paths = append(p.paths, r)
	if p.cfg.System.Connected(r.connection()) {
		r.left = left(r.connection())
		if r.carry(true, r.left); r.left {
			p.record(nil)
		}
		return r.told(nil)
	}
	err := p.connect(r)
	return r.told(err)
}

// connect makes the connection of a route if it is to be made.
func (p *Ports) connect(r *path) error {
	if !r.wished || r.failed || p.withdrawn {
		return nil
	}
	p.record(r) // before it is there: a connection that nobody knows of would stay
	if err := p.cfg.System.Connect(r.connection()); err != nil {
		r.failed = true
		p.record(nil)
		return err
	}
	r.carry(true, true)
	return nil
}

// record tells of bedd's own connections, and of one that is about to be.
func (p *Ports) record(coming *path) {
	var list []Connection
	for _, r := range p.paths {
		if r.up && r.ours || r == coming {
			list = append(list, r.connection())
		}
	}
	p.cfg.Record(list)
}

// breakRoutes takes note that a port is gone, and its connections with it.
func (p *Ports) breakRoutes(l *link) {
	p.routing.Lock()
	defer p.routing.Unlock()
	for _, r := range p.paths {
		if l == &r.in.link || l == &r.out.link {
			r.carry(false, false)
			r.failed, r.left = false, false
		}
	}
}

// tendRoutes notices connections that others make and end, and makes those that
// are wished for.
func (p *Ports) tendRoutes() {
	p.routing.Lock()
	var news []Route
	for _, r := range p.paths {
		if r.in.Trouble() != nil || r.out.Trouble() != nil {
			continue
		}
		was, there := r.up, p.cfg.System.Connected(r.connection())
		var err error
		switch {
		case there && !was:
			r.carry(true, false)
		case !there && was:
			r.failed = r.ours
			r.carry(false, false)
			r.left = false
			p.record(nil)
		case !there:
			err = p.connect(r)
		}
		if r.up != was || err != nil {
			news = append(news, r.told(err))
		}
	}
	p.routing.Unlock()
	for _, n := range news {
		p.cfg.Carries(n)
	}
}

// TakeOver takes over what an earlier bedd has left: connections that are wished
// for are this one's from now on, the others it ends, since it carries there
// itself. It is to be called once messages are let in.
func (p *Ports) TakeOver() error {
	p.routing.Lock()
	defer p.routing.Unlock()
	var errs []error
	for _, r := range p.paths {
		if r.left && !r.wished {
			errs = append(errs, p.disconnect(r))
		}
		r.left = false
	}
	p.record(nil)
	return errors.Join(errs...)
}

// Disconnect ends all connections of bedd's own, and makes none any more. What
// their inputs hold is ended at their outputs. The connections of others stay, and
// those of an earlier bedd that were not taken over.
func (p *Ports) Disconnect() error {
	p.routing.Lock()
	defer p.routing.Unlock()
	p.withdrawn = true
	var errs []error
	for _, r := range p.paths {
		if !r.up || !r.ours || r.left {
			continue
		}
		errs = append(errs, p.disconnect(r))
		held := r.in.held() // what bedd would have left out, its ledgers know nothing of
		held.end(func(msg []byte) { r.out.Send(Ledger, msg) })
	}
	p.record(nil)
	return errors.Join(errs...)
}

// disconnect ends a connection. Bedd carries first: what comes meanwhile arrives
// twice, but it arrives.
func (p *Ports) disconnect(r *path) error {
	c := r.connection()
	r.carry(false, false)
	return p.cfg.System.Disconnect(c)
}
