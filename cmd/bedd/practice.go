package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/pitch"
	"bedd/internal/practice"
	"bedd/internal/progress"
	"bedd/internal/recall"
	"bedd/internal/soundcheck"

	"github.com/spf13/cobra"
)

// keptPractices is how many practices are kept: an hour's worth every day for years.
const keptPractices = 5000

type practiceFlags struct {
	play     playFlags
	minutes  float64
	exercise string
	key      string
	level    int
	seed     uint64
	speak    bool
}

func newPractice() *cobra.Command {
	f := &practiceFlags{}
	cmd := &cobra.Command{
		Use:   "practice",
		Short: "Practise at home: every key, the worst first",
		Long: `practice is the partner at home. It sets tasks in all twelve keys, the weakest and
longest unpractised first, plays the bed for them, and says afterwards what went well
and the one thing to do better.

` + exerciseList() + `
Play on any MIDI keyboard (see bedd ports, --in and --out), with the rig's feet and
pedal, or on the computer's keys: 1 to 9 are the key's degrees from middle C up, once
more lets go, 0 lets all go; a s d f g h j are its degrees as a bass; comma or full
stop before one makes it a semitone lower or higher. The rig's keys are the feet and the
pedal: space, tab, up and down unless it says otherwise. A task begins when you strike a
key or step; esc ends it before its time; ? lists all keys.

Every practice is kept in a folder of the journals; bedd practice progress shows how
it goes over the weeks.

Start with the volume down, in headphones above all, and turn it up slowly.`,
		Example: `  bedd practice                             ten minutes of what is needed most
  bedd practice --time 20
  bedd practice --key Db --exercise hold
  bedd practice --in Stage --soundfont piano.sf2
  bedd practice progress`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd) },
	}
	flags, p := cmd.Flags(), &f.play
	flags.Float64Var(&f.minutes, "time", 10, "how many minutes, 1…120")
	flags.StringVar(&f.exercise, "exercise", "", "this exercise alone: "+strings.Join(exerciseNames(), ", "))
	flags.StringVar(&f.key, "key", "", "in this key alone, such as Eb or F#m (default all twelve major keys, the worst first)")
	flags.IntVar(&f.level, "level", 0, "every task at this level, from 1 (default as it went before)")
	flags.Uint64Var(&f.seed, "seed", 0, "choose what is equal by this number (default another one each time)")
	flags.BoolVar(&f.speak, "speak", false, "speak the speaker's words aloud (needs espeak-ng)")
	flags.StringVar(&p.rigName, "rig", "default", "a rig file, or one of "+strings.Join(gathering.RigNames(), ", "))
	flags.StringVar(&p.keep.place, "journal", "", "keep the practice in a folder of this `FOLDER`, or off (default the user's own folder for state)")
	p.ports.flags(cmd)
	p.ports.playFlags(cmd)
	p.choice.flags(cmd)
	flags.BoolVar(&p.noSound, "no-sound", false, "leave the sound card alone")
	flags.BoolVar(&p.lines, "lines", false, "plain lines instead of a picture on all of the terminal")
	flags.IntVar(&p.frames, "frames", 256, "frames in a block of sound: fewer answer faster, more stutter less")
	cmd.AddCommand(newProgress())
	return cmd
}

func exerciseNames() (list []string) {
	for _, e := range practice.Exercises {
		list = append(list, e.Name)
	}
	return list
}

func exerciseList() (s string) {
	for _, e := range practice.Exercises {
		s += fmt.Sprintf("  %-8s %s: %d levels\n", e.Name, e.Title, len(e.Levels))
	}
	return s
}

// recallExercises are the exercises as they are planned, or the one named.
func recallExercises(name string) (list []recall.Exercise) {
	for _, e := range practice.Exercises {
		if name == "" || e.Name == name {
			list = append(list, recall.Exercise{Name: e.Name, Levels: len(e.Levels), Takes: e.Takes})
		}
	}
	return list
}

func (f *practiceFlags) check() error {
	if !(f.minutes >= 1 && f.minutes <= 120) {
		return fmt.Errorf("--time %g is out of range 1…120 minutes", f.minutes)
	}
	if f.key != "" {
		k, err := pitch.ParseKey(f.key)
		if err != nil {
			return fmt.Errorf("--key: %w", err)
		}
		f.key = k.String()
	}
	levels := 0
	for _, e := range practice.Exercises {
		if f.exercise == "" || e.Name == f.exercise {
			levels = max(levels, len(e.Levels))
		}
	}
	if f.exercise != "" {
		if _, err := practice.Find(f.exercise); err != nil {
			return fmt.Errorf("--exercise: %w", err)
		}
	}
	if f.level < 0 || f.level > levels {
		return fmt.Errorf("--level %d is out of range 1…%d", f.level, levels)
	}
	if f.speak {
		return canSpeak()
	}
	return nil
}

