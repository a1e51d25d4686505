package page

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"os/exec"
	"sync"
	"sync/atomic"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"
)

// Times of a page's process. Common practice, no source.
const (
	openTime     = 10 * time.Second // to be ready
	leaveTime    = 2 * time.Second  // to end by itself
	firstPause   = time.Second      // before one that ended is started again
	longestPause = 30 * time.Second
	steadyTime   = time.Minute // after which its end is a first one again
)

// Process is a page that a process of its own serves, with a heap and a scheduler of
// its own and a lower priority than bedd's: what it does, or what is done to it,
// happens to no note. Where that process ends it is started again. None of its
// methods but Close waits for it.
type Process struct {
	config  Config
	command func() *exec.Cmd
	models  mailbox[glance.Model]
	orders  chan gathering.Order
	code    atomic.Pointer[string]
	local   netip.AddrPort  // where it is served
	ends    context.Context // when it is to end
	close   func()
	wait    sync.WaitGroup
	faults  atomic.Bool // one was told of
}

// Start serves a page by a program that calls [Serve] with its standard input and
// output, and waits until it does. It fails as [Open] does, or where there is no such
// program.
func Start(program string, args []string, c Config) (*Process, error) {
	return start(func() *exec.Cmd { return exec.Command(program, args...) }, c)
}

func start(command func() *exec.Cmd, c Config) (*Process, error) {
	p := &Process{config: c, command: command, models: newMailbox[glance.Model](), orders: make(chan gathering.Order)}
	p.ends, p.close = context.WithCancel(context.Background())
	first, err := p.launch()
	if err != nil {
		return nil, err
	}
	p.local = first.local
	p.wait.Go(func() { p.keep(first) })
	return p, nil
}

// Show shows a model in place of the one before. It never waits.
func (p *Process) Show(m glance.Model) { p.models.put(m) }

// Orders are what the page's buttons ask for. It is for the session's loop to
// take them; when it doesn't, the next are refused.
func (p *Process) Orders() <-chan gathering.Order { return p.orders }

// URLs are what to type into a browser to see the page.
func (p *Process) URLs() []string { return urls(p.local) }

// Code is the code that pairs the next device, as in "123 456", or "" where none is
// needed. It never waits.
func (p *Process) Code() string { return *p.code.Load() }

// Close ends the page and its process.
func (p *Process) Close() {
	p.close()
	p.wait.Wait()
}

// child is a running process.
type child struct {
	cmd   *exec.Cmd
	in    io.WriteCloser
	tell  *teller
	says  *lines[fromPage]
	last  *tail
	local netip.AddrPort
}

// launch starts a process and waits until it serves.
func (p *Process) launch() (*child, error) {
	c := &child{cmd: p.command(), last: new(tail)}
	c.cmd.Stderr, c.cmd.SysProcAttr, c.cmd.Dir = c.last, ownGroup(), "/"
	in, err := c.cmd.StdinPipe()
	if err != nil {
		return nil, fmt.Errorf("--page: %w", err)
	}
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("--page: %w", err)
	}
	c.in, c.tell, c.says = in, newTeller(in), newLines[fromPage](out)
	if err := c.cmd.Start(); err != nil {
		return nil, fmt.Errorf("--page: %w", err)
	}
	ready, stop := context.WithTimeout(p.ends, openTime)
	defer stop()
	defer context.AfterFunc(ready, func() { c.cmd.Process.Kill() })()
	err = c.tell.send(toPage{Open: &opening{p.config.Address, p.config.Control}})
	var said fromPage
	if err == nil {
		said, err = c.says.next()
	}
	switch {
	case err != nil:
		c.in.Close()
		c.cmd.Process.Kill()
		c.cmd.Wait()
		return nil, fmt.Errorf("--page: the process that serves it ended at once%s", c.last)
	case said.Failed != "":
		c.in.Close()
		c.cmd.Wait()
		return nil, errors.New(said.Failed)
	}
	if c.local, err = netip.ParseAddrPort(said.Opened); err != nil {
		panic(err) // never: it is an address as Go writes it
	}
	p.code.Store(&said.Code)
	return c, nil
}

