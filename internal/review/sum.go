package review

import (
	"math"
	"slices"
	"strings"
	"time"

	"bedd/internal/bed"
)

// Sum works the figures out.
func (s *Session) Sum() Figures {
	f := Figures{Length: s.Length.Seconds(), Beds: len(s.Beds),
		Orders: map[string]int{}, Notices: map[string]int{}, Delays: []DelaySum{}, Wires: []WireSum{},
		Floods: s.Floods, Under: s.Under, Refused: s.Refused,
		Sent: SentBytes{s.Sent.SetUp, s.Sent.Piano, s.Sent.Bed}}
	for _, b := range s.Beds {
		f.Sounded += (b.To - b.From).Seconds()
	}
	f.Silent = f.Length - f.Sounded
	f.Places, f.Progressions = s.places()
	f.Voices, f.Sources, f.Intensity = s.states()
	f.Moments = s.moments()
	s.pace(&f)
	f.Repetition = s.repetition()
	f.Landings = s.landings()
	for _, o := range s.Orders {
		f.Orders[o.Command.String()]++
	}
	for _, n := range s.Notices {
		f.Notices[n.Kind]++
		if n.Kind == portKind && n.Bad {
			f.PortLost++
		}
	}
	for _, d := range s.Delays {
		f.Delays = append(f.Delays, DelaySum{d.What, d.Count, milli(d.P50), milli(d.P90), milli(d.P99), milli(d.Max)})
	}
	for _, w := range s.Wires {
		f.Wires = append(f.Wires, WireSum{w.Name, w.Baud, w.Sent, w.Most, w.At.Seconds(), milli(w.Wait)})
	}
	return f
}

func milli(d time.Duration) float64 { return math.Round(d.Seconds()*1e6) / 1e3 }

// placeNames are the places in the order in which they are told.
var placeNames = []bed.Place{bed.Home, bed.Away, bed.Hand, bed.Landing, bed.Turning}

// places gives the time on each, and on each moment's progressions.
func (s *Session) places() (shares []Share, list []Progression) {
	var by [bed.Turning + 1]float64
	type which struct {
		moment int
		place  bed.Place
	}
	found := map[which]int{}
	list = []Progression{}
	for _, c := range s.Chords {
		took := (c.To - c.From).Seconds()
		by[c.Place] += took
		k := which{c.Moment, c.Place}
		i, known := found[k]
		if !known {
			i = len(list)
			found[k] = i
			list = append(list, Progression{Moment: s.MomentTitle(c.Moment), Number: c.Moment + 1, Place: c.Place.String(), Chords: strings.Join(s.progression(c.Moment, c.Place), " ")})
		}
		list[i].Seconds += took
		if !c.Same {
			list[i].Entered++
		}
	}
	for k, i := range found {
		if n := len(s.progression(k.moment, k.place)); n > 0 {
			list[i].Rounds = float64(list[i].Entered) / float64(n)
		}
	}
	shares = []Share{}
	for _, p := range placeNames {
		shares = append(shares, Share{Name: p.String(), Seconds: by[p]})
	}
	return shares, list
}

// progression gives what the plan has at a place of a moment.
func (s *Session) progression(moment int, p bed.Place) []string {
	if moment < 0 || moment >= len(s.Moments) {
		return nil
	}
	switch p {
	case bed.Home:
		return s.Moments[moment].Home
	case bed.Away:
		return s.Moments[moment].Away
	}
	return nil
}

// states gives the time with each number of voices and by each source, and the
// intensity by time.
func (s *Session) states() (voices, sources []Share, intensity Spread) {
	byVoices, bySource := map[uint8]Share{}, map[string]float64{}
	var levels []weighed
	for i, now := range s.States {
		to := s.Length
		if i+1 < len(s.States) {
			to = s.States[i+1].At
		}
		took := (to - now.At).Seconds()
		if !now.Sounds || took <= 0 {
			continue
		}
		n := byVoices[now.Voices]
		if n.Seconds += took; i == 0 || !s.States[i-1].Sounds || s.States[i-1].Voices != now.Voices {
			n.Times++
		}
		byVoices[now.Voices] = n
		bySource[now.Source.String()] += took
		levels = append(levels, weighed{now.Intensity, took})
	}
	voices, sources = []Share{}, []Share{}
	for n, share := range byVoices {
		share.Name = itoa(int(n))
		voices = append(voices, share)
	}
	slices.SortFunc(voices, func(a, b Share) int {
		if len(a.Name) != len(b.Name) {
			return len(a.Name) - len(b.Name)
		}
		return strings.Compare(a.Name, b.Name)
	})
	for name, took := range bySource {
		sources = append(sources, Share{Name: name, Seconds: took})
	}
	slices.SortFunc(sources, func(a, b Share) int {
		if a.Seconds != b.Seconds {
			return compare(b.Seconds, a.Seconds)
		}
		return strings.Compare(a.Name, b.Name)
	})
	return voices, sources, spread(levels)
}

func (s *Session) moments() []MomentSum {
	list := []MomentSum{}
	for _, v := range s.Visits {
		m := MomentSum{Title: s.MomentTitle(v.Moment), Number: v.Moment + 1, From: v.From.Seconds()}
		if v.Moment >= 0 && v.Moment < len(s.Moments) {
			m.Lasts, m.Longest = s.Moments[v.Moment].Lasts.Seconds(), s.Moments[v.Moment].Longest.Seconds()
		}
		for _, b := range s.Beds {
			m.Sounded += max(min(b.To, v.To)-max(b.From, v.From), 0).Seconds()
		}
		for _, c := range s.Chords {
			if c.From >= v.From && (c.From < v.To || v.To == s.Length) && c.Moment == v.Moment && !c.Same {
				m.Chords++
			}
		}
		list = append(list, m)
	}
	return list
}

func (s *Session) pace(f *Figures) {
	var lasting []weighed
	changes := 0
	for i, c := range s.Chords {
		if c.Same {
			continue
		}
		f.Chords++
		lasting = append(lasting, weighed{s.lasts(i).Seconds(), 1})
		if !c.First {
			changes++
			f.Kept += len(c.Held)
			f.Moved += len(c.New)
		}
	}
	f.ChordTime = spread(lasting)
	if f.Sounded > 0 {
		f.PerMinute = 60 * float64(changes) / f.Sounded
	}
}

// lasts gives how long chord i sounds, whatever place it goes on from.
func (s *Session) lasts(i int) time.Duration {
	from, to := s.Chords[i].From, s.Chords[i].To
	for _, c := range s.Chords[i+1:] {
		if !c.Same {
			break
		}
		to = c.To
	}
	return to - from
}

// weighed is a value and how much it counts.
type weighed struct{ value, weight float64 }

// spread gives the least, the middle by weight, and the most.
func spread(list []weighed) (s Spread) {
	if len(list) == 0 {
		return s
	}
	slices.SortFunc(list, func(a, b weighed) int { return compare(a.value, b.value) })
	all := 0.0
	for _, w := range list {
		all += w.weight
	}
	s.Low, s.High = list[0].value, list[len(list)-1].value
	so := 0.0
	for _, w := range list {
		if so += w.weight; so >= all/2 {
			s.Median = w.value
			break
		}
	}
	return s
}

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
