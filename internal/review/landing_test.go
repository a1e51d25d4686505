package review

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
)

// toG is a minute under a talk in C that leads into a song that begins on G: ten
// seconds of C, then a landing by D and G at 0:20, silence at 0:40.
func toG() *Session {
	at := func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	chord := func(from, to float64, symbol, degree string, place bed.Place, upper, held []uint8) Chord {
		return Chord{From: at(from), To: at(to), Symbol: symbol, Degree: degree, Place: place, Bass: 36, Upper: upper, Held: held, Voices: len(upper)}
	}
	s := &Session{Name: "x", Length: at(60), Ended: "ended", Visits: []Visit{{To: at(60)}}, Beds: []Stretch{{From: at(10), To: at(40)}},
		Moments: []Moment{{Title: "the talk", Home: []string{"C", "F"}, NextKey: "G", NextChord: "G"}},
		Orders:  []Order{{at(10), bed.BringIn, "bring-in"}, {at(20), bed.Land, "land"}, {at(38), bed.OutNow, "out-now"}},
		Chords: []Chord{chord(10, 20, "C", "1", bed.Home, []uint8{60, 64, 67}, nil), chord(20, 23, "D", "5", bed.Landing, []uint8{62, 66, 69}, nil),
			chord(23, 40, "G", "1", bed.Landing, []uint8{62, 67, 71}, []uint8{62})},
		Played: []Note{{From: at(15), To: at(16), Number: 60, Velocity: 60}, {From: at(42.5), To: at(43), Number: 67, Velocity: 70}},
		Pedal:  []Reading{{}, {}}, States: []State{{At: at(10), Voices: 3, Sounds: true}, {At: at(40)}},
	}
	s.Chords[0].First = true
	return s
}

func TestLandings(t *testing.T) {
	gap := func(s float64) *float64 { return &s }
	for name, c := range map[string]struct {
		change func(*Session)
		want   []Landed
		words  string
	}{
		"it arrives, and the piano comes later": {func(*Session) {},
			[]Landed{{20, "C", []string{"D", "G"}, []int{0, 1}, []int{3, 3}, "G", true, 3, gap(2.5)}},
			"2 steps in 3.0 s: D (0 of 3 held), G (1 of 3 held); arrived, 2.5 s without a sound before the piano"},
		"the piano is there before the bed goes": {func(s *Session) { s.Played[1].From = 30 * time.Second },
			[]Landed{{20, "C", []string{"D", "G"}, []int{0, 1}, []int{3, 3}, "G", true, 3, gap(0)}},
			"2 steps in 3.0 s: D (0 of 3 held), G (1 of 3 held); arrived, no gap before the piano"},
		"no piano follows": {func(s *Session) { s.Played = s.Played[:1] },
			[]Landed{{20, "C", []string{"D", "G"}, []int{0, 1}, []int{3, 3}, "G", true, 3, nil}},
			"2 steps in 3.0 s: D (0 of 3 held), G (1 of 3 held); arrived"},
		"it stops a step before": {func(s *Session) { s.Chords = s.Chords[:2]; s.Chords[1].To = 40 * time.Second },
			[]Landed{{20, "C", []string{"D"}, []int{0}, []int{3}, "G", false, 0, gap(2.5)}},
			"1 step in 0.0 s: D (0 of 3 held); it did not reach G"},
		"it goes back home": {func(s *Session) { s.Chords[2].Place = bed.Home },
			[]Landed{{20, "C", []string{"D"}, []int{0}, []int{3}, "G", false, 0, gap(2.5)}},
			"1 step in 0.0 s: D (0 of 3 held); it did not reach G"},
		"it is there already": {func(s *Session) { s.Chords = s.Chords[:1]; s.Chords[0].Symbol = "G"; s.Chords[0].To = 40 * time.Second },
			[]Landed{{20, "G", []string{}, []int{}, []int{}, "G", true, 0, gap(2.5)}},
			"already there, on G; arrived, 2.5 s without a sound before the piano"},
		"no song follows, and it comes home": {func(s *Session) { s.Moments[0].NextChord = "" },
			[]Landed{{20, "C", []string{"D", "G"}, []int{0, 1}, []int{3, 3}, "", true, 3, gap(2.5)}},
			"2 steps in 3.0 s: D (0 of 3 held), G (1 of 3 held); arrived, 2.5 s without a sound before the piano"},
		"two in a row": {func(s *Session) { s.Orders[2] = Order{23 * time.Second, bed.Land, "land"} },
			[]Landed{{20, "C", []string{"D"}, []int{0}, []int{3}, "G", false, 0, gap(2.5)}, {23, "D", []string{"G"}, []int{1}, []int{3}, "G", true, 0, gap(2.5)}},
			"1 step in 0.0 s: D (0 of 3 held); it did not reach G"},
		"none": {func(s *Session) { s.Orders = nil }, []Landed{}, ""},
	} {
		s := toG()
		c.change(s)
		got := s.landings()
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %+v, want %+v", name, got, c.want)
		} else if len(got) > 0 && strings.ReplaceAll(got[0].words(), together, " ") != c.words {
			t.Errorf("%s: %q, want %q", name, got[0].words(), c.words)
		}
	}
}

