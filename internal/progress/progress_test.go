package progress

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/journal"
	"bedd/internal/recall"

	"pgregory.net/rapid"
)

var now = time.Date(2026, 11, 26, 19, 30, 0, 0, time.FixedZone("CET", 3600))

var exercises = []Exercise{
	{recall.Exercise{Name: "hold", Levels: 6, Takes: 50 * time.Second}, "hold and move"},
	{recall.Exercise{Name: "land", Levels: 5, Takes: 45 * time.Second}, "land <it>"},
}

// practised is a task of a practice as it is written.
type practised struct {
	task
	began, over time.Duration // over is negative for one that has no end
	tried       journal.Tried
}

// write writes a practice and gives its file.
func write(t testing.TB, dir string, began time.Time, list []practised, closed bool) string {
	t.Helper()
	h := journal.Header{Program: "(test)", Began: began, Moments: []journal.Moment{{Key: "C", Home: []string{"C"}}}}
	for _, p := range list {
		raw, err := json.Marshal(p.task)
		if err != nil {
			t.Fatal(err)
		}
		h.Tasks = append(h.Tasks, raw)
	}
	folder := filepath.Join(dir, Folder)
	w := journal.Start(journal.Options{Dir: folder, Header: h, Alone: true})
	for i, p := range list {
		w.Task(p.began, journal.Tried{Number: i})
		if p.over >= 0 {
			p.tried.Number, p.tried.Over = i, true
			w.Task(p.over, p.tried)
		}
	}
	var err error
	if closed {
		err = w.Close(time.Hour, "asked", 0)
	} else {
		err = w.Break()
	}
	if err != nil {
		t.Fatal(err)
	}
	return w.Path()
}

func one(exercise, key string, level int, at time.Duration, mark float64) practised {
	return practised{task{exercise, key, level}, at, at + 50*time.Second, journal.Tried{Whole: true, Mark: mark, Figure: "3 of 4"}}
}

func TestReadGivesWhatWasPractised(t *testing.T) {
	dir := t.TempDir()
	later := now.Add(-24 * time.Hour)
	write(t, dir, later, []practised{one("hold", "Db", 2, time.Minute, 0.8)}, true)
	cut := practised{task{"land", "C", 1}, 2 * time.Minute, -1, journal.Tried{}}
	write(t, dir, later.Add(-48*time.Hour), []practised{one("hold", "C", 1, time.Second, 0.5), cut}, false)
	h := Read(dir)
	if len(h.Troubles) > 0 || len(h.Attempts) != 3 {
		t.Fatalf("%+v", h)
	}
	for i, want := range []struct {
		key   string
		whole bool
		mark  float64
	}{{"C", true, 0.5}, {"C", false, 0}, {"Db", true, 0.8}} {
		a := h.Attempts[i]
		if a.Key != want.key || a.Whole != want.whole || a.Mark != want.mark {
			t.Errorf("attempt %d: %+v", i, a)
		}
	}
	if a := h.Attempts[2]; !a.At.Equal(later.Add(time.Minute)) || a.Lasted != 50*time.Second || a.Level != 2 || a.Figure != "3 of 4" {
		t.Errorf("%+v", a)
	}
	if h := Read(filepath.Join(dir, "none")); len(h.Attempts)+len(h.Troubles) > 0 {
		t.Errorf("%+v", h)
	}
}

