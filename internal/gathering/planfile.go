package gathering

import (
	"strings"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"go.yaml.in/yaml/v3"
)

// Most items of a plan, and most moments, as the bed takes them.
const (
	maxItems   = 1000
	maxMoments = 256
)

// ReadGathering reads a plan; the name is for its errors, which are of type
// *[FileError]. A plan without moments has one between each two songs, and
// after a song that is alone. A moment that does not say its key is in that of
// the song before, else of the song after. A moment that names no chords takes
// the plan's own, else the library's first pair for its mode.
func ReadGathering(name string, data []byte, library Library) (Gathering, error) {
	p := planReader{reader: &reader{}, library: library}
	p.intensity = DefaultIntensity
	if root := p.document(data, "a plan lists songs and moments under order:"); root != nil {
		p.plan(root)
	}
	if err := fileError(name, p.faults); err != nil {
		return Gathering{}, err
	}
	if p.g.Title == "" {
		p.g.Title = strings.TrimPrefix(baseName(name), planPrefix)
	}
	return p.g, nil
}

// planReader reads a plan in two passes: what is written, then what follows
// from it.
type planReader struct {
	*reader
	library   Library
	g         Gathering
	chords    beds // of the plan as a whole
	intensity float64
	numbers   harmony.Numbers
	keyless   []bool // songs whose key is not known
	written   []writtenMoment
}

// beds is how a moment or the plan names its progressions.
type beds struct {
	pair, home, away             string
	pairLine, homeLine, awayLine int
}

// writtenMoment is a moment before its key is known.
type writtenMoment struct {
	Moment
	beds
	keySaid, keyRead bool
}

func (p *planReader) plan(root *yaml.Node) {
	said := p.mapping(root, "a plan",
		field{"title", p.text("title", &p.g.Title)},
		field{"defaults", p.defaults},
		field{"order", p.items},
	)
	p.need(root, said, "order", "a plan lists songs and moments:")
	if said.has("order") && len(p.g.Songs)+len(p.written) == 0 && len(p.faults) == 0 {
		p.fault(said.line("order"), "order is empty: it lists songs and moments")
	}
	if len(p.written) == 0 {
		p.imply()
	}
	if len(p.written) > maxMoments {
		p.fault(p.written[maxMoments].Line, "a plan has at most %d moments", maxMoments)
		return
	}
	for i := range p.written {
		p.settle(&p.written[i])
	}
}

func (p *planReader) defaults(n *yaml.Node) {
	var numbers string
	said := p.mapping(n, "defaults",
		field{"bed", p.text("bed", &p.chords.pair)},
		field{"home", p.text("home", &p.chords.home)},
		field{"away", p.text("away", &p.chords.away)},
		field{"intensity", p.part("intensity", 0, 1, &p.intensity)},
		field{"numbers", p.choice("numbers", &numbers, "tonic", "relative")},
	)
	if numbers == "relative" {
		p.numbers = harmony.Relative
	}
	p.lines(said, &p.chords)
	if p.chords.pair != "" {
		p.named(p.chords)
	}
	p.progression(p.chords.homeLine, "home", p.chords.home, pitch.Key{}, p.numbers)
	p.progression(p.chords.awayLine, "away", p.chords.away, pitch.Key{}, p.numbers)
}

// named is the pair that b names, if the library has it.
func (p *planReader) named(b beds) (Pair, bool) {
	pair, ok := p.library.Named(b.pair)
	if !ok {
		p.fault(b.pairLine, "there is no bed %q in the library: %s", clip(b.pair), advice(b.pair, p.library.names()))
	}
	return pair, ok
}

// lines notes where progressions are written, and that they go together.
func (p *planReader) lines(said fields, b *beds) {
	b.pairLine, b.homeLine, b.awayLine = said.line("bed"), said.line("home"), said.line("away")
	switch {
	case said.has("bed") && (said.has("home") || said.has("away")):
		p.fault(b.pairLine, "bed names both progressions: leave out either bed or home and away")
	case said.has("away") && !said.has("home"):
		p.fault(b.awayLine, "away needs home beside it")
	}
}

