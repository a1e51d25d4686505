package review

import (
	_ "embed"
	"html/template"
	"io"
	"strings"
	"time"
)

//go:embed page/page.html
var pageText string

//go:embed page/style.css
var pageStyle string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// pageView is what the page shows, in words.
type pageView struct {
	Heading, About string
	Style          template.CSS
	Notes, Advice  []string
	Overview       template.HTML
	Visits         []pageVisit
	Groups         []pageGroup
	Said           []pageSaid
	More           int // told besides
	Against        *pageView
	Compared       []Compared
}

// pageVisit is a moment with its lines of score.
type pageVisit struct {
	Title, At, Sounded string
	Lines              []template.HTML
}

type pageGroup struct {
	Name string
	Rows []Row
}

type pageSaid struct {
	At, Words string
	Bad       bool
}

// mostSaid is how many notices the page lists.
const mostSaid = 200

// Page writes a session as one HTML page that needs nothing else, fit for a screen
// and for A4 paper, beside another session where one is given.
func (s *Session) Page(to io.Writer, other *Session) error {
	f := s.Sum()
	p := s.view()
	p.Style = template.CSS(pageStyle)
	p.Advice = Advice(s, f)
	score := newScore(s)
	for _, v := range s.Visits {
		p.Visits = append(p.Visits, score.visit(v))
	}
	for _, r := range f.Rows() {
		if r.Group != "" {
			p.Groups = append(p.Groups, pageGroup{Name: r.Group})
		}
		last := &p.Groups[len(p.Groups)-1]
		last.Rows = append(last.Rows, r)
	}
	for _, n := range s.Notices {
		if len(p.Said) == mostSaid {
			p.More++
			continue
		}
		p.Said = append(p.Said, pageSaid{clock(n.At), Plain(n.Words), n.Bad})
	}
	if other != nil {
		p.Against = other.view()
		p.Compared = Compare(f, other.Sum())
	}
	return pageTemplate.Execute(to, p)
}

// view is what all pages show of a session.
func (s *Session) view() *pageView {
	p := &pageView{Heading: s.heading(), About: s.about(), Overview: template.HTML(newScore(s).overview())}
	for _, n := range s.Notes {
		p.Notes = append(p.Notes, Plain(n))
	}
	return p
}

// visit draws what sounded in a moment.
func (c *score) visit(v Visit) pageVisit {
	p := pageVisit{Title: Plain(c.s.MomentTitle(v.Moment)), At: "from " + clock(v.From)}
	for _, x := range c.passages(v) {
		for _, svg := range c.draw(x) {
			p.Lines = append(p.Lines, template.HTML(strings.TrimSpace(svg)))
		}
	}
	sounded := time.Duration(0)
	for _, b := range c.s.Beds {
		sounded += max(min(b.To, v.To)-max(b.From, v.From), 0)
	}
	if sounded > 0 {
		p.Sounded = "sounding for " + clock(sounded)
	}
	return p
}
