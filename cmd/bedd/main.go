// Command bedd holds a soft bed of sound under everything that is not a song:
// feet and plan choose the chords, the piano passes straight through.
package main

import (
	"errors"
	"fmt"
	"os"
	"regexp"
	"runtime/debug"
	"strings"

	"bedd/internal/gathering"
	"bedd/internal/voicing"

	"github.com/spf13/cobra"
)

// Exit codes.
const (
	exitFine   = 0
	exitFailed = 1
	exitUsage  = 2 // bad usage or a bad file
)

// badInput marks an error as the fault of an argument or a file.
type badInput struct{ error }

func (e badInput) Unwrap() error { return e.error }

func main() { os.Exit(run(os.Args[1:], os.Stderr)) }

func run(args []string, stderr *os.File) int {
	root := newRoot()
	root.SetArgs(args)
	err := root.Execute()
	if err == nil {
		return exitFine
	}
	for _, line := range strings.Split(err.Error(), "\n") {
		fmt.Fprintln(stderr, "bedd:", line)
	}
	var bad badInput
	var file *gathering.FileError
	var tooSmall *voicing.RangeError
	if errors.As(err, &bad) || errors.As(err, &file) || errors.As(err, &tooSmall) {
		return exitUsage
	}
	return exitFailed
}

// noArguments is for commands that take flags alone.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return badInput{fmt.Errorf("%s takes no %q: see %s --help", cmd.CommandPath(), args[0], cmd.CommandPath())}
	}
	return nil
}

// notANumber is how the flag library words a value that is not one.
var notANumber = regexp.MustCompile(`^invalid argument "(.*)" for "(?:-., )?(--[a-z-]+)" flag: .*$`)

// plainFlagError words an error of the flag library for people.
func plainFlagError(err error) string {
	if m := notANumber.FindStringSubmatch(err.Error()); m != nil {
		return fmt.Sprintf("%s takes a number, not %q", m[2], m[1])
	}
	return err.Error()
}

// version is what this program was built from, as far as it knows.
func version() string {
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(unknown)"
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "bedd",
		Short: "A soft bed of sound under speech, driven by the feet",
		Long: `bedd holds a soft bed of sound for a keyboard player: under a talk's last
words, a collection, a prayer. The piano passes straight through; the feet bring
the bed in, step its chords and let it go; shared notes are held, the bass moves.`,
		Example: `  bedd play                                   the computer's keys are the feet
  bedd render --performance evening.mid --wav evening.wav
  bedd plan check winter-lights
  bedd voice "C F Am Dm" --key C`,
		Version:       version(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return badInput{fmt.Errorf("there is no command %q: see bedd --help", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error { return cmd.Help() },
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return badInput{fmt.Errorf("%s: see %s --help", plainFlagError(err), cmd.CommandPath())}
	})
	root.AddCommand(newPlay(), newRender(), newReview(), newPractice(), newVoice(), newPlan(), newSoundcheck(), newPorts(), newTone(), newGuard(), newPage())
	return root
}
