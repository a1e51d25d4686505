package main

import (
	"testing"

	"golang.org/x/sys/unix"
)

// smallDisk gives a folder on a disk of two pages, or nothing where none can be
// mounted.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=8k"); err != nil {
		t.Log("no small disk:", err)
		return ""
	}
	t.Cleanup(func() { unix.Unmount(dir, unix.MNT_DETACH) })
	return dir
}
