//go:build unix

package page

import (
	"os"
	"syscall"
	"testing"
)

// stop makes a process stand still.
func stop(t *testing.T, p *os.Process) {
	t.Helper()
	if err := p.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
}
