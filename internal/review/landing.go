package review

import (
	"sort"
	"time"

	"bedd/internal/bed"
)

// stays joins the chords of a stretch that are of one place and moment.
func (s *Session) stays() (list [][]Chord) {
	for i, c := range s.Chords {
		if n := len(list); n > 0 && !c.First && c.Place == s.Chords[i-1].Place && c.Moment == s.Chords[i-1].Moment {
			list[n-1] = s.Chords[i-len(list[n-1]) : i+1]
			continue
		}
		list = append(list, s.Chords[i:i+1])
	}
	return list
}

// entered counts the chords of a stay that were entered there.
func entered(stay []Chord) (n int) {
	for _, c := range stay {
		if !c.Same {
			n++
		}
	}
	return n
}

// repetition finds what went on longest and what came most often.
func (s *Session) repetition() (r Repetition) {
	for i, c := range s.Chords {
		if took := s.lasts(i).Seconds(); took > r.LongestChord {
			r.LongestChord, r.Chord, r.ChordAt = took, c.Symbol, c.From.Seconds()
		}
	}
	for _, stay := range s.stays() {
		first, last := stay[0], stay[len(stay)-1]
		took := (last.To - first.From).Seconds()
		if took <= r.LongestStay || first.Place != bed.Home && first.Place != bed.Away {
			continue
		}
		r.LongestStay, r.StayPlace, r.StayAt, r.StayRounds = took, first.Place.String(), first.From.Seconds(), 0
		if n := len(s.progression(first.Moment, first.Place)); n > 0 {
			r.StayRounds = float64(entered(stay)) / float64(n)
		}
	}
	changes := map[string]int{}
	for i, c := range s.Chords {
		if c.First || c.Same || i == 0 {
			continue
		}
		change := s.Chords[i-1].Symbol + " to " + c.Symbol
		changes[change]++
		if n := changes[change]; n > r.ChangeTimes {
			r.Change, r.ChangeTimes = change, n
		}
	}
	r.DifferentMoves = len(changes)
	return r
}

// songStarts is how long after a bed's end the piano is taken for the next song's
// start. Common practice, no source.
const songStarts = time.Minute

// landings tells how each way into a song went.
func (s *Session) landings() []Landed {
	list := []Landed{}
	for i, o := range s.Orders {
		if o.Command != bed.Land {
			continue
		}
		until := s.Length // the next landing is another
		for _, later := range s.Orders[i+1:] {
			if later.Command == bed.Land {
				until = later.At
				break
			}
		}
		if l, ok := s.landing(o.At, until); ok {
			list = append(list, l)
		}
	}
	return list
}

// landing tells of the way that begins with an order, up to another one.
func (s *Session) landing(at, until time.Duration) (l Landed, ok bool) {
	l = Landed{At: at.Seconds(), Chords: []string{}, Held: []int{}, Voices: []int{}}
	i := sort.Search(len(s.Chords), func(i int) bool { return s.Chords[i].From >= at })
	var rests *Chord // where the bed is in the end
	if i > 0 && s.Chords[i-1].To >= at {
		rests = &s.Chords[i-1]
		l.From = rests.Symbol
	}
	last := at
	for ; i < len(s.Chords); i++ {
		c := &s.Chords[i]
		if c.Place != bed.Landing || c.First || c.From >= until && until < s.Length {
			break
		}
		if rests = c; c.Same {
			continue
		}
		l.Chords = append(l.Chords, c.Symbol)
		l.Held = append(l.Held, upperHeld(c))
		l.Voices = append(l.Voices, len(c.Upper))
		last = c.From
	}
	if rests == nil {
		return l, false
	}
	l.Took = (last - at).Seconds()
	if m := rests.Moment; m >= 0 && m < len(s.Moments) {
		l.To = s.Moments[m].NextChord
	}
	l.Arrived = rests.Symbol == l.To || l.To == "" && rests.Degree == "1"
	l.Gap = s.gap(last)
	return l, true
}

func upperHeld(c *Chord) (n int) {
	for _, u := range c.Upper {
		for _, h := range c.Held {
			if h == u {
				n++
			}
		}
	}
	return n
}

// gap is the silence between the end of the bed that sounds at a time and the
// piano's next strike; 0 where the piano was there before. Nil where none follows.
func (s *Session) gap(arrived time.Duration) *float64 {
	for _, b := range s.Beds {
		if b.To < arrived || b.From > arrived {
			continue
		}
		for _, n := range s.Played {
			if n.From < arrived {
				continue
			}
			if n.From > b.To+songStarts {
				return nil
			}
			gap := max(n.From-b.To, 0).Seconds()
			return &gap
		}
	}
	return nil
}
