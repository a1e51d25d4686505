package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"

	"github.com/spf13/cobra"
)

type voiceFlags struct {
	key       string
	voices    int
	stillness float64
	loop      bool
	plain     bool
	by        string
	weight    string
	span      string
	from      string
	colours   int
	ladder    string
	colour    string
	pedal     string
	hand      string
	json      bool
}

func newVoice() *cobra.Command {
	var f voiceFlags
	d := voicing.DefaultSettings()
	cmd := &cobra.Command{
		Use:   `voice "CHORDS"`,
		Short: "Voice a progression and show what each step costs",
		Long: `voice finds the voicing path of least cost for a progression: chords by name,
degrees of the key, or both. Within the range, the rules and the colours allowed no
other choice of notes costs less; if the search grows too long for that to be
certain, it says that the path is not proved. --json prints every part of each
step's cost, and by.weights how dear each part is; --weight changes some of them,
--by movement sets all to 0 but that of movement, which is 1.

--ladder voices each chord thin to full, every voicing contained in the next, so
that all numbers of voices together cost least, and shows what the nesting costs
against the best path for each number by itself.

At stillness 1 one set of upper notes lies under every chord, with any number of
colours; a chord that it would mislead about departs from it by the least that
helps. With --plain, --colours 0 or --colour plain there is no such set, and every
chord keeps what it can of the one before. Safe notes are for
the right hand: those that rest on the chord and the next, those that rest on
this one, and neighbours with where they resolve.`,
		Example: `  bedd voice "C F Am Dm"
  bedd voice "1 4 6m 2m" --key Eb --stillness 1 --loop
  bedd voice "1 4 6m 2m" --loop --ladder 3-6
  bedd voice "1 4 6m 2m" --loop --weight double=2,roughness=3
  bedd voice "1 4 6m 5" --colour "9 6" --pedal-point tonic
  bedd voice "C Am" --plain --voices 3 --stillness 0 --by movement --json`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return badInput{fmt.Errorf("voice takes one progression in quotes, such as bedd voice \"C F Am Dm\"")}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if f.ladder != "" && cmd.Flags().Changed("voices") {
				return badInput{fmt.Errorf("--voices and --ladder exclude each other: a ladder has every number of voices from its fewest to its most")}
			}
			return f.run(cmd.OutOrStdout(), args[0])
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.key, "key", "C", "the key, for degrees, colours and spelling")
	flags.IntVar(&f.voices, "voices", d.Voices, "number of upper notes, without the bass")
	flags.Float64Var(&f.stillness, "stillness", d.Stillness, "how strongly the upper notes stay, 0 free to 1 only the bass moves")
	flags.BoolVar(&f.loop, "loop", false, "the last chord leads to the first")
	flags.BoolVar(&f.plain, "plain", false, "chord tones only, each once where there are as many voices")
	flags.StringVar(&f.by, "by", "cost", "what to keep small: cost, or movement alone")
	flags.StringVar(&f.weight, "weight", "", "how dear a part of the cost is, such as movement=2,roughness=0, instead of what --by says")
	flags.StringVar(&f.span, "range", span(d.Low, d.High), "lowest and highest upper note")
	flags.StringVar(&f.from, "from", "", "notes that sound before, bass first, such as \"36 60 64 67\"")
	flags.IntVar(&f.colours, "colours", d.Colours, "how many notes of the key a chord may be given besides its own")
	flags.StringVar(&f.ladder, "ladder", "", "fewest and most upper notes of a ladder, such as 3-6, instead of --voices")
	flags.StringVar(&f.colour, "colour", d.Palette.String(), "which: any, plain, or some of 9 11 6 7; sus suspends the thirds, open leaves them out")
	flags.StringVar(&f.pedal, "pedal-point", d.PedalPoint.String(), "the bass under every chord: tonic, dominant, or none for each chord's own")
	flags.StringVar(&f.hand, "hand", "C4-C6", "where the right hand plays, for its safe notes")
	flags.BoolVar(&f.json, "json", false, "print JSON")
	return cmd
}

func span(low, high uint8) string {
	return pitch.NoteName(int(low), pitch.Key{}) + "-" + pitch.NoteName(int(high), pitch.Key{})
}

