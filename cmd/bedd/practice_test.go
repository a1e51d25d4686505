package main

import (
	"encoding/json"
	"errors"
	"io"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/journal"
	"bedd/internal/practice"
	"bedd/internal/progress"
	"bedd/internal/recall"
)

func TestPracticeBadInput(t *testing.T) {
	for _, one := range []struct {
		args []string
		says string
	}{
		{[]string{"--time", "0"}, "--time 0 is out of range 1…120 minutes"},
		{[]string{"--exercise", "scales"}, `--exercise: there is no exercise "scales": use one of hold,`},
		{[]string{"--key", "H"}, "--key: "},
		{[]string{"--level", "9"}, "--level 9 is out of range 1…6"},
		{[]string{"--exercise", "figure", "--level", "5"}, "--level 5 is out of range 1…4"},
		{[]string{"--rig", "none.yaml"}, "none.yaml"},
		{[]string{"plan.yaml"}, `bedd practice takes no "plan.yaml"`},
		{[]string{"progress", "--weeks", "0"}, "--weeks 0 is out of range 1…520"},
		{[]string{"progress", "--key", "H"}, "--key: "},
		{[]string{"progress", "--journal", "off"}, "--journal off has no practices to show"},
		{[]string{"progress", "--html", "-"}, "--html needs the name of a file"},
	} {
		r := bedd(t, append([]string{"practice"}, one.args...)...)
		if r.code != exitUsage || !strings.Contains(r.stderr, one.says) || r.stdout != "" {
			t.Errorf("%q: exit %d, says %q, prints %q", one.args, r.code, r.stderr, r.stdout)
		}
	}
}

func TestNothingPractisedYet(t *testing.T) {
	r := bedd(t, "practice", "progress", "--journal", t.TempDir())
	if r.code != 0 || r.stdout != "nothing was practised yet: bedd practice begins, ten minutes of what is needed most\n" {
		t.Errorf("exit %d, %q, %q", r.code, r.stdout, r.stderr)
	}
	r = bedd(t, "practice", "progress", "--key", "F#m", "--journal", t.TempDir())
	if r.code != 0 || r.stdout != "nothing was practised in F#m yet: bedd practice --key F#m begins\n" {
		t.Errorf("exit %d, %q, %q", r.code, r.stdout, r.stderr)
	}
}

// judged gives the takes of a practice's journal, judged again.
func judged(t *testing.T, path string) (again, then []float64) {
	t.Helper()
	r, err := journal.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var rec practice.Recorder
	var list journal.Record
	sounds, intensity, place := false, 0.0, bed.Home
	for {
		err := r.Next(&list)
		if errors.Is(err, io.EOF) {
			return again, then
		}
		if err != nil {
			t.Fatal(err)
		}
		switch list.Kind {
		case journal.Task:
			if !list.Tried.Over {
				rec.Begin(list.At)
				continue
			}
			var task practice.Task
			if err := json.Unmarshal(r.Header().Tasks[list.Tried.Number], &task); err != nil {
				t.Fatal(err)
			}
			result, err := practice.Judge(task, rec.Take(list.At))
			if err != nil {
				t.Fatal(err)
			}
			again, then = append(again, result.Mark), append(then, list.Tried.Mark)
		case journal.Called:
			for _, a := range list.Actions {
				rec.Mark(a)
			}
			if list.Seen != nil {
				sounds, intensity = list.Seen.Phase != bed.Silent.String(), list.Seen.Intensity
			}
			if list.Chord != nil {
				place, _ = bed.ParsePlace(list.Chord.Place)
			}
			rec.Hear(list.At, list.Event, place, sounds, intensity)
		}
	}
}

