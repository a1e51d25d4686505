package score

import (
	"bytes"
	"errors"
	"regexp"
	"unicode/utf8"

	"bedd/internal/midiio"
	"bedd/internal/pitch"
)

// Types of meta events (Standard MIDI Files 1.0).
const (
	tempoChange   = 0x51
	timeSignature = 0x58
	keySignature  = 0x59
)

// drums is the channel of percussion (General MIDI 1).
const drums = 9

// line is what one channel of one track plays.
type line struct {
	track   uint16
	channel byte
}

// midiSong is what a MIDI file holds of a song.
type midiSong struct {
	notes     map[line][]note
	order     []line
	beat, bar float64
	tempo     float64
	signature *signature
	changes   bool // of the signature
	marks     []mark
}

// readMIDI reads a standard MIDI file, also inside RIFF.
func readMIDI(data []byte, given *pitch.Key) (Song, error) {
	if at := bytes.Index(data[:min(len(data), 64)], []byte("MThd")); at > 0 {
		data = data[at:]
	}
	f, err := midiio.Read("MIDI file", bytes.NewReader(data))
	if err != nil {
		return Song{}, err
	}
	m := midiSong{notes: map[line][]note{}, beat: 1, bar: 4}
	m.walk(f)
	return m.song(f, given)
}

func (m *midiSong) walk(f *midiio.File) {
	perQuarter := float64(f.Division)
	type key struct {
		line
		pitch byte
	}
	down := map[key]int{} // indexes of notes that sound
	metered := false
	for _, e := range f.Events {
		at := float64(e.Tick) / perQuarter
		if kind, data, ok := e.Meta(); ok {
			switch {
			case kind == keySignature && len(data) == 2:
				m.sign(signature{at: at, fifths: int(int8(data[0])), mode: map[bool]string{true: "minor", false: "major"}[data[1] == 1]})
			case kind == timeSignature && len(data) >= 2 && !metered:
				m.beat, m.bar = meter(int(data[0]), 1<<min(data[1], 7))
				metered = true
			case kind == tempoChange && len(data) == 3 && m.tempo == 0:
				m.tempo = float64(int(data[0])<<16 | int(data[1])<<8 | int(data[2]))
			case kind == midiio.Marker && len(m.marks) < 10*maxSections:
				if name := clean(decoded(data)); name != "" {
					m.marks = append(m.marks, mark{at, name})
				}
			}
			continue
		}
		if len(e.Data) != 3 || e.Data[0]&0xF0 != 0x80 && e.Data[0]&0xF0 != 0x90 || e.Data[0]&0x0F == drums {
			continue
		}
		l := line{e.Track, e.Data[0] & 0x0F}
		k := key{l, e.Data[1]}
		if i, sounds := down[k]; sounds {
			n := &m.notes[l][i]
			n.long = at - n.at
			delete(down, k)
		}
		if e.Data[0]&0xF0 == 0x90 && e.Data[2] > 0 {
			if len(m.notes[l]) == 0 {
				m.order = append(m.order, l)
			}
			down[k] = len(m.notes[l])
			m.notes[l] = append(m.notes[l], note{pitch: int(e.Data[1]), at: at})
		}
	}
	for k, i := range down { // what the file leaves on
		n := &m.notes[k.line][i]
		n.long = max(0, float64(f.Tracks[k.track].End)/perQuarter-n.at)
	}
}

func (m *midiSong) sign(s signature) {
	s.odd = s.fifths < -7 || s.fifths > 7
	switch {
	case s.odd:
	case m.signature == nil || s.at == m.signature.at:
		m.signature = &s
	case s.fifths != m.signature.fifths || s.mode != m.signature.mode:
		m.changes = true
	}
}

func (m *midiSong) song(f *midiio.File, given *pitch.Key) (Song, error) {
	var all []note
	for _, l := range m.order {
		all = append(all, m.notes[l]...)
	}
	if all = inOrder(all); len(all) == 0 {
		return Song{}, errors.New("there is no note in this MIDI file, but for drums")
	}
	s := Song{Tempo: 0}
	if m.tempo > 0 {
		s.Tempo = tempo(60e6 / m.tempo / m.beat)
	}
	if f.Format == 0 || len(f.Tracks) > 1 && m.silent(0) {
		s.Title = decoded([]byte(f.Tracks[0].Name))
	}
	m.settleKey(&s, given, all)
	melody := m.melody(f)
	s.Figure = phrase(skyline(inOrder(melody)))
	s.divide(estimate(all, s.Key, m.beat, m.bar), m.marks)
	s.remark("a MIDI file has no chord symbols: the chords are estimated from the notes")
	return s, nil
}

func (m *midiSong) silent(track uint16) bool {
	for _, l := range m.order {
		if l.track == track {
			return false
		}
	}
	return true
}

func (m *midiSong) settleKey(s *Song, given *pitch.Key, all []note) {
	switch sig := m.signature; {
	case given != nil:
		s.Key, s.KeyBy = *given, "as given"
	case sig == nil:
		s.keyByEar(all, nil)
	case s.notChosen(*sig, all, nil):
	default:
		s.fromSignature(*sig, all, nil)
		if m.changes {
			s.remark("the signature changes on the way: this is the key it begins in")
		}
	}
}

var melodic = regexp.MustCompile(`(?i)\b(melod|vocal|voice|lead|sing|song|tune|solo)`)

// melody is the line that lies highest, of those whose track's name says that they
// are the melody if there are any.
func (m *midiSong) melody(f *midiio.File) (best []note) {
	named, highest := false, -1.0
	for _, l := range m.order {
		notes := m.notes[l]
		says := melodic.MatchString(f.Tracks[l.track].Name)
		if named && !says || len(notes) < leastPhrase && !says {
			continue
		}
		sum := 0
		for _, n := range notes {
			sum += n.pitch
		}
		if mean := float64(sum) / float64(len(notes)); says && !named || mean > highest {
			best, highest, named = notes, mean, says
		}
	}
	if best == nil {
		best = m.notes[m.order[0]]
	}
	return best
}

// decoded is a text of unknown encoding: UTF-8, else ISO 8859-1.
func decoded(data []byte) string {
	if utf8.Valid(data) {
		return string(data)
	}
	runes := make([]rune, len(data))
	for i, b := range data {
		runes[i] = rune(b)
	}
	return string(runes)
}
