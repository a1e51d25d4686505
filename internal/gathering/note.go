package gathering

import (
	"strings"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"go.yaml.in/yaml/v3"
)

// note reads a note by name or number.
func (r *reader) note(what string, to *uint8) func(*yaml.Node) {
	return func(n *yaml.Node) {
		if s, ok := r.words(n, what); ok {
			if v, ok := r.noteIn(n.Line, what, s); ok {
				*to = v
			}
		}
	}
}

func (r *reader) noteIn(line int, what, s string) (uint8, bool) {
	if s != "" && (s[0] >= '0' && s[0] <= '9' || s[0] == '-') {
		v, ok := r.number(line, what, s, 0, 127)
		return uint8(v), ok
	}
	v, err := pitch.ParseNote(s)
	if err != nil {
		r.fault(line, "%s: %v", what, err)
		return 0, false
	}
	return uint8(v), true
}

// notes reads a range of notes, as in F3-E5.
func (r *reader) notes(what string, low, high *uint8) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		from, to, ok := cutRange(s)
		if !ok {
			r.fault(n.Line, "%s %q is not a range of notes, as in F3-E5", what, clip(s))
			return
		}
		a, ok1 := r.noteIn(n.Line, what, from)
		b, ok2 := r.noteIn(n.Line, what, to)
		switch {
		case !ok1 || !ok2:
		case a > b:
			r.fault(n.Line, "%s %s runs downwards: write the lower note first", what, clip(s))
		default:
			*low, *high = a, b
		}
	}
}

// cutRange parts "F3-E5" at its dash, which is not a sign: "C-1-G9".
func cutRange(s string) (from, to string, ok bool) {
	s = strings.NewReplacer("–", "-", "…", "-", " ", "").Replace(s)
	for i := 1; i < len(s)-1; i++ {
		if s[i] == '-' && s[i-1] >= '0' && s[i-1] <= '9' {
			return s[:i], s[i+1:], true
		}
	}
	return "", "", false
}

// key reads a key and notes whether it could.
func (r *reader) key(to *pitch.Key, known *bool) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.words(n, "key")
		if !ok {
			return
		}
		k, err := pitch.ParseKey(s)
		if err != nil {
			r.fault(n.Line, "%v", err)
			return
		}
		*to, *known = k, true
	}
}

// progression reads chords; an empty text has none.
func (r *reader) progression(line int, what, s string, k pitch.Key, n harmony.Numbers) []harmony.Chord {
	if s == "" {
		return nil
	}
	chords, err := harmony.ParseProgression(s, k, n)
	if err != nil {
		r.fault(line, "%s: %v", what, err)
		return nil
	}
	return chords
}
