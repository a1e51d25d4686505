package bed

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Config settles a bed once and for all; start from [DefaultConfig].
type Config struct {
	Moments  []Moment // at least one
	First    int      // the moment to begin with, 0…
	Songs    []Song   // of the plan, at most MaxSongs
	Voicing  voicing.Settings
	Pedal    dynamics.Pedal
	Feel     dynamics.Feel
	Velocity uint8 // of every strike, 1…127: level and layers carry the expression

	// What goes with intensity.
	Balance    dynamics.Balance
	Brightness dynamics.Brightness
	Lift       uint8   // semitones by which the upper notes' range and centre rise, 0…MaxLift; at stillness 1 they stay
	LiftFrom   float64 // intensity from which it does, 0…1
	SameVoices bool    // keep to Voicing.Voices
	NoLevel    bool    // send no levels: the bed begins and ends at once

	BringIn time.Duration // from nothing to the level asked for
	Fade    time.Duration // from full level to nothing
	Leave   time.Duration // the same, for out now
	Overlap time.Duration // how long an old note goes on beside its successor, at least MinOverlap
	Stagger time.Duration // least time between two changes of density

	Split  uint8          // notes below it are the left hand, for follow
	Steady time.Duration  // how long the left hand must rest to be followed
	Pace   time.Duration  // least time between two followed chords
	Ending harmony.Ending // into the next song, where the moment has none of its own
	Walk   time.Duration  // from chord to chord where a landing or a key change walks by itself
	Thin   time.Duration  // from the song's first chord until the bed thins out, or 0: it does not
	Hands  time.Duration  // how long the hands play in the song until the bed fades by itself, or 0: it never does

	Nudge float64 // what LevelUp and LevelDown add to and take from intensity

	Arms []Command // what Arm goes round before it comes back to nothing special
}

// MinOverlap keeps the end of a note apart from the start of its successor in
// a file of any common resolution.
const MinOverlap = 20 * time.Millisecond

// DefaultConfig has everything but moments. Times are by ear.
func DefaultConfig() Config {
	return Config{
		Voicing: voicing.DefaultSettings(),
		Pedal:   dynamics.DefaultPedal(),
		Feel:    dynamics.DefaultFeel(),

		Balance:    dynamics.DefaultBalance(),
		Brightness: dynamics.DefaultBrightness(),
		Lift:       5,
		LiftFrom:   0.65,

		Velocity: 64,
		BringIn:  3 * time.Second,
		Fade:     6 * time.Second,
		Leave:    500 * time.Millisecond,
		Overlap:  120 * time.Millisecond,
		Stagger:  dynamics.DefaultStagger,
		Split:    60,
		Steady:   250 * time.Millisecond,
		Pace:     1500 * time.Millisecond,
		Walk:     4 * time.Second,
		Thin:     8 * time.Second,
		Nudge:    0.1,
		Arms:     []Command{Swap, Land},
	}
}

// Moment is an item of the plan that needs a bed.
type Moment struct {
	Key       pitch.Key
	Home      []harmony.Chord // at least one, at most MaxChords
	Away      []harmony.Chord // may be empty
	Intensity float64         // what the plan asks for, 0…1
	NextKey   pitch.Key       // the next song's key
	NextChord harmony.Chord   // its first chord; the zero Chord where no song follows
	NextSong  int             // its number in the configuration's Songs, from 1; 0 or beyond them where it is not among them
	OwnEnding bool            // Ending counts, not the configuration's
	Ending    harmony.Ending
}

// MaxChords is the longest progression. A key change voices both progressions
// anew, which takes its time (BenchmarkKeyChange measures it; the piano goes
// through all the same), so they may not be of any length.
const MaxChords = 16

