//go:build unix

package guard

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"time"
)

// The files that a guard inherits, by their numbers.
const (
	boardFile = 3
	lockFile  = 4
)

// ready is what a guard says when it has all it needs, on its standard output.
const ready = "ready"

// readyTime is how long a guard may take to be ready.
const readyTime = 5 * time.Second

// Post is a guard at work, as its bedd sees it.
type Post struct {
	Board *Board
	Gone  <-chan struct{} // closed when the guard has ended, by itself or not

	cmd  *exec.Cmd
	pipe *os.File
}

// Start starts a program as the guard of this process, in a session of its own,
// so that no terminal that closes takes it along, and waits until it is ready.
// The program has to call Serve.
func Start(program string, args []string, d Duty) (p *Post, err error) {
	dir, err := LockDir()
	if err != nil {
		return nil, err
	}
	lock, err := Lock(dir, os.Getpid())
	if err != nil {
		return nil, err
	}
	defer lock.Close()
	d.Lock = lock.Name()
	board, file, err := NewBoard(len(d.Outs), len(d.Ins))
	if err != nil {
		return nil, err
	}
	defer file.Close()
	in, out, err := os.Pipe()
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	defer in.Close()
	cmd := exec.Command(program, args...)
	cmd.Stdin = in
	cmd.ExtraFiles = []*os.File{file, lock}
	says, err := cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	cmd.Dir = "/"
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	if err := d.Tell(out); err != nil {
		return nil, fmt.Errorf("guard: %w", err)
	}
	word := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(says).ReadString('\n')
		word <- line
	}()
	select {
	case line := <-word:
		if line != ready+"\n" {
			out.Close()
			return nil, errors.Join(errors.New("the guard ended at once"), cmd.Wait())
		}
	case <-time.After(readyTime):
		cmd.Process.Kill()
		out.Close()
		return nil, errors.Join(fmt.Errorf("the guard was not ready within %v", readyTime), cmd.Wait())
	}
	gone := make(chan struct{})
	go func() {
		_ = cmd.Wait()
		close(gone)
	}()
	return &Post{Board: board, Gone: gone, cmd: cmd, pipe: out}, nil
}

// leaveTime is how long a guard that has nothing to do may take to end.
const leaveTime = 2 * time.Second

// Dismiss tells the guard that all is ended, and waits until it has gone.
func (p *Post) Dismiss() error {
	err := Dismiss(p.pipe)
	p.pipe.Close()
	select {
	case <-p.Gone:
	case <-time.After(leaveTime):
		p.cmd.Process.Kill()
		<-p.Gone
	}
	return errors.Join(err, p.Board.Close())
}
