package review

import (
	"fmt"
	"strings"
)

// What is worth a word, by ear and common practice, no source.
const (
	longRounds  = 4   // rounds of one progression without a change of place
	longSeconds = 150 // seconds on it, at least
	longChord   = 60  // seconds
	lateCore    = 20  // ms for the slowest hundredth
	wideGap     = 1.5 // seconds without a sound
)

// most is how many pieces of advice are given.
const mostAdvice = 2

// Advice says in one or two sentences what would help next time: what did not work
// first, then what was heard, then what the hands might try.
func Advice(s *Session, f Figures) []string {
	var all []string
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if len(f.Moments) == 0 || f.Chords == 0 {
		return []string{"The bed was never brought in: press the left foot, or space."}
	}
	if f.PortLost > 0 {
		say("A device was lost %s: look after its cable before the next time.", times(f.PortLost))
	}
	if f.Under > 0 {
		say("The sound stuttered: try more --frames, and close other programs.")
	}
	if f.Notices[floodKind] > 0 {
		say("A control sends far too much: have a look at it, its contact may be worn.")
	}
	for _, d := range f.Delays {
		if d.P99 > lateCore {
			say("The computer was busy (the slowest hundredth came %.0f ms late): close other programs.", d.P99)
			break
		}
	}
	for _, l := range f.Landings {
		if !l.Arrived {
			to := l.To
			if to == "" {
				to = "the tonic"
			}
			say("The landing at %s did not reach %s: go on pressing the left foot until the screen says that it holds.", span(l.At), to)
			break
		}
	}
	for _, l := range f.Landings {
		if l.Arrived && l.Gap != nil && *l.Gap > wideGap {
			say("After the landing at %s nothing sounded for %s: let the bed go only once you play.", span(l.At), seconds(*l.Gap))
			break
		}
	}
	if f.Refused > 0 {
		say("Your keys send on the bed's channels, where it was left out: give them another channel, or aside: in the rig.")
	}
	for _, m := range f.Moments {
		if m.Longest > 0 && m.Sounded > m.Longest {
			say("%s went on for %s, longer than the %s that the plan has.", capital(Plain(m.Title)), span(m.Sounded), span(m.Longest))
			break
		}
	}
	r := f.Repetition
	switch {
	case r.StayRounds >= longRounds && r.LongestStay >= longSeconds:
		say("At %s %s went round %.0f times in %s: a swap every couple of rounds keeps it fresh.", span(r.StayAt), r.StayPlace, r.StayRounds, span(r.LongestStay))
	case r.LongestChord >= longChord:
		say("%s stood for %s at %s: a step now and then moves the bass and disturbs nobody.", r.Chord, span(r.LongestChord), span(r.ChordAt))
	}
	if len(s.Pedal) < 2 && f.Orders["swell"]+f.Orders["settle"]+f.Orders["level-up"]+f.Orders["level-down"] == 0 && f.Sounded > longSeconds {
		say("Nobody's foot asked for more or less: the pedal, swell and settle are for that.")
	}
	if len(all) == 0 {
		say("Nothing stood out: the bed sounded for %s in %s.", span(f.Sounded), counted(f.Chords, "chord"))
		if n := len(f.Landings); n > 0 {
			all[0] = strings.TrimSuffix(all[0], ".") + fmt.Sprintf(", and every landing arrived (%d).", n)
		}
	}
	return all[:min(len(all), mostAdvice)]
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}
