//go:build !unix

package guard

import (
	"time"

	"bedd/internal/midiio"
)

// Post is a guard at work.
type Post struct {
	Board *Board
	Gone  <-chan struct{}
}

// Start fails with ErrSystem.
func Start(string, []string, Duty) (*Post, error) { return nil, ErrSystem }

// Dismiss does nothing.
func (p *Post) Dismiss() error { return nil }

// Serve fails with ErrSystem.
func Serve(func() (midiio.System, error)) error { return ErrSystem }

// Record would be the list of the connections that a bedd has made.
type Record struct{}

// NewRecord fails with ErrSystem.
func NewRecord(string) (*Record, error) { return nil, ErrSystem }

// Name is empty.
func (r *Record) Name() string { return "" }

// Set does nothing.
func (r *Record) Set([]midiio.Connection) error { return nil }

// Remove does nothing.
func (r *Record) Remove() error { return nil }

// Leavings would be the connections that dead bedds have left.
type Leavings struct{ List []midiio.Connection }

// FindLeavings finds nothing.
func FindLeavings(string) (*Leavings, error) { return new(Leavings), nil }

// Forget does nothing.
func (l *Leavings) Forget(func(midiio.Connection) bool) error { return nil }

// LockDir fails with ErrSystem.
func LockDir() (string, error) { return "", ErrSystem }

// WaitForOthers does nothing.
func WaitForOthers(string, time.Duration) (bool, error) { return false, nil }
