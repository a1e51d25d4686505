package progress

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"bedd/internal/recall"
)

// Exercise is one that is practised, with its title.
type Exercise struct {
	recall.Exercise
	Title string
}

// Want is what is summed up.
type Want struct {
	Exercises []Exercise
	Key       string // this one alone, or all if empty
	Weeks     int    // how many, at least 1
}

// Summary is how the practising goes.
type Summary struct {
	Only      string   `json:"key,omitempty"` // the key that all of it is about
	Minutes   float64  `json:"minutes"`       // in all
	Tasks     int      `json:"tasks"`
	Days      int      `json:"days"`              // on which was practised
	Keys      []Key    `json:"keys"`              // around the circle of fifths from C
	Others    []Key    `json:"other_keys"`        // that were practised besides
	Weakest   string   `json:"weakest,omitempty"` // of those on the circle that were played, where two were
	Weeks     []Week   `json:"weeks"`             // the latest last
	Exercises []Curve  `json:"exercises"`
	Due       []Due    `json:"due"`  // what a practice would begin with now
	Last      []Last   `json:"last"` // what was played last, the latest first
	Troubles  []string `json:"troubles,omitempty"`
}

// Key is how a key is had.
type Key struct {
	Name     string    `json:"key"`
	Strength float64   `json:"strength"` // 0…1
	Played   int       `json:"played"`
	Last     time.Time `json:"last,omitzero"`
}

// Week is seven days from a Monday.
type Week struct {
	From     time.Time `json:"from"`
	Minutes  float64   `json:"minutes"`
	Strength float64   `json:"strength"` // 0…1 at its end, over all keys and exercises
}

// Curve is how an exercise went over the weeks, over all keys.
type Curve struct {
	Name     string    `json:"exercise"`
	Title    string    `json:"title"`
	Strength []float64 `json:"strength"` // 0…1 at the end of each week
	Level    int       `json:"level"`    // the highest that some key has come to
}

// Due is what comes next.
type Due struct {
	Exercise string `json:"exercise"`
	Key      string `json:"key"`
	Level    int    `json:"level"`
	Why      string `json:"why"`
}

// Last is a task that was played.
type Last struct {
	At     time.Time `json:"at"`
	Due              // what it was; Why is empty
	Mark   float64   `json:"mark"` // 0…1
	Whole  bool      `json:"whole"`
	Figure string    `json:"figure"`
}

// How much a summary lists.
const (
	mostDue  = 5
	mostLast = 8
)

// monday is the begin of a time's week, where the player is.
func monday(t time.Time) time.Time {
	back := (int(t.Weekday()) + 6) % 7
	return time.Date(t.Year(), t.Month(), t.Day()-back, 0, 0, 0, 0, t.Location())
}

// Sum sums a history up, in now's zone.
func Sum(h History, w Want, now time.Time) Summary {
	keys := recall.Keys
	if w.Key != "" {
		keys, h = []string{w.Key}, h.In(w.Key)
	}
	s := Summary{Only: w.Key, Troubles: h.Troubles, Keys: []Key{}, Others: []Key{}, Weeks: []Week{}, Exercises: []Curve{}, Due: []Due{}, Last: []Last{}}
	var plain []recall.Exercise
	for _, e := range w.Exercises {
		plain = append(plain, e.Exercise)
		s.Exercises = append(s.Exercises, Curve{Name: e.Name, Title: e.Title})
	}
	all := h.Recall()
	days := map[string]bool{}
	for _, a := range h.Attempts {
		s.Minutes += a.Lasted.Minutes()
		days[a.At.In(now.Location()).Format(time.DateOnly)] = true
	}
	s.Tasks, s.Days = len(h.Attempts), len(days)
	standings := recall.Stand(all, plain, keys, now)
	s.Keys = byKey(s.Keys, standings)
	if w.Key == "" {
		s.Others = byKey(s.Others, recall.Stand(all, plain, besides(all), now))
	}
	s.Weakest = weakest(s.Keys)
	for i := range s.Exercises {
		for _, st := range standings {
			if st.Exercise == s.Exercises[i].Name && st.Played > 0 {
				s.Exercises[i].Level = max(s.Exercises[i].Level, st.Level)
			}
		}
	}
	s.overWeeks(all, plain, keys, w.Weeks, now)
	for _, c := range recall.Plan(all, recall.Want{Exercises: plain, Keys: keys, Time: time.Hour}, now) {
		if len(s.Due) == mostDue {
			break
		}
		s.Due = append(s.Due, Due{c.Exercise, c.Key, c.Level, c.Why})
	}
	for _, a := range slices.Backward(h.Attempts) {
		if len(s.Last) == mostLast {
			break
		}
		s.Last = append(s.Last, Last{a.At, Due{Exercise: a.Exercise, Key: a.Key, Level: a.Level}, a.Mark, a.Whole, a.Figure})
	}
	return s
}