func (f *voiceFlags) run(out io.Writer, progression string) error {
	key, err := pitch.ParseKey(f.key)
	if err != nil {
		return badInput{fmt.Errorf("--key: %w", err)}
	}
	chords, err := harmony.ParseProgression(progression, key, harmony.FromTonic)
	if err != nil {
		return badInput{err}
	}
	s := voicing.DefaultSettings()
	s.Voices, s.Thin, s.Full = f.voices, f.voices, f.voices
	if f.ladder != "" {
		if s.Thin, s.Full, err = parseLadder(f.ladder); err != nil {
			return badInput{fmt.Errorf("--ladder: %w", err)}
		}
		s.Voices = min(max(s.Thin, voicing.DefaultSettings().Voices), s.Full)
	}
	s.Stillness, s.Plain, s.Colours = f.stillness, f.plain, f.colours
	if s.Low, s.High, err = parseSpan(f.span); err != nil {
		return badInput{fmt.Errorf("--range: %w", err)}
	}
	s.Centre = float64(int(s.Low)+int(s.High)) / 2
	if s.Palette, err = voicing.ParsePalette(f.colour); err != nil {
		return badInput{fmt.Errorf("--colour: %w", err)}
	}
	if s.PedalPoint, err = voicing.ParsePedalPoint(f.pedal); err != nil {
		return badInput{fmt.Errorf("--pedal-point: %w", err)}
	}
	low, high, err := parseSpan(f.hand)
	if err == nil && low > high {
		err = fmt.Errorf("%s is empty", f.hand)
	}
	if err != nil {
		return badInput{fmt.Errorf("--hand: %w", err)}
	}
	switch f.by {
	case "cost":
	case "movement":
		s.Weights = voicing.MovementOnly()
	default:
		return badInput{fmt.Errorf("--by %q is not known: use cost or movement", f.by)}
	}
	if f.weight != "" {
		if s.Weights, err = voicing.ParseWeights(f.weight, s.Weights); err != nil {
			return badInput{fmt.Errorf("--weight: %w", err)}
		}
	}
	from, err := parseFrom(f.from)
	if err != nil {
		return badInput{fmt.Errorf("--from: %w", err)}
	}
	if from != nil && f.loop {
		return badInput{fmt.Errorf("--from and --loop exclude each other: a loop comes from its own last chord")}
	}
	e, err := voicing.New(s)
	if err != nil {
		return badInput{err}
	}
	if f.ladder != "" {
		n, err := e.Nest(chords, key, f.loop, from)
		if err != nil {
			return badInput{err}
		}
		if f.json {
			return json.NewEncoder(out).Encode(ladderJSON(n, chords, key, f.loop, e.Settings()))
		}
		return ladderText(out, n, chords, key, e.Settings())
	}
	p, err := e.Path(chords, key, f.loop, from)
	if err != nil {
		return badInput{err}
	}
	safe := safeNotes(p, key, low, high)
	if f.json {
		voiced := voiceJSON(p, safe, key, e.Settings())
		if from != nil {
			voiced.From = append([]int{int(from.Bass)}, numbers(from.Pitches())...)
		}
		return json.NewEncoder(out).Encode(voiced)
	}
	return voiceText(out, p, safe, key, e.Settings())
}

func parseSpan(s string) (low, high uint8, err error) {
	a, b, ok := strings.Cut(s, "-")
	if !ok {
		return 0, 0, fmt.Errorf("%q is not two notes with a - between them, such as C3-C6", s)
	}
	l, err := pitch.ParseNote(strings.TrimSpace(a))
	if err != nil {
		return 0, 0, err
	}
	h, err := pitch.ParseNote(strings.TrimSpace(b))
	if err != nil {
		return 0, 0, err
	}
	return uint8(l), uint8(h), nil
}

func parseFrom(s string) (*voicing.Voicing, error) {
	fields := strings.Fields(s)
	if len(fields) == 0 {
		return nil, nil
	}
	var notes []uint8
	for _, field := range fields {
		var n int
		if _, err := fmt.Sscanf(field, "%d", &n); err != nil || fmt.Sprint(n) != field {
			var err error
			if n, err = pitch.ParseNote(field); err != nil {
				return nil, err
			}
		}
		if n < 1 || n > 127 {
			return nil, fmt.Errorf("note %d is out of range 1…127", n)
		}
		if k := len(notes); k > 0 && uint8(n) <= notes[k-1] {
			return nil, fmt.Errorf("the notes do not ascend: %s", s)
		}
		notes = append(notes, uint8(n))
	}
	if len(notes) < 2 || len(notes) > 1+voicing.MaxUpper {
		return nil, fmt.Errorf("a bass and 1…%d upper notes are needed, not %d notes", voicing.MaxUpper, len(notes))
	}
	v := voicing.Of(notes[0], notes[1:]...)
	return &v, nil
}

type voicedStep struct {
	Chord    string       `json:"chord"`
	Degree   string       `json:"degree"`
	Bass     int          `json:"bass"`
	Upper    []int        `json:"upper"`
	Held     []int        `json:"held"`
	Struck   []int        `json:"struck"`
	Released []int        `json:"released"`
	Movement int          `json:"movement"`
	Missing  []string     `json:"missing"`
	Departs  string       `json:"departs"` // at stillness 1: why the chord leaves the static set
	Safe     []safeNote   `json:"safe,omitempty"`
	Cost     voicing.Cost `json:"cost"`
}

// voicedBy is what the costs depend on besides the notes.
type voicedBy struct {
	Stillness  float64         `json:"stillness"`
	K          float64         `json:"k"`      // what stillness multiplies the price of moving by
	Centre     float64         `json:"centre"` // note number
	Range      [2]uint8        `json:"range"`  // of the upper notes
	Colours    int             `json:"colours"`
	Colour     string          `json:"colour"`
	PedalPoint string          `json:"pedal_point"`
	Plain      bool            `json:"plain"`
	Weights    voicing.Weights `json:"weights"`
}

