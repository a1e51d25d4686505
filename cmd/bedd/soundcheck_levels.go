package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"bedd/internal/soundcheck"

	"github.com/spf13/cobra"
)

type levelsFlags struct {
	material
	choice instrumentFlags
	play   bool
	frames int
	wav    string
	under  float64
	write  string
	dBA    float64
	hours  float64
	kept   kept
	json   bool
}

func newLevels() *cobra.Command {
	var f levelsFlags
	cmd := &cobra.Command{
		Use:   "levels [PLAN]",
		Short: "The bed against the piano, by meter and by ear",
		Long: `levels sounds bedd's own piano and the rig's bed, each by itself, and reads their loudness
(ITU-R BS.1770): the bed from heel to toe, under the ceiling that nothing may pass
(level: {ceiling: …} in the rig).

--under 6 finds the ceiling under which the bed at the toe is 6 LU under the piano as you
usually strike it, and --write puts that into the rig: only that changes in the file, and
what was there is kept beside it.

With --play you hear it on the sound card: a phrase on the piano alone, then the bed under
it, rising from heel to toe, forty seconds in all, the whole rising from nothing in the first
five; --wav writes the same into a file. With
--dba, what a sound level meter reads where you sit, it says for how long that is safe.`,
		Example: `  bedd soundcheck levels
  bedd soundcheck levels --rig saltmere --play
  bedd soundcheck levels --rig my-rig.yaml --under 6 --write my-rig.yaml
  bedd soundcheck levels --dba 88 --hours 3`,
		Args: atMostOnePlan,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	f.flags(cmd)
	flags := cmd.Flags()
	f.choice.flags(cmd)
	flags.BoolVar(&f.play, "play", false, "let it be heard, on the sound card")
	flags.IntVar(&f.frames, "frames", 256, "frames in a block of sound")
	flags.StringVar(&f.wav, "wav", "", "write what --play plays here, as WAV")
	flags.Float64Var(&f.under, "under", 0, "find the ceiling that keeps the bed this far under the piano as usual, LU, -20…40")
	flags.StringVar(&f.write, "write", "", "write the rig with that ceiling to this `file`, which may be the rig's own; what was there is kept")
	flags.Float64Var(&f.dBA, "dba", 0, "a sound level meter's reading, dB(A), 60…130")
	flags.Float64Var(&f.hours, "hours", 2, "and for how many hours a day, 0.1…24")
	f.kept.flags(cmd)
	flags.BoolVar(&f.json, "json", false, "print JSON")
	return cmd
}

func (f *levelsFlags) run(cmd *cobra.Command, args []string) error {
	if err := f.load(cmd, args); err != nil {
		return err
	}
	set := cmd.Flags().Changed
	switch {
	case set("dba") && !(f.dBA >= 60 && f.dBA <= 130):
		return badInput{fmt.Errorf("--dba %g is out of range 60…130", f.dBA)}
	case !(f.hours >= 0.1 && f.hours <= 24):
		return badInput{fmt.Errorf("--hours %g is out of range 0.1…24", f.hours)}
	case set("under") && !(f.under >= -20 && f.under <= 40):
		return badInput{fmt.Errorf("--under %g is out of range -20…40", f.under)}
	case f.write != "" && !set("under"):
		return badInput{errors.New("--write goes with --under, how far the bed is to stay under the piano")}
	case set("hours") && !set("dba"):
		return badInput{errors.New("--hours goes with --dba, the level that lasts so long")}
	}
	if err := checkFrames(f.frames); err != nil {
		return err
	}
	if err := f.choice.check(); err != nil {
		return err
	}
	if _, err := f.kept.check(); err != nil {
		return err
	}
	if err := checkOutputs("", output{"--wav", f.wav}, output{"--write", f.write}, output{"--keep", f.kept.path}); err != nil {
		return err
	}
	moment := f.moments[f.rig.Bed.First]
	render := f.choice.renderer(f.rig)
	levels, err := soundcheck.Levels(f.rig, moment, render)
	if errors.Is(err, soundcheck.ErrShared) {
		return badInput{err}
	}
	if err != nil {
		return err
	}
	if set("under") {
		ceiling, err := soundcheck.CeilingUnderPiano(f.rig, moment, levels, f.under, render)
		switch {
		case err == nil:
			levels.Advised = &ceiling
		case !errors.Is(err, soundcheck.ErrNoCeiling) || f.write != "":
			return err
		}
		levels.LeastUnder = &f.under
	}
	if err := f.kept.save(f.rig, func(r *soundcheck.Record) { r.Levels = &levels }); err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if f.json {
		err = f.levelsJSON(out, levels)
	} else {
		err = f.levelsText(out, levels)
	}
	if err != nil {
		return err
	}
	if f.write != "" {
		if err := writeRig(cmd.ErrOrStderr(), f.rigName, f.write, levels.Settings()); err != nil {
			return err
		}
	}
	if f.wav == "" && !f.play {
		return nil
	}
	events, err := soundcheck.ByEar(f.rig, moment)
	if err != nil {
		return err
	}
	if f.wav != "" {
		if err := writeSound(f.wav, events, render); err != nil {
			return err
		}
	}
	if f.play {
		return f.heard(out, events, render)
	}
	return nil
}

// exposure is what a level means for ears.
type exposure struct {
	DBA       float64 `json:"dba"`
	Hours     float64 `json:"hours"`
	Minutes   float64 `json:"niosh_minutes_a_day"`
	Dose      float64 `json:"niosh_dose_percent"`
	Average   float64 `json:"niosh_twa_dba"`
	Headphone float64 `json:"h870_headphone_hours_a_week"`
	Sensitive float64 `json:"h870_sensitive_hours_a_week"`
}

func (f *levelsFlags) exposure() *exposure {
	if f.dBA == 0 {
		return nil
	}
	dose := soundcheck.NIOSHDose(f.dBA, 60*f.hours)
	return &exposure{f.dBA, f.hours, soundcheck.NIOSHMinutes(f.dBA), dose, soundcheck.NIOSHAverage(dose),
		soundcheck.WeeklyHours(f.dBA, soundcheck.AdultDose), soundcheck.WeeklyHours(f.dBA, soundcheck.SensitiveDose)}
}

func (f *levelsFlags) levelsJSON(w io.Writer, l soundcheck.LevelsRecord) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(struct {
		soundcheck.LevelsRecord
		Exposure *exposure `json:"exposure,omitempty"`
	}{l, f.exposure()})
}

