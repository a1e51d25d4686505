package midiio

// Types of meta events (Standard MIDI Files 1.0).
const (
	Text          = 0x01
	TrackName     = 0x03
	Marker        = 0x06
	endOfTrack    = 0x2F
	tempoChange   = 0x51
	timeSignature = 0x58
	keySignature  = 0x59
)

// Meta is the type and the data of a meta event; ok is false for any other.
func (e Event) Meta() (kind byte, data []byte, ok bool) {
	if len(e.Data) < 2 || e.Data[0] != metaEvent {
		return 0, nil, false
	}
	return e.Data[1], e.Data[2:], true
}

// TextMeta is the data of a text-like meta event: Text, TrackName or Marker.
func TextMeta(kind byte, text string) []byte {
	return append([]byte{metaEvent, kind}, text...)
}

// TempoMeta is the data of a tempo event of µs per quarter note, clamped to
// 1…16777215: 500000 is 120 bpm.
func TempoMeta(microseconds int) []byte {
	n := min(max(microseconds, 1), 1<<24-1)
	return []byte{metaEvent, tempoChange, byte(n >> 16), byte(n >> 8), byte(n)}
}

// KeyMeta is the data of a key signature: sharps counts sharps upwards from 0
// and flats downwards, clamped to -7…7.
func KeyMeta(sharps int, minor bool) []byte {
	mode := byte(0)
	if minor {
		mode = 1
	}
	return []byte{metaEvent, keySignature, byte(min(max(sharps, -7), 7)), mode}
}

// TimeMeta is the data of a time signature of beats over 2 to the power log2,
// with a click each quarter note and eight 32nds to a quarter.
func TimeMeta(beats, log2 uint8) []byte {
	return []byte{metaEvent, timeSignature, beats, log2, 24, 8}
}
