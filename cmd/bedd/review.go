package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"

	"bedd/internal/journal"
	"bedd/internal/review"
	"bedd/internal/wholefile"

	"github.com/charmbracelet/colorprofile"
	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// reviewMemory is what a review gets by with, in bytes: beyond it the garbage of ten
// hours is collected at once, also where other jobs leave little time for that.
const reviewMemory = 100 << 20

type reviewFlags struct {
	list      bool
	chords    bool
	json      bool
	against   string
	html      string
	midi      string
	csv       string
	anonymise string
}

func newReview() *cobra.Command {
	var f reviewFlags
	cmd := &cobra.Command{
		Use:   "review [SESSION [OTHER]]",
		Short: "See what happened: timeline, figures, a page to print, files",
		Long: `review tells what happened in a session, from the journal that play has kept: what
sounded when, and figures that help the next time. SESSION is the number or the name
that --list shows, the start of a name, a journal's file, or a folder of them;
without one it is the newest. OTHER is set beside it, figure by figure.`,
		Example: `  bedd review
  bedd review --list
  bedd review 2 --html evening.html --midi evening.mid
  bedd review 1 2                                this time, and the time before
  bedd review --anonymise report.jsonl           for a bug report: no words, no wall clock
  bedd render --journal report.jsonl             plays it again, message for message`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 2 {
				return badInput{fmt.Errorf("%s takes two sessions at most, not %d", cmd.CommandPath(), len(args))}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	flags := cmd.Flags()
	flags.BoolVar(&f.list, "list", false, "list the sessions, the newest first; in the folder that is named, if one is")
	flags.StringVar(&f.against, "against", "", "set this session beside it, like a second argument")
	flags.BoolVar(&f.chords, "chords", false, "a line for each chord, with its notes: = held, + new, - gone")
	flags.StringVar(&f.html, "html", "", "write a page with pictures to this `file`, for a browser and for A4 paper")
	flags.StringVar(&f.midi, "midi", "", "write what was played to this `file`, a standard MIDI file")
	flags.StringVar(&f.csv, "csv", "", "write what happened to this `file`, a line each, for a spreadsheet")
	flags.StringVar(&f.anonymise, "anonymise", "", "write the journal to this `file` without the plan's words, names of devices and the wall clock; it plays again just the same")
	flags.BoolVar(&f.json, "json", false, "figures and timeline as JSON")
	return cmd
}

func (f *reviewFlags) run(cmd *cobra.Command, args []string) error {
	stdout := cmd.OutOrStdout()
	if f.list {
		return f.listed(stdout, args)
	}
	debug.SetMemoryLimit(reviewMemory)
	if f.against != "" {
		if len(args) > 1 {
			return badInput{errors.New("name the other session once: as the second argument, or with --against")}
		}
		if len(args) == 0 {
			args = append(args, "")
		}
		args = append(args, f.against)
	}
	name := ""
	if len(args) > 0 {
		name = args[0]
	}
	path, err := sessionPath(name)
	if err != nil {
		return err
	}
	var otherPath string
	if len(args) > 1 {
		if otherPath, err = sessionPath(args[1]); err != nil {
			return err
		}
	}
	outputs := []output{{"--html", f.html}, {"--midi", f.midi}, {"--csv", f.csv}, {"--anonymise", f.anonymise}}
	for _, o := range outputs {
		if o.path != "" && (absolute(o.path) == absolute(path) || otherPath != "" && absolute(o.path) == absolute(otherPath)) {
			return badInput{fmt.Errorf("%s would overwrite the journal, %s: name another file", o.flag, o.path)}
		}
	}
	if err := checkOutputs("", outputs...); err != nil {
		return err
	}
	var s, other *review.Session
	asked := f.html != "" || f.midi != "" || f.csv != "" || f.anonymise != ""
	if f.json || !asked || f.html != "" || f.csv != "" { // the other files are made from the journal itself
		progress := progressOn(cmd.ErrOrStderr(), "reading")
		if s, err = readSession(path, progress); err != nil {
			return err
		}
		if otherPath != "" {
			if other, err = readSession(otherPath, progress); err != nil {
				return err
			}
		}
	}
	if err := f.files(cmd.ErrOrStderr(), path, s, other); err != nil {
		return err
	}
	switch {
	case f.json:
		return s.JSON(stdout, other)
	case asked:
		return nil
	}
	w := colorprofile.NewWriter(stdout, os.Environ())
	if other != nil {
		return review.Beside(w, s, other, columnsOf(stdout))
	}
	return s.Lines(w, review.View{Width: columnsOf(stdout), Chords: f.chords})
}

// readSession reads a journal.
func readSession(path string, progress func(done, total int64)) (*review.Session, error) {
	s, err := review.Read(path, progress)
	return s, ofFile(err)
}

// ofFile marks an error as a bad file's where it is one.
func ofFile(err error) error {
	var fault *journal.Fault
	if errors.As(err, &fault) {
		return badInput{err}
	}
	return err
}

// files writes the files that are asked for, and says which.
func (f *reviewFlags) files(say io.Writer, path string, s, other *review.Session) error {
	for _, o := range []struct {
		path  string
		write func(io.Writer) error
	}{
		{f.html, func(w io.Writer) error { return s.Page(w, other) }},
		{f.csv, func(w io.Writer) error { return s.CSV(w) }},
		{f.midi, func(w io.Writer) error { return review.MIDI(w, path) }},
		{f.anonymise, func(w io.Writer) error { return review.Anonymise(w, path) }},
	} {
		if o.path == "" {
			continue
		}
		if err := wholefile.Write(o.path, func(file *os.File) error { return o.write(file) }); err != nil {
			return ofFile(err)
		}
		fmt.Fprintln(say, "wrote "+o.path)
	}
	return nil
}

// columnsOf gives how wide lines may be.
func columnsOf(w io.Writer) int {
	if f, ok := w.(*os.File); ok {
		if columns, _, err := term.GetSize(int(f.Fd())); err == nil && columns > 0 {
			return min(max(columns, 60), 120)
		}
	}
	return 80
}

// noSessions says what to do where there is nothing to review.
func noSessions(dir string) error {
	return fmt.Errorf("there are no sessions in %s: bedd play keeps a journal there, or name a journal's file", dir)
}

// sessionPath finds the journal that a number, a name, a file or a folder stands for;
// without any it is the newest.
func sessionPath(name string) (string, error) {
	dir, err := journal.DefaultDir()
	if err != nil && name == "" {
		return "", err
	}
	nth, numberErr := strconv.Atoi(name)
	if info, err := os.Stat(name); err == nil && name != "" {
		if !info.IsDir() {
			return name, nil
		}
		dir, name = name, ""
	}
	list, err := journal.Sessions(dir)
	if err != nil {
		return "", err
	}
	if len(list) == 0 && (name == "" || numberErr == nil) {
		return "", noSessions(dir)
	}
	switch {
	case name == "":
		return list[len(list)-1].Path, nil
	case numberErr == nil && nth >= 1 && nth <= len(list):
		return list[len(list)-nth].Path, nil
	case numberErr == nil:
		return "", badInput{fmt.Errorf("session %d is out of range 1…%d: see bedd review --list", nth, len(list))}
	}
	base := strings.TrimSuffix(name, filepath.Ext(name))
	var found []string
	for _, s := range list {
		if s.Name == base || s.Name == name {
			return s.Path, nil
		}
		if strings.HasPrefix(s.Name, name) {
			found = append(found, s.Path)
		}
	}
	switch len(found) {
	case 0:
		return "", badInput{fmt.Errorf("there is no session and no file %q: see bedd review --list", name)}
	case 1:
		return found[0], nil
	}
	return "", badInput{fmt.Errorf("%d sessions begin with %q: write more of the name, see bedd review --list", len(found), name)}
}

// listedSession is a session of a list.
type listedSession struct {
	Number int    `json:"number"`
	Name   string `json:"name"`
	Path   string `json:"path"`
	Began  string `json:"began"` // local time
	Bytes  int64  `json:"bytes"`
	Title  string `json:"title,omitempty"`
	Live   bool   `json:"playing"`
	Fault  string `json:"fault,omitempty"`
}

// listed lists the sessions of the usual folder, or of the one that is named.
func (f *reviewFlags) listed(w io.Writer, args []string) error {
	if len(args) > 1 {
		return badInput{errors.New("--list takes one folder at most")}
	}
	dir, err := journal.DefaultDir()
	if len(args) == 1 {
		dir, err = args[0], nil
		if info, failed := os.Stat(dir); failed != nil || !info.IsDir() {
			return badInput{fmt.Errorf("%s is no folder: --list takes a folder of journals", dir)}
		}
	}
	if err != nil {
		return err
	}
	sessions, err := journal.Sessions(dir)
	if err != nil {
		return err
	}
	list := []listedSession{}
	for i := range sessions {
		s := sessions[len(sessions)-1-i]
		l := listedSession{Number: i + 1, Name: s.Name, Path: s.Path, Began: s.Began.Local().Format("Mon 2 Jan 2006 15:04"), Bytes: s.Size, Live: s.Live}
		if r, err := journal.Open(s.Path); err != nil {
			l.Fault = err.Error()
		} else {
			l.Title = review.Plain(review.Title(r.Header()))
			r.Close()
		}
		list = append(list, l)
	}
	if f.json {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(list)
	}
	if len(list) == 0 {
		return noSessions(dir)
	}
	for _, l := range list {
		about := l.Title
		switch {
		case l.Live:
			about += " (is being played)"
		case l.Fault != "":
			about = "(cannot be read)"
		}
		line := fmt.Sprintf("%3d  %s  %-21s %6d KiB  %s", l.Number, l.Name, l.Began, (l.Bytes+1023)/1024, about)
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " ")); err != nil {
			return err
		}
	}
	return nil
}