// Whatever is wrong with one file, the others count, and what is wrong is told.
func TestBadFilesLoseNothingElse(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, now.Add(-time.Hour), []practised{one("hold", "C", 1, 0, 0.9)}, true)
	for name, text := range map[string]string{
		"2026-01-01T000000Z.jsonl": "",
		"2026-01-02T000000Z.jsonl": "\x00\xff not a journal\n",
		"2026-01-03T000000Z.jsonl": `{"k":"bedd journal","version":99,"moments":[{}]}` + "\n",
		"2026-01-04T000000Z.jsonl": `{"k":"bedd journal","version":1,"began":"2026-01-04T00:00:00Z","moments":[{"key":"C","home":["C"]}],"tasks":[7]}` + "\n" + `{"t":0,"k":"task","n":0}` + "\n",
		"notes.txt":                "what I want to practise",
	} {
		if err := os.WriteFile(filepath.Join(dir, Folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	h := Read(dir)
	if len(h.Attempts) != 1 || h.Attempts[0].Mark != 0.9 || len(h.Troubles) != 4 {
		t.Errorf("%d attempts, troubles %q", len(h.Attempts), h.Troubles)
	}
}

// A file torn at any byte gives the attempts before it, the last one cut short at most.
func TestTornAtAnyByte(t *testing.T) {
	dir := t.TempDir()
	path := write(t, dir, now.Add(-time.Hour), []practised{one("hold", "C", 1, 0, 0.9), one("land", "Eb", 2, time.Minute, 0.4)}, true)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	whole := Read(dir).Attempts
	header := slices.Index(data, '\n') + 1
	for n := range data {
		if err := os.WriteFile(path, data[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		got := Read(dir)
		if n >= header && len(got.Troubles) > 0 || len(got.Attempts) > len(whole) {
			t.Fatalf("torn at %d: %+v", n, got)
		}
		for i, a := range got.Attempts {
			if a.Whole && !reflect.DeepEqual(a, whole[i]) || a.Key != whole[i].Key {
				t.Fatalf("torn at %d: %+v", n, a)
			}
		}
	}
}

// Clocks that jump and two programs at once lose nothing, and all stands in order of
// time.
func TestNothingIsLostWhateverTheClocks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp("", "practice")
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		want := 0
		for range rapid.IntRange(0, 5).Draw(t, "practices") {
			began := now.Add(time.Duration(rapid.IntRange(-100, 100).Draw(t, "hours")) * time.Hour).In(time.FixedZone("", 3600*rapid.IntRange(-12, 12).Draw(t, "zone")))
			var list []practised
			for i := range rapid.IntRange(0, 4).Draw(t, "tasks") {
				p := one("hold", rapid.SampledFrom(recall.Keys).Draw(t, "key"), 1, time.Duration(i)*time.Minute, rapid.Float64Range(0, 1).Draw(t, "mark"))
				if rapid.Bool().Draw(t, "cut") {
					p.over = -1
				}
				list = append(list, p)
			}
			writeFor(dir, began, list)
			want += len(list)
		}
		h := Read(dir)
		if len(h.Attempts) != want || len(h.Troubles) > 0 {
			t.Fatalf("%d of %d, %q", len(h.Attempts), want, h.Troubles)
		}
		if !slices.IsSortedFunc(h.Attempts, func(a, b Attempt) int { return a.At.Compare(b.At) }) {
			t.Error("not in order of time")
		}
		s := Sum(h, Want{Exercises: exercises, Weeks: 4}, now)
		sum := 0.0
		for _, w := range s.Weeks {
			sum += w.Minutes
			if !(w.Strength >= 0 && w.Strength <= 1) {
				t.Errorf("strength %v", w.Strength)
			}
		}
		if s.Tasks != want || math.Abs(sum-s.Minutes) > 1e-6 {
			t.Errorf("%d tasks, %v of %v minutes", s.Tasks, sum, s.Minutes)
		}
	})
}

func writeFor(dir string, began time.Time, list []practised) {
	h := journal.Header{Program: "(test)", Began: began, Moments: []journal.Moment{{Key: "C", Home: []string{"C"}}}}
	for _, p := range list {
		raw, _ := json.Marshal(p.task)
		h.Tasks = append(h.Tasks, raw)
	}
	w := journal.Start(journal.Options{Dir: filepath.Join(dir, Folder), Header: h, Alone: true})
	for i, p := range list {
		w.Task(p.began, journal.Tried{Number: i})
		if p.over >= 0 {
			p.tried.Number, p.tried.Over = i, true
			w.Task(p.over, p.tried)
		}
	}
	w.Close(time.Hour, "asked", 0)
}

// invented is the history of a learner that we made up: twelve weeks, the flat keys
// late.
func invented() (h History) {
	random := rand.New(rand.NewPCG(1, 2))
	for day := 80; day >= 0; day -= 2 {
		for i := range 6 {
			key := recall.Keys[random.IntN(6+min((80-day)/10, 6))]
			a := Attempt{recall.Attempt{Skill: recall.Skill{Exercise: exercises[i%2].Name, Key: key}, Level: 1 + (80-day)/30,
				At: now.AddDate(0, 0, -day).Add(time.Duration(i) * time.Minute), Lasted: 50 * time.Second, Whole: true, Mark: 0.4 + 0.6*random.Float64()}, "3 of 4 shared notes held"}
			h.Attempts = append(h.Attempts, a)
		}
	}
	return h
}

func TestTextReadsWellAt80Columns(t *testing.T) {
	h := invented()
	h.Troubles = []string{"a.jsonl:1: this is no journal of bedd's; it is left out"}
	s := Sum(h, Want{Exercises: exercises, Weeks: 12}, now)
	text := s.Text(now)
	for _, line := range strings.Split(text, "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	for _, k := range s.Keys {
		if !strings.Contains(text, fmt.Sprintf("%s %.0f", k.Name, 100*k.Strength)) && k.Played > 0 {
			t.Errorf("%s is not there", k.Name)
		}
	}
	for _, want := range []string{"*" + s.Weakest, "hold and move", "minutes a week", "today", "a.jsonl"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	t.Log("\n" + text)
}

func TestThePageSaysTheSame(t *testing.T) {
	s := Sum(invented(), Want{Exercises: exercises, Weeks: 12}, now)
	s.Troubles = []string{"<script>"}
	var b strings.Builder
	if err := s.Page(&b, now); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, bad := range []string{"<script", "land <it>", "http://", "https://", "NaN"} {
		if strings.Contains(page, bad) {
			t.Errorf("%q on the page", bad)
		}
	}
	for _, k := range s.Keys {
		if !strings.Contains(page, fmt.Sprintf(`<th scope="row">%s</th><td>%.0f %%</td>`, k.Name, 100*k.Strength)) {
			t.Errorf("%s is not there as a number", k.Name)
		}
	}
	if path := os.Getenv("PROGRESS_PAGE"); path != "" { // to be looked at
		if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := Sum(History{}, Want{Exercises: exercises, Weeks: 1}, now).Page(&b, now); err != nil {
		t.Error(err)
	}
}

// A foreign journal gives a terminal no orders, and no line of its own.
func TestTextObeysNoJournal(t *testing.T) {
	evil := "\x1b[2J\x1b]0;x\a\nnext\u202e"
	h := History{Troubles: []string{evil}, Attempts: []Attempt{{recall.Attempt{Skill: recall.Skill{Exercise: evil, Key: evil}, Level: 1, At: now, Whole: true, Mark: 0.8}, evil}}}
	h.Attempts = append(h.Attempts, Attempt{recall.Attempt{Skill: recall.Skill{Exercise: "hold", Key: evil}, Level: 1, At: now, Whole: true, Mark: 0.8}, ""})
	text := Sum(h, Want{Exercises: exercises, Weeks: 2}, now).Text(now)
	if strings.ContainsAny(text, "\x1b\a\u202e") || strings.Count(text, "\nnext") != 1 {
		t.Errorf("%q", text)
	}
}

// Whatever is practised is seen: keys that sound alike together, minor keys besides.
func TestEveryKeyIsSeen(t *testing.T) {
	var h History
	for i, key := range []string{"Gb", "F#", "Am", "C"} {
		h.Attempts = append(h.Attempts, Attempt{recall.Attempt{Skill: recall.Skill{Exercise: "hold", Key: key}, Level: 6, At: now.Add(time.Duration(i) * time.Minute), Lasted: time.Minute, Whole: true, Mark: 1}, ""})
	}
	s := Sum(h, Want{Exercises: exercises, Weeks: 2}, now)
	played := map[string]int{}
	for _, k := range slices.Concat(s.Keys, s.Others) {
		played[k.Name] = k.Played
	}
	if played["F#"] != 2 || played["Am"] != 1 || played["C"] != 1 || len(s.Keys) != 12 || len(s.Others) != 1 {
		t.Errorf("%v", played)
	}
	var page strings.Builder
	if err := s.Page(&page, now); err != nil {
		t.Fatal(err)
	}
	if text := s.Text(now); !strings.Contains(text, "\n  Am 50 ■■") || !strings.Contains(page.String(), `<th scope="row">Am</th><td>50 %</td>`) {
		t.Error("A minor is missing in\n" + text)
	}
	one := Sum(h, Want{Exercises: exercises, Key: "Gb", Weeks: 2}, now)
	if one.Tasks != 2 || one.Minutes != 2 || len(one.Keys) != 1 || one.Keys[0].Played != 2 || one.Exercises[0].Strength[1] != 1 || one.Weeks[1].Strength != 0.5 {
		t.Errorf("%+v", one)
	}
	for _, d := range one.Due {
		if d.Key != "Gb" {
			t.Errorf("next is %+v", d)
		}
	}
	if text := one.Text(now); !strings.Contains(text, "in Gb alone: practised 2 min") || strings.Contains(text, "Eb") {
		t.Error(text)
	}
}

// The weakest is one of those that were played, where there are two to compare.
func TestTheWeakest(t *testing.T) {
	for _, c := range []struct {
		keys []Key
		want string
	}{
		{nil, ""},
		{[]Key{{Name: "C"}, {Name: "G"}}, ""},
		{[]Key{{Name: "C"}, {Name: "G", Played: 1, Strength: 0.2}}, ""},
		{[]Key{{Name: "C"}, {Name: "G", Played: 1, Strength: 0.2}, {Name: "D", Played: 9, Strength: 0.1}}, "D"},
	} {
		if got := weakest(c.keys); got != c.want {
			t.Errorf("%+v: %q, want %q", c.keys, got, c.want)
		}
	}
	var page strings.Builder
	if err := Sum(History{}, Want{Exercises: exercises, Weeks: 1}, now).Page(&page, now); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(page.String(), `<th scope="row">C</th><td>–</td>`) {
		t.Error("a key that was never played has a strength")
	}
}

// A bar stands whole wherever its key does on the circle.
func TestAFullBarIsWhole(t *testing.T) {
	var h History
	for _, e := range exercises {
		for _, key := range recall.Keys {
			h.Attempts = append(h.Attempts, Attempt{recall.Attempt{Skill: recall.Skill{Exercise: e.Name, Key: key}, Level: e.Levels, At: now, Whole: true, Mark: 1}, ""})
		}
	}
	text := Sum(h, Want{Exercises: exercises, Weeks: 2}, now).Text(now)
	for _, key := range recall.Keys {
		if !strings.Contains(text, key+" 100 ■■■■■") {
			t.Errorf("%s is cut:\n%s", key, text)
		}
	}
}

// A task without an end lasted until the next one began.
func TestCutTasksLast(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, now, []practised{{task{"land", "C", 1}, time.Minute, -1, journal.Tried{}}, {task{"hold", "G", 1}, 100 * time.Second, -1, journal.Tried{}}}, false)
	h := Read(dir)
	if len(h.Attempts) != 2 || h.Attempts[0].Lasted != 40*time.Second || h.Attempts[1].Lasted != 0 {
		t.Errorf("%+v", h)
	}
}

// Two that are being played are read as far as they have come, and whole when they
// have ended.
func TestTwoAtOnceAreRead(t *testing.T) {
	dir := t.TempDir()
	var both [2]*journal.Writer
	for i := range both {
		h := journal.Header{Program: "(test)", Began: now, Moments: []journal.Moment{{Key: "C", Home: []string{"C"}}}, Tasks: []json.RawMessage{[]byte(`{"exercise":"hold","key":"C","level":1}`)}}
		both[i] = journal.Start(journal.Options{Dir: filepath.Join(dir, Folder), Header: h})
		both[i].Task(time.Duration(i+1)*time.Second, journal.Tried{})
	}
	h := Read(dir)
	for deadline := time.Now().Add(10 * time.Second); len(h.Attempts) < 2 && time.Now().Before(deadline); h = Read(dir) {
		time.Sleep(10 * time.Millisecond) // the writers have their own pace
	}
	if len(h.Attempts) != 2 || len(h.Troubles) > 0 || h.Attempts[0].Whole || h.Attempts[1].Whole {
		t.Errorf("while they are played: %+v", h)
	}
	for _, w := range both {
		w.Task(50*time.Second, journal.Tried{Over: true, Whole: true, Mark: 0.5})
		if err := w.Close(time.Minute, "asked", 0); err != nil {
			t.Fatal(err)
		}
	}
	if h := Read(dir); len(h.Attempts) != 2 || len(h.Troubles) > 0 || !h.Attempts[0].Whole || !h.Attempts[1].Whole {
		t.Errorf("when they have ended: %+v", h)
	}
}

// A folder that is none is told.
func TestAFileInPlaceOfTheFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, Folder), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if h := Read(dir); len(h.Attempts) != 0 || len(h.Troubles) != 1 {
		t.Errorf("%+v", h)
	}
}