func (f *practiceFlags) run(cmd *cobra.Command) error {
	if err := f.check(); err != nil {
		return badInput{err}
	}
	dir, err := f.play.keep.dir(false)
	var history progress.History
	if err == nil && dir != "" {
		history = progress.Read(dir)
		f.play.keep.place = filepath.Join(dir, progress.Folder)
	}
	now := time.Now()
	if f.seed == 0 {
		f.seed = uint64(now.UnixNano())
	}
	var keys []string
	if f.key != "" {
		keys = []string{f.key}
	}
	plan := recall.Plan(history.Recall(), recall.Want{
		Exercises: recallExercises(f.exercise), Keys: keys, Level: f.level, Seed: f.seed,
		Time: time.Duration(f.minutes * float64(time.Minute)),
	}, now)
	l, err := newLesson(plan, f.seed, f.speak)
	if err != nil {
		return err
	}
	l.care = care(history, now, f.minutes)
	l.troubles = history.Troubles
	if err := f.play.openRig(); err != nil {
		return err
	}
	f.play.lesson = l
	f.play.moments, err = l.moments()
	if err != nil {
		return err
	}
	return f.play.run(cmd, nil)
}

// care is the caution of a practice: what part of a day's dose of sound the day's
// practising will have been.
func care(h progress.History, now time.Time, minutes float64) string {
	for _, a := range h.Attempts {
		if y, m, d := a.At.In(now.Location()).Date(); y == now.Year() && m == now.Month() && d == now.Day() {
			minutes += a.Lasted.Minutes()
		}
	}
	return fmt.Sprintf("Volume down first, in headphones above all; then up slowly. By the end you will have practised for %.0f min today: %.0f %% of a day's dose at 85 dB(A), %.0f %% at 94 (NIOSH). Ringing ears are a sign to stop.",
		math.Ceil(minutes), soundcheck.NIOSHDose(85, minutes), soundcheck.NIOSHDose(94, minutes))
}

// lesson is a practice on its way.
type lesson struct {
	partner *practice.Partner
	tasks   []practice.Task
	chosen  []recall.Choice // by task, what it is
	plan    []recall.Choice // what is left after this task
	number  int             // of the tasks that were begun
	of      int
	piano   practice.Piano
	speaker *speaker

	care     string
	troubles []string
	details  bool
	judged   []progress.Attempt // of today
	told     practice.Stage     // in lines, if it spoke
	spoke    bool
}

// newLesson makes the tasks of a plan, and for each that may fail an easier one, which
// stands where it would come.
func newLesson(plan []recall.Choice, seed uint64, speak bool) (*lesson, error) {
	if len(plan) == 0 {
		return nil, errors.New("there is nothing to practise")
	}
	l := &lesson{plan: slices.Clone(plan[1:]), of: len(plan)}
	add := func(c recall.Choice) error {
		if slices.ContainsFunc(l.chosen, func(o recall.Choice) bool { return o.Skill == c.Skill && o.Level == c.Level }) && len(l.chosen) > 1 {
			return nil
		}
		e, err := practice.Find(c.Exercise)
		if err != nil {
			return err
		}
		k, err := pitch.ParseKey(c.Key)
		if err != nil {
			return err
		}
		t, err := e.Set(k, min(c.Level, len(e.Levels)), seed+uint64(len(l.tasks)))
		if err != nil {
			return err
		}
		l.tasks, l.chosen = append(l.tasks, t), append(l.chosen, c)
		return nil
	}
	for i, c := range plan {
		if err := add(c); err != nil {
			return nil, err
		}
		if i > 0 {
			if err := add(easier(plan[i-1])); err != nil {
				return nil, err
			}
		}
	}
	if err := add(easier(plan[len(plan)-1])); err != nil {
		return nil, err
	}
	l.partner = practice.NewPartner(l.tasks)
	if speak {
		l.speaker = &speaker{}
	}
	return l, nil
}

// easier is a choice as it comes again after it failed.
func easier(c recall.Choice) recall.Choice {
	c.Level, c.Why = max(c.Level-1, 1), "once more, a little easier"
	return c
}

func (l *lesson) moments() (list []bed.Moment, err error) {
	for _, t := range l.tasks {
		m, err := t.Moment()
		if err != nil {
			return nil, err
		}
		list = append(list, m)
	}
	return list, nil
}

// inJournal are the tasks as a journal has them.
func (l *lesson) inJournal() (list []json.RawMessage) {
	for _, t := range l.tasks {
		data, err := json.Marshal(t)
		if err != nil { // what an exercise sets can be written
			panic(err)
		}
		list = append(list, data)
	}
	return list
}

// next goes on to the next task, or reports that there is none.
func (l *lesson) next() (more bool) {
	for len(l.plan) > 0 {
		c := l.plan[0]
		l.plan = l.plan[1:]
		for i, o := range l.chosen {
			if o.Skill == c.Skill && o.Level == c.Level {
				l.chosen[i].Why = c.Why
				l.partner.Turn(i)
				return true
			}
		}
	}
	return false
}
