package gathering

import (
	"strings"
	"time"

	"bedd/internal/harmony"

	"go.yaml.in/yaml/v3"
)

func (p *planReader) moment(n *yaml.Node) {
	m := writtenMoment{Moment: Moment{After: len(p.g.Songs) - 1, Line: n.Line}}
	m.Bed.Intensity, m.Ending, m.OwnEnding = p.intensity, p.ending, p.ended
	var minutes, longest float64
	before := len(p.faults)
	said := p.mapping(n, "a moment",
		field{"for", p.text("for", &m.For)},
		field{"mood", p.text("mood", &m.Mood)},
		field{"cue", p.text("cue", &m.Cue)},
		field{"cue-by", p.text("cue-by", &m.CueBy)},
		field{"key", p.key(&m.Bed.Key, &m.keyRead)},
		field{"bed", p.text("bed", &m.pair)},
		field{"home", p.text("home", &m.home)},
		field{"away", p.text("away", &m.away)},
		field{"intensity", p.part("intensity", 0, 1, &m.Bed.Intensity)},
		field{"minutes", p.part("minutes", 0.1, 240, &minutes)},
		field{"longest", p.part("longest", 0.1, 240, &longest)},
		field{"ending", p.endingOf(&m.Ending, &m.OwnEnding)},
		field{"then", func(n *yaml.Node) { m.then = n }},
	)
	m.keySaid = said.has("key")
	p.lines(said, &m.beds)
	if len(p.faults) == before && longest > 0 && longest < minutes {
		p.fault(said.line("longest"), "longest %v is shorter than minutes %v", longest, minutes)
		longest = 0
	}
	m.Lasts, m.Longest = inMinutes(minutes), inMinutes(longest)
	p.written = append(p.written, m)
}

func inMinutes(m float64) time.Duration {
	return time.Duration(m * float64(time.Minute)).Round(time.Second)
}

// imply makes the moments of a plan that lists only songs.
func (p *planReader) imply() {
	for i, s := range p.g.Songs {
		var m writtenMoment
		switch {
		case i+1 < len(p.g.Songs):
			m.For, m.Line = "between "+s.Title+" and "+p.g.Songs[i+1].Title, p.g.Songs[i+1].Line
		case len(p.g.Songs) == 1:
			m.For, m.Line = "after "+s.Title, s.Line
		default:
			continue
		}
		m.After, m.Bed.Intensity, m.Ending, m.OwnEnding = i, p.intensity, p.ending, p.ended
		p.written = append(p.written, m)
	}
}

// endingOf reads how a landing ends, and that it is said.
func (p *planReader) endingOf(to *harmony.Ending, said *bool) func(*yaml.Node) {
	return func(n *yaml.Node) {
		var name string
		if p.choice("ending", &name, harmony.Endings()...)(n); name != "" {
			*to, _ = harmony.ParseEnding(name)
			*said = true
		}
	}
}

// settle finds a moment's key, chords and where it leads. One that cannot have a
// key is left out.
func (p *planReader) settle(w *writtenMoment) {
	m := &w.Moment
	songs := p.g.Songs
	before, next := m.After, m.After+1
	m.Then = -1
	if next < len(songs) {
		m.Then = next
	}
	if w.then != nil {
		m.Then = p.follows(w.then, next)
	}
	known := w.keyRead
	if !w.keySaid {
		switch {
		case before >= 0:
			m.Bed.Key, known = songs[before].Key, !songs[before].NoKey
		case m.Then >= 0:
			m.Bed.Key, known = songs[m.Then].Key, !songs[m.Then].NoKey
		default:
			p.fault(m.Line, "this moment has no key, and there is no song to take it from: add key:")
		}
	}
	if !known && m.Then >= 0 && !songs[m.Then].NoKey && len(p.faults) > 0 {
		m.Bed.Key, known = songs[m.Then].Key, true // in a broken plan
	}
	if !known {
		return
	}
	if m.Then >= 0 && !songs[m.Then].NoKey {
		m.Bed.NextKey, m.Bed.NextChord = songs[m.Then].Key, songs[m.Then].First
	}
	p.voice(m, w.beds)
	if pair, ok := p.library.First(m.Bed.Key.Minor); len(m.Bed.Home) == 0 && ok { // in a broken plan
		p.choose(m, pair, m.Line)
	}
	if len(m.Bed.Home) > 0 {
		p.g.Moments = append(p.g.Moments, *m)
	}
}

// follows is the song with the title that n says, from the one with the index
// next on, else before it; -1 for none.
func (p *planReader) follows(n *yaml.Node, next int) int {
	var title string
	if p.text("then", &title)(n); title == "" {
		return -1
	}
	var titles []string
	found := -1
	for i, s := range p.g.Songs {
		titles = append(titles, s.Title)
		if strings.EqualFold(s.Title, title) && (found < next) {
			found = i
		}
	}
	if found < 0 && title != "none" {
		p.fault(n.Line, "then: there is no song %q: %s", clip(title), advice(title, append(titles, "none")))
	}
	return found
}

// voice finds a moment's progressions: its own, else the plan's, else the
// library's first.
func (p *planReader) voice(m *Moment, b beds) {
	key := m.Bed.Key
	if b.pair == "" && b.homeLine == 0 && b.pairLine == 0 && b.awayLine == 0 {
		b = p.chords
	}
	if b.pair == "" && b.homeLine == 0 {
		pair, ok := p.library.First(key.Minor)
		if !ok {
			p.fault(m.Line, "this moment names no chords: add home:")
			return
		}
		b.pair, b.pairLine = pair.Name, m.Line
	}
	if b.pair == "" {
		m.Home, m.Away = b.home, b.away
		m.Bed.Home = p.progression(b.homeLine, "home", b.home, key, p.numbers)
		m.Bed.Away = p.progression(b.awayLine, "away", b.away, key, p.numbers)
		return
	}
	pair, ok := p.named(b)
	if !ok {
		return
	}
	if pair.Minor != key.Minor {
		p.fault(b.pairLine, "bed %q is for %s keys, but the moment on line %d is in %v: give that moment a bed of its own, one of %s",
			pair.Name, mode(pair.Minor), m.Line, key, strings.Join(p.library.namesFor(key.Minor), ", "))
		return
	}
	p.choose(m, pair, b.pairLine)
}

// choose gives a moment a pair of the library's.
func (p *planReader) choose(m *Moment, pair Pair, line int) {
	m.Pair, m.Home, m.Away = pair.Name, pair.Home, pair.Away
	m.Bed.Home = p.progression(line, "home", pair.Home, m.Bed.Key, harmony.FromTonic)
	m.Bed.Away = p.progression(line, "away", pair.Away, m.Bed.Key, harmony.FromTonic)
}

func mode(minor bool) string {
	if minor {
		return "minor"
	}
	return "major"
}
