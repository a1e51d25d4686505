package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/journal"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// fresh is how long after a session broke off play says that it can be gone on from,
// and stale when going on from one is worth a word.
const (
	fresh = 15 * time.Minute
	stale = 12 * time.Hour
)

// goOn reads the session to go on from: the last one, if it broke off, or the one
// that is named.
func goOn(dir, name string) (journal.Last, error) {
	if name == lastSession {
		return goOnFromLast(dir)
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
	}
	return last, nil
}

func goOnFromLast(dir string) (journal.Last, error) {
	two, err := latest(dir, 2)
	switch {
	case err != nil:
		return journal.Last{}, err
	case len(two) == 0:
		return journal.Last{}, badInput{fmt.Errorf("--resume: there is no session in %s to go on from: bedd play writes one", dir)}
	case !two[0].Closed:
		return two[0], nil
	}
	before := ""
	if len(two) == 2 && !two[1].Closed {
		before = fmt.Sprintf("; before it %s broke off, %s ago", two[1].Name, ago(two[1].Broke))
	}
	return two[0], fmt.Errorf("--resume: the last session, %s, ended as it should, %s ago%s; bedd play --resume %s goes on there all the same",
		two[0].Name, ago(two[0].Broke), before, two[0].Name)
}

// latest reads the ends of the latest sessions of a folder, the last first: those
// that nobody is playing and that had begun. One that ended before the bed came in is
// none of them: who reads there how to go on ends it and does so.
func latest(dir string, n int) (ends []journal.Last, err error) {
	list, err := journal.Sessions(dir)
	for i := len(list) - 1; i >= 0 && len(ends) < n; i-- {
		if list[i].Live {
			continue
		}
		if last, err := journal.ReadLast(list[i].Path); err == nil && last.State != nil && !(last.Closed && last.Silent) {
			ends = append(ends, last)
		}
	}
	return ends, err
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
	ends, err := latest(dir, 1)
	if err != nil || len(ends) == 0 || ends[0].Closed || time.Since(ends[0].Broke) > fresh {
		return ""
	}
	return fmt.Sprintf("the last session broke off %s ago on %s: bedd play --resume goes on there", ago(ends[0].Broke), ends[0].State.Chord.Symbol())
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

// goOn reads the session to go on from, if one is asked for, and takes from it what
// is played, and the devices that the command line does not say.
func (f *playFlags) goOn(cmd *cobra.Command, args []string) (last journal.Last, err error) {
	_, args = f.page.split(args)
	from, args := f.keep.split(args)
	switch {
	case from == "":
		return last, nil
	case len(args) > 0:
		return last, badInput{fmt.Errorf("--resume goes without a plan: the session has its own; leave out %q", args[0])}
	}
	dir, err := f.keep.dir(false)
	if err == nil && dir == "" {
		dir, err = journal.DefaultDir()
	}
	switch {
	case err != nil && from == lastSession:
		return last, err
	case err != nil: // a file is found all the same
		dir = "."
	}
	if last, err = goOn(dir, from); err != nil {
		return last, err
	}
	if err := f.fromJournal(cmd, last.Header); err != nil {
		return last, err
	}
	if at := last.State.Moment; at < len(f.moments) {
		f.rig.Bed.First = at
	}
	if err := takeOptions(cmd.Flags(), last.Header.Options); err != nil {
		return last, badInput{fmt.Errorf("%s: %w", last.Name, err)}
	}
	return last, nil
}

// deviceOptions are what a session that goes on from another has as that one had
// it. The page is not among them: what the network sees is said each time.
var deviceOptions = []string{"in", "in-keys", "in-feet", "out", "out-bed", "out-piano", "thru", "route", "driver", "baud",
	"virtual", "no-midi", "no-guard", "no-sensing", "no-sound", "frames", "soundfont", "ceiling", "listen"}

// options gives those of the device options that are set.
func options(flags *pflag.FlagSet) map[string][]string {
	set := map[string][]string{}
	for _, name := range deviceOptions {
		flag := flags.Lookup(name)
		if flag == nil || !flag.Changed {
			continue
		}
		if list, many := flag.Value.(pflag.SliceValue); many {
			set[name] = list.GetSlice()
		} else {
			set[name] = []string{flag.Value.String()}
		}
	}
	return set
}

// together are options of which the command line's take the place of all the
// session's: other inputs, other outputs, or none.
var together = [][]string{
	{"no-midi", "in", "in-keys", "in-feet"},
	{"no-midi", "out", "out-bed", "out-piano"},
	{"no-midi", "virtual"},
}

// takeOptions sets the options that a session had, but for those in whose place the
// command line has others.
func takeOptions(flags *pflag.FlagSet, had map[string][]string) error {
	said := map[string]bool{}
	for _, name := range deviceOptions {
		said[name] = flags.Changed(name)
	}
	taken := maps.Clone(said)
	for _, group := range together {
		for _, name := range group {
			for _, other := range group {
				taken[name] = taken[name] || said[other]
			}
		}
	}
	for _, name := range deviceOptions {
		if taken[name] {
			continue
		}
		for _, value := range had[name] {
			if err := flags.Set(name, value); err != nil {
				return err
			}
		}
	}
	return nil
}

// without says how to go on without the devices that a session had, which are not
// there any more.
func without(err error, last journal.Last) error {
	var ports []string
	for _, name := range slices.Concat(together...) {
		for _, value := range last.Header.Options[name] {
			if port := "--" + name + " " + value; name != "no-midi" && !slices.Contains(ports, port) {
				ports = append(ports, port)
			}
		}
	}
	if len(ports) == 0 {
		return err
	}
	return fmt.Errorf("%w; %s had %s: say others beside --resume, or --no-midi", err, last.Name, strings.Join(ports, " "))
}

// goOn makes the session wait where another was, and says so.
func (l *liveRun) goOn(last journal.Last) error {
	if err := l.session.Resume(*last.State); err != nil {
		return err
	}
	l.comesIn, l.first = sounded(last.State), resumed(last)
	return nil
}
