package main

import (
	"errors"
	"fmt"
	"time"

	"bedd/internal/glance"
	"bedd/internal/journal"
	"bedd/internal/midiio"

	"github.com/spf13/cobra"
)

// journalFlags say whether a journal is kept, where, and what to go on from.
type journalFlags struct {
	place  string
	resume string
}

const (
	noJournal   = "off"
	lastSession = "last"
)

func (f *journalFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.place, "journal", "", "keep the session's journal in this `FOLDER`, or off (default the user's own folder for state; off with --player)")
	flags.StringVar(&f.resume, "resume", "", "go on where a session broke off: the last one, or `SESSION`, by name or file")
	flags.Lookup("resume").NoOptDefVal = lastSession
}

// split gives what to go on from, and the arguments without it: with --resume there
// is no plan to name, so the first argument is a session.
func (f *journalFlags) split(args []string) (from string, rest []string) {
	if f.resume != lastSession || len(args) == 0 {
		return f.resume, args
	}
	return args[0], args[1:]
}

// dir is where journals are, or empty where none is kept.
func (f *journalFlags) dir(performed bool) (string, error) {
	switch {
	case f.place == noJournal, f.place == "" && performed:
		return "", nil
	case f.place != "":
		return f.place, nil
	}
	return journal.DefaultDir()
}

// openDir is dir for a session that begins: without a place for journals it is played
// all the same, and told why none is kept.
func (f *journalFlags) openDir(performed bool) (dir, trouble string) {
	dir, err := f.dir(performed)
	if err != nil {
		return "", fmt.Sprintf("no journal is kept: %v; name a folder with --journal FOLDER", err)
	}
	return dir, ""
}

// startJournal gives what starts the journal, or nil where none is kept.
func (f *playFlags) startJournal(dir string, ports []journal.Port, set map[string][]string, last journal.Last) func(time.Time) *journal.Writer {
	if dir == "" {
		return nil
	}
	return func(began time.Time) *journal.Writer {
		h := f.header(began)
		h.Ports, h.Options = ports, set
		if last.State != nil {
			h.Resume = &journal.Resume{Session: last.Name, State: last.State}
		}
		o := journal.Options{Dir: dir, Header: h}
		if f.lesson != nil {
			o.Header.Tasks, o.Kept = f.lesson.inJournal(), keptPractices
		}
		return journal.Start(o)
	}
}

// keeper is a live run's journal, and what is only told to it now and then.
type keeper struct {
	*journal.Writer // nil where none is kept
	start           func(began time.Time) *journal.Writer
	due, arrived    journal.Lateness
	toldAt          time.Duration
	lost            bool // it is not being written
}

// tellEvery is how often a journal is told how late the core was and how busy the
// outputs.
const tellEvery = time.Minute

// begin starts the journal at the session's time 0.
func (l *liveRun) beginJournal(began time.Time) {
	k := &l.journal
	if k.start == nil {
		return
	}
	k.due, k.arrived = journal.NewLateness(), journal.NewLateness()
	k.Writer = k.start(began)
	l.session.Journal(k.Writer)
}

// journalNews tells the player of the journal.
func (l *liveRun) journalNews(text string) {
	l.journal.lost = l.journal.Lost()
	l.notice(l.now(), text)
}

// late takes note of how late the core is for what was due.
func (k *keeper) late(due, now time.Duration) {
	if k.Writer != nil && now >= due {
		k.due.Add(now - due)
	}
}

// heard takes note of how long the core took to hear of what arrived.
func (k *keeper) heard(at, now time.Duration) {
	if k.Writer != nil {
		k.arrived.Add(now - at)
	}
}

// account tells the journal how the core and the outputs did so far.
func (l *liveRun) account(now time.Duration, last bool) {
	k := &l.journal
	if k.Writer == nil || !last && now-k.toldAt < tellEvery {
		return
	}
	k.toldAt = now
	k.Late(now, journal.Delays{Due: k.due.Percentiles(), Arrived: k.arrived.Percentiles()})
	if l.midi == nil {
		return
	}
	for i, out := range l.midi.opened {
		if load, paced := out.Load(); paced {
			k.Busy(now, len(l.midi.ins)+i, journal.Wire{Baud: load.Baud, Bytes: load.Bytes, At: load.At, Wait: load.Wait, ForBed: load.ForBed, Overtaken: load.Overtaken, Sent: load.Sent})
		}
	}
	for i, in := range l.midi.ins {
		if n := in.Thinned(); n > 0 {
			k.Flood(now, i, n)
		}
	}
}

// portChanged tells the journal that a port was lost or is back.
func (l *liveRun) portChanged(c midiio.Change, now time.Duration) {
	i := c.Index
	if c.Way == midiio.Out {
		i += len(l.midi.ins)
	}
	l.journal.Port(now, i, c.Err == nil)
}

// journalPorts lists the ports as the journal numbers them.
func (l *liveRun) journalPorts() (list []journal.Port) {
	if l.midi == nil {
		return nil
	}
	for _, in := range l.midi.ins {
		list = append(list, journal.Port{Way: "in", Name: in.Port().Name})
	}
	for _, out := range l.midi.opened {
		list = append(list, journal.Port{Way: "out", Name: out.Port().Name})
	}
	return list
}

// endJournal ends the journal, as broken off where the run failed by a fault of
// bedd's own.
func (l *liveRun) endJournal(failed error, refused uint64) error {
	k := &l.journal
	if k.Writer == nil {
		return nil
	}
	now := l.now()
	l.account(now, true)
	var bad mishap
	if errors.As(failed, &bad) {
		return k.Break()
	}
	return k.Close(now, l.why, refused)
}

// journalLink is the journal among the devices, while it is not being written.
func (l *liveRun) journalLink() (link glance.Link, lost bool) {
	return glance.Link{Name: "journal", Way: "out"}, l.journal.lost
}
