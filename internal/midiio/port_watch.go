package midiio

import (
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
	"time"
)

const (
	// lookEvery is how often lost and returned ports are looked for where the system
	// doesn't tell. With half a second the loss is noticed at the first look, the
	// device taken up again at the second, and a third try left within the two
	// seconds in which a device that was plugged in again is to work.
	lookEvery = 500 * time.Millisecond

	// retryEvery is how often a port is tried again that is there and can't be
	// opened, where the system tells of all else. It leaves four tries within half a
	// second.
	retryEvery = 100 * time.Millisecond

	// drainEvery is how often messages that wait for a slow receiver are tried.
	drainEvery = time.Millisecond
)

// Change tells of a port that went or came back.
type Change struct {
	Way   Way
	Index int      // of the input or output, in the order of opening, from 0
	Port  PortInfo // as it was opened last
	Err   error    // why it can't be used; nil when it is back
}

// PortsConfig says what Ports needs. System and Clock are required.
type PortsConfig struct {
	System System
	Clock  func() time.Duration // since the session started; called for each message

	// Lost is called when a port went, and again when another reason keeps it from
	// coming back. Returned is called when it works again, and the endings that were
	// lost have been sent on it. Both come from Run.
	Lost     func(Change)
	Returned func(Change)

	// Carries is called when somebody else carries an input's messages to an output
	// than before, from Run, and Record whenever bedd's own connections change, before
	// one is made and after one is ended, with all of them.
	Carries func(Route)
	Record  func([]Connection)

	BedChannels []uint8 // 0…15, where no player plays
	Rewrites    bool    // what is sent for the player's notes may be other notes

	// Baud gives the rate of the line behind an output in bits a second, to which what
	// is sent there keeps (see [Pacer]); 0 is none. Without it no output has one.
	Baud func(PortInfo) int

	// Mishap is deferred wherever bytes arrive, on the ports' own threads: it may
	// recover from a panic.
	Mishap func()
}

// Ports are the inputs and outputs of one session: it opens them, keeps them
// through loss and return, and hands on what arrives, but for what comes back of
// what it sent.
type Ports struct {
	cfg   PortsConfig
	gate  atomic.Bool // messages are let in
	wake  chan struct{}
	rouse func()        // puts a value there
	late  chan struct{} // gets a value when messages begin to wait
	echo  echo

	mu   sync.Mutex // guards the lists, and the ports of inputs
	ins  []*Input
	outs []*Output

	routing   sync.Mutex // guards the below
	paths     []*path
	withdrawn bool // nothing is connected any more
}

// link is what inputs and outputs have in common.
type link struct {
	mu      sync.Mutex
	info    PortInfo
	err     error // why it can't be used
	virtual bool
	twins   []string // addresses of others of that name, which were there all along; for Run only
}

// Port is the port as it was opened last.
func (l *link) Port() PortInfo {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.info
}

// Trouble is why the port can't be used at the moment, or nil.
func (l *link) Trouble() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.err
}

// set changes what is known and reports whether the trouble is another one now.
func (l *link) set(info PortInfo, err error) (news bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	news = (err == nil) != (l.err == nil) || err != nil && err.Error() != l.err.Error()
	l.info, l.err = info, err
	return news
}

// NewPorts makes Ports without any port, which let no message in until Listen.
func NewPorts(cfg PortsConfig) *Ports {
	if cfg.Lost == nil {
		cfg.Lost = func(Change) {}
	}
	if cfg.Returned == nil {
		cfg.Returned = func(Change) {}
	}
	if cfg.Carries == nil {
		cfg.Carries = func(Route) {}
	}
	if cfg.Record == nil {
		cfg.Record = func([]Connection) {}
	}
	if cfg.Mishap == nil {
		cfg.Mishap = func() {}
	}
	p := &Ports{cfg: cfg, wake: make(chan struct{}, 1), late: make(chan struct{}, 1)}
	for _, ch := range cfg.BedChannels {
		p.echo.beds |= 1 << (ch & 0x0F)
	}
	p.echo.rewrites = cfg.Rewrites
	p.rouse = func() { notify(p.wake) }
	if s, ok := cfg.System.(rouser); ok {
		p.rouse = s.rouser(p.wake)
	}
	return p
}

// told reports whether the system tells of changes at once.
func (p *Ports) told() bool { return p.cfg.System != nil && p.cfg.System.Changed() != nil }

// Listen lets messages in, or keeps them out. The ports stay open: closing one
// that plays may take the process down. When it returns, what was let in has passed.
func (p *Ports) Listen(on bool) {
	p.gate.Store(on)
	ins, _ := p.lists()
	for _, in := range ins {
		in.settleAll()
	}
}