func TestThePagesTableOfWeeks(t *testing.T) {
	s := Sum(invented(), Want{Exercises: exercises, Weeks: 12}, now)
	var page strings.Builder
	if err := s.Page(&page, now); err != nil {
		t.Fatal(err)
	}
	for i, w := range s.Weeks {
		row := fmt.Sprintf(`<tr><th scope="row">%s</th><td>%.0f</td><td>%.0f</td><td>%.0f</td><td>%.0f</td></tr>`, w.From.Format("2 Jan 2006"), 100*s.Exercises[0].Strength[i], 100*s.Exercises[1].Strength[i], 100*w.Strength, w.Minutes)
		if !strings.Contains(page.String(), row) {
			t.Errorf("no %s", row)
		}
	}
}

func TestWeeksBeginOnMonday(t *testing.T) {
	for date, want := range map[string]string{"2026-11-23": "2026-11-23", "2026-11-26": "2026-11-23", "2026-11-29": "2026-11-23", "2026-11-30": "2026-11-30", "2027-01-01": "2026-12-28"} { // ISO 8601
		d, _ := time.Parse(time.DateOnly, date)
		if got := monday(d).Format(time.DateOnly); got != want {
			t.Errorf("%s: %s", date, got)
		}
	}
}

// A thousand practices of a megabyte each.
func BenchmarkRead(b *testing.B) {
	dir := b.TempDir()
	var list []practised
	for i := range 20 {
		list = append(list, one("hold", recall.Keys[i%12], 1, time.Duration(i)*time.Minute, 0.7))
	}
	path := write(b, dir, now, list, true)
	data, err := os.ReadFile(path)
	if err != nil {
		b.Fatal(err)
	}
	filler := strings.Repeat(`{"t":1234567890,"k":"on","n":60,"v":64,"i":0.4,"src":"moment","voices":4,"phase":"holding"}`+"\n", 11000)
	data = append(data, filler...)
	for i := range 1000 {
		if err := os.WriteFile(filepath.Join(dir, Folder, now.Add(-time.Duration(i)*time.Hour).UTC().Format("2006-01-02T150405Z")+".jsonl"), data, 0o600); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(1000 * int64(len(data)))
	for b.Loop() {
		if h := Read(dir); len(h.Attempts) < 20000 {
			b.Fatal(len(h.Attempts), h.Troubles)
		}
	}
}

// Five thousand practices, which is how many are kept, over a year.
func BenchmarkSum(b *testing.B) {
	var h History
	for i := range 100000 {
		h.Attempts = append(h.Attempts, Attempt{recall.Attempt{Skill: recall.Skill{Exercise: exercises[i%2].Name, Key: recall.Keys[i%12]}, Level: 1, At: now.Add(time.Duration(i-100000) * 5 * time.Minute), Lasted: 50 * time.Second, Whole: true, Mark: 0.8}, ""})
	}
	for b.Loop() {
		if s := Sum(h, Want{Exercises: exercises, Weeks: 52}, now); s.Tasks != 100000 {
			b.Fatal(s.Tasks)
		}
	}
}
