package gathering

import (
	"strings"

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
	p := newPlanReader(library)
	if root := p.document(data, planHint); root != nil {
		p.plan(root)
	}
	if err := fileError(name, p.faults); err != nil {
		return Gathering{}, err
	}
	return p.titled(name), nil
}

const planHint = "a plan lists songs and moments under order:"

func newPlanReader(library Library) *planReader {
	return &planReader{reader: &reader{}, library: library, intensity: DefaultIntensity}
}

// titled is the plan, called like its file where it says no title.
func (p *planReader) titled(name string) Gathering {
	if p.g.Title == "" {
		p.g.Title = strings.TrimPrefix(baseName(name), planPrefix)
	}
	return p.g
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
	ending    harmony.Ending
	ended     bool // ending is said
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
	then             *yaml.Node // the title of the song that follows, or nil
}

func (p *planReader) plan(root *yaml.Node) {
	said := p.mapping(root, "a plan",
		field{"title", p.text("title", &p.g.Title)},
		field{"comfort", p.comfort(&p.g.Comfort)},
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
		p.written = p.written[:maxMoments]
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
		field{"ending", p.endingOf(&p.ending, &p.ended)},
	)
	if numbers == "relative" {
		p.numbers = harmony.Relative
	}
	p.g.Numbers = p.numbers
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
