package score

// note is a sounding note of a melody.
type note struct {
	pitch    int
	at, long float64 // in quarter notes from the song's start
}

// A phrase is long enough to tell the song, and short enough to be its opening:
// by ear.
const (
	leastPhrase = 4  // notes
	mostPhrase  = 12 // notes
	phraseTime  = 8  // quarter notes from the first note
	breath      = 1  // quarter notes of rest that end a phrase
)

// phrase is the first phrase of a melody: up to the first rest of a quarter note
// after four notes, or eight quarter notes, or twelve notes.
func phrase(melody []note) (figure []int) {
	for i, n := range melody {
		if len(figure) == mostPhrase {
			break
		}
		if len(figure) >= leastPhrase {
			before := melody[i-1]
			if n.at-before.at-before.long >= breath || n.at-melody[0].at >= phraseTime {
				break
			}
		}
		figure = append(figure, n.pitch)
	}
	if len(figure) < 2 {
		return nil
	}
	return figure
}

// skyline is the upper line of notes that may overlap, given in the order of
// their beginnings: at each beginning the highest that starts, unless a higher
// one still sounds for longer than a moment.
func skyline(notes []note) (line []note) {
	const together = 1.0 / 16 // quarter notes: a chord that is not quite at once
	for _, n := range notes {
		if len(line) > 0 {
			last := &line[len(line)-1]
			switch {
			case n.at-last.at < together:
				if n.pitch > last.pitch {
					*last = n
				}
				continue
			case last.at+last.long-n.at > together && last.pitch > n.pitch && n.at-last.at < last.long/2:
				continue
			}
		}
		line = append(line, n)
	}
	return line
}
