package journal

import (
	"os"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// A real disk that is full, and then has room again: a small tmpfs. Needs to be
// root.
func TestSmallDisk(t *testing.T) {
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		t.Skip("no tmpfs can be mounted:", err)
	}
	t.Cleanup(func() { unix.Unmount(dir, unix.MNT_DETACH) })
	w := Start(Options{Dir: dir, Header: Header{Began: evening, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}, Alone: true})
	const many = 10_000
	for i := range uint64(many) {
		w.Played(0, []byte{0x90, 60, 64}, i)
		if i%100 == 0 {
			w.turn(0, true)
		}
	}
	got := heard(w)
	if len(got) != 1 || !strings.HasSuffix(got[0], "the disk is full; the bed goes on") || !strings.Contains(got[0], dir) || !w.Lost() {
		t.Fatalf("told %q, lost %v", got, w.Lost())
	}
	if err := unix.Mount("tmpfs", dir, "tmpfs", unix.MS_REMOUNT, "size=16m"); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(1, "asked", 0); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(w.Path())
	if err != nil {
		t.Fatal(err)
	}
	list, r := readAll(t, data)
	if len(list) != many+1 || r.Torn() != 0 || w.Lost() {
		t.Fatalf("%d records, %d bytes torn, lost %v", len(list), r.Torn(), w.Lost())
	}
	for i, rec := range list[:many] {
		if rec.After != uint64(i) {
			t.Fatalf("record %d is %d", i, rec.After)
		}
	}
}

// A disk that may only be read.
func TestReadOnlyDisk(t *testing.T) {
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", unix.MS_RDONLY, "size=64k"); err != nil {
		t.Skip("no tmpfs can be mounted:", err)
	}
	t.Cleanup(func() { unix.Unmount(dir, unix.MNT_DETACH) })
	w := Start(Options{Dir: dir, Header: Header{Began: evening, Moments: []Moment{{Key: "C", Home: []string{"C"}}}}, Alone: true})
	w.Step(Prepared, 0)
	w.turn(0, true)
	if got := heard(w); len(got) != 1 || !strings.HasSuffix(got[0], "the disk may only be read; the bed goes on") {
		t.Errorf("told %q", got)
	}
	if err := w.Close(1, "asked", 0); err == nil || !strings.HasSuffix(err.Error(), "the disk may only be read") {
		t.Errorf("closing: %v", err)
	}
}
