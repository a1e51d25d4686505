package harmony

// Symbol writes the chord in ASCII as ParseChord reads it: "F#m7b5", "Bbmaj7",
// "C/E". Every chord has one symbol; the zero Chord has none.
func (c Chord) Symbol() string {
	if c.IsZero() {
		return ""
	}
	s := c.Root.String() + c.quality.suffix()
	if c.Slash() {
		s += "/" + c.Bass.String()
	}
	return s
}

// String is Symbol.
func (c Chord) String() string {
	return c.Symbol()
}
