package review

import (
	"fmt"
	"io"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/session"
)

// MIDI writes what a journal's session has played as a standard MIDI file with the
// tracks that render writes: 480 ticks to a quarter note at 120 a minute. It gives
// what is to be known of it, or nothing.
func MIDI(to io.Writer, path string) (note string, err error) {
	r, err := journal.Open(path)
	if err != nil {
		return "", err
	}
	defer r.Close()
	h := r.Header()
	rig, moments, err := session.Recorded(h)
	if err != nil {
		return "", fmt.Errorf("%s: %w", path, err)
	}
	var from *bed.State
	if h.Resume != nil {
		from = h.Resume.State
	}
	played, err := session.Replay(rig, moments, from, r, nil)
	if err != nil {
		return "", fmt.Errorf("%s: %w", path, err)
	}
	switch o := played.Otherwise; {
	case played.Take.Dropped > 0:
		note = fmt.Sprintf("the MIDI file ends early: more than %d messages were played", session.MaxTake)
	case o != nil && o.Gap:
		note = fmt.Sprintf("records are missing at %s: the MIDI file has what is left", clock(o.At))
	case o != nil:
		note = fmt.Sprintf("this bedd would play otherwise from %s on: the MIDI file has what was recorded", clock(o.At))
	}
	return note, midiio.Write(to, played.Take.File(session.ClockOf(nil), moments[rig.Bed.First].Key))
}

// Anonymise writes a journal once more for a bug report: see [journal.Anonymise].
func Anonymise(to io.Writer, path string) error {
	r, err := journal.Open(path)
	if err != nil {
		return err
	}
	defer r.Close()
	return journal.Anonymise(to, r, func(t journal.Text) (journal.Text, error) {
		bare, err := gathering.Nameless(t.Name, []byte(t.Text))
		return journal.Text{Name: "nameless", Text: string(bare)}, err
	})
}