func TestRepetition(t *testing.T) {
	s := toG()
	var chords []Chord
	for i := range time.Duration(11) { // C F C F … for 110 s, then away
		c := Chord{From: i * 10 * time.Second, To: (i + 1) * 10 * time.Second, Symbol: []string{"C", "F"}[i%2], First: i == 0}
		if i == 10 {
			c.Place, c.To, c.Symbol = bed.Away, c.To+15*time.Second, "Am"
		}
		chords = append(chords, c)
	}
	s.Chords = chords
	want := Repetition{LongestChord: 25, Chord: "Am", ChordAt: 100, LongestStay: 100, StayPlace: "home", StayAt: 0, StayRounds: 5, Change: "C to F", ChangeTimes: 5, DifferentMoves: 3}
	if got := s.repetition(); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// Advice is about what was, the worst first, and never more than two sentences.
func TestAdvice(t *testing.T) {
	for want, change := range map[string]func(*Session){
		"The bed was never brought in: press the left foot, or space.":                            func(s *Session) { s.Chords, s.Beds, s.States = nil, nil, nil },
		"After the landing at 0:20 nothing sounded for 2.5 s: let the bed go only once you play.": func(*Session) {},
		"Nothing stood out: the bed sounded for 0:30 in 3 chords, and every landing arrived (1).": func(s *Session) { s.Played[1].From = 30 * time.Second },
		"A device was lost twice: look after its cable before the next time. The sound stuttered: try more --frames, and close other programs.": func(s *Session) {
			s.Notices = []Notice{{0, portKind, "gone", true}, {0, portKind, "back", false}, {0, portKind, "gone", true}}
			s.Under, s.Floods, s.Refused = 3, 4, 5
		},
		"A control sends far too much: have a look at it, its contact may be worn. The computer was busy (the slowest hundredth came 21 ms late): close other programs.": func(s *Session) {
			s.Notices = []Notice{{0, floodKind, "it floods", true}}
			s.Delays = []Delay{{What: "a"}, {What: "b", Count: 1, P99: 21 * time.Millisecond}}
		},
		"The landing at 0:20 did not reach A: go on pressing the left foot until the screen says that it holds. Your keys send on the bed's channels, where it was left out: give them another channel, or aside: in the rig.": func(s *Session) {
			s.Moments[0].NextChord, s.Refused, s.Played = "A", 1, nil
		},
		"The talk went on for 0:30, longer than the 0:20 that the plan has.": func(s *Session) { s.Moments[0].Longest, s.Played = 20*time.Second, nil },
		"At 0:10 home went round 8 times in 5:20: a swap every couple of rounds keeps it fresh. Nobody's foot asked for more or less: the pedal, swell and settle are for that.": func(s *Session) {
			s.Pedal, s.Orders, s.Chords = nil, nil, nil
			for i := range time.Duration(16) {
				s.Chords = append(s.Chords, Chord{From: (10 + 20*i) * time.Second, To: (30 + 20*i) * time.Second, Symbol: "C", First: i == 0})
			}
			s.Length, s.Visits[0].To, s.Beds[0].To = 400*time.Second, 400*time.Second, 330*time.Second
		},
		"C stood for 1:10 at 0:10: a step now and then moves the bass and disturbs nobody.": func(s *Session) {
			s.Orders, s.Chords = nil, s.Chords[:1]
			s.Chords[0].To, s.Beds[0].To, s.Length, s.Visits[0].To = 80*time.Second, 80*time.Second, 90*time.Second, 90*time.Second
		},
	} {
		s := toG()
		change(s)
		if got := strings.Join(Advice(s, s.Sum()), " "); got != want {
			t.Errorf("it says\n%s\nwant\n%s", got, want)
		}
	}
}

// A journal with records missing, and one that breaks off, say so.
func TestNotesOfTheJournal(t *testing.T) {
	head := `{"k":"bedd journal","version":1,"moments":[{"key":"C","home":["C"]}]`
	for text, want := range map[string]string{
		head + "}\n": "the journal breaks off without an end: bedd was killed, or the power went",
		head + "}\n" + `{"t":1,"k":"gap","calls":2,"thru":3,"other":4}` + "\n" + `{"t":2,"k":"closed","why":"asked"}` + "\n": "records are missing (2 calls, 3 messages, 4 others): the disk was too slow or full, so figures are too low",
		head + "}\n" + "oh\nno\n" + `{"t":2,"k":"closed","why":"asked"}` + "\n":                                              "2 damaged lines were passed over",
		head + "}\n" + `{"t":2,"k":"closed","why":"asked"}` + "\n" + `{"t":2,"k`:                                             "its last 9 bytes cannot be read and are left out",
	} {
		if got := strings.Join(readText(t, text).Notes, "; "); got != want {
			t.Errorf("%s is noted as %q, want %q", text, got, want)
		}
	}
}

func TestGoingOnIsTold(t *testing.T) {
	s := readText(t, `{"k":"bedd journal","version":1,"moments":[{"key":"C","home":["C"]}],"resume":{"session":"2026-11-20T193000Z","state":{"moment":0,"phase":"holding","place":"home","group":"home","index":0,"key":"C","plan":"C","chord":"C","i":0.3}}}`+"\n"+`{"t":2000000000,"k":"closed","why":"signal"}`+"\n")
	if got, want := s.about(), "0:02 long; it goes on from 2026-11-20T193000Z; ended by a signal"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if told := s.Told().Session; told.From != "2026-11-20T193000Z" || !told.Ended {
		t.Errorf("other programs get %+v", told)
	}
}

// What the player was told of a record takes the record's place; a control that is
// thinned now and then is counted alone.
func TestNoticesAreToldOnce(t *testing.T) {
	head := `{"k":"bedd journal","version":1,"moments":[{"key":"C","home":["C"]}],"ports":[{"way":"in","name":"Stage"},{"way":"out","name":"Module"}]}` + "\n"
	s := readText(t, head+
		`{"t":1000000000,"k":"flood","p":0,"count":3}`+"\n"+
		`{"t":2000000000,"k":"port","p":1}`+"\n"+`{"t":2000000001,"k":"notice","text":"out Module: the device is gone"}`+"\n"+
		`{"t":3000000000,"k":"port","p":1,"up":true}`+"\n"+`{"t":3000000001,"k":"notice","text":"what your keys send"}`+"\n"+
		`{"t":4000000000,"k":"flood","p":0,"count":300}`+"\n"+`{"t":4000000000,"k":"notice","text":"Stage: controller 11 sends more values than anyone can hear"}`+"\n"+
		`{"t":5000000000,"k":"underrun","count":2}`+"\n"+`{"t":5000000000,"k":"notice","text":"the sound has stuttered 2 times"}`+"\n"+
		`{"t":60000000000,"k":"flood","p":0,"count":310}`+"\n"+`{"t":61000000000,"k":"notice","text":"Stage is loud"}`+"\n"+`{"t":62000000000,"k":"closed"}`+"\n")
	want := []Notice{
		{2 * time.Second, portKind, "out Module: the device is gone", true},
		{3 * time.Second, portKind, "Module is back", false},
		{3*time.Second + 1, noticeKind, "what your keys send", false},
		{4 * time.Second, floodKind, "Stage: controller 11 sends more values than anyone can hear", true},
		{5 * time.Second, underKind, "the sound has stuttered 2 times", true},
		{61 * time.Second, noticeKind, "Stage is loud", false},
	}
	if !reflect.DeepEqual(s.Notices, want) {
		t.Errorf("notices are %+v, want %+v", s.Notices, want)
	}
	if f := s.Sum(); f.Floods != 310 || f.Under != 2 || f.PortLost != 1 {
		t.Errorf("%d values thinned, %d blocks late, %d devices lost", f.Floods, f.Under, f.PortLost)
	}
}