// OpenIn opens an input; thru may be nil. It fails as [System.OpenIn] does.
func (p *Ports) OpenIn(info PortInfo, thru Thru) (*Input, error) {
	in := p.newInput(info, thru)
	port, err := p.cfg.System.OpenIn(info, in.receiver())
	if err != nil {
		return nil, err
	}
	in.twins = p.twins(info)
	return p.addIn(in, port), nil
}

// VirtualIn makes an input that other programs can connect to.
func (p *Ports) VirtualIn(name string, thru Thru) (*Input, error) {
	in := p.newInput(PortInfo{Name: name, Ours: true}, thru)
	in.virtual = true
	port, err := p.cfg.System.OpenVirtualIn(name, in.receiver())
	if err != nil {
		return nil, err
	}
	return p.addIn(in, port), nil
}

// twins gives the addresses of the other ports that are called like one.
func (p *Ports) twins(info PortInfo) (addresses []string) {
	list := p.cfg.System.Ins
	if info.Way == Out {
		list = p.cfg.System.Outs
	}
	ports, err := list()
	if err != nil {
		return nil // the port is open: whatever this is, it shows elsewhere
	}
	for _, other := range ports {
		if other.Name == info.Name && other.Address != info.Address {
			addresses = append(addresses, other.Address)
		}
	}
	return addresses
}

func (p *Ports) newInput(info PortInfo, thru Thru) *Input {
	in := &Input{link: link{info: info}, thru: thru, mishap: p.cfg.Mishap, clock: p.cfg.Clock, echo: &p.echo, gate: &p.gate, rouse: p.rouse, late: p.late, reached: p.reached}
	in.pass = in.hand
	return in
}

// reached lets outputs know of bytes of the player's that got there by themselves.
func (p *Ports) reached(to Outputs, n int) {
	_, outs := p.lists()
	for i, o := range outs {
		if to.Has(i) {
			o.reached(n)
		}
	}
}

func (p *Ports) addIn(in *Input, port InPort) *Input {
	p.mu.Lock()
	defer p.mu.Unlock()
	in.port = port
	p.ins = append(p.ins, in)
	return in
}

// OpenOut opens an output. It fails as [System.OpenOut] does.
func (p *Ports) OpenOut(info PortInfo) (*Output, error) {
	port, err := p.cfg.System.OpenOut(info)
	if err != nil {
		return nil, err
	}
	return p.addOut(&Output{link: link{info: info, twins: p.twins(info)}, port: port}), nil
}

// VirtualOut makes an output that other programs can connect to.
func (p *Ports) VirtualOut(name string) (*Output, error) {
	port, err := p.cfg.System.OpenVirtualOut(name)
	if err != nil {
		return nil, err
	}
	return p.addOut(&Output{link: link{info: PortInfo{Way: Out, Name: name, Ours: true}, virtual: true}, port: port}), nil
}

func (p *Ports) addOut(o *Output) *Output {
	p.mu.Lock()
	defer p.mu.Unlock()
	o.clock, o.echo, o.late, o.told = p.cfg.Clock, &p.echo, p.late, p.told()
	if p.cfg.Baud != nil {
		o.keepTo(p.cfg.Baud(o.info))
	}
	p.outs = append(p.outs, o)
	return o
}

// Echoes is how many messages were cut because bedd had sent them itself a
// moment before: a device gives back what it gets.
func (p *Ports) Echoes() uint64 { return p.echo.cuts() }

// Wake gets a value when messages have arrived. Take them all then.
func (p *Ports) Wake() <-chan struct{} { return p.wake }

// Take gives the message that arrived first of those that wait, and the index of
// its input. It is for one goroutine. O(inputs).
func (p *Ports) Take() (m Message, input int, ok bool) {
	p.mu.Lock()
	ins := p.ins
	p.mu.Unlock()
	for i, in := range ins {
		if first, waits := in.ring.Peek(); waits && (!ok || first.At < m.At) {
			m, input, ok = first, i, true
		}
	}
	if ok {
		ins[input].ring.Pop()
	}
	return m, input, ok
}

// Run looks after the ports until ctx ends.
func (p *Ports) Run(ctx context.Context) {
	var late sync.WaitGroup
	defer late.Wait()
	late.Go(func() { p.catchUp(ctx) })
	every := lookEvery
	if p.told() {
		every = retryEvery
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-p.cfg.System.Changed():
			p.look()
		case <-tick.C:
			if !p.told() || p.hindered() {
				p.look()
			}
		}
	}
}

// lists are the inputs and outputs that there are.
func (p *Ports) lists() (ins []*Input, outs []*Output) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.ins, p.outs
}

