package main

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"bedd/internal/glance"

	"golang.org/x/term"
)

// screen writes lines, and on a terminal a status line under them, from a
// goroutine of its own: a terminal that has stopped reading never stops the bed.
type screen struct {
	file     *os.File
	terminal bool
	mu       sync.Mutex
	raw      bool
	lines    chan func() string
	statuses chan string
	done     chan struct{}
}

// waitingLines is how many lines may wait for a slow terminal; more are dropped.
const waitingLines = 256

func newScreen(file *os.File, broken mishaps) *screen {
	s := &screen{
		file:     file,
		terminal: term.IsTerminal(int(file.Fd())),
		lines:    make(chan func() string, waitingLines),
		statuses: make(chan string, 1),
		done:     make(chan struct{}),
	}
	go s.write(broken)
	return s
}

func (s *screen) write(broken mishaps) {
	defer close(s.done)
	defer broken.catch()
	under := ""
	for {
		select {
		case words, more := <-s.lines:
			if !more {
				s.clear(under)
				return
			}
			line := strings.TrimRight(words(), " ")
			if line == "" {
				continue
			}
			s.clear(under)
			end := "\n"
			if s.isRaw() {
				end = "\r\n"
			}
			fmt.Fprint(s.file, strings.ReplaceAll(line, "\n", end), end, under)
		case status := <-s.statuses:
			s.clear(under)
			under = status
			fmt.Fprint(s.file, under)
		}
	}
}

func (s *screen) clear(under string) {
	if under != "" {
		fmt.Fprint(s.file, "\r\033[K")
	}
}

func (s *screen) setRaw(on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.raw = on
}

func (s *screen) isRaw() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.raw
}

// line shows a line; it never waits.
func (s *screen) line(text string) { s.say(func() string { return text }) }

// say shows a line that is put into words on the screen's own goroutine, if it has
// any: whoever has notes to strike doesn't wait for them.
func (s *screen) say(words func() string) {
	select {
	case s.lines <- words:
	default:
	}
}

// status replaces the status line; it never waits.
func (s *screen) status(text string) {
	if !s.terminal {
		return
	}
	select {
	case s.statuses <- text:
	default:
	}
}

// columns gives how wide lines may be, 0 where it is no terminal.
func (s *screen) columns() int {
	if !s.terminal {
		return 0
	}
	if w, _, err := term.GetSize(int(s.file.Fd())); err == nil && w > 0 {
		return w
	}
	return 80
}

// width gives how many columns a status line may have: the last one is left to
// the cursor.
func (s *screen) width() int { return max(s.columns()-1, 0) }

// close writes what waits and leaves the terminal clean.
func (s *screen) close() {
	close(s.lines)
	<-s.done
}

// readKeys puts the terminal into raw mode and gives its keys by name.
func readKeys(broken mishaps) (<-chan string, func()) {
	fd := int(os.Stdin.Fd())
	was, err := term.MakeRaw(fd)
	if err != nil {
		return nil, func() {}
	}
	sent := make(chan []byte, 16)
	go func() { // ends with the process: a read from a terminal cannot be called off
		defer close(sent)
		defer broken.catch()
		buf := make([]byte, 64)
		for {
			n, err := os.Stdin.Read(buf)
			if err != nil {
				return
			}
			sent <- slices.Clone(buf[:n])
		}
	}()
	keys := make(chan string, 64)
	go func() {
		defer broken.catch()
		nameKeys(sent, keys)
	}()
	return keys, func() { term.Restore(fd, was) }
}

// escapeWait is how long the rest of a key's sequence may take to follow its
// escape, as over a slow line. Common practice, no source.
const escapeWait = 60 * time.Millisecond

// nameKeys names the keys in what a terminal sends, until it sends no more.
func nameKeys(sent <-chan []byte, keys chan<- string) {
	defer close(keys)
	var pending []byte
	for {
		var late <-chan time.Time
		if len(pending) > 0 {
			late = time.After(escapeWait)
		}
		select {
		case piece, more := <-sent:
			if !more {
				return
			}
			pending = append(pending, piece...)
			if glance.Unfinished(pending) {
				continue
			}
		case <-late:
		}
		for _, k := range glance.Keys(pending) {
			keys <- k
		}
		pending = pending[:0]
	}
}
