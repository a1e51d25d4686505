//go:build unix

package guard

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"bedd/internal/midiio"
)

// Serve is the guard's own run: it waits for its bedd's end, and does its duty
// when that was a death: first what sounds is ended, then the piano is connected. No
// signal that can be caught ends it before.
func Serve(open func() (midiio.System, error)) error {
	signal.Ignore(syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT, syscall.SIGPIPE, syscall.SIGTSTP)
	board, lock := os.NewFile(boardFile, "board"), os.NewFile(lockFile, "lock")
	if _, err := lock.Stat(); err != nil {
		return ErrAlone
	}
	defer lock.Close()
	system, err := open()
	if err != nil {
		return err
	}
	var outs *Outputs
	d, died, err := Await(os.Stdin, func(d Duty) {
		outs = OpenOutputs(system, d.Outs)
		fmt.Println(ready)
	})
	defer os.Remove(d.Lock)
	if !died {
		return err
	}
	b, err := OpenBoard(board, len(d.Outs), len(d.Ins))
	if err != nil {
		return err
	}
	err = outs.End(b)
	return errors.Join(err, d.Connect(system, b, func(list []midiio.Connection) error { return addTo(d.Record, list) }))
}
