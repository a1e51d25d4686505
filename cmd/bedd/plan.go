package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/progress"
	"bedd/internal/recall"

	"github.com/spf13/cobra"
)

func newPlan() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "Look through the plan of an event before the day",
		Long: `plan looks through a gathering's plan before the day: what could go wrong, which
beds suit each moment and give nothing of the next song away. It takes songs from
scores and chord sheets, and prints pages for the music stand. docs/plan.md, beside
bedd's sources, has all that a plan may say.`,
		Example: `  bedd plan check winter-lights
  bedd plan suggest winter-lights --moment collection
  bedd plan chart winter-lights --html lights.html`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return badInput{fmt.Errorf("there is no command %q: see bedd plan --help", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newPlanCheck(), newPlanSuggest(), newPlanImport(), newPlanChart(), newPlanSchema())
	return cmd
}

// planFlags is what plan's commands work with.
type planFlags struct {
	rigName string
	moment  string
	count   int
	json    bool
	keep    journalFlags

	name    string
	plan    gathering.Gathering
	adviser *gathering.Adviser
}

func (f *planFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.rigName, "rig", "default", "a rig file, or one of "+strings.Join(gathering.RigNames(), ", "))
	flags.BoolVar(&f.json, "json", false, "print JSON")
}

// onePlan is for commands that take a plan.
func onePlan(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return badInput{fmt.Errorf("%s takes one plan, a file or one of %s: see %s --help", cmd.CommandPath(), strings.Join(gathering.GatheringNames(), ", "), cmd.CommandPath())}
	}
	return nil
}

// load reads the plan and the rig.
func (f *planFlags) load(name string) error {
	rig, err := gathering.OpenRig(f.rigName)
	if err != nil {
		return badInput{err}
	}
	library, err := gathering.OpenLibrary("")
	if err != nil {
		return badInput{err}
	}
	f.name = name
	if f.plan, err = gathering.OpenGathering(name, library); err != nil {
		return badInput{err}
	}
	if f.adviser, err = gathering.NewAdviser(rig, library); err != nil {
		return badInput{err}
	}
	return nil
}

func newPlanCheck() *cobra.Command {
	var f planFlags
	cmd := &cobra.Command{
		Use:   "check GATHERING",
		Short: "What could go wrong, worst first",
		Long: `check looks through a plan and the rig for what could go wrong, the worst first:
a bed that is the next song's progression, from any chord on or in disguise; the
song's figure in the bed's top line or on its safe notes; a key or a landing that
jars; a bed too short for its minutes; songs in far keys one after the other; orders
that no switch of the rig gives.

A failure cannot be played so, a trouble is likely to be heard, a remark is worth
knowing. The exit code is 1 where there is a failure or a trouble, 2 where the plan
cannot be read, else 0.`,
		Example: `  bedd plan check winter-lights
  bedd plan check sunday.yaml --rig one-switch --json`,
		Args: onePlan,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.load(args[0]); err != nil {
				return err
			}
			return f.check(cmd.OutOrStdout())
		},
	}
	f.flags(cmd)
	return cmd
}

type foundJSON struct {
	Severity string `json:"severity"`
	Line     int    `json:"line,omitempty"` // of the plan
	About    string `json:"about"`
	Text     string `json:"text"`
	Advice   string `json:"advice,omitempty"`
}

type checkJSON struct {
	Title    string      `json:"title"`
	Failures int         `json:"failures"`
	Troubles int         `json:"troubles"`
	Remarks  int         `json:"remarks"`
	Findings []foundJSON `json:"findings"`
}

func (f *planFlags) check(out io.Writer) error {
	found := f.adviser.Check(&f.plan)
	j := checkJSON{Title: f.plan.Title, Findings: []foundJSON{}}
	for _, x := range found {
		switch x.Severity {
		case gathering.Failure:
			j.Failures++
		case gathering.Trouble:
			j.Troubles++
		default:
			j.Remarks++
		}
		j.Findings = append(j.Findings, foundJSON{x.Severity.String(), x.Line, x.About, x.Text, x.Advice})
	}
	if err := f.writeCheck(out, j); err != nil {
		return err
	}
	if j.Failures+j.Troubles > 0 {
		return fmt.Errorf("%s: %s, %s", f.name, counted(j.Failures, "failure"), counted(j.Troubles, "trouble"))
	}
	return nil
}

