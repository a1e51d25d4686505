package harmony

import "strings"

// quality reads a suffix that runs to the end, or to the slash before a bass.
// What it leaves open it takes from the triad. A named triad is one that stands
// already, as by a small roman numeral: maj7 does not make it major.
func (s *scanner) quality(triad quality, named bool) (quality, *fault) {
	r := recipe{triad: triad}
	start, seventh, kind := s.at, minorSeventh, plainWord

	s.blank()
	w, ok := s.word()
	if ok && (!named || !w.big()) {
		named = true
		r.triad, seventh, kind = w.triad, w.seventh, w.kind
		ok = false
		if kind == plainWord || kind == dashWord {
			if w, ok = s.word(); ok && !w.big() {
				return 0, notUnderstood(s.text, s.at-len(w.text))
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
	case r.triad == augmentedTriad: // +5 says it twice
	case kind == dashWord: // 1-2 and 1-5 are two degrees
		numbers = []string{"13", "11", "6/9", "69", "6", "7", "9"}
	case named:
		numbers = []string{"13", "11", "6/9", "69", "6", "7", "9", "2"}
	}
	number := s.take(numbers...)
	switch {
	case number == "5" && r.triad == augmentedTriad:
	case number == "5":
		r.triad = bareFifth
	case number != "":
		r.tall = stack(number, seventh)
	case kind == tallWord:
		return 0, notUnderstood(s.text, start)
	case kind == bigSymbol || kind == halfSymbol:
		r.tall = seventh
	}

	if f := s.modifiers(&r, seventh); f != nil {
		return 0, f
	}
	return r.quality(), nil
}

// modifiers reads what follows the number, plain or in parentheses.
func (s *scanner) modifiers(r *recipe, seventh quality) *fault {
	open, filled := -1, false
	for s.at < len(s.text) {
		switch {
		case open < 0 && s.blank():
		case open < 0 && s.text[s.at] == '/':
			if !s.slashed(r) {
				return nil
			}
		case open < 0 && s.take("(") != "":
			open, filled = s.at-1, false
		case open >= 0 && s.take(",", " ", "/") != "":
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

// slashed reads a tone that stands after a slash, as in C7/9 and Cm/maj7, or
// stays before the slash where a bass follows.
func (s *scanner) slashed(r *recipe) bool {
	start := s.at
	s.take("/")
	if s.bigSeventh(r) {
		return true
	}
	alter := s.accidental()
	if t, ok := s.tensionOf(alter, "13", "11", "9"); ok {
		if alter != 0 {
			r.alter |= t.tone
		} else {
			r.add |= t.tone
		}
		return true
	}
	s.at = start
	return false
}

// modifier reads one alteration, addition, suspension or omission into r, or
// stays where it is.
func (s *scanner) modifier(r *recipe) bool {
	start := s.at
	switch s.takeWord("add", "sus", "no", "omit", "alt", "aug") {
	case "add":
		if t, ok := s.tension(s.accidental()); ok && t.number != "5" {
			r.add |= t.tone
			return true
		}
	case "sus":
		return s.suspension(r)
	case "no", "omit":
		switch s.take("3", "5") {
		case "3":
			r.omit |= thirds
			return true
		case "5":
			r.omit |= fifths
			return true
		}
	case "alt":
		if r.triad == majorTriad && r.tall&^minorSeventh == 0 {
			// common practice, no source: the four notes that a hand grabs
			r.tall, r.alter = minorSeventh, r.alter|sharpFifth|sharpNinth
			return true
		}
	case "aug":
		r.alter |= sharpFifth
		return true
	default:
		if s.bigSeventh(r) || s.alteration(r) {
			return true
		}
	}
	s.at = start
	return false
}

// bigSeventh reads a major seventh, with what may stand on it, where no seventh
// was named; a ninth and its like only imply one: Cm9(maj7).
func (s *scanner) bigSeventh(r *recipe) bool {
	start := s.at
	w, ok := s.word()
	if ok && w.big() {
		number := s.take("13", "11", "9", "7")
		if number == "" && w.kind == bigSymbol {
			number = "7"
		}
		implied := r.tall&minorSeventh != 0 && r.tall != minorSeventh
		if number != "" && r.tall&sevenths == 0 || number == "7" && implied {
			r.tall = r.tall&^sevenths | stack(number, majorSeventh)
			return true
		}
	}
	s.at = start
	return false
}

// alteration reads an altered tone. A plus alone raises the fifth: C7+. The
// flat sixth leaves the fifth in place.
func (s *scanner) alteration(r *recipe) bool {
	start := s.at
	alter := s.accidental()
	if alter == 0 {
		alter = s.sign()
	}
	plus := s.text[start:s.at] == "+"
	switch t, ok := s.tension(alter); {
	case ok && alter != 0 && t.number == "6":
		r.add |= t.tone
	case ok && alter != 0:
		r.alter |= t.tone
	case plus:
		r.alter |= sharpFifth
	default:
		s.at = start
		return false
	}
	return true
}

// suspension reads what follows "sus", which alone is sus4; sus7 and its like
// are 7sus4.
func (s *scanner) suspension(r *recipe) bool {
	switch s.take("24", "42", "2", "4") {
	case "24", "42":
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
	return s.tensionOf(alter, "13", "11", "9", "6", "5", "4", "2")
}

// tensionOf reads one of the numbers, or stays where it is.
func (s *scanner) tensionOf(alter int, numbers ...string) (tension, bool) {
	start := s.at
	number := s.take(numbers...)
	for _, t := range tensions {
		if t.alter == alter && t.number == number {
			return t, true
		}
	}
	s.at = start
	return tension{}, false
}

// bareTension reads a number alone, as it stands in parentheses.
func (s *scanner) bareTension(r *recipe, seventh quality) bool {
	if r.tall&sevenths == 0 && s.take("7") != "" {
		r.tall |= seventh
		return true
	}
	t, ok := s.tensionOf(0, "13", "11", "9", "6", "2")
	r.add |= t.tone
	return ok
}