func (f *levelsFlags) levelsText(w io.Writer, l soundcheck.LevelsRecord) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "by itself\tloudness\ttrue peak\tagainst the piano as usual")
	for _, p := range l.Piano {
		fmt.Fprintf(t, "%s\t%.1f LUFS\t%.1f dBTP\t\n", p.Name, p.LUFS, p.PeakDB)
	}
	for _, b := range l.Bed {
		fmt.Fprintf(t, "%s\t%.1f LUFS\t%.1f dBTP\t%s\n", b.Name, b.LUFS, b.PeakDB, underText(b.Under))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "\nceiling %g dB: nothing that feet, hands or plan ask for passes it (level: {ceiling: …} in the rig)\n", l.Ceiling)
	if l.LeastUnder != nil {
		advice := "the bed at the toe stays " + soundcheck.UnderText(*l.LeastUnder, "LU") + " the piano as usual "
		switch {
		case l.Advised == nil:
			advice = fmt.Sprintf("%v: no ceiling keeps the bed %s the piano", soundcheck.ErrNoCeiling, soundcheck.UnderText(*l.LeastUnder, "LU"))
		case *l.Advised == l.Ceiling:
			advice += "as it is"
		default:
			advice += fmt.Sprintf("with level: {ceiling: %gdB} (--write FILE)", *l.Advised)
		}
		fmt.Fprintln(w, folded("", advice))
	}
	fmt.Fprintln(w, "1 kHz at -18 dBFS for the desk: bedd tone")
	if e := f.exposure(); e != nil {
		fmt.Fprintf(w, "\n%g dB(A) for %g h: %.0f %% of a day's dose (NIOSH), as %.1f dB(A) over eight hours; %s a day are the limit\n", e.DBA, e.Hours, e.Dose, e.Average, soundcheck.Duration(e.Minutes))
		fmt.Fprintf(w, "through headphones (WHO-ITU H.870): %s a week, %s for children and other sensitive listeners\n", soundcheck.Duration(60*e.Headphone), soundcheck.Duration(60*e.Sensitive))
	}
	cautions(w)
	return nil
}
