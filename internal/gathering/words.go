package gathering

import (
	"fmt"
	"strings"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// why explains a pair's rank in a sentence: how it goes, what speaks for it, and
// what against.
func (o *outlook) why(p ranked) string {
	said := []string{o.character(p)}
	var but []string
	if o.song != nil {
		pro, con := o.songWords(p)
		said, but = append(said, pro...), append(but, con...)
	}
	switch {
	case p.home.again > harmony.Disguised || p.away.again > harmony.Disguised:
		but = append(but, "the moment before had this already")
	case p.home.again == harmony.Disguised || p.away.again == harmony.Disguised:
		but = append(but, "it is close to what the moment before had")
	}
	if lasts := o.moment.Lasts; lasts > 0 && p.chords < p.wanted {
		but = append(but, fmt.Sprintf("%s are few for %s", chordCount(p.chords), minutes(lasts)))
	} else if lasts > 2*time.Minute {
		said = append(said, fmt.Sprintf("%s carry %s", chordCount(p.chords), minutes(lasts)))
	}
	changes := len(p.home.chords) + len(p.away.chords)
	if held := int((p.home.voiced.held*float64(len(p.home.chords))+p.away.voiced.held*float64(len(p.away.chords)))/float64(changes) + 0.5); held > 0 {
		said = append(said, fmt.Sprintf("%s of its notes stay at a change", numberWord(held)))
	}
	s := said[0]
	if rest := said[1:]; len(rest) > 0 {
		s += "; " + clauses(rest)
	}
	if len(but) > 0 {
		s += "; but " + clauses(but)
	}
	return s + "."
}

// clauses joins parts of a sentence.
func clauses(list []string) string {
	last := len(list) - 1
	if last == 0 {
		return list[0]
	}
	return strings.Join(list[:last], ", ") + ", and " + list[last]
}

// character says how a pair goes.
func (o *outlook) character(p ranked) string {
	home := "Home rests without a dominant"
	if o.hasDominant(p.home.chords) {
		home = "Home goes round by the dominant"
	}
	if len(p.away.chords) == 0 {
		return home + ", and there is no away"
	}
	last := p.away.chords[len(p.away.chords)-1]
	back := ""
	switch d := last.Root.Class(); {
	case d == o.scale(5) && last.SoundsLike(harmony.Dominant(o.grown.key)):
		back = "strongly"
	case d == o.scale(5):
		back = "gently"
	case d == o.scale(4):
		back = "mildly"
	case d == o.scale(7):
		back = "by step"
	}
	away := "away comes back by " + last.Degree(o.grown.key)
	if back != "" {
		away += ", " + back
	}
	return home + ", " + away
}

// scale is the class of a degree in the reference key.
func (o *outlook) scale(degree int) pitch.Class { return o.grown.key.Scale()[degree-1].Class() }

// songWords says what a pair has of the song that follows, and how it leads there.
func (o *outlook) songWords(p ranked) (pro, con []string) {
	r, what := o.worst(p)
	related := r.Kinship > harmony.Unrelated
	opening, playable := p.home.opening || p.away.opening, p.home.playable+p.away.playable
	switch {
	case related:
		con = append(con, fmt.Sprintf("%s %s", what, kinWords(r.Kinship, r.section, o.song.Title)))
	case len(o.sections) > 0 && len(o.figure) > 0 && !opening && playable == 0:
		pro = append(pro, fmt.Sprintf("it has nothing of %q nor of its figure", o.song.Title))
	case len(o.sections) > 0:
		pro = append(pro, fmt.Sprintf("it has nothing of %q", o.song.Title))
	}
	switch {
	case opening:
		con = append(con, "its top line begins like the song's figure")
	case playable > 0:
		con = append(con, fmt.Sprintf("on %s the song's figure lies on safe notes", chordCount(playable)))
	case len(o.figure) > 0 && (related || len(o.sections) == 0):
		pro = append(pro, "it keeps off the song's figure")
	}
	leads := p.away.leads
	if leads.IsZero() {
		leads = p.home.leads
	}
	switch {
	case p.home.chroma || p.away.chroma:
		con = append(con, fmt.Sprintf("the way to %s needs a chromatic step", keyName(o.song.Key)))
	case !leads.IsZero():
		pro = append(pro, fmt.Sprintf("its %s is already %s of %s, where the song is", leads.Degree(o.grown.key), leads.Degree(o.to), keyName(o.song.Key)))
	}
	return pro, con
}

// worst is the closest relation that a pair has to the song, and what of it.
func (o *outlook) worst(p ranked) (relation, string) {
	r, what := p.home.relation, "home"
	if q := p.away.relation; q.Kinship > r.Kinship {
		r, what = q, "away"
	}
	if q := p.relation; q.Kinship > r.Kinship {
		r, what = q, "home and away together"
	}
	return r, what
}

// kinWords says what a progression is to a song's section.
func kinWords(k harmony.Kinship, section, title string) string {
	of := fmt.Sprintf("the %s of %q", section, title)
	switch k {
	case harmony.Equal:
		return "is " + of
	case harmony.Rotated:
		return "is " + of + ", begun on another chord"
	case harmony.Contains:
		return "goes all through " + of
	case harmony.Contained:
		return "is a part of " + of
	case harmony.Disguised:
		return "is " + of + " in disguise"
	}
	return "has nothing of " + of
}

func chordCount(n int) string {
	if n == 1 {
		return "one chord"
	}
	return numberWord(n) + " chords"
}

func minutes(d time.Duration) string {
	switch m := d.Minutes(); {
	case m == 1:
		return "a minute"
	case m == float64(int(m)):
		return numberWord(int(m)) + " minutes"
	default:
		return fmt.Sprintf("%.1f minutes", m)
	}
}

// numberWord writes small numbers in letters.
func numberWord(n int) string {
	words := [...]string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}
