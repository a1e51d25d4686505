package practice_test

import (
	"reflect"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/pitch"
	"bedd/internal/practice"
	"bedd/internal/session"
)

// stage is a session with a partner, by a clock that the test moves.
type stage struct {
	*session.Session
	p    *practice.Partner
	now  time.Duration
	told []string
}

func (s *stage) Send(time.Duration, session.Origin, []byte) {}
func (s *stage) Mark(a bed.Action)                          { s.p.Mark(a) }

func newStage(t *testing.T, tasks []practice.Task) *stage {
	t.Helper()
	s := &stage{p: practice.NewPartner(tasks)}
	var moments []bed.Moment
	for _, task := range tasks {
		m, err := task.Moment()
		if err != nil {
			t.Fatal(err)
		}
		moments = append(moments, m)
	}
	var err error
	if s.Session, err = session.New(gathering.DefaultRig(), moments, s); err != nil {
		t.Fatal(err)
	}
	s.Watch(s.p.Hear)
	s.p.Began = func(at time.Duration, n int) { s.told = append(s.told, "began") }
	s.p.Over = func(at time.Duration, n int, whole bool, r practice.Result) {
		s.told = append(s.told, map[bool]string{true: "over", false: "cut"}[whole])
	}
	s.SetUp(0)
	return s
}

// pass lets time go by.
func (s *stage) pass(d time.Duration) {
	for end := s.now + d; s.now < end; s.now += 50 * time.Millisecond {
		s.Advance(s.now)
		for range 4 {
			ask := s.p.Advance(s.now, s.View())
			for _, c := range ask {
				s.Ask(s.now, gathering.Order{Command: c})
			}
			if len(ask) == 0 {
				break
			}
		}
	}
}

func threeTasks(t *testing.T) (list []practice.Task) {
	for i, name := range []string{"hold", "any-key", "land"} {
		e, err := practice.Find(name)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, set(t, e, pitch.Key{}.Transpose(i), min(3, len(e.Levels)), 1))
	}
	return list
}

func TestAPartnerGoesThroughTasks(t *testing.T) {
	tasks := threeTasks(t)
	s := newStage(t, tasks)
	s.pass(time.Second)
	if s.p.Stage() != practice.Ready || !s.silent() {
		t.Fatal("the bed did not wait")
	}
	s.Message(s.now, []byte{0x90, 60, 50}) // the player begins
	s.pass(4 * time.Second)
	if s.p.Stage() != practice.Playing || s.silent() {
		t.Fatalf("stage %d, silent %v", s.p.Stage(), s.silent())
	}
	s.p.Turn(2) // not while one is being played
	s.pass(tasks[0].Lasts)
	if s.p.Stage() != practice.Judged || s.p.Result().Words == "" {
		t.Fatalf("stage %d, %+v", s.p.Stage(), s.p.Result())
	}
	if _, at := s.p.Task(); at != 0 {
		t.Fatal("it was turned away from what was played")
	}
	// The same again: all of it is as it was.
	s.p.Turn(0)
	s.pass(10 * time.Second)
	if s.p.Stage() != practice.Ready || s.View().Moment != 0 || !s.silent() {
		t.Fatalf("stage %d at moment %d", s.p.Stage(), s.View().Moment)
	}
	s.p.Turn(2)
	s.pass(time.Second)
	if s.p.Stage() != practice.Ready || s.View().Moment != 2 {
		t.Fatalf("stage %d at moment %d", s.p.Stage(), s.View().Moment)
	}
	s.p.Begin(s.now)
	s.pass(2 * time.Second)
	s.p.End(s.now)
	s.p.End(s.now)
	s.pass(8 * time.Second)
	if !s.silent() || !reflect.DeepEqual(s.told, []string{"began", "over", "began", "cut"}) {
		t.Errorf("silent %v, told %v", s.silent(), s.told)
	}
}

func (s *stage) silent() bool { return s.View().Phase == bed.Silent }

// A foot that steps begins; but before the key is called, and between tasks, no bed is
// to be heard.
func TestAStepBeginsAndSoundsNothingTooSoon(t *testing.T) {
	s := newStage(t, threeTasks(t))
	s.p.Turn(1)
	s.pass(time.Second)
	s.Ask(s.now, gathering.Order{Command: bed.Step})
	if s.p.Stage() != practice.Playing {
		t.Fatal("the step did not begin")
	}
	s.pass(time.Second)
	if !s.silent() {
		t.Error("the bed gives the key away")
	}
	s.pass(50 * time.Second)
	if s.p.Stage() != practice.Judged {
		t.Fatal("it is not over")
	}
	if s.p.Stepped() {
		t.Error("it was stepped on before")
	}
	s.Ask(s.now, gathering.Order{Command: bed.Step})
	if !s.p.Stepped() || s.p.Stepped() {
		t.Error("the step onward was not told, or twice")
	}
	s.pass(time.Second)
	if !s.silent() {
		t.Error("the bed sounds between tasks")
	}
}

// Each degree is in the key, bends bend, and what is pressed twice is let go.
func TestThePianoOfTheComputersKeys(t *testing.T) {
	var p practice.Piano
	eb, _ := pitch.ParseKey("Eb")
	p.In(eb)
	press := func(keys ...string) (list []practice.Strike) {
		for _, k := range keys {
			more, known := p.Press(k)
			if !known {
				t.Errorf("%s is not known", k)
			}
			list = append(list, more...)
		}
		return list
	}
	on := func(n uint8) practice.Strike { return practice.Strike{Note: n, Velocity: 56} }
	off := func(n uint8) practice.Strike { return practice.Strike{Note: n} }
	for _, one := range []struct {
		keys []string
		want []practice.Strike
	}{
		{[]string{"a", "1", "3", "5"}, []practice.Strike{on(39), on(63), on(67), on(70)}}, // Eb2 Eb4 G4 Bb4
		{[]string{"f"}, []practice.Strike{on(44), off(39)}},                               // the bass goes to Ab2
		{[]string{"3", "4"}, []practice.Strike{off(67), on(68)}},
		{[]string{",", "6"}, []practice.Strike{on(71)}}, // Cb5
		{[]string{"0"}, []practice.Strike{off(63), off(70), off(68), off(71), off(44)}},
		{[]string{".", "8", "9"}, []practice.Strike{on(76), on(77)}},
	} {
		if got := press(one.keys...); !reflect.DeepEqual(got, one.want) {
			t.Errorf("%v: %v instead of %v", one.keys, got, one.want)
		}
	}
	for _, k := range []string{"q", "enter", "", "é"} {
		if _, known := p.Press(k); known {
			t.Errorf("%q plays", k)
		}
	}
}
