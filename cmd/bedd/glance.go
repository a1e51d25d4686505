package main

import (
	"errors"
	"os"
	"strings"
	"sync"
	"time"

	"bedd/internal/glance"
	"bedd/internal/midiio"
)

// The right hand's notes that the keyboard shows.
const (
	lowestSafe  = 60
	highestSafe = 84
)

// maxKept is how many lines said during a picture are kept to be shown after it.
const maxKept = 64

// takeTerminal takes over the terminal's keys and, unless plain lines are wished,
// its screen. leave gives all back; what was said in between is then on the screen.
func (l *liveRun) takeTerminal() (leave func(), err error) {
	out := os.Stdout
	if !l.whole {
		out = nil
	}
	help := allKeys(l.keys)
	if l.lesson != nil {
		help = l.lesson.keys(l.keys)
	}
	t, err := glance.OpenTerminal(os.Stdin, out, help, l.broken.catch)
	if err != nil {
		return nil, err
	}
	l.terminal = t
	if out == nil {
		return func() { t.Close() }, nil
	}
	var mu sync.Mutex
	var kept []string
	l.screen.setView(func(line string) {
		l.watch.Say(l.now(), strings.TrimSpace(line))
		mu.Lock()
		defer mu.Unlock()
		kept = append(kept, glance.Clock(l.now())+"  "+strings.TrimSpace(line))
		kept = kept[max(len(kept)-maxKept, 0):]
	})
	return func() {
		err := t.Close()
		l.screen.setView(nil)
		mu.Lock()
		defer mu.Unlock()
		for _, line := range kept {
			l.screen.line(line)
		}
		if err != nil {
			l.screen.line(err.Error())
		}
	}, nil
}

// lostTerminal ends the run where the terminal is gone; a picture that failed by
// itself gives way to lines.
func (l *liveRun) lostTerminal() {
	if !errors.Is(l.terminal.Close(), glance.ErrMishap) {
		l.leave("terminal", true)
		return
	}
	l.whole = false
	l.screen.setView(nil)
	l.notice(l.now(), "the picture failed: lines from here on, and no keys but ctrl-c")
}

// model is what there is to see now.
func (l *liveRun) model(now time.Duration) glance.Model {
	m := l.watch.Model(now, l.session.View(), l.links(), lowestSafe, highestSafe, l.fingers)
	m.Page = l.invitation()
	m.Hears = l.heard()
	return m
}

// heard says what is heard of a voice, or nothing where nobody is listened to.
func (l *liveRun) heard() string {
	if l.hears != nil {
		if h := l.hears.now.Load(); h != nil {
			return h.words()
		}
	}
	return ""
}

// links are the ports, and the sound card where there is one.
func (l *liveRun) links() (list []glance.Link) {
	if l.midi != nil {
		for i, in := range l.midi.ins {
			list = append(list, glance.Link{Name: short(in.Port()), Way: "in", Up: !l.midi.lost[lostPort{midiio.In, i}]})
		}
		for i, out := range l.midi.opened {
			list = append(list, glance.Link{Name: short(out.Port()), Way: "out", Up: !l.midi.lost[lostPort{midiio.Out, i}]})
		}
	}
	if card, ok := l.sound.link(); ok {
		list = append(list, card)
	}
	if journal, lost := l.journalLink(); lost {
		list = append(list, journal)
	}
	return list
}

// short is a port's name without what most systems write twice.
func short(p midiio.PortInfo) string {
	device, port, ok := strings.Cut(p.Name, ":")
	if ok && strings.HasPrefix(port, device) {
		return port
	}
	return p.Name
}