// hindered reports whether a port can't be used that may be there.
func (p *Ports) hindered() bool {
	ins, outs := p.lists()
	for _, in := range ins {
		if err := in.Trouble(); err != nil && err != ErrGone {
			return true
		}
	}
	for _, o := range outs {
		if err := o.Trouble(); err != nil && err != ErrGone {
			return true
		}
	}
	return false
}

// look notices ports that went and takes up those that came back.
func (p *Ports) look() {
	ins, outs := p.lists()
	for i, o := range outs {
		if o.Trouble() == nil && !o.look() && !o.virtual {
			o.lose()
			p.breakRoutes(&o.link)
			p.lost(&o.link, i, ErrGone)
		}
		if o.Trouble() != nil {
			p.reopenOut(o, i)
		}
	}
	for i, in := range ins {
		was := in.Trouble()
		switch {
		case was != nil:
		case !in.virtual && !in.port.Alive():
			p.breakRoutes(&in.link)
			p.lost(&in.link, i, ErrGone)
			if !p.told() {
				continue // taken up again at the next look
			}
		case in.port.Overruns() != in.overruns:
			in.overruns = in.port.Overruns()
			p.lost(&in.link, i, ErrOverrun)
			p.returned(&in.link, i, in.Port())
			continue
		default:
			continue
		}
		p.reopenIn(in, i)
	}
	p.tendRoutes()
}

func (p *Ports) lost(l *link, index int, err error) {
	info := l.Port()
	if l.set(info, err) {
		p.cfg.Lost(Change{Way: info.Way, Index: index, Port: info, Err: err})
	}
}

func (p *Ports) returned(l *link, index int, info PortInfo) {
	l.set(info, nil)
	l.twins = p.twins(info)
	p.cfg.Returned(Change{Way: info.Way, Index: index, Port: info})
}

// reopenIn takes up an input that was lost. Where the system doesn't tell of
// losses that was at an earlier look, so that what its device sent last has been
// taken: only then it may be closed there.
func (p *Ports) reopenIn(in *Input, index int) {
	if in.port != nil {
		_ = in.port.Close() // there is no device left to be told
		in.port = nil
	}
	info, err := p.find(&in.link)
	if err == nil {
		var port InPort
		if port, err = p.cfg.System.OpenIn(info, in.receiver()); err == nil {
			in.port, in.overruns = port, port.Overruns()
			p.returned(&in.link, index, info)
			return
		}
	}
	p.lost(&in.link, index, err)
}

func (p *Ports) reopenOut(o *Output, index int) {
	info, err := p.find(&o.link)
	if err == nil {
		var port OutPort
		if port, err = p.cfg.System.OpenOut(info); err == nil {
			o.restore(port)
			p.returned(&o.link, index, info)
			return
		}
	}
	p.lost(&o.link, index, err)
}

// find looks for the port of a lost link: one of the same name, at the same
// address if it can be, that no other link has and that was not there beside it.
func (p *Ports) find(l *link) (PortInfo, error) {
	was := l.Port()
	list := p.cfg.System.Ins
	if was.Way == Out {
		list = p.cfg.System.Outs
	}
	ports, err := list()
	if err != nil {
		return PortInfo{}, err
	}
	l.twins = slices.DeleteFunc(l.twins, func(address string) bool { // one that went may come back as this one
		return !slices.ContainsFunc(ports, func(p PortInfo) bool { return p.Name == was.Name && p.Address == address })
	})
	best, found := PortInfo{}, false
	for _, info := range ports {
		if info.Name != was.Name || info.Ours || p.taken(info) || slices.Contains(l.twins, info.Address) {
			continue
		}
		if !found || info.Address == was.Address {
			best, found = info, true
		}
	}
	if !found {
		return PortInfo{}, ErrGone
	}
	return best, nil
}

// taken reports whether a link that works has the port.
func (p *Ports) taken(info PortInfo) bool {
	has := func(l *link) bool {
		have := l.Port()
		return !l.virtual && l.Trouble() == nil && have.Name == info.Name && have.Address == info.Address
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, in := range p.ins {
		if info.Way == In && has(&in.link) {
			return true
		}
	}
	for _, o := range p.outs {
		if info.Way == Out && has(&o.link) {
			return true
		}
	}
	return false
}

// Close lets no more messages in and closes the outputs; for a receiver that is
// full it waits 0.4 s at most. The inputs stay open, silent, until the system is
// closed or the process ends. Run must have returned.
func (p *Ports) Close() error {
	p.Listen(false)
	_, outs := p.lists()
	var errs []error
	for _, o := range outs {
		errs = append(errs, o.finish())
	}
	return errors.Join(errs...)
}
