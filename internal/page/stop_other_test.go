//go:build !unix

package page

import (
	"os"
	"testing"
)

// stop makes a process stand still, where that can be done.
func stop(t *testing.T, _ *os.Process) { t.Skip("no way to stop a process") }
