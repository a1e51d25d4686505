package chart

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"bedd/internal/gathering"
	"bedd/internal/voicing"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{"accidentals": accidentals}).Parse(pageText))

// WriteHTML writes charts as pages to print, and before them the order of songs and
// moments of a plan, unless that is nil. The pages fit A4 and Letter, and load
// nothing.
func WriteHTML(w io.Writer, title string, g *gathering.Gathering, charts []Chart) error {
	page := struct {
		Title  string
		Style  template.CSS
		Order  []item
		Charts []printed
	}{Title: title, Style: template.CSS(pageStyle)}
	if g != nil {
		page.Order = order(g)
	}
	for i := range charts {
		page.Charts = append(page.Charts, charts[i].printed())
	}
	return pageTemplate.Execute(w, page)
}

// printed is a chart as its page shows it.
type printed struct {
	*Chart
	Size             string // of the cards: of the row with most
	About            []string
	HomeRow, AwayRow row
	LandRow          row
	Rest             string // instead of a landing
	Ways             []printedWay
	Avoid            []printedAvoided
}

type row struct {
	Title string
	Cards []card
}

type card struct {
	Name       template.HTML
	Degree     string
	DegreeMore string // what follows the number, but for the bass
	DegreeBass string // with its slash
	Keys       template.HTML
	Bass       string
	Both, Here string
	Passing    string
}

type printedWay struct{ From, Text string }

type printedAvoided struct{ What, Notes string }

func (c *Chart) printed() printed {
	keys := spanOf(c.Home, c.Away, c.Land)
	p := printed{Chart: c, About: c.about(), Size: "narrow"}
	width := narrowCard
	switch most := max(len(c.Home), len(c.Away), len(c.Land)); {
	case most <= 2:
		p.Size, width = "grand", grandCard
	case most == 3:
		p.Size, width = "wide", wideCard
	}
	p.HomeRow, p.AwayRow = row{"Home", keys.cards(c.Home, width)}, row{"Away", keys.cards(c.Away, width)}
	switch {
	case c.Next == nil:
		p.Rest = "Nothing follows: rest on the tonic and fade"
	case len(c.Land) == 0:
		p.Rest = fmt.Sprintf("Land in %s, in %s: %s is its first chord already", c.Next.Title, accidentals(c.Next.Key.String()), accidentals(c.From.Symbol()))
	default:
		p.LandRow = row{"Land", keys.cards(c.Land, width)}
		p.Ways = append(p.Ways, printedWay{c.From.Symbol(), "as above"})
	}
	p.Ways = append(p.Ways, c.otherWays()...)
	for _, a := range c.avoid() {
		p.Avoid = append(p.Avoid, printedAvoided{a.what, strings.Join(a.notes, " ")})
	}
	return p
}

// otherWays are the ways that Land does not show, those alike together.
func (c *Chart) otherWays() (ways []printedWay) {
	for _, w := range c.Ways {
		if w.From == c.From {
			continue
		}
		i := slices.IndexFunc(ways, func(o printedWay) bool { return o.Text == w.text() })
		if i < 0 {
			ways = append(ways, printedWay{w.From.Symbol(), w.text()})
		} else {
			ways[i].From += ", " + w.From.Symbol()
		}
	}
	return ways
}

func (k span) cards(steps []Step, width int) (cards []card) {
	for i := range steps {
		s := &steps[i]
		both, here, passing := s.names()
		degree := s.Chord.Degree(s.Key)
		number := strings.IndexAny(degree, "1234567") + 1
		more, bass, slash := strings.Cut(degree[number:], "/")
		c := card{
			Degree:     accidentals(degree[:number]),
			DegreeMore: accidentals(more),
			Name:       template.HTML(drawnName(s.Chord, width)),
			Keys:       template.HTML(k.keyboard(s)), // made of numbers and note names alone
			Both:       accidentals(strings.Join(both, " ")),
			Here:       accidentals(strings.Join(here, " ")),
			Passing:    accidentals(strings.Join(passing, " ")),
		}
		if slash {
			c.DegreeBass = accidentals("/" + bass)
		}
		if s.Voicing.Bass != voicing.NoBass {
			c.Bass = accidentals(s.note(int(s.Voicing.Bass)))
		}
		cards = append(cards, c)
	}
	return cards
}

// accidentals writes b and # as ♭ and ♯ where they are accidentals: after the
// letter of a note, or before a number.
func accidentals(s string) string {
	r := []rune(s)
	for i, c := range r {
		switch {
		case c == '#':
			r[i] = '♯'
		case c != 'b':
		case i > 0 && (r[i-1] >= 'A' && r[i-1] <= 'G' || r[i-1] == '♭') && (i == 1 || r[i-1] == '♭' || !letter(r[i-2])), i+1 < len(r) && r[i+1] >= '0' && r[i+1] <= '9' && (i == 0 || !letter(r[i-1]) || r[i-1] == 'm'):
			r[i] = '♭'
		}
	}
	return string(r)
}

func letter(c rune) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }
