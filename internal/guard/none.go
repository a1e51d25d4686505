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

// LockDir fails with ErrSystem.
func LockDir() (string, error) { return "", ErrSystem }

// WaitForOthers does nothing.
func WaitForOthers(string, time.Duration) (bool, error) { return false, nil }
