package review

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"
)

// Row is one figure, as a screen shows it.
type Row struct {
	Group string // given with the first of each group
	Name  string
	Value string
}

// onPlace says what a place's part of the time is.
var onPlace = map[string]string{"home": "on home", "away": "on away", "hand": "on chords from the hands", "landing": "on landings", "turning": "on the way to another key"}

// Rows words the figures.
func (f *Figures) Rows() (rows []Row) {
	group := ""
	add := func(name, format string, args ...any) {
		rows = append(rows, Row{group, name, fmt.Sprintf(format, args...)})
		group = ""
	}
	group = "time"
	add("in all", "%s", span(f.Length))
	add("the bed sounded", "%s%s", span(f.Sounded), percent(f.Sounded, f.Length))
	add("silence", "%s%s", span(f.Silent), percent(f.Silent, f.Length))
	add("brought in", "%s", times(f.Beds))
	if f.Sounded > 0 {
		for _, s := range f.Places {
			if s.Seconds > 0 {
				add(onPlace[s.Name], "%s%s", span(s.Seconds), percent(s.Seconds, f.Sounded))
			}
		}
	}
	group = "moments"
	for _, m := range f.Moments {
		value := Plain(m.Title) + ": silent"
		if m.Chords > 0 {
			value = Plain(m.Title) + ": " + span(m.Sounded) + " sounding, " + counted(m.Chords, "chord")
		}
		if m.Lasts > 0 {
			value += ", planned " + span(m.Lasts)
			if m.Longest > 0 {
				value += " to " + span(m.Longest)
			}
		}
		add(fmt.Sprintf("moment %d", m.Number), "%s", value)
	}
	group = "progressions"
	for _, p := range f.Progressions {
		value := span(p.Seconds) + ", " + counted(p.Entered, "chord")
		if p.Rounds > 0 {
			value += fmt.Sprintf(", %.1f rounds of %s", p.Rounds, p.Chords)
		}
		add(fmt.Sprintf("moment %d, %s", p.Number, p.Place), "%s", value)
	}
	if f.Chords > 0 {
		group = "pace"
		add("chords", "%d, %.1f changes a minute", f.Chords, f.PerMinute)
		add("a chord lasts", "%s (%s to %s)", seconds(f.ChordTime.Median), seconds(f.ChordTime.Low), seconds(f.ChordTime.High))
		add("at changes", "%d notes held, %d moved", f.Kept, f.Moved)
		group = "repetition"
		r := f.Repetition
		add("longest chord", "%s, %s at %s", r.Chord, seconds(r.LongestChord), span(r.ChordAt))
		if r.LongestStay > 0 {
			value := fmt.Sprintf("%s, %s at %s", r.StayPlace, span(r.LongestStay), span(r.StayAt))
			if r.StayRounds > 0 {
				value += fmt.Sprintf(", %.1f rounds", r.StayRounds)
			}
			add("longest on one progression", "%s", value)
		}
		if r.ChangeTimes > 0 {
			add("most frequent change", "%s, %s; %d different ones", r.Change, times(r.ChangeTimes), r.DifferentMoves)
		}
		group = "fullness"
		add("intensity", "%.2f (%.2f to %.2f)", f.Intensity.Median, f.Intensity.Low, f.Intensity.High)
		add("from", "%s", shares(f.Sources, f.Sounded, ""))
		add("voices", "%s", shares(f.Voices, f.Sounded, " voices"))
	}
	group = "landings"
	for _, l := range f.Landings {
		add("at "+span(l.At), "%s", l.words())
	}
	if len(f.Orders) > 0 {
		group = "orders"
		var list []string
		for _, name := range slices.Sorted(maps.Keys(f.Orders)) {
			list = append(list, fmt.Sprintf("%s"+together+"%d", name, f.Orders[name]))
		}
		add("carried out", "%s", strings.Join(list, ", "))
	}
	group = "machine"
	for _, d := range f.Delays {
		if d.Count > 0 {
			add("late, "+d.What, "%.2f ms in the median, %.2f for the slowest tenth, %.2f for the slowest hundredth, %.2f at most, of %d", d.P50, d.P90, d.P99, d.Max, d.Count)
		}
	}
	add("bytes", "%d for the bed, %d of the piano", f.Sent.Bed, f.Sent.Piano)
	for _, w := range f.Wires {
		value := ""
		if w.Bytes > 0 {
			value = fmt.Sprintf("%d bytes; ", w.Bytes)
		}
		if w.Baud > 0 {
			value += fmt.Sprintf("busiest at %s, when %d waited; the piano waited %.1f ms at most", span(w.At), w.Most, w.Wait)
		}
		add("to "+Plain(w.Name), "%s", strings.TrimSuffix(value, "; "))
	}
	if f.Under > 0 {
		add("the sound stuttered", "%s", times(int(f.Under)))
	}
	if f.PortLost > 0 {
		add("devices lost", "%s", times(f.PortLost))
	}
	if f.Refused > 0 {
		add("refused", "%s of yours on the bed's channels", counted(int(f.Refused), "message"))
	}
	if f.Floods > 0 {
		add("thinned", "%s of a control that sends too much", counted(int(f.Floods), "value"))
	}
	return rows
}

