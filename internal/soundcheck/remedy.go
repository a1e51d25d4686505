package soundcheck

import (
	"errors"
	"fmt"
	"slices"

	"bedd/internal/gathering"
)

// Remedy is what a rig is to be changed in, so that its bed stays where it should.
type Remedy struct {
	Settings []gathering.Setting // none where nothing has to change
	Rig      gathering.Rig       // as changed
	Words    Words               // as they come through then
	Ceiling  float64             // dB
}

const (
	// worth is by how many dB more of the bed a darker sound or a lower register must
	// allow to be chosen. By ear: less is not heard as louder.
	worth = 1.0

	// darker is by how much controller 74 comes down for a gentle low-pass: two thirds
	// of an octave of the built-in pads' corner. By ear.
	darker = 16
)

// Mend finds what keeps a rig's bed down as the fader stands: first a gentle low-pass
// and a register that does not rise, where the index forbids what the loudness would
// allow and they make room for more of the bed; and then a ceiling. Again judges a
// changed rig; it is not called where nothing can change but the ceiling. The error is
// ErrNoCeiling where nothing helps but the fader.
func Mend(w Words, rig gathering.Rig, again func(gathering.Rig) (Words, error)) (Remedy, error) {
	m := Remedy{Rig: rig, Words: w}
	var err error
	m.Ceiling, err = w.Ceiling()
	b := rig.Bed.Brightness
	if w.bed.Law && w.troubled() && !b.Off && max(b.Dark, b.Bright) > 0 {
		try := rig
		try.Bed.Brightness.Dark, try.Bed.Brightness.Bright = less(b.Dark), less(b.Bright)
		value := fmt.Sprintf("%d-%d", try.Bed.Brightness.Dark, try.Bed.Brightness.Bright)
		if err = m.try(try, gathering.Setting{Section: "grows", Field: "brightness", Value: value, Why: "darker, from the sound check"}, again, err); failed(err) {
			return m, err
		}
	}
	if m.Words.bed.Law && m.Words.troubled() && m.Rig.Bed.Lift > 0 {
		try := m.Rig
		try.Bed.Lift = 0
		if err = m.try(try, gathering.Setting{Section: "grows", Field: "register", Value: "no", Why: "from the sound check"}, again, err); failed(err) {
			return m, err
		}
	}
	if err == nil && m.Ceiling < rig.Bed.Balance.Ceiling {
		m.Settings = append(m.Settings, ceilingSetting(m.Ceiling))
		m.Rig.Bed.Balance.Ceiling = m.Ceiling
	}
	return m, err
}

func failed(err error) bool { return err != nil && !errors.Is(err, ErrNoCeiling) }

// try takes a changed rig over if that makes enough room.
func (m *Remedy) try(rig gathering.Rig, s gathering.Setting, again func(gathering.Rig) (Words, error), before error) error {
	words, err := again(rig)
	if err != nil {
		return err
	}
	words.Fader = m.Words.Fader
	ceiling, err := words.Ceiling()
	if err == nil && before != nil || err == nil && ceiling >= m.Ceiling+worth {
		m.Settings, m.Rig, m.Words, m.Ceiling = append(slices.Clone(m.Settings), s), rig, words, ceiling
		return nil
	}
	return before
}

// troubled reports whether the index forbids a row what its loudness would be allowed.
func (w *Words) troubled() bool {
	return slices.ContainsFunc(w.Places, func(p Place) bool { return p.ByIndex && *w.Fader > p.Gain })
}

func less(v uint8) uint8 { return v - min(v, darker) }

func ceilingSetting(db float64) gathering.Setting {
	return gathering.Setting{Section: "level", Field: "ceiling", Value: fmt.Sprintf("%gdB", db), Why: "from the sound check"}
}
