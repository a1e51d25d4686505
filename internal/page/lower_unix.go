//go:build unix

package page

import (
	"syscall"

	"golang.org/x/sys/unix"
)

// niceness is how much the page's process gives way to bedd. Common practice, no
// source.
const niceness = 10

// ownGroup starts a process in a group of its own, where a terminal's signals do not
// reach it, but in the same session: Linux shares a processor out among sessions
// first, and niceness counts only within one (sched(7), the autogroup feature).
func ownGroup() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setpgid: true} }

// lower gives every thread of this process a lower priority, where it leads a group.
func lower() {
	if unix.Getpgrp() == unix.Getpid() {
		_ = unix.Setpriority(unix.PRIO_PGRP, 0, niceness)
	}
}
