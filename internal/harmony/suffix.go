package harmony

import "strings"

// word is a beginning of a suffix that names the chord's triad.
type word struct {
	text    string
	triad   quality
	seventh quality // what a number after the word takes for its seventh
	kind    wordKind
}

type wordKind uint8

const (
	plainWord  wordKind = iota
	bigWord             // may follow another word to make its seventh major
	bigSymbol           // a bigWord that has its seventh without a number
	halfSymbol          // has its seventh without a number
	tallWord            // names no chord without a number
)

// words holds each longer word before its own beginning.
var words = [...]word{
	{"major", majorTriad, majorSeventh, bigWord},
	{"maj", majorTriad, majorSeventh, bigWord},
	{"Maj", majorTriad, majorSeventh, bigWord},
	{"ma", majorTriad, majorSeventh, bigWord},
	{"Ma", majorTriad, majorSeventh, bigWord},
	{"M", majorTriad, majorSeventh, bigWord},
	{"Δ", majorTriad, majorSeventh, bigSymbol}, // the Greek letter
	{"∆", majorTriad, majorSeventh, bigSymbol}, // the increment sign
	{"△", majorTriad, majorSeventh, bigSymbol}, // the triangle
	{"minor", minorTriad, minorSeventh, plainWord},
	{"min", minorTriad, minorSeventh, plainWord},
	{"mi", minorTriad, minorSeventh, plainWord},
	{"m", minorTriad, minorSeventh, plainWord},
	{"-", minorTriad, minorSeventh, plainWord},
	{"−", minorTriad, minorSeventh, plainWord}, // the minus sign
	{"dim", diminishedTriad, diminishedSeventh, plainWord},
	{"°", diminishedTriad, diminishedSeventh, plainWord},
	{"º", diminishedTriad, diminishedSeventh, plainWord}, // the ordinal sign
	{"o", diminishedTriad, diminishedSeventh, plainWord},
	{"ø", diminishedTriad, minorSeventh, halfSymbol},
	{"Ø", diminishedTriad, minorSeventh, halfSymbol},
	{"aug", augmentedTriad, minorSeventh, plainWord},
	{"+", augmentedTriad, minorSeventh, plainWord},
	{"dom", majorTriad, minorSeventh, tallWord},
}

// parseQuality reads the suffix that starts in s at the given offset and runs
// to the end, or to the slash before a bass, and returns where it ends. What
// the suffix leaves open it takes from the triad. A named triad is one that
// stands already, as by a small roman numeral: maj7 does not make it major.
func parseQuality(s string, at int, triad quality, named bool) (q quality, end int, f *fault) {
	sc := &scanner{s, at}
	r := recipe{triad: triad}
	seventh, kind := minorSeventh, plainWord

	w, ok := sc.word()
	if ok && (!named || !w.big()) {
		named = true
		r.triad, seventh, kind = w.triad, w.seventh, w.kind
		ok = false
		if kind == plainWord {
			if w, ok = sc.word(); ok && !w.big() {
				return 0, 0, notUnderstood(s, sc.at-len(w.text))
			}
		}
	}
	if ok { // as in Cm(maj7) without its parentheses
		seventh, kind = majorSeventh, w.kind
		if kind == bigWord {
			kind = tallWord
		}
	}

	numbers := []string{"13", "11", "6/9", "69", "6", "7", "9", "5", "2"}
	switch {
	case kind == tallWord:
		numbers = []string{"13", "11", "7", "9"}
	case seventh == diminishedSeventh:
		numbers = []string{"7"}
	case named:
		numbers = []string{"13", "11", "6/9", "69", "6", "7", "9"}
	}
	number := sc.take(numbers...)
	switch {
	case number == "5":
		r.triad = bareFifth
	case number != "":
		r.tall = stack(number, seventh)
	case kind == tallWord:
		return 0, 0, notUnderstood(s, at)
	case kind == bigSymbol || kind == halfSymbol:
		r.tall = seventh
	}

	if f := sc.modifiers(&r, seventh); f != nil {
		return 0, 0, f
	}
	return r.quality(), sc.at, nil
}

func (w word) big() bool {
	return w.kind == bigWord || w.kind == bigSymbol
}

// scanner walks through a suffix.
type scanner struct {
	text string
	at   int
}

