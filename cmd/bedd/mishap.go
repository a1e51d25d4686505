package main

import (
	"fmt"
	"runtime/debug"
)

// mishaps hands a panic of any goroutine of a run to its main loop, which ends
// what sounds before it fails.
type mishaps chan mishap

// mishap is a panic as an error: a fault of bedd's own.
type mishap struct {
	value any
	stack []byte
}

func (m mishap) Error() string {
	return fmt.Sprintf("the run ended by a fault of bedd's own; please report it with all of this: %v\n%s", m.value, m.stack)
}

func newMishaps() mishaps { return make(mishaps, 1) }

// late gives a mishap that nobody has taken, or nil.
func (m mishaps) late() error {
	select {
	case one := <-m:
		return one
	default:
		return nil
	}
}

// catch is to be deferred, first of all, in every goroutine of a run.
func (m mishaps) catch() {
	if p := recover(); p != nil {
		select {
		case m <- mishap{p, debug.Stack()}:
		default: // one is enough to end the run
		}
	}
}