// words tells of a landing.
func (l Landed) words() string {
	var steps []string
	for i, c := range l.Chords {
		steps = append(steps, strings.ReplaceAll(fmt.Sprintf("%s (%d of %d held)", c, l.Held[i], l.Voices[i]), " ", together))
	}
	value := "already there, on " + l.From
	if len(steps) > 0 {
		value = fmt.Sprintf("%s in %s: %s", counted(len(steps), "step"), seconds(l.Took), strings.Join(steps, ", "))
	}
	switch {
	case !l.Arrived && l.To != "":
		value += "; it did not reach " + l.To
	case !l.Arrived:
		value += "; it did not reach the tonic"
	case l.Gap == nil:
		value += "; arrived"
	case *l.Gap == 0:
		value += "; arrived, no gap before the piano"
	default:
		value += fmt.Sprintf("; arrived, %s without a sound before the piano", seconds(*l.Gap))
	}
	return value
}

// shares lists parts of a time.
func shares(list []Share, all float64, unit string) string {
	var out []string
	for _, s := range list {
		if s.Seconds < 0.5 {
			continue
		}
		text := s.Name + unit + " " + span(s.Seconds) + percent(s.Seconds, all)
		if s.Times > 0 {
			text = strings.TrimSuffix(text, ")") + ", " + times(s.Times) + ")"
		}
		out = append(out, strings.ReplaceAll(text, " ", together))
	}
	return strings.Join(out, ", ")
}

func percent(part, all float64) string {
	if all <= 0 {
		return ""
	}
	return fmt.Sprintf(" (%.0f %%)", 100*part/all)
}

// span writes seconds as minutes and seconds.
func span(s float64) string { return clock(time.Duration(s * float64(time.Second))) }

func seconds(s float64) string { return short(time.Duration(s * float64(time.Second))) }

func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// writeRows writes figures as lines: group, name, value.
func writeRows(w io.Writer, rows []Row, width int) {
	groups, names := 0, 0
	for _, r := range rows {
		groups, names = max(groups, columns(r.Group)), max(names, columns(r.Name))
	}
	names = min(names, width/3)
	for _, r := range rows {
		lead := groups + 2 + names + 2
		name := clip(r.Name, names)
		for i, line := range wrap(r.Value, width-lead, 0) {
			if i == 0 {
				group := r.Group
				if group != "" {
					group = strong.Render(group)
				}
				fmt.Fprintf(w, "%s%-*s%s%s%s\n", group, groups+2-columns(r.Group), "", name, strings.Repeat(" ", names+2-columns(name)), line)
				continue
			}
			fmt.Fprintf(w, "%*s%s\n", lead, "", line)
		}
	}
}
