package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

func encodeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// laterStep is a step that sounds or measures, as a command of its own.
type laterStep struct {
	what string
	cmd  func() *cobra.Command
	args []string
}

// later are the steps after the rig, in their order.
func (f *walkFlags) later() []laterStep {
	page := strings.TrimSuffix(f.rig, filepath.Ext(f.rig)) + ".desk.html"
	return []laterStep{
		{"how far under a voice the bed should be", newWords, []string{"--rig", f.rig, "--keep", f.keep}},
		{"the bed against the piano, by meter", newLevels, []string{"--rig", f.rig, "--keep", f.keep}},
		{"the page for the desk", newDeskReport, []string{"--rig", f.rig, "--keep", f.keep, "--html", page}},
	}
}

// after offers those steps, or, where no words can come, tells how they are called.
func (f *walkFlags) after(talk *os.File, words <-chan string) error {
	fmt.Fprintln(talk, "\nthen, each by itself:")
	for _, l := range f.later() {
		fmt.Fprintf(talk, "  bedd soundcheck %s %s\n", l.cmd().Name(), strings.Join(l.args, " "))
	}
	fmt.Fprintln(talk, "  bedd soundcheck trip --out NAME --in NAME   with a cable from a MIDI OUT to a MIDI IN")
	if words == nil {
		return nil
	}
	for _, l := range f.later() {
		fmt.Fprintf(talk, "\n%s: enter does it, s skips, q ends ▸ ", l.what)
		word, more := <-words
		if !more || word == "q" {
			return nil
		}
		switch word {
		case "", "y", "yes":
			cmd := l.cmd()
			cmd.SetArgs(l.args)
			cmd.SetOut(talk)
			cmd.SilenceErrors, cmd.SilenceUsage = true, true
			if err := cmd.Execute(); err != nil {
				fmt.Fprintln(talk, err)
			}
		}
	}
	return nil
}