func (f *planFlags) writeCheck(out io.Writer, j checkJSON) error {
	if f.json {
		return json.NewEncoder(out).Encode(j)
	}
	var b strings.Builder
	for _, x := range j.Findings {
		fmt.Fprintf(&b, "%-8s ", x.Severity)
		if x.Line > 0 {
			fmt.Fprintf(&b, "%s:%d: ", f.name, x.Line)
		}
		fmt.Fprintf(&b, "%s\n         %s\n", x.About, sentence(x.Text))
		if x.Advice != "" {
			fmt.Fprintf(&b, "         → %s\n", x.Advice)
		}
	}
	if len(j.Findings) == 0 {
		fmt.Fprintf(&b, "%s: nothing found that could go wrong\n", j.Title)
	}
	_, err := io.WriteString(out, b.String())
	return err
}

// sentence begins a text with a capital letter, where it begins with a small one,
// and ends it with a full stop.
func sentence(s string) string {
	if s != "" && 'a' <= s[0] && s[0] <= 'z' {
		s = strings.ToUpper(s[:1]) + s[1:]
	}
	return s + "."
}

func newPlanSuggest() *cobra.Command {
	var f planFlags
	cmd := &cobra.Command{
		Use:   "suggest GATHERING",
		Short: "Beds for each moment, the best first, each with its reason",
		Long: `suggest ranks pairs of home and away for each moment of a plan. It stays in the
moment's key, keeps clear of the next song's progressions, from any chord on and
under common substitutions, and of its figure, of what the moment before has, and
asks for enough chords for the minutes, short ways into the song and voicings that
hardly move. In a key that lies badly under the hands, as the plan says or what was
practised shows, it prefers few and plain chords. The pairs are the library's and what grows from plain functional
harmony by rule: each chord is followed by one that usually or sometimes follows it.

What it prints after home: and away:, or bed:, is what a plan says; "now" is what the
plan has.`,
		Example: `  bedd plan suggest winter-lights
  bedd plan suggest winter-lights --moment collection --count 5
  bedd plan suggest sunday.yaml --json`,
		Args: onePlan,
		RunE: func(cmd *cobra.Command, args []string) error {
			if !(f.count >= 1 && f.count <= 20) {
				return badInput{fmt.Errorf("--count %d is out of range 1…20", f.count)}
			}
			if err := f.load(args[0]); err != nil {
				return err
			}
			f.practised()
			return f.suggest(cmd.OutOrStdout())
		},
	}
	f.flags(cmd)
	cmd.Flags().StringVar(&f.moment, "moment", "", "only this moment, by number or by what it is for")
	cmd.Flags().StringVar(&f.keep.place, "journal", "", "the `FOLDER` of the journals, whose practices tell how keys lie under your hands, or off (default the user's own folder for state)")
	cmd.Flags().IntVar(&f.count, "count", 3, "how many for each moment")
	return cmd
}

type suggestedJSON struct {
	Bed        string   `json:"bed,omitempty"` // the library's name
	Home       string   `json:"home"`
	Away       string   `json:"away"`
	HomeChords []string `json:"home_chords"`
	AwayChords []string `json:"away_chords"`
	Price      float64  `json:"price"`
	Why        string   `json:"why"`
}

type momentJSON struct {
	For         string          `json:"for"`
	Line        int             `json:"line"`
	Key         string          `json:"key"`
	Hands       string          `json:"hands,omitempty"` // how the key lies under them by what was practised
	Next        string          `json:"next,omitempty"`
	NextKey     string          `json:"next_key,omitempty"`
	Now         *suggestedJSON  `json:"now,omitempty"` // what the plan has
	Suggestions []suggestedJSON `json:"suggestions"`
}

