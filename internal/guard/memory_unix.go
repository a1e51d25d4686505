//go:build unix

package guard

import (
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

// NewBoard makes an empty board for some outputs and inputs, and the file that
// stands for it: whoever inherits it can open the same board. The file has no name
// left, so nothing of it stays when both are gone.
func NewBoard(outputs, inputs int) (*Board, *os.File, error) {
	f, err := os.CreateTemp("", "bedd-board-")
	if err != nil {
		return nil, nil, fmt.Errorf("guard: %w", err)
	}
	_ = os.Remove(f.Name())
	if err := f.Truncate(int64(size(outputs, inputs))); err != nil {
		f.Close()
		return nil, nil, fmt.Errorf("guard: %w", err)
	}
	b, err := OpenBoard(f, outputs, inputs)
	if err != nil {
		f.Close()
		return nil, nil, err
	}
	return b, f, nil
}

// OpenBoard opens a board by its file.
func OpenBoard(f *os.File, outputs, inputs int) (*Board, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	length := size(outputs, inputs)
	if info.Size() < int64(length) {
		return nil, fmt.Errorf("guard: the board is %d bytes long, not %d", info.Size(), length)
	}
	mem, err := unix.Mmap(int(f.Fd()), 0, length, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
	if err != nil {
		return nil, fmt.Errorf("guard: cannot share memory: %w", err)
	}
	return &Board{mem, outputs}, nil
}

// Close gives the memory back; pages must not be used any more.
func (b *Board) Close() error { return unix.Munmap(b.mem) }