// From the start to a stored result, on the computer's keys in a terminal; then one that
// is cut short, which is kept too. What is stored is what the journal gives again.
func TestPracticeInTmux(t *testing.T) {
	dir := t.TempDir()
	m := newMultiplexed(t, 10*time.Millisecond)
	m.keys(binary+" practice --no-midi --no-sound --key Db --exercise any-key --seed 5 --time 2 --journal "+dir, "Enter")
	m.sees("any key now, level 1", "strike a key, step or enter begins", "Volume down first")
	m.keys("Enter")
	m.sees("a key is going to be called")
	m.sees("now Db: ", "wait|any key now")
	m.keys("a", "1", "3", "5")
	m.sees("you Db2 Db4 F4 Ab4")
	m.sees(`any key now in Db, level 1`, "enter next", "There at once|from the call to the bed|of the time")
	m.keys("i")
	m.sees("from the call to the bed", "held from then on", "wrong notes")
	m.keys("0", "Enter")
	m.sees("any key now, level [12]")
	m.keys("1") // a key of the piano begins as well
	m.sees("a key is going to be called")
	m.keys("C-c")
	m.sees("kept .*practice", "any-key +in Db +level 1 .* %", "cut short", "practised 1 min, tasks: 2", `(?m)^ready>\s*\z`)

	h := progress.Read(dir)
	if len(h.Attempts) != 2 || len(h.Troubles) > 0 {
		t.Fatalf("%+v", h)
	}
	a, b := h.Attempts[0], h.Attempts[1]
	if !a.Whole || a.Key != "Db" || a.Level != 1 || a.Mark < 0.5 || a.Figure == "" || a.Lasted < 20*time.Second {
		t.Errorf("%+v", a)
	}
	if b.Whole {
		t.Errorf("%+v", b)
	}
	list, err := journal.Sessions(filepath.Join(dir, progress.Folder))
	if err != nil || len(list) != 1 {
		t.Fatal(list, err)
	}
	again, then := judged(t, list[0].Path)
	if len(again) != 2 || math.Abs(again[0]-then[0]) > 0.01 || math.Abs(again[1]-then[1]) > 0.01 {
		t.Errorf("judged again %v, then %v", again, then)
	}
	r := bedd(t, "practice", "progress", "--journal", dir)
	if r.code != 0 || !strings.Contains(r.stdout, "any key now         in Db  level 1") {
		t.Errorf("exit %d:\n%s%s", r.code, r.stdout, r.stderr)
	}
	r = bedd(t, "practice", "progress", "--journal", dir, "--key", "C#")
	if r.code != 0 || !strings.Contains(r.stdout, "in C# alone: ") {
		t.Errorf("exit %d:\n%s%s", r.code, r.stdout, r.stderr)
	}
	if r := bedd(t, "review", list[0].Path); r.code != 0 {
		t.Errorf("review: exit %d, %s", r.code, r.stderr)
	}
}

// What was practised tells how a key lies under the hands, where the plan doesn't.
func TestSuggestKnowsWhatWasPractised(t *testing.T) {
	dir, plan := t.TempDir(), file(t, "sunday.yaml", givesAway)
	h := journal.Header{Program: "(test)", Began: time.Now().Add(-time.Hour), Moments: []journal.Moment{{Key: "C", Home: []string{"C"}}}}
	for range 6 {
		h.Tasks = append(h.Tasks, json.RawMessage(`{"exercise":"hold","key":"C","level":1}`))
	}
	w := journal.Start(journal.Options{Dir: filepath.Join(dir, progress.Folder), Header: h, Alone: true})
	for i := range h.Tasks {
		at := time.Duration(i) * time.Minute
		w.Task(at, journal.Tried{Number: i})
		w.Task(at+50*time.Second, journal.Tried{Number: i, Over: true, Whole: true, Mark: 0.1})
	}
	if err := w.Close(time.Hour, "asked", 0); err != nil {
		t.Fatal(err)
	}
	const says = "(by your practising C has been hard)"
	if r := bedd(t, "plan", "suggest", plan, "--moment", "silence", "--journal", dir); r.code != 0 || !strings.Contains(r.stdout, says) {
		t.Errorf("exit %d:\n%s%s", r.code, r.stdout, r.stderr)
	}
	for _, quiet := range [][]string{{plan, "--journal", "off"}, {plan, "--journal", t.TempDir()}, {file(t, "own.yaml", "comfort: {easy: C}\n"+givesAway), "--journal", dir}} {
		if r := bedd(t, append([]string{"plan", "suggest"}, quiet...)...); r.code != 0 || strings.Contains(r.stdout, "by your practising") {
			t.Errorf("%q: exit %d:\n%s%s", quiet, r.code, r.stdout, r.stderr)
		}
	}
}

