//go:build unix

package glance

import "syscall"

// awaken continues this process.
func awaken() { _ = syscall.Kill(syscall.Getpid(), syscall.SIGCONT) }
