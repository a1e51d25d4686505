package gathering

import (
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// scalar is the one value that n holds.
func (r *reader) scalar(n *yaml.Node, what string) (string, bool) {
	if n.Kind != yaml.ScalarNode {
		r.fault(n.Line, "%s is one value, not %s", what, kindOf(n))
		return "", false
	}
	if isNull(n) {
		r.fault(n.Line, "%s has no value", what)
		return "", false
	}
	return strings.TrimSpace(n.Value), true
}

// words is the one value that n holds, as scalar gives it, and not cut short by
// a # that was meant to be part of it.
func (r *reader) words(n *yaml.Node, what string) (string, bool) {
	s, ok := r.scalar(n, what)
	if ok && comments(n) {
		r.fault(n.Line, "%s ends at %s, which reads as a comment: put the whole in quotes, or a blank after the #", what, clip(n.LineComment))
		return "", false
	}
	return s, ok
}

// comments reports whether what follows a value on its line may have been
// meant as a part of it, as in "Song #1" or "1 #4dim7".
func comments(n *yaml.Node) bool {
	return len(n.LineComment) > 1 && n.LineComment[0] == '#' && !strings.ContainsAny(n.LineComment[1:2], " \t#")
}

// maxText is the longest title, cue or progression, in characters.
const maxText = 400

// text reads words for people: one line, no control characters.
func (r *reader) text(what string, to *string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.words(n, what)
		if !ok {
			return
		}
		s = strings.Join(strings.Fields(s), " ")
		switch {
		case s == "":
			r.fault(n.Line, "%s is empty", what)
		case utf8.RuneCountInString(s) > maxText:
			r.fault(n.Line, "%s is longer than %d characters", what, maxText)
		case strings.ContainsFunc(s, func(c rune) bool { return unicode.IsControl(c) || c == utf8.RuneError }):
			r.fault(n.Line, "%s has a character that cannot be shown", what)
		default:
			*to = s
		}
	}
}

// choice reads one of some words.
func (r *reader) choice(what string, to *string, words ...string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		for _, w := range words {
			if s == w {
				*to = s
				return
			}
		}
		r.fault(n.Line, "%s %q is not known: %s", what, clip(s), advice(s, words))
	}
}

// word reads what read makes of it.
func (r *reader) word(what string, read func(string) error) func(*yaml.Node) {
	return func(n *yaml.Node) {
		if s, ok := r.words(n, what); ok {
			if err := read(clip(s)); err != nil {
				r.fault(n.Line, "%v", err)
			}
		}
	}
}

// flag reads yes or no.
func (r *reader) flag(what string, to *bool) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		switch strings.ToLower(s) {
		case "yes", "true", "on":
			*to = true
		case "no", "false", "off":
			*to = false
		default:
			r.fault(n.Line, "%s %q is neither yes nor no", what, clip(s))
		}
	}
}

// whole reads a whole number low…high.
func (r *reader) whole(what string, low, high int, set func(int)) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		if v, ok := r.number(n.Line, what, s, low, high); ok {
			set(v)
		}
	}
}

func (r *reader) number(line int, what, s string, low, high int) (int, bool) {
	v, err := strconv.Atoi(s)
	switch {
	case err != nil:
		r.fault(line, "%s %q is not a whole number %d…%d", what, clip(s), low, high)
	case v < low || v > high:
		r.fault(line, "%s %d is out of range %d…%d", what, v, low, high)
	default:
		return v, true
	}
	return 0, false
}

// byteFrom reads a whole number inside 0…127.
func (r *reader) byteFrom(what string, low, high int, to *uint8) func(*yaml.Node) {
	return r.whole(what, low, high, func(v int) { *to = uint8(v) })
}

// printed reads a number that people count from 1, for the wire.
func (r *reader) printed(what string, most int, to *uint8) func(*yaml.Node) {
	return r.whole(what, 1, most, func(v int) { *to = uint8(v - 1) })
}

// part reads a number low…high with a point.
func (r *reader) part(what string, low, high float64, to *float64) func(*yaml.Node) {
	return r.measure(what, "", low, high, to)
}

// decibels reads a level or a difference of levels, as in -14dB.
func (r *reader) decibels(what string, low, high float64, to *float64) func(*yaml.Node) {
	return r.measure(what, "dB", low, high, to)
}

// perSecond reads how fast a level moves, as in 8dB/s.
func (r *reader) perSecond(what string, low, high float64, to *float64) func(*yaml.Node) {
	return r.measure(what, "dB/s", low, high, to)
}

// measure reads a number low…high with its unit, if it has one.
func (r *reader) measure(what, unit string, low, high float64, to *float64) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		number, united := strings.CutSuffix(s, unit)
		v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
		switch {
		case !united || err != nil && unit != "":
			r.fault(n.Line, "%s %q is not a number of %s: write it with its unit, as in %.4g%s", what, clip(s), unit, high, unit)
		case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
			r.fault(n.Line, "%s %q is not a number %.4g…%.4g%s", what, clip(s), low, high, unit)
		case v < low || v > high:
			r.fault(n.Line, "%s %s is out of range %.4g…%.4g%s", what, clip(s), low, high, unit)
		default:
			*to = v
		}
	}
}

// span reads a time with its unit, as in 3s, 1.5s, 700ms.
func (r *reader) span(what string, low, high time.Duration, to *time.Duration) func(*yaml.Node) {
	return r.time(what, "as in 3s or 700ms", time.ParseDuration, low, high, to)
}

// breaths reads a time as span does, or as a number of breaths: 1 breath, 1.5
// breaths.
func (r *reader) breaths(what string, low, high time.Duration, to *time.Duration) func(*yaml.Node) {
	return r.time(what, "as in 3s, 700ms or 2 breaths", func(s string) (time.Duration, error) {
		number, in := strings.CutSuffix(strings.TrimSuffix(s, "s"), "breath")
		if !in {
			return time.ParseDuration(s)
		}
		v, err := strconv.ParseFloat(number, 64)
		if err == nil && !(math.Abs(v) <= 1000) {
			err = strconv.ErrRange
		}
		return time.Duration(v * float64(r.breath)), err
	}, low, high, to)
}

func (r *reader) time(what, example string, parse func(string) (time.Duration, error), low, high time.Duration, to *time.Duration) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		v, err := parse(strings.ReplaceAll(s, " ", ""))
		switch {
		case err != nil:
			r.fault(n.Line, "%s %q is not a time: write it with its unit, %s", what, clip(s), example)
		case v < low || v > high:
			r.fault(n.Line, "%s %s is out of range %v…%v", what, clip(s), low, high)
		default:
			*to = v
		}
	}
}
