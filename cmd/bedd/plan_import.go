package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/score"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

type importFlags struct {
	key    string
	into   string
	byName bool

	songs   []gathering.Song
	remarks [][]string
}

func newPlanImport() *cobra.Command {
	var f importFlags
	cmd := &cobra.Command{
		Use:   "import FILE…",
		Short: "Songs for a plan, from MusicXML, MIDI files and chord sheets",
		Long: `import reads songs and prints them as a plan: key, tempo, chords by section, and the
first phrase of the melody, which the bed must not give away. It reads

  MusicXML     .musicxml, .xml or compressed .mxl: chord symbols, rehearsal marks
  MIDI files   chords and, without a key signature, the key are estimated from the
               notes; markers are sections
  plain text   a line of chords over each line of words, headings such as [Verse] or
               Chorus:, and Title:, Key: and Tempo: where the sheet has them

What was guessed or left out stands in comments above the song: look through them.
With --into the songs go to the end of a plan's order, and the rest of the file stays
as it is; a song whose title is there already is refused.`,
		Example: `  bedd plan import "Herring Moon.musicxml" kittiwake.mid
  bedd plan import slipway.txt --key G
  bedd plan import *.mxl --into sunday.yaml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return badInput{fmt.Errorf("%s takes files to read: see %s --help", cmd.CommandPath(), cmd.CommandPath())}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.read(args); err != nil {
				return err
			}
			return f.write(cmd.OutOrStdout())
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.key, "key", "", "the key, such as Eb or F#m, instead of the files' own")
	flags.StringVar(&f.into, "into", "", "a plan to add the songs to; it is made where it is not there")
	flags.BoolVar(&f.byName, "names", false, "write chords by name instead of by degree")
	return cmd
}

// read takes every song, or tells of every file that has none.
func (f *importFlags) read(files []string) error {
	var given *pitch.Key
	if f.key != "" {
		k, err := pitch.ParseKey(f.key)
		if err != nil {
			return badInput{fmt.Errorf("--key: %w", err)}
		}
		given = &k
	}
	var wrong []error
	for _, path := range files {
		s, err := score.ReadFile(path, given)
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		song := gathering.Song{Title: s.Title, Key: s.Key, Tempo: s.Tempo, Figure: s.Figure}
		for _, section := range s.Sections {
			song.Sections = append(song.Sections, gathering.Section{Name: section.Name, Chords: section.Chords})
		}
		f.songs = append(f.songs, song)
		f.remarks = append(f.remarks, append([]string{"from " + oneLine(filepath.Base(path)) + ": the key is " + s.KeyBy}, s.Remarks...))
	}
	if len(wrong) > 0 {
		return badInput{errors.Join(wrong...)}
	}
	return nil
}

// oneLine is a file's name as it can stand in a comment.
func oneLine(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == '\u007f' {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
}

func (f *importFlags) write(out io.Writer) error {
	text := func(s gathering.Song, i int, indent string, numbers harmony.Numbers) string {
		return gathering.SongText(s, f.remarks[i], indent, numbers, f.byName)
	}
	if f.into == "" {
		_, err := out.Write(gathering.NewPlan(f.songs, text))
		return err
	}
	library, err := gathering.OpenLibrary("")
	if err != nil {
		return badInput{err}
	}
	data, err := os.ReadFile(f.into)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		data = gathering.NewPlan(f.songs, text)
	case err != nil:
		return badInput{err}
	default:
		if data, err = gathering.AddSongs(f.into, data, library, f.songs, text); err != nil {
			return badInput{err}
		}
	}
	err = wholefile.Write(f.into, func(to *os.File) error {
		_, err := to.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	for i, s := range f.songs {
		fmt.Fprintf(out, "%s: %s in %s\n", f.into, s.Title, s.Key)
		for _, r := range f.remarks[i] {
			fmt.Fprintf(out, "  %s\n", r)
		}
	}
	return nil
}