// NIOSH publication 98-126: 85 dB(A) may last for 480 min a day, 94 for 60.
func TestTheCautionCountsTheWholeDay(t *testing.T) {
	day := time.Date(2026, 11, 26, 20, 0, 0, 0, time.UTC)
	var h progress.History
	for _, before := range []time.Duration{time.Hour, 25 * time.Hour} { // today, and yesterday
		h.Attempts = append(h.Attempts, progress.Attempt{Attempt: recall.Attempt{At: day.Add(-before), Lasted: 38 * time.Minute}})
	}
	if got := care(h, day, 10); !strings.Contains(got, "48 min today: 10 % of a day's dose at 85 dB(A), 80 % at 94 (NIOSH)") {
		t.Error(got)
	}
}

// Without espeak-ng there are words to read, and no --speak.
func TestSpeakNeedsAVoice(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	if r := bedd(t, "practice", "--speak"); r.code != exitUsage || !strings.Contains(r.stderr, "--speak needs espeak-ng, which is not installed") {
		t.Errorf("exit %d, says %q", r.code, r.stderr)
	}
}

// In lines nothing tells of a key that is still to be called, and ? lists a practice's
// own keys.
func TestPracticeInLines(t *testing.T) {
	m := newMultiplexed(t, 10*time.Millisecond)
	m.keys(binary+" practice --lines --no-midi --no-sound --key Db --exercise any-key --seed 5 --time 1 --journal off", "Enter")
	m.sees("any key now, level 1", "strike a key, step or enter begins")
	m.keys("?")
	m.sees("esc ends the task before its time")
	m.keys("Enter")
	m.sees("a key is going to be called")
	if text := m.tmux("capture-pane", "-p", "-t", "w"); strings.Contains(strings.Split(text, "any key now")[1], "Db") {
		t.Errorf("the key is given away:\n%s", text)
	}
	m.sees("Db +now Db: ")
	m.keys("Escape")
	m.sees(`level 1: \d+ %`)
	m.keys("C-c")
	m.sees("practised 1 min", `(?m)^ready>\s*\z`)
}

// The list of keys has the rig's own feet and pedal, but none that the piano plays on.
func TestPracticeListsTheRigsKeys(t *testing.T) {
	order := func(c bed.Command) gathering.Order { return gathering.Order{Command: c} }
	var l lesson
	list := strings.Join(l.keys(map[string]gathering.Order{
		"pagedown": order(bed.Step), "A": order(bed.Step), "up": order(bed.Arm), "esc": order(bed.LevelUp),
	}), "\n")
	if !strings.Contains(list, "while a task is played:\n  pagedown step, up arm\n") {
		t.Error(list)
	}
	if list := strings.Join(l.keys(nil), "\n"); strings.Contains(list, "while a task") {
		t.Errorf("feet of no rig:\n%s", list)
	}
}

// A task that failed comes again, easier, after the next; and each task has a moment.
func TestALessonGoesThroughItsPlan(t *testing.T) {
	plan := recall.Plan(nil, recall.Want{Exercises: recallExercises(""), Time: 10 * time.Minute, Seed: 3}, time.Now())
	l, err := newLesson(plan, 3, false)
	if err != nil {
		t.Fatal(err)
	}
	if moments, err := l.moments(); err != nil || len(moments) != len(l.tasks) || len(l.tasks) < len(plan) || len(moments) > 256 {
		t.Fatalf("%d moments for %d tasks: %v", len(moments), len(l.tasks), err)
	}
	first := plan[0]
	l.plan = recall.Again(l.plan, recall.Attempt{Skill: first.Skill, Level: first.Level, Whole: true, Mark: 0.1})
	var got []string
	for l.next() {
		task, _ := l.partner.Task()
		got = append(got, task.Exercise+" "+task.Key)
	}
	if len(got) != len(plan)-1 || got[0] != plan[1].Exercise+" "+plan[1].Key || got[1] != first.Exercise+" "+first.Key {
		t.Errorf("%v of %v", got, plan)
	}
	long := recall.Plan(nil, recall.Want{Exercises: recallExercises(""), Time: 2 * time.Hour, Seed: 3}, time.Now())
	if l, err = newLesson(long, 3, false); err != nil || len(l.tasks) > 256 {
		t.Errorf("two hours have %d tasks: %v", len(l.tasks), err)
	}
}