func weakest(keys []Key) string {
	played := slices.DeleteFunc(slices.Clone(keys), func(k Key) bool { return k.Played == 0 })
	if len(played) < 2 {
		return ""
	}
	return slices.MinFunc(played, func(a, b Key) int { return cmp.Compare(a.Strength, b.Strength) }).Name
}

func byKey(list []Key, standings []recall.Standing) []Key {
	for _, k := range recall.ByKey(standings) {
		list = append(list, Key{k.Key, k.Strength, k.Played, k.Last})
	}
	return list
}

// besides lists the keys of a history that are not on the circle.
func besides(all []recall.Attempt) (list []string) {
	for _, a := range all {
		if key := recall.KeyName(a.Key); !slices.Contains(recall.Keys, key) && !slices.Contains(list, key) {
			list = append(list, key)
		}
	}
	return list
}

func (s *Summary) overWeeks(all []recall.Attempt, exercises []recall.Exercise, keys []string, weeks int, now time.Time) {
	first := monday(now).AddDate(0, 0, -7*(weeks-1))
	var ends []time.Time
	for i := range weeks {
		s.Weeks = append(s.Weeks, Week{From: first.AddDate(0, 0, 7*i)})
		end := first.AddDate(0, 0, 7*(i+1))
		if end.After(now) {
			end = now
		}
		ends = append(ends, end)
	}
	for _, a := range all {
		if a.At.Before(first) {
			continue
		}
		i, _ := slices.BinarySearchFunc(ends, a.At, func(end, at time.Time) int {
			if at.Before(end) {
				return 1
			}
			return -1
		})
		s.Weeks[min(i, weeks-1)].Minutes += a.Lasted.Minutes() // one from a clock that was ahead counts as now
	}
	for i, standings := range recall.StandAt(all, exercises, keys, ends) {
		strengths := map[string]float64{}
		for _, st := range standings {
			strengths[st.Exercise] += st.Strength / float64(len(keys))
		}
		for k := range s.Exercises {
			x := strengths[s.Exercises[k].Name]
			s.Exercises[k].Strength = append(s.Exercises[k].Strength, x)
			s.Weeks[i].Strength += x / float64(len(s.Exercises))
		}
	}
}

// ago says in a word or two when something was.
func ago(t, now time.Time) string {
	if t.IsZero() {
		return "never"
	}
	midnight := func(t time.Time) time.Time {
		y, m, d := t.In(now.Location()).Date()
		return time.Date(y, m, d, 12, 0, 0, 0, time.UTC)
	}
	switch days := int(midnight(now).Sub(midnight(t)).Hours()+0.5) / 24; {
	case days <= 0:
		return "today"
	case days == 1:
		return "yesterday"
	default:
		return fmt.Sprintf("%d days ago", days)
	}
}

func duration(minutes float64) string {
	whole := int(minutes + 0.5)
	if whole < 60 {
		return fmt.Sprintf("%d min", whole)
	}
	return fmt.Sprintf("%d h %02d min", whole/60, whole%60)
}