func settled(s voicing.Settings) voicedBy {
	return voicedBy{s.Stillness, s.MovingCosts(), s.Centre, [2]uint8{s.Low, s.High}, s.Colours, s.Palette.String(), s.PedalPoint.String(), s.Plain, s.Weights}
}

type voicedPath struct {
	Key      string       `json:"key"`
	By       voicedBy     `json:"by"`
	Loop     bool         `json:"loop"`
	From     []int        `json:"from,omitempty"` // what sounded before the first chord, bass first
	Proved   bool         `json:"proved"`
	Static   []int        `json:"static"` // at stillness 1: the upper notes that stay
	Steps    []voicedStep `json:"steps"`
	Movement int          `json:"movement"`
	Cost     voicing.Cost `json:"cost"`
}

func voiceJSON(p voicing.Path, safe [][]voicing.SafeNote, key pitch.Key, by voicing.Settings) voicedPath {
	return voicedPath{Key: key.String(), By: settled(by), Loop: p.Loop, Proved: p.Proved, Static: numbers(p.Static),
		Steps: voicedSteps(p, safe, key), Movement: p.Movement, Cost: p.Cost}
}

// voicedSteps lists the steps of a path; safe is nil where safe notes are not asked.
func voicedSteps(p voicing.Path, safe [][]voicing.SafeNote, key pitch.Key) (out []voicedStep) {
	for i, s := range p.Steps {
		var rest []safeNote
		if safe != nil {
			rest = safeJSON(safe[i])
		}
		out = append(out, voicedStep{
			Chord: s.Chord.Symbol(), Degree: s.Chord.Degree(key), Bass: int(s.Voicing.Bass),
			Upper: numbers(s.Voicing.Pitches()), Held: numbers(s.Held), Struck: numbers(s.Struck),
			Released: numbers(s.Released), Movement: s.Movement, Missing: spelled(s.Chord, s.Missing, key),
			Departs: s.Trouble.String(), Safe: rest, Cost: s.Cost,
		})
	}
	return out
}

func numbers(p voicing.Pitches) []int {
	out := []int{}
	for _, n := range p.Append(nil) {
		out = append(out, int(n))
	}
	return out
}

// noteName spells a note as its chord does.
func noteName(c harmony.Chord, note uint8, key pitch.Key) string {
	return c.Spell(pitch.ClassOf(int(note)), key).Note(int(note))
}

func spelled(chord harmony.Chord, s pitch.Set, key pitch.Key) []string {
	out := []string{}
	for c := range pitch.Class(12) {
		if s.Has(c) {
			out = append(out, chord.Spell(c, key).String())
		}
	}
	return out
}

func voiceText(out io.Writer, p voicing.Path, safe [][]voicing.SafeNote, key pitch.Key, by voicing.Settings) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "chord\tdegree\tbass\tupper (= held, + new)\tmoves\tcost\tmissing\tsafe: on both | on this | on the way")
	for i, s := range p.Steps {
		var upper []string
		for _, n := range s.Voicing.Notes() {
			sign := "+"
			if s.Held.Has(n) {
				sign = "="
			}
			upper = append(upper, sign+noteName(s.Chord, n, key))
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%d\t%.2f\t%s\t%s\n", s.Chord.Symbol(), s.Chord.Degree(key),
			noteName(s.Chord, s.Voicing.Bass, key), strings.Join(upper, " "), s.Movement, s.Cost.Total,
			strings.Join(spelled(s.Chord, s.Missing, key), " "), safeText(s.Chord, safe[i], key))
	}
	fmt.Fprintf(w, "\t\t\ttotal\t%d\t%.2f\t\t\n", p.Movement, p.Cost.Total)
	if err := w.Flush(); err != nil {
		return err
	}
	if !p.Proved {
		fmt.Fprintln(out, notProved)
	}
	return departures(out, p, key, by)
}

// departures says at stillness 1 what stays, and which chord departs and why.
func departures(out io.Writer, p voicing.Path, key pitch.Key, by voicing.Settings) (err error) {
	if p.Static == (voicing.Pitches{}) {
		if by.Stillness == 1 {
			_, err = fmt.Fprintf(out, "stays: no one set of notes, for want of colours or of range; every chord keeps what it can, as at stillness %v\n", voicing.NearStill)
		}
		return err
	}
	var notes []string
	for _, n := range p.Static.Append(nil) {
		notes = append(notes, pitch.NoteName(int(n), key))
	}
	lines := "stays: " + strings.Join(notes, " ") + "\n"
	for _, s := range p.Steps {
		if s.Trouble != voicing.Clear {
			lines += fmt.Sprintf("departs: %s, over which it %s\n", s.Chord.Symbol(), s.Trouble)
		}
	}
	_, err = io.WriteString(out, lines)
	return err
}

const notProved = "not proved: it is not certain that nothing else costs less"
