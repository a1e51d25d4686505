package gathering

import (
	"cmp"
	"fmt"
	"slices"
)

// Severity is how bad a finding is, the worst last.
type Severity uint8

const (
	Remark  Severity = iota // worth knowing
	Trouble                 // likely to be heard
	Failure                 // it cannot be played so
)

// String names the severity in small letters.
func (s Severity) String() string {
	return [...]string{Remark: "remark", Trouble: "trouble", Failure: "failure"}[s]
}

// Finding is something that could go wrong.
type Finding struct {
	Severity Severity
	Line     int    // of the plan's file
	About    string // the moment or song
	Text     string
	Advice   string // what to do, or empty
}

// Check looks through a plan for all that could go wrong, the worst first, then
// in the order of the file. Top lines and safe notes are those of each progression
// voiced by itself, with the rig's usual number of voices; on stage home and away
// are voiced together, at any density.
func (a *Adviser) Check(g *Gathering) []Finding {
	c := &checker{Adviser: a, g: g}
	for i := range g.Moments {
		c.moment(i)
	}
	c.songs()
	c.unknown()
	c.rigParts()
	slices.SortStableFunc(c.found, func(p, q Finding) int {
		return cmp.Or(cmp.Compare(q.Severity, p.Severity), cmp.Compare(p.Line, q.Line))
	})
	return c.found
}

// checker is one look through a plan.
type checker struct {
	*Adviser
	g     *Gathering
	found []Finding
}

// at is a moment that is looked at.
type at struct {
	*checker
	i    int
	m    *Moment
	song *Song // that follows, or nil
}

func (c *checker) moment(i int) {
	w := at{checker: c, i: i, m: &c.g.Moments[i]}
	if song, ok := c.g.Next(i); ok && !song.NoKey {
		w.song = &song
	}
	if !w.fits() {
		return
	}
	w.keys()
	w.variety()
	w.repeats()
	if w.song != nil {
		w.progressions()
		w.figure()
		w.landings()
	}
}

// say puts down a finding about the moment.
func (w at) say(s Severity, advice, text string, args ...any) {
	w.found = append(w.found, Finding{Severity: s, Line: w.m.Line, About: w.m.For, Text: fmt.Sprintf(text, args...), Advice: advice})
}