// take moves past the first of the options that comes next, and returns it.
func (s *scanner) take(options ...string) string {
	for _, o := range options {
		if strings.HasPrefix(s.text[s.at:], o) {
			s.at += len(o)
			return o
		}
	}
	return ""
}

// word moves past the word that comes next.
func (s *scanner) word() (word, bool) {
	for _, w := range words {
		rest, ok := strings.CutPrefix(s.text[s.at:], w.text)
		if ok && !(strings.HasSuffix(w.text, "a") && strings.HasPrefix(rest, "dd")) { // the a of add
			s.at += len(w.text)
			return w, true
		}
	}
	return word{}, false
}

// accidental moves past one accidental: -1 for a flat, 1 for a sharp, 0 when
// there is none.
func (s *scanner) accidental() int {
	switch s.take("b", "♭", "#", "♯") {
	case "b", "♭":
		return -1
	case "#", "♯":
		return 1
	}
	return 0
}

// modifiers reads what follows the number, plain or in parentheses.
func (s *scanner) modifiers(r *recipe, seventh quality) *fault {
	open, filled := -1, false
	for s.at < len(s.text) {
		switch {
		case open < 0 && s.text[s.at] == '/':
			return nil
		case open < 0 && s.take("(") != "":
			open, filled = s.at-1, false
		case open >= 0 && s.take(",", " ") != "":
		case open >= 0 && filled && s.take(")") != "":
			open = -1
		case s.modifier(r) || open >= 0 && s.bareTension(r, seventh):
			filled = true
		case open >= 0 && !strings.Contains(s.text[s.at:], ")"):
			return unclosed(open)
		default:
			return notUnderstood(s.text, s.at)
		}
	}
	if open >= 0 {
		return unclosed(open)
	}
	return nil
}

func unclosed(open int) *fault {
	return &fault{at: open, what: `"(" is not closed`, hint: "alterations and additions may stand in parentheses, as in C7(b9,#11)"}
}

// modifier reads one alteration, addition, suspension or omission into r, or
// stays where it is.
func (s *scanner) modifier(r *recipe) bool {
	start := s.at
	switch s.take("add", "sus", "no") {
	case "add":
		if t, ok := s.tension(s.accidental()); ok && t.number != "5" {
			r.add |= t.tone
			return true
		}
	case "sus":
		return s.suspension(r)
	case "no":
		switch s.take("3", "5") {
		case "3":
			r.omit |= thirds
			return true
		case "5":
			r.omit |= fifths
			return true
		}
	default:
		if alter := s.accidental(); alter != 0 {
			if t, ok := s.tension(alter); ok {
				r.alter |= t.tone
				return true
			}
		} else if w, ok := s.word(); ok && w.big() && r.tall&sevenths == 0 && (s.take("7") != "" || w.kind == bigSymbol) {
			r.tall |= majorSeventh
			return true
		}
	}
	s.at = start
	return false
}

// suspension reads what follows "sus", which alone is sus4; sus7 and its like
// are 7sus4.
func (s *scanner) suspension(r *recipe) bool {
	switch s.take("24", "2", "4") {
	case "24":
		r.sus |= suspensions
		return true
	case "2":
		r.sus |= suspendedSecond
		return true
	case "4":
		r.sus |= suspendedFourth
		return true
	}
	r.sus |= suspendedFourth
	if r.tall == 0 {
		r.tall = stack(s.take("13", "7", "9"), minorSeventh)
	}
	return true
}

// tension reads the number of a tone with the given accidental before it.
func (s *scanner) tension(alter int) (tension, bool) {
	number := s.take("13", "11", "9", "6", "5", "4", "2")
	for _, t := range tensions {
		if t.alter == alter && t.number == number {
			return t, true
		}
	}
	return tension{}, false
}

// bareTension reads a number alone, as it stands in parentheses.
func (s *scanner) bareTension(r *recipe, seventh quality) bool {
	if r.tall&sevenths == 0 && s.take("7") != "" {
		r.tall |= seventh
		return true
	}
	switch s.take("13", "11", "9") {
	case "13":
		r.add |= majorThirteenth
	case "11":
		r.add |= perfectEleventh
	case "9":
		r.add |= majorNinth
	default:
		return false
	}
	return true
}