func (c *Config) check() error {
	if len(c.Moments) == 0 {
		return fmt.Errorf("a bed needs at least one moment")
	}
	if len(c.Moments) > 256 {
		return fmt.Errorf("%d moments are more than 256", len(c.Moments))
	}
	if c.First < 0 || c.First >= len(c.Moments) {
		return fmt.Errorf("first moment %d is out of range 0…%d", c.First, len(c.Moments)-1)
	}
	for i, m := range c.Moments {
		switch {
		case len(m.Home) == 0:
			return fmt.Errorf("moment %d has no home progression", i+1)
		case len(m.Home) > MaxChords || len(m.Away) > MaxChords:
			return fmt.Errorf("moment %d has a progression of more than %d chords", i+1, MaxChords)
		case !(m.Intensity >= 0 && m.Intensity <= 1):
			return fmt.Errorf("moment %d: intensity %v is out of range 0…1", i+1, m.Intensity)
		}
	}
	if err := c.checkSongs(); err != nil {
		return err
	}
	switch {
	case c.Velocity < 1 || c.Velocity > 127:
		return fmt.Errorf("velocity %d is out of range 1…127", c.Velocity)
	case c.BringIn < 100*time.Millisecond || c.Fade < 100*time.Millisecond || c.Leave < 100*time.Millisecond:
		return fmt.Errorf("bring-in %v, fade %v and out-now %v must each last at least 0.1 s", c.BringIn, c.Fade, c.Leave)
	case c.Overlap < MinOverlap || c.Overlap > 2*time.Second:
		return fmt.Errorf("overlap %v is out of range %v…2s", c.Overlap, MinOverlap)
	case c.Walk < 100*time.Millisecond || c.Thin < 0 || c.Hands < 0:
		return fmt.Errorf("the walk of a landing, %v a chord, must last at least 0.1 s, thinning out after %v and fading after %v must not be negative", c.Walk, c.Thin, c.Hands)
	case c.Stagger < 0 || c.Steady < 0 || c.Pace < 0:
		return fmt.Errorf("stagger %v, steady %v and pace %v must not be negative", c.Stagger, c.Steady, c.Pace)
	case c.Lift > MaxLift:
		return fmt.Errorf("a lift of %d semitones is out of range 0…%d", c.Lift, MaxLift)
	case int(c.Voicing.High)+int(c.Lift) > 127:
		return fmt.Errorf("the upper range cannot rise by %d semitones: its highest note is %d of 127", c.Lift, c.Voicing.High)
	case !(c.LiftFrom >= 0 && c.LiftFrom <= 1):
		return fmt.Errorf("a lift from %v is out of range 0…1", c.LiftFrom)
	case c.Brightness.Dark > 127 || c.Brightness.Bright > 127:
		return fmt.Errorf("brightness %d…%d is out of range 0…127", c.Brightness.Dark, c.Brightness.Bright)
	case !(c.Nudge > 0 && c.Nudge <= 1):
		return fmt.Errorf("a level step of %v is out of range 0…1", c.Nudge)
	case c.Split > 127:
		return fmt.Errorf("split %d is out of range 0…127", c.Split)
	}
	for _, a := range c.Arms {
		if !slices.Contains(Armable(), a) {
			return fmt.Errorf("%q cannot be armed: use any of %v", a, Armable())
		}
	}
	return errors.Join(c.Pedal.Check(), c.Feel.Check(), c.Balance.Check())
}

func (c *Config) checkSongs() error {
	if len(c.Songs) > MaxSongs {
		return fmt.Errorf("%d songs are more than %d", len(c.Songs), MaxSongs)
	}
	for i, s := range c.Songs {
		switch {
		case len(s.Home) == 0:
			return fmt.Errorf("song %d has no home progression", i+1)
		case len(s.Home) > MaxChords || len(s.Away) > MaxChords:
			return fmt.Errorf("song %d has a progression of more than %d chords", i+1, MaxChords)
		case s.Then >= len(c.Moments):
			return fmt.Errorf("song %d: moment %d after it is out of range 0…%d", i+1, s.Then, len(c.Moments)-1)
		}
	}
	return nil
}

// MaxLift is as far as the upper notes can rise, in semitones.
const MaxLift = 12

// Armable lists the commands that Arm can go round.
func Armable() []Command {
	return []Command{Swap, Land, LandThrough, FirstChord, Capture, FadeOut, OutNow, Stay, Follow, Swell, Settle, ChooseSong, ChooseKey}
}