// keep attends to a process, and to the next when it has ended, until the end.
func (p *Process) keep(c *child) {
	pause := firstPause
	for {
		began := time.Now()
		p.attend(c)
		select {
		case <-p.ends.Done():
			return
		default:
		}
		p.config.Say("page: its process ended" + c.last.String() + "; the bed goes on, and the page comes back")
		if time.Since(began) > steadyTime {
			pause = firstPause
		}
		trouble := ""
		for c = nil; c == nil; pause = min(2*pause, longestPause) {
			select {
			case <-time.After(pause):
			case <-p.ends.Done():
				return
			}
			var err error
			if c, err = p.launch(); err != nil && err.Error() != trouble {
				trouble = err.Error()
				p.config.Say(trouble + "; bedd tries again")
			}
		}
		if code := p.Code(); code != "" {
			p.config.NewCode(code)
		}
	}
}

// attend carries models to a process and what it says from it, until it has ended or
// is to end.
func (p *Process) attend(c *child) {
	ended := make(chan struct{})
	taken := make(chan struct{}, 1)
	var work sync.WaitGroup
	work.Go(func() { p.carry(c.tell, taken, ended) })
	work.Go(func() {
		select {
		case <-p.ends.Done():
			c.in.Close() // which ends it
			select {
			case <-ended:
			case <-time.After(leaveTime):
				c.cmd.Process.Kill()
			}
		case <-ended:
		}
	})
	orders := make(chan gathering.Order, 1) // it sends no second one before the first is taken
	work.Go(func() {
		for o := range orders {
			select {
			case p.orders <- o:
				select {
				case taken <- struct{}{}:
				case <-ended:
				}
			case <-p.ends.Done():
			case <-ended:
			}
		}
	})
	for said, err := c.says.next(); err == nil; said, err = c.says.next() {
		p.hear(said, orders)
	}
	close(ended)
	close(orders)
	c.in.Close()
	c.cmd.Process.Kill() // where it only says nothing any more
	c.cmd.Wait()
	work.Wait()
}

// carry tells a process what there is to show, and that an order has been taken.
func (p *Process) carry(tell *teller, taken, ended <-chan struct{}) {
	var eye eye
	for {
		var next toPage
		select {
		case m := <-p.models:
			m, show := eye.news(m, time.Now())
			if !show {
				continue // before it costs anything
			}
			next.Model = &m
		case <-taken:
			next.Taken = true
		case <-ended:
			return
		}
		if !p.told(tell, next) {
			return
		}
	}
}

// told reports whether a process can be told more. A model that cannot be written is
// left out, and the player is told once.
func (p *Process) told(tell *teller, next toPage) (more bool) {
	defer func() {
		if fault := recover(); fault != nil {
			tellFault(&p.faults, p.config.Say, fault)
			more = true
		}
	}()
	return tell.send(next) == nil
}

// hear does what a process asks for.
func (p *Process) hear(said fromPage, orders chan<- gathering.Order) {
	switch {
	case said.Say != "":
		p.config.Say(said.Say)
	case said.Code != "":
		p.code.Store(&said.Code)
		p.config.NewCode(said.Code)
	case said.Order != "":
		order, err := gathering.ParseOrder(said.Order)
		if err != nil {
			return // never: it has read it before
		}
		select {
		case orders <- order:
		default: // never: the one before has been taken
		}
	}
}

// tellFault tells of a panic, but only of the first.
func tellFault(told *atomic.Bool, say func(string), fault any) {
	if !told.Swap(true) {
		say(fmt.Sprintf("(the page has a fault, and the bed goes on; please report it: %v)", fault))
	}
}