// practised takes over how keys lie under the hands by what was practised, where there
// is something and the plan does not say. What cannot be read changes nothing.
func (f *planFlags) practised() {
	dir, err := f.keep.dir(false)
	if err != nil || dir == "" {
		return
	}
	history := progress.Read(dir).Recall()
	if len(history) == 0 {
		return
	}
	var keys []string
	for _, a := range history {
		if !slices.Contains(keys, a.Key) {
			keys = append(keys, a.Key)
		}
	}
	for _, s := range recall.ByKey(recall.Stand(history, recallExercises(""), keys, time.Now())) {
		k, err := pitch.ParseKey(s.Key)
		if e := gathering.Ease(s.Ease()); err == nil && e != gathering.Fair {
			f.plan.Comfort.Practised(k, e)
		}
	}
}

func (f *planFlags) suggest(out io.Writer) error {
	first, last := 0, len(f.plan.Moments)-1
	if f.moment != "" {
		i, err := findMoment(&f.plan, f.moment)
		if err != nil {
			return err
		}
		first, last = i, i
	}
	moments := []momentJSON{}
	for i := first; i <= last; i++ {
		m := f.plan.Moments[i]
		j := momentJSON{For: m.For, Line: m.Line, Key: m.Bed.Key.String(), Suggestions: []suggestedJSON{}}
		if f.plan.Comfort.FromPractice(m.Bed.Key) {
			j.Hands = f.plan.Comfort.Of(m.Bed.Key).String()
		}
		if song, ok := f.plan.Next(i); ok {
			j.Next, j.NextKey = song.Title, song.Key.String()
		}
		if now, ok := f.adviser.Judge(&f.plan, i); ok {
			suggested := suggestionJSON(now)
			j.Now = &suggested
		}
		for _, s := range f.adviser.Suggest(&f.plan, i, f.count) {
			j.Suggestions = append(j.Suggestions, suggestionJSON(s))
		}
		moments = append(moments, j)
	}
	if f.json {
		return json.NewEncoder(out).Encode(map[string]any{"title": f.plan.Title, "moments": moments})
	}
	var b strings.Builder
	for i, j := range moments {
		if i > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s:%d: %s, in %s", f.name, j.Line, j.For, j.Key)
		if j.Next != "" {
			fmt.Fprintf(&b, ", then %s in %s", j.Next, j.NextKey)
		}
		if j.Hands != "" {
			fmt.Fprintf(&b, " (by your practising %s has been %s)", j.Key, j.Hands)
		}
		b.WriteByte('\n')
		if j.Now != nil {
			j.Now.write(&b, "now")
		}
		for n, s := range j.Suggestions {
			s.write(&b, fmt.Sprint(n+1))
		}
	}
	_, err := io.WriteString(out, b.String())
	return err
}

func suggestionJSON(s gathering.Suggestion) suggestedJSON {
	return suggestedJSON{s.Pair, s.Home, s.Away, symbols(s.HomeChords), symbols(s.AwayChords), s.Price, s.Why}
}

// write puts down a suggestion as lines for a plan, and its reason.
func (s suggestedJSON) write(b *strings.Builder, label string) {
	home, away := "home: "+s.Home, "away: "+s.Away
	fmt.Fprintf(b, "  %-3s  ", label)
	if s.Bed != "" {
		fmt.Fprintf(b, "bed: %s\n       ", s.Bed)
		home, away = "# "+home, "# "+away
	}
	width := max(len(home), len(away))
	fmt.Fprintf(b, "%-*s   # %s\n", width, home, strings.Join(s.HomeChords, " "))
	if s.Away != "" {
		fmt.Fprintf(b, "       %-*s   # %s\n", width, away, strings.Join(s.AwayChords, " "))
	}
	fmt.Fprintf(b, "       %s\n", s.Why)
}

func symbols(chords []harmony.Chord) []string {
	list := []string{}
	for _, c := range chords {
		list = append(list, c.Symbol())
	}
	return list
}