func (p *planReader) items(n *yaml.Node) {
	for _, item := range p.list(n, "order", maxItems) {
		if item.Kind != yaml.MappingNode {
			p.fault(item.Line, "an item of the order is a song (song: TITLE) or a moment (for: WHAT), not %s", kindOf(item))
			continue
		}
		song, moment := false, false
		for i := 0; i < len(item.Content); i += 2 {
			song = song || item.Content[i].Value == "song"
			moment = moment || item.Content[i].Value == "for"
		}
		switch {
		case song && moment:
			p.fault(item.Line, "an item is a song or a moment: leave out either song or for")
		case song:
			p.song(item)
		case moment:
			p.moment(item)
		default:
			p.fault(item.Line, "this item is neither a song (song: TITLE) nor a moment (for: WHAT)")
		}
	}
}

func (p *planReader) song(n *yaml.Node) {
	s := Song{Line: n.Line}
	var first string
	keyed := false
	said := p.mapping(n, "a song",
		field{"song", p.text("song", &s.Title)},
		field{"key", p.key(&s.Key, &keyed)},
		field{"tempo", p.part("tempo", 20, 300, &s.Tempo)},
		field{"first", p.text("first", &first)},
	)
	p.need(n, said, "key", "a song has a key:")
	if keyed {
		s.First = harmony.Diatonic(s.Key, 1)
		if first != "" {
			var err error
			if s.First, err = harmony.ParseStep(first, s.Key, p.numbers); err != nil {
				p.fault(said.line("first"), "first: %v", err)
			}
		}
	}
	p.g.Songs, p.keyless = append(p.g.Songs, s), append(p.keyless, !keyed)
}

func (p *planReader) moment(n *yaml.Node) {
	m := writtenMoment{Moment: Moment{After: len(p.g.Songs) - 1, Line: n.Line}}
	m.Bed.Intensity = p.intensity
	var minutes, longest float64
	before := len(p.faults)
	said := p.mapping(n, "a moment",
		field{"for", p.text("for", &m.For)},
		field{"cue", p.text("cue", &m.Cue)},
		field{"key", p.key(&m.Bed.Key, &m.keyRead)},
		field{"bed", p.text("bed", &m.pair)},
		field{"home", p.text("home", &m.home)},
		field{"away", p.text("away", &m.away)},
		field{"intensity", p.part("intensity", 0, 1, &m.Bed.Intensity)},
		field{"minutes", p.part("minutes", 0.1, 240, &minutes)},
		field{"longest", p.part("longest", 0.1, 240, &longest)},
	)
	m.keySaid = said.has("key")
	p.lines(said, &m.beds)
	if len(p.faults) == before && longest > 0 && longest < minutes {
		p.fault(said.line("longest"), "longest %v is shorter than minutes %v", longest, minutes)
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
		m.After, m.Bed.Intensity = i, p.intensity
		p.written = append(p.written, m)
	}
}

// settle finds a moment's key, chords and where it leads.
func (p *planReader) settle(w *writtenMoment) {
	m := &w.Moment
	next := m.After + 1
	follows := next < len(p.g.Songs)
	known := w.keyRead
	if !w.keySaid {
		switch {
		case m.After >= 0:
			m.Bed.Key, known = p.g.Songs[m.After].Key, !p.keyless[m.After]
		case follows:
			m.Bed.Key, known = p.g.Songs[next].Key, !p.keyless[next]
		default:
			p.fault(m.Line, "this moment has no key, and there is no song to take it from: add key:")
		}
	}
	if follows {
		m.Bed.NextKey, m.Bed.NextChord = p.g.Songs[next].Key, p.g.Songs[next].First
	}
	if known {
		p.voice(m, w.beds)
	}
	p.g.Moments = append(p.g.Moments, *m)
}

// voice finds a moment's progressions: its own, else the plan's, else the
// library's first.
func (p *planReader) voice(m *Moment, b beds) {
	key, numbers := m.Bed.Key, p.numbers
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
	if b.pair != "" {
		pair, ok := p.named(b)
		if !ok {
			return
		}
		if pair.Minor != key.Minor {
			p.fault(b.pairLine, "bed %q is for %s keys, but the moment on line %d is in %v: give that moment a bed of its own, one of %s",
				pair.Name, mode(pair.Minor), m.Line, key, strings.Join(p.library.namesFor(key.Minor), ", "))
			return
		}
		m.Pair, b.home, b.away, numbers = pair.Name, pair.Home, pair.Away, harmony.FromTonic
		b.homeLine, b.awayLine = b.pairLine, b.pairLine
	}
	m.Home, m.Away = b.home, b.away
	m.Bed.Home = p.progression(b.homeLine, "home", b.home, key, numbers)
	m.Bed.Away = p.progression(b.awayLine, "away", b.away, key, numbers)
}

func mode(minor bool) string {
	if minor {
		return "minor"
	}
	return "major"
}
