package review

import (
	"math"
	"slices"
	"strings"
	"time"

	"bedd/internal/bed"
)

// Figures are what a session comes to. Times are seconds.
type Figures struct {
	Length  float64 `json:"length_s"`
	Sounded float64 `json:"bed_sounded_s"` // from each bring-in to the silence after it
	Silent  float64 `json:"bed_silent_s"`  // the rest
	Beds    int     `json:"bring_ins"`

	Places       []Share       `json:"places"` // while the bed sounded: home, away, hand, landing
	Progressions []Progression `json:"progressions"`
	Voices       []Share       `json:"voices"`  // upper notes, while the bed sounded
	Sources      []Share       `json:"sources"` // of the intensity, likewise
	Moments      []MomentSum   `json:"moments"`

	Chords     int        `json:"chords"`
	PerMinute  float64    `json:"changes_per_minute"`
	ChordTime  Spread     `json:"chord_lasts_s"`
	Kept       int        `json:"notes_held"` // over all changes, bass included
	Moved      int        `json:"notes_moved"`
	Intensity  Spread     `json:"intensity"` // by time, while the bed sounded
	Repetition Repetition `json:"repetition"`
	Landings   []Landed   `json:"landings"`

	Orders   map[string]int `json:"orders"`
	Notices  map[string]int `json:"notices"` // by kind
	PortLost int            `json:"ports_lost"`
	Floods   uint64         `json:"values_thinned"`
	Under    uint64         `json:"underruns"` // blocks of sound that came too late
	Refused  uint64         `json:"refused"`   // the player's messages on the bed's channels
	Sent     SentBytes      `json:"bytes"`
	Delays   []DelaySum     `json:"delays"`
	Wires    []WireSum      `json:"outputs"`
}

// Share is a part of the time.
type Share struct {
	Name    string  `json:"name"`
	Seconds float64 `json:"s"`
	Times   int     `json:"times,omitempty"` // how often it began; of voices alone
}

// Progression is one of a moment's progressions as it was played.
type Progression struct {
	Moment  string  `json:"moment"`
	Number  int     `json:"number"` // of the moment, from 1
	Place   string  `json:"place"`
	Chords  string  `json:"chords"`
	Seconds float64 `json:"s"`
	Entered int     `json:"chords_entered"`
	Rounds  float64 `json:"rounds"` // chords entered over chords in it
}

// MomentSum is how a moment went; one that was gone to twice is there twice.
type MomentSum struct {
	Title   string  `json:"title"`
	Number  int     `json:"number"` // in the plan, from 1
	From    float64 `json:"at_s"`
	Sounded float64 `json:"bed_sounded_s"`
	Chords  int     `json:"chords"`
	Lasts   float64 `json:"planned_s,omitempty"`
	Longest float64 `json:"planned_longest_s,omitempty"`
}

// Spread is the least, the middle and the most of something.
type Spread struct {
	Low    float64 `json:"low"`
	Median float64 `json:"median"`
	High   float64 `json:"high"`
}

// Repetition is how much of the same there was.
type Repetition struct {
	LongestChord   float64 `json:"longest_chord_s"`
	Chord          string  `json:"chord"`
	ChordAt        float64 `json:"chord_at_s"`
	LongestStay    float64 `json:"longest_on_one_progression_s"`
	StayPlace      string  `json:"place"`
	StayAt         float64 `json:"place_at_s"`
	StayRounds     float64 `json:"rounds"`
	Change         string  `json:"change"` // the most frequent one
	ChangeTimes    int     `json:"change_times"`
	DifferentMoves int     `json:"different_changes"`
}

// Landed is how a way into a song went.
type Landed struct {
	At      float64  `json:"at_s"`
	From    string   `json:"from"`
	Chords  []string `json:"chords"` // entered on the way
	Held    []int    `json:"held"`   // upper notes that each of them left alone
	Voices  []int    `json:"voices"` // of so many
	To      string   `json:"to,omitempty"`
	Arrived bool     `json:"arrived"`
	Took    float64  `json:"took_s"`          // from the order to the last chord
	Gap     *float64 `json:"gap_s,omitempty"` // without bed and piano before the song; none where no piano followed
}

// SentBytes is what went out, without running status.
type SentBytes struct {
	SetUp int `json:"setup"`
	Piano int `json:"piano"`
	Bed   int `json:"bed"`
}

// DelaySum is how late the core was, in milliseconds: the slowest hundredth took
// P99 or longer.
type DelaySum struct {
	What  string  `json:"what"`
	Count int64   `json:"count"`
	P50   float64 `json:"p50_ms"`
	P90   float64 `json:"p90_ms"`
	P99   float64 `json:"p99_ms"`
	Max   float64 `json:"max_ms"`
}

// WireSum is how busy an output was.
type WireSum struct {
	Name  string  `json:"name"`
	Baud  int     `json:"baud,omitempty"`
	Bytes uint64  `json:"bytes"`
	Most  int     `json:"most_bytes_waiting"`
	At    float64 `json:"at_s"`
	Wait  float64 `json:"player_waits_ms"`
}

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
var placeNames = []bed.Place{bed.Home, bed.Away, bed.Hand, bed.Landing}

// places gives the time on each, and on each moment's progressions.
func (s *Session) places() (shares []Share, list []Progression) {
	var by [4]float64
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
