package main

import (
	"fmt"
	"os"
	"runtime"
	"strings"
	"sync"

	"bedd/internal/glance"

	"golang.org/x/term"
)

// screen writes lines, and on a terminal a status line under them, from a
// goroutine of its own: a terminal that has stopped reading never stops the bed.
type screen struct {
	file     *os.File
	terminal bool
	dumb     bool // it can do nothing but lines
	lines    chan said
	statuses chan string
	done     chan struct{}

	mu   sync.Mutex
	view func(line string) // takes the lines while all of the terminal is a picture
}

// said is a line to come, put into words on the screen's own goroutine. One that
// only logs what a picture shows is left out there.
type said struct {
	words func() string
	log   bool
}

// waitingLines is how many lines may wait for a slow terminal; more are dropped.
const waitingLines = 256

func newScreen(file *os.File, broken mishaps) *screen {
	s := &screen{
		file:     file,
		terminal: term.IsTerminal(int(file.Fd())),
		dumb:     dumb(runtime.GOOS, os.Getenv("TERM")),
		lines:    make(chan said, waitingLines),
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
		case said, more := <-s.lines:
			if !more {
				s.clear(under)
				return
			}
			view := s.viewer()
			if view != nil && said.log {
				continue
			}
			line := strings.TrimRight(plain(said.words()), " ")
			switch {
			case line == "":
			case view != nil:
				view(line)
			default:
				s.clear(under)
				end := "\n"
				if s.terminal { // which may be raw, or about to be
					end = "\r\n"
				}
				fmt.Fprint(s.file, strings.ReplaceAll(line, "\n", end), end, under)
			}
		case status := <-s.statuses:
			s.clear(under)
			under = status
			fmt.Fprint(s.file, under)
		}
	}
}

// plain is a text of several lines without what a terminal would obey.
func plain(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = glance.Plain(lines[i])
	}
	return strings.Join(lines, "\n")
}

// dumb reports whether a terminal knows no cursor: it says so, or, where terminals have
// types, says nothing (terminfo(5), the type dumb).
func dumb(system, kind string) bool { return kind == "dumb" || kind == "" && system != "windows" }

func (s *screen) clear(under string) {
	if under != "" {
		fmt.Fprint(s.file, "\r\033[K")
	}
}

// setView says what takes the lines, if not the file.
func (s *screen) setView(view func(line string)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.view = view
}

func (s *screen) viewer() func(line string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.view
}

// line shows a line; it never waits.
func (s *screen) line(text string) { s.add(said{words: func() string { return text }}) }

// log shows a line on what a picture shows too, and puts it into words on the
// screen's own goroutine: whoever has notes to strike doesn't wait for them.
func (s *screen) log(words func() string) { s.add(said{words, true}) }

func (s *screen) add(l said) {
	select {
	case s.lines <- l:
	default:
	}
}

// status replaces the status line; it never waits.
func (s *screen) status(text string) {
	if !s.terminal || s.dumb {
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
