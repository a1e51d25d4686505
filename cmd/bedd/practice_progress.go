package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"time"

	"bedd/internal/pitch"
	"bedd/internal/practice"
	"bedd/internal/progress"
	"bedd/internal/recall"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

func newProgress() *cobra.Command {
	var keep journalFlags
	var html string
	var asJSON bool
	var key string
	weeks := 12
	cmd := &cobra.Command{
		Use:   "progress",
		Short: "How the practising goes: keys, exercises, weeks",
		Long: `progress reads the journals of all practices and shows how strong each key is, around
the circle of fifths, how each exercise went over the weeks, what would come next, and
what was played last. Strength is what was reached, as far as it is likely to be still
there (FSRS 5, a published model of memory).`,
		Example: `  bedd practice progress
  bedd practice progress --key Eb
  bedd practice progress --weeks 26 --html practice.html`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if weeks < 1 || weeks > 520 {
				return badInput{fmt.Errorf("--weeks %d is out of range 1…520", weeks)}
			}
			if key != "" {
				k, err := pitch.ParseKey(key)
				if err != nil {
					return badInput{fmt.Errorf("--key: %w", err)}
				}
				key = k.String()
			}
			if html != "" {
				if err := checkOutputs("", output{"--html", html}); err != nil {
					return err
				}
			}
			if keep.place == noJournal {
				return badInput{fmt.Errorf("--journal off has no practices to show: name the folder of the journals")}
			}
			dir, err := keep.dir(false)
			if err != nil {
				return err
			}
			now := time.Now()
			s := progress.Sum(progress.Read(dir), progress.Want{Exercises: exercisesByTitle(), Key: key, Weeks: weeks}, now)
			return showProgress(cmd.OutOrStdout(), s, html, asJSON, now)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&keep.place, "journal", "", "the `FOLDER` of the journals (default the user's own folder for state)")
	flags.StringVar(&html, "html", "", "write a page with pictures to this `file`, for a browser and for A4 paper")
	flags.BoolVar(&asJSON, "json", false, "print JSON")
	flags.StringVar(&key, "key", "", "this key alone, such as Eb or F#m (default all)")
	flags.IntVar(&weeks, "weeks", weeks, "how many weeks")
	return cmd
}

func exercisesByTitle() (list []progress.Exercise) {
	for _, e := range practice.Exercises {
		list = append(list, progress.Exercise{Exercise: recall.Exercise{Name: e.Name, Levels: len(e.Levels), Takes: e.Takes}, Title: e.Title})
	}
	return list
}

func showProgress(out io.Writer, s progress.Summary, html string, asJSON bool, now time.Time) error {
	if html != "" {
		if err := wholefile.Write(html, func(w *os.File) error { return s.Page(w, now) }); err != nil {
			return err
		}
		fmt.Fprintln(out, "wrote "+html)
		if !asJSON {
			return nil
		}
	}
	if asJSON {
		return json.NewEncoder(out).Encode(s)
	}
	if s.Tasks == 0 && len(s.Troubles) == 0 && s.Only != "" {
		_, err := fmt.Fprintf(out, "nothing was practised in %s yet: bedd practice --key %[1]s begins\n", s.Only)
		return err
	}
	if s.Tasks == 0 && len(s.Troubles) == 0 {
		_, err := fmt.Fprintln(out, "nothing was practised yet: bedd practice begins, ten minutes of what is needed most")
		return err
	}
	_, err := io.WriteString(out, s.Text(now))
	return err
}
