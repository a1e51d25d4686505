package main

import (
	"errors"
	"fmt"
	"time"

	"bedd/internal/bed"
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

// fresh is how long after a session broke off play says that it can be gone on from,
// and stale when going on from one is worth a word.
const (
	fresh = 15 * time.Minute
	stale = 12 * time.Hour
)

// goOn reads the session to go on from: the last one, if it broke off, or the one
// that is named.
func goOn(dir, name string) (journal.Last, error) {
	named := name != lastSession
	if !named {
		name = ""
	}
	path, err := journal.Find(dir, name)
	if err != nil {
		return journal.Last{}, badInput{fmt.Errorf("--resume: %w", err)}
	}
	last, err := journal.ReadLast(path)
	switch {
	case err != nil:
		return last, badInput{err}
	case last.Live:
		return last, badInput{fmt.Errorf("--resume: a bedd is playing the session %s: end it first", last.Name)}
	case last.State == nil:
		return last, badInput{fmt.Errorf("--resume: the session %s broke off before it began", last.Name)}
	case last.Closed && !named:
		return last, fmt.Errorf("--resume: the last session, %s, ended as it should, %s ago%s; bedd play --resume %s goes on there all the same",
			last.Name, ago(last.Broke), brokenBefore(dir, path), last.Name)
	}
	return last, nil
}

// brokenBefore names the last session before one that broke off.
func brokenBefore(dir, path string) string {
	list, err := journal.Sessions(dir)
	if err != nil {
		return ""
	}
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].Path == path || list[i].Live {
			continue
		}
		if last, err := journal.ReadLast(list[i].Path); err == nil && !last.Closed && last.State != nil {
			return fmt.Sprintf("; before it %s broke off, %s ago", last.Name, ago(last.Broke))
		}
		return ""
	}
	return ""
}

// ago writes how long ago something was.
func ago(then time.Time) string {
	switch d := time.Since(then); {
	case d < time.Minute:
		return fmt.Sprintf("%.0f s", max(d, 0).Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%.0f min", d.Minutes())
	case d < 48*time.Hour:
		return fmt.Sprintf("%.0f h", d.Hours())
	default:
		return fmt.Sprintf("%.0f days", d.Hours()/24)
	}
}

// hint says that the last session broke off a moment ago, if it did.
func hint(dir string) string {
	path, err := journal.Find(dir, "")
	if err != nil {
		return ""
	}
	last, err := journal.ReadLast(path)
	if err != nil || last.Closed || last.State == nil || time.Since(last.Broke) > fresh {
		return ""
	}
	return fmt.Sprintf("the last session broke off %s ago on %s: bedd play --resume goes on there", ago(last.Broke), last.State.Chord.Symbol())
}

// sounded reports whether the bed is to come in again by itself.
func sounded(s *bed.State) bool { return s.Phase == bed.Rising || s.Phase == bed.Holding }

// resumed says what is gone on from.
func resumed(last journal.Last) string {
	s := last.State
	broke := "broke off"
	if last.Closed {
		broke = "ended"
	}
	text := fmt.Sprintf("going on from %s, which %s %s ago: %s (%s), %v, intensity %.0f %%",
		last.Name, broke, ago(last.Broke), s.Chord.Symbol(), s.Chord.Degree(s.Key), s.Place, 100*s.Intensity)
	if s.Follow {
		text += ", following your left hand"
	}
	if sounded(s) {
		text += "; the bed comes in softly"
	} else {
		text += "; the bed waits in silence"
	}
	if time.Since(last.Broke) > stale {
		text += "; that is long ago: without --resume bedd begins anew"
	}
	return text
}

// goOn reads the session to go on from and takes from it what is played.
func (f *playFlags) goOn(cmd *cobra.Command, from string, args []string) (journal.Last, error) {
	if len(args) > 0 {
		return journal.Last{}, badInput{fmt.Errorf("--resume goes without a plan: the session has its own; leave out %q", args[0])}
	}
	dir := f.keep.place
	if dir == "" || dir == noJournal {
		var err error
		if dir, err = journal.DefaultDir(); err != nil {
			return journal.Last{}, err
		}
	}
	last, err := goOn(dir, from)
	if err != nil {
		return last, err
	}
	if err := f.fromJournal(cmd, last.Header); err != nil {
		return last, err
	}
	if at := last.State.Moment; at < len(f.moments) {
		f.rig.Bed.First = at
	}
	return last, nil
}

// goOn makes the session wait where another was, and says so.
func (l *liveRun) goOn(last journal.Last) error {
	if err := l.session.Resume(*last.State); err != nil {
		return err
	}
	l.comesIn, l.first = sounded(last.State), resumed(last)
	return nil
}

// startJournal gives what starts the journal, or nil where none is kept.
func (f *playFlags) startJournal(dir string, ports []journal.Port, last journal.Last) func(time.Time) *journal.Writer {
	if dir == "" {
		return nil
	}
	return func(began time.Time) *journal.Writer {
		h := f.header(began)
		h.Ports = ports
		if last.State != nil {
			h.Resume = &journal.Resume{Session: last.Name, State: last.State}
		}
		return journal.Start(journal.Options{Dir: dir, Header: h})
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
