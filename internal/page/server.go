// Package page serves the glance to the browsers of a tablet on the music stand or a band mate's phone.
package page

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"
)

// Limits of a server. They are far above what a band needs, and low enough that
// whatever comes in costs little. Common practice, no source.
const (
	perSecond     = 30   // models to each reader, at most
	eventsRate    = 1000 // events a second to all of them together
	together      = 4    // events at once: all at once delay a note, one by one cost more (make bench-page, BenchmarkPage)
	maxReaders    = 64
	maxConns      = 96 // at once
	maxPerPeer    = 16 // connections of one address on the network
	acceptBurst   = 200
	acceptRate    = 1000 // new connections a second of everybody, beyond the burst
	connsBurst    = 96   // of one address
	connsRate     = 20   // new connections a second of one address, beyond the burst
	requestsBurst = 100  // of one address
	requestsRate  = 20   // requests a second of one address, beyond the burst
	maxHeader     = 8 << 10
	maxBody       = 256 // bytes: an order or a code
	maxOrders     = 4   // that wait for the session
	sendBuffer    = 8 << 10
)

// Times of a server. Common practice, no source.
const (
	headerTime  = 5 * time.Second  // for a whole request head
	requestTime = 10 * time.Second // for a whole request and its answer
	idleTime    = 15 * time.Second // between two requests on one connection
	aliveTime   = time.Second      // between two models, where nothing changes
	stallTime   = 5 * time.Second  // after which a reader that takes nothing is let go
	closeTime   = 200 * time.Millisecond

	takeOverTime = 500 * time.Millisecond
)

// Config says where a page is served and what it may do.
type Config struct {
	Address string // as [ParseAddress] gives it
	Control bool   // the page may give orders
	// Say is told what the player should know, and NewCode every code after the
	// first, as [Server.Code] gives it: codes are for the player's eyes alone. Both
	// are called from any goroutine and must not wait.
	Say     func(line string)
	NewCode func(code string)
}

// Server serves the page until it is closed. None of its methods waits for a
// reader, and a fault in it ends nothing but what it was doing.
type Server struct {
	config  Config
	gate    *gate
	http    *http.Server
	pairing *pairing // nil on this machine alone
	rates   rates
	readers readers
	models  mailbox[glance.Model]
	orders  chan gathering.Order
	done    chan struct{}
	wait    sync.WaitGroup
	close   sync.Once
	faults  atomic.Bool // one was told of
}

// Open begins to serve. It fails where the address is not this machine's or its
// port is taken.
func Open(c Config) (*Server, error) {
	listener, err := listen(c.Address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("--page: %s is in use by another program, perhaps another bedd: close that, or name another port", c.Address)
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return nil, fmt.Errorf("--page: %s is no address of this machine: use one of its own, or 0.0.0.0 for all", c.Address)
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("--page: no permission for %s: use a port above 1023", c.Address)
	case err != nil:
		return nil, fmt.Errorf("--page: %w", err)
	}
	return serve(listener, c), nil
}

// listen waits a moment for a port that is taken: a bedd that was killed gives it up
// when the process that serves its page has seen its end.
func listen(address string) (listener net.Listener, err error) {
	config := net.ListenConfig{KeepAlive: -1} // a reader that is gone is let go by its writes
	config.SetMultipathTCP(false)
	for end := time.Now().Add(takeOverTime); ; time.Sleep(takeOverTime / 10) {
		listener, err = config.Listen(context.Background(), "tcp", address)
		if !errors.Is(err, syscall.EADDRINUSE) || time.Now().After(end) {
			return listener, err
		}
	}
}

// serve is Open on a listener.
func serve(listener net.Listener, c Config) *Server {
	s := &Server{
		config: c, gate: newGate(listener), models: newMailbox[glance.Model](),
		orders: make(chan gathering.Order, maxOrders), done: make(chan struct{}),
		rates: rates{now: time.Now, rate: requestsRate, burst: requestsBurst},
	}
	if local, ok := listener.Addr().(*net.TCPAddr); !ok || !local.IP.IsLoopback() {
		s.pairing = newPairing(time.Now, c.Say, c.NewCode)
	}
	s.http = &http.Server{
		Handler: s.handler(), MaxHeaderBytes: maxHeader,
		ReadHeaderTimeout: headerTime, ReadTimeout: requestTime, WriteTimeout: requestTime, IdleTimeout: idleTime,
		ErrorLog: log.New(io.Discard, "", 0), DisableGeneralOptionsHandler: true,
	}
	for _, work := range []func(){s.feed, func() { s.http.Serve(s.gate) }} {
		s.wait.Go(func() {
			defer s.catch()
			work()
		})
	}
	return s
}

// Show shows a model in place of the one before. It never waits.
func (s *Server) Show(m glance.Model) { s.models.put(m) }

// Orders are what the page's buttons ask for, to be taken; when nobody does, the next
// are refused.
func (s *Server) Orders() <-chan gathering.Order { return s.orders }

// Addr is where the page is served.
func (s *Server) Addr() *net.TCPAddr { return s.gate.Addr().(*net.TCPAddr) }

// Code is the code that pairs the next device, as in "123 456", or "" where none
// is needed.
func (s *Server) Code() string {
	if s.pairing == nil {
		return ""
	}
	return s.pairing.current()
}

// Close ends the page and every connection.
func (s *Server) Close() {
	s.close.Do(func() {
		close(s.done)
		ctx, cancel := context.WithTimeout(context.Background(), closeTime)
		defer cancel()
		if s.http.Shutdown(ctx) != nil {
			s.http.Close()
		}
		s.wait.Wait()
	})
}

// feed hands models on to the readers, no faster than they can be seen, and the
// slower the more there are: a few at a time, so that a piano's note that comes
// meanwhile does not wait for all of them where there is one processor.
func (s *Server) feed() {
	const each = time.Second / eventsRate
	for {
		var letters []letter
		select {
		case m := <-s.models:
			letters = s.publish(m)
		case <-s.done:
			return
		}
		rest := time.Second / perSecond
		for i, l := range letters {
			if i > 0 && i%together == 0 {
				s.pause(together * each)
				rest -= together * each
			}
			l.to.put(l.event)
		}
		last := (len(letters)-1)%together + 1
		s.pause(max(rest, time.Duration(last)*each))
	}
}

// pause waits, but not beyond the end.
func (s *Server) pause(d time.Duration) {
	select {
	case <-time.After(d):
	case <-s.done:
	}
}

func (s *Server) publish(m glance.Model) []letter {
	defer s.catch()
	return s.readers.publish(m)
}

// catch is to be deferred: a panic ends what its function did, and the player is
// told once.
func (s *Server) catch() {
	if p := recover(); p != nil {
		s.fault(p)
	}
}

func (s *Server) fault(p any) {
	tellFault(&s.faults, s.config.Say, p)
}
