package page

import (
	"errors"
	"io"
	"os/signal"
	"runtime"
	"runtime/debug"
	"syscall"
)

// mostMemory is how much memory a page's process collects garbage to stay under, in
// bytes: with fifty readers it holds a third of it (BenchmarkPage).
const mostMemory = 64 << 20

// ErrAlone says that a page's process was started by hand.
var ErrAlone = errors.New("a page is nothing by itself: bedd play --page starts it")

// Serve is a page's process: it serves what it is told to on in, says what comes of
// it on out, and ends with in. It runs on one processor at a time, with a lower
// priority where the system can do that. No signal that can be caught ends it before.
func Serve(in io.Reader, out io.Writer) error {
	signal.Ignore(syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT, syscall.SIGPIPE)
	runtime.GOMAXPROCS(1)
	debug.SetMemoryLimit(mostMemory)
	lower()
	return serveLines(in, out)
}

// serveLines is Serve without what concerns the process as a whole.
func serveLines(in io.Reader, out io.Writer) error {
	told, says := newLines[toPage](in), newTeller(out)
	first, err := told.next()
	if err != nil || first.Open == nil {
		return ErrAlone
	}
	s, err := Open(Config{
		Address: first.Open.Address, Control: first.Open.Control,
		Say:     func(line string) { _ = says.send(fromPage{Say: line}) },
		NewCode: func(code string) { _ = says.send(fromPage{Code: code}) },
	})
	if err != nil {
		return says.send(fromPage{Failed: err.Error()})
	}
	defer s.Close()
	if err := says.send(fromPage{Opened: s.Addr().String(), Code: s.Code()}); err != nil {
		return err
	}
	taken := make(chan struct{}, 1)
	go s.passOrders(says, taken)
	for {
		next, err := told.next()
		switch {
		case err == nil && next.Model != nil:
			s.Show(*next.Model)
		case err == nil && next.Taken:
			select {
			case taken <- struct{}{}:
			default:
			}
		case err != nil:
			return nil
		}
	}
}

// passOrders says one order at a time: those that come before it has been taken wait,
// and what there is no room for is refused.
func (s *Server) passOrders(says *teller, taken <-chan struct{}) {
	for {
		select {
		case o := <-s.Orders():
			if says.send(fromPage{Order: o.String()}) != nil {
				return
			}
		case <-s.done:
			return
		}
		select {
		case <-taken:
		case <-s.done:
			return
		}
	}
}
