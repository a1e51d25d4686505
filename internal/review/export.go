package review

import (
	"fmt"
	"io"

	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/session"
)

// MIDI writes what a journal's session has played as a standard MIDI file with the
// tracks that render writes: 480 ticks to a quarter note at 120 a minute.
func MIDI(to io.Writer, path string) error {
	r, err := journal.Open(path)
	if err != nil {
		return err
	}
	defer r.Close()
	h := r.Header()
	rig, moments, err := session.Recorded(h)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	played, err := session.Retell(rig, moments, r)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return midiio.Write(to, played.Take.File(session.ClockOf(nil), moments[rig.Bed.First].Key))
}
