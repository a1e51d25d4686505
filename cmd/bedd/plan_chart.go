package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"bedd/internal/chart"
	"bedd/internal/gathering"
	"bedd/internal/pitch"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

type chartFlags struct {
	rigName string
	moment  string
	key     string
	html    string
	text    bool
}

func newPlanChart() *cobra.Command {
	var f chartFlags
	cmd := &cobra.Command{
		Use:   "chart GATHERING",
		Short: "Pages for the music stand, one a moment",
		Long: `chart prints what you play for each moment: key, chords by name and degree, the
bed's notes with those marked that are held, what is safe for the right hand, the
way into the next song from every chord, and what to keep out of the bed since it
would give the song away. Before the moments stands the order of the whole plan.

With --html it writes pages for A4 or Letter, to open in a browser and print; chords
are large enough to be read from the stand. Without it, plain text.`,
		Example: `  bedd plan chart winter-lights --html lights.html
  bedd plan chart winter-lights --moment collection --key Db
  bedd plan chart winter-lights --moment 1 --key all --html practice.html`,
		Args: onePlan,
		RunE: func(cmd *cobra.Command, args []string) error {
			return f.run(args[0], cmd.OutOrStdout())
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.rigName, "rig", "default", "a rig file, or one of "+strings.Join(gathering.RigNames(), ", "))
	flags.StringVar(&f.moment, "moment", "", "only this moment, by number or by what it is for")
	flags.StringVar(&f.key, "key", "", "another key for practice, such as Db, or all for all twelve")
	flags.StringVar(&f.html, "html", "", "write pages to print to this file, or to - for standard output")
	flags.BoolVar(&f.text, "text", false, "plain text, which is printed without --html too")
	return cmd
}

func (f *chartFlags) run(name string, out io.Writer) error {
	if f.text && f.html == "-" {
		return badInput{errors.New("--text and --html - both go to standard output: leave one out, or name a file")}
	}
	rig, err := gathering.OpenRig(f.rigName)
	if err != nil {
		return badInput{err}
	}
	library, err := gathering.OpenLibrary("")
	if err != nil {
		return badInput{err}
	}
	g, err := gathering.OpenGathering(name, library)
	if err != nil {
		return badInput{err}
	}
	maker, err := chart.NewMaker(rig)
	if err != nil {
		return badInput{err}
	}
	charts, err := f.charts(maker, &g)
	if err != nil {
		return err
	}
	order := &g
	if f.moment != "" || f.key != "" {
		order = nil
	}
	if f.html == "" || f.text {
		if order != nil {
			if err := chart.WriteOrder(out, order); err != nil {
				return err
			}
			fmt.Fprintln(out)
		}
		if err := chart.WriteText(out, charts); err != nil {
			return err
		}
	}
	switch f.html {
	case "":
		return nil
	case "-":
		return chart.WriteHTML(out, g.Title, order, charts)
	}
	return wholefile.Write(f.html, func(to *os.File) error { return chart.WriteHTML(to, g.Title, order, charts) })
}

// charts are those that are asked for, in the order of the plan and of the keys.
func (f *chartFlags) charts(maker *chart.Maker, g *gathering.Gathering) (charts []chart.Chart, err error) {
	moments := make([]int, len(g.Moments))
	for i := range moments {
		moments[i] = i
	}
	if f.moment != "" {
		i, err := findMoment(g, f.moment)
		if err != nil {
			return nil, err
		}
		moments = []int{i}
	}
	for _, i := range moments {
		keys, err := f.keys(g.Moments[i])
		if err != nil {
			return nil, err
		}
		for _, k := range keys {
			c, err := maker.Chart(g, i, k)
			if err != nil {
				return nil, badInput{err}
			}
			charts = append(charts, c)
		}
	}
	return charts, nil
}

// keys are those in which a moment is asked for; nil is the plan's own.
func (f *chartFlags) keys(m gathering.Moment) ([]*pitch.Key, error) {
	switch f.key {
	case "":
		return []*pitch.Key{nil}, nil
	case "all":
		var keys []*pitch.Key
		for _, k := range chart.AllKeys(m.Bed.Key.Minor) {
			keys = append(keys, &k)
		}
		return keys, nil
	}
	k, err := pitch.ParseKey(f.key)
	if err != nil {
		return nil, badInput{fmt.Errorf("--key: %w", err)}
	}
	if k.Minor && !m.Bed.Key.Minor {
		return nil, badInput{fmt.Errorf("--key %s: %q is in %v, which is major: name a major key, or all", f.key, m.For, m.Bed.Key)}
	}
	return []*pitch.Key{&k}, nil
}
