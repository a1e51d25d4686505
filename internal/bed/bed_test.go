package bed_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

const ms = time.Millisecond

// Every phase meets every command that bears on it; all notes off silences from
// anywhere, and every phase can reach silence.
func TestPhases(t *testing.T) {
	reach := map[bed.Phase]func(r *run){
		bed.Silent:  func(r *run) {},
		bed.Rising:  func(r *run) { r.ask(bed.BringIn); r.wait(time.Second) },
		bed.Holding: func(r *run) { r.ask(bed.BringIn); r.wait(5 * time.Second) },
		bed.Fading:  func(r *run) { r.ask(bed.BringIn); r.wait(5 * time.Second); r.ask(bed.FadeOut); r.wait(time.Second) },
		bed.Leaving: func(r *run) { r.ask(bed.BringIn); r.wait(5 * time.Second); r.ask(bed.OutNow); r.wait(100 * ms) },
	}
	want := map[bed.Phase]map[bed.Command]bed.Phase{
		bed.Silent:  {bed.BringIn: bed.Rising, bed.FadeOut: bed.Silent, bed.OutNow: bed.Silent, bed.AllNotesOff: bed.Silent, bed.Step: bed.Rising},
		bed.Rising:  {bed.BringIn: bed.Rising, bed.FadeOut: bed.Fading, bed.OutNow: bed.Leaving, bed.AllNotesOff: bed.Silent, bed.Step: bed.Rising},
		bed.Holding: {bed.BringIn: bed.Holding, bed.FadeOut: bed.Fading, bed.OutNow: bed.Leaving, bed.AllNotesOff: bed.Silent, bed.Step: bed.Holding},
		bed.Fading:  {bed.BringIn: bed.Rising, bed.FadeOut: bed.Fading, bed.OutNow: bed.Leaving, bed.AllNotesOff: bed.Silent, bed.Step: bed.Rising},
		bed.Leaving: {bed.BringIn: bed.Rising, bed.FadeOut: bed.Leaving, bed.OutNow: bed.Leaving, bed.AllNotesOff: bed.Silent, bed.Step: bed.Rising},
	}
	for phase, commands := range want {
		for command, to := range commands {
			r := newRun(t, twoMoments(t))
			reach[phase](r)
			if got := r.bed.View().Phase; got != phase {
				t.Fatalf("%v, want %v", got, phase)
			}
			r.ask(command)
			if got := r.bed.View().Phase; got != to {
				t.Errorf("%v on %v: %v, want %v", phase, command, got, to)
			}
			r.wait(20 * time.Second)
			switch got := r.bed.View().Phase; {
			case (to == bed.Rising || to == bed.Holding) && got != bed.Holding,
				(to == bed.Fading || to == bed.Leaving || to == bed.Silent) && got != bed.Silent:
				t.Errorf("%v on %v: comes to rest %v", phase, command, got)
			}
			r.end()
		}
	}
}

// Ramps by a clock that is made up: bring-in 3 s, fade 6 s from full level, out
// now 0.5 s, each in proportion from wherever it begins.
func TestRampsTakeTheirTime(t *testing.T) {
	c := twoMoments(t)
	c.Balance.NoAir = true // warm alone goes all the way
	r := newRun(t, c)
	r.foot(dynamics.MaxRaw)
	level := func() int { return r.bed.View().Level[bed.Warm] }
	check := func(what string, want int) {
		t.Helper()
		if got := level(); got < want-2 || got > want+2 {
			t.Errorf("%s: level %d, want %d", what, got, want)
		}
	}
	r.ask(bed.BringIn)
	check("at the start", 0)
	r.wait(1500 * ms)
	check("half way in", 64)
	r.wait(1500 * ms)
	check("in", 127)
	r.ask(bed.FadeOut)
	r.wait(3 * time.Second)
	check("half way out", 64)
	r.ask(bed.Step)
	r.wait(1500 * ms)
	check("back", 127)
	r.ask(bed.OutNow)
	r.wait(250 * ms)
	check("half way out now", 64)
	r.wait(300 * ms)
	if got := r.bed.View().Phase; got != bed.Silent || level() != 0 {
		t.Errorf("after out now: %v at level %d", got, level())
	}
	r.end()
}

func TestAFadeGoesOnAfterTheEndOfInput(t *testing.T) {
	for _, hurry := range []bool{false, true} {
		r := newRun(t, twoMoments(t))
		r.foot(dynamics.MaxRaw)
		r.ask(bed.BringIn)
		r.wait(5 * time.Second)
		r.ask(bed.FadeOut)
		r.wait(time.Second)
		r.event(bed.Event{Kind: bed.InputEnded, On: hurry})
		r.wait(4 * time.Second)
		if got, want := r.bed.View().Phase, map[bool]bed.Phase{true: bed.Silent, false: bed.Fading}[hurry]; got != want {
			t.Errorf("hurry %v: four seconds later the bed is %v, want %v", hurry, got, want)
		}
		r.end()
	}
}

func TestHeelDownIsTheFloorOrSilence(t *testing.T) {
	for floor, want := range map[float64]int{math.Inf(-1): 0, -14: 56} {
		c := twoMoments(t)
		c.Balance.Floor = floor
		r := newRun(t, c)
		r.foot(0)
		r.ask(bed.BringIn)
		r.wait(10 * time.Second)
		if got := r.bed.View().Level[bed.Warm]; got != want {
			t.Errorf("floor %v: heel down gives level %d, want %d", floor, got, want)
		}
		r.end()
	}
}

func TestStayIsStill(t *testing.T) {
	r := newRun(t, twoMoments(t))
	r.foot(8000)
	r.ask(bed.BringIn)
	r.wait(10 * time.Second)
	r.ask(bed.Stay)
	r.all = nil
	r.foot(dynamics.MaxRaw)
	for _, c := range []bed.Command{bed.Step, bed.Next, bed.Swap, bed.KeyUp, bed.LevelUp, bed.Capture, bed.Arm, bed.Land, bed.Swell, bed.Settle} {
		r.ask(c)
		r.wait(3 * time.Second)
	}
	for _, a := range r.all {
		if a.Kind != bed.Tell || a.Notice != bed.StayIsOn {
			t.Errorf("during stay: %+v", a)
		}
	}
	before := r.bed.View().Intensity
	r.ask(bed.Stay)
	r.wait(20 * ms)
	if got := r.bed.View().Intensity; got-before > 8.0/14*0.041 {
		t.Errorf("intensity jumps from %v to %v when stay is let go", before, got)
	}
	r.wait(10 * time.Second)
	if got := r.bed.View().Intensity; got < 0.99 {
		t.Errorf("after stay the foot counts again: intensity %v", got)
	}
	r.end()
}

func TestDensityGrowsOneNoteAtATime(t *testing.T) {
	c := twoMoments(t)
	r := newRun(t, c)
	r.foot(0)
	r.ask(bed.BringIn)
	r.wait(10 * time.Second)
	if got := r.bed.View().Density; got != c.Voicing.Thin {
		t.Fatalf("heel down: %d voices, want %d", got, c.Voicing.Thin)
	}
	r.all = nil
	r.foot(dynamics.MaxRaw)
	r.wait(20 * time.Second)
	if got := r.bed.View().Density; got != c.Voicing.Full {
		t.Fatalf("toe down: %d voices, want %d", got, c.Voicing.Full)
	}
	last := -c.Stagger
	strikes := 0
	for _, a := range r.all {
		switch {
		case a.Kind == bed.ReleaseNote:
			t.Errorf("growing ends note %d", a.Note)
		case a.Kind == bed.StrikeNote && a.Layer == bed.Warm:
			strikes++
			if a.At-last < c.Stagger {
				t.Errorf("notes join %v apart, want %v at least", a.At-last, c.Stagger)
			}
			last = a.At
		}
	}
	if want := c.Voicing.Full - c.Voicing.Thin; strikes != want {
		t.Errorf("%d notes joined, want %d", strikes, want)
	}
	r.end()
}

// said gives the chords entered and commands done, in words.
func said(actions []bed.Action) string {
	var out []string
	for _, a := range actions {
		switch a.Kind {
		case bed.EnterChord:
			out = append(out, a.Chord.Symbol())
		case bed.Did:
			out = append(out, a.Command.String())
		case bed.Tell:
			out = append(out, "("+a.Notice.String()+")")
		case bed.ChangeMoment:
			out = append(out, fmt.Sprintf("moment %d", a.Value+1))
		}
	}
	return strings.Join(out, " ")
}

func TestCommands(t *testing.T) {
	for name, c := range map[string]struct {
		commands []bed.Command
		want     string
	}{
		"round and back":              {[]bed.Command{bed.BringIn, bed.Next, bed.Next, bed.Previous, bed.Previous}, "bring-in C F C F C"},
		"swap and back":               {[]bed.Command{bed.BringIn, bed.Next, bed.Swap, bed.Next, bed.Swap}, "bring-in C F swap Am Dm swap C"},
		"key up moves the chord":      {[]bed.Command{bed.BringIn, bed.Next, bed.KeyUp, bed.Next, bed.KeyDown}, "bring-in C F key-up Ab Db key-down G7"},
		"in silence chords wait":      {[]bed.Command{bed.Next, bed.KeyUp, bed.BringIn}, "key-up bring-in Gb"},
		"land in Eb":                  {[]bed.Command{bed.BringIn, bed.Land, bed.Next, bed.Next, bed.Next}, "bring-in C land F Bb Eb (landed: the bed holds)"},
		"back out of the landing":     {[]bed.Command{bed.BringIn, bed.Next, bed.Land, bed.Previous}, "bring-in C F land Bb F"},
		"swap leads home again":       {[]bed.Command{bed.BringIn, bed.Land, bed.Next, bed.Swap}, "bring-in C land F Bb swap C"},
		"landing needs sound":         {[]bed.Command{bed.Land}, "(the bed is silent)"},
		"moments wait for silence":    {[]bed.Command{bed.BringIn, bed.NextMoment, bed.AllNotesOff, bed.NextMoment, bed.NextMoment, bed.BringIn, bed.Swap}, "bring-in C (only while the bed is silent) all-notes-off moment 2 (there is no further moment) bring-in Am (there is no other progression)"},
		"arm in a landing, then back": {[]bed.Command{bed.BringIn, bed.Land, bed.Arm, bed.Previous, bed.Step}, "bring-in C land F C swap Am"},
		"after the last landing home": {[]bed.Command{bed.NextMoment, bed.BringIn, bed.Next, bed.Land, bed.Next, bed.OutNow, bed.Step, bed.Step}, "moment 2 bring-in Am F land E Am out-now bring-in Am F"},
		"a key during a landing":      {[]bed.Command{bed.BringIn, bed.Land, bed.KeyUp, bed.Next}, "bring-in C land F key-up B7 E"},
		"a chord taken in a landing":  {[]bed.Command{bed.BringIn, bed.Land, bed.Next, bed.Next, bed.Capture, bed.Next, bed.OutNow}, "bring-in C land F Bb Eb capture Ab (landed: the bed holds) out-now moment 2"},
		"panic leaves nothing armed":  {[]bed.Command{bed.BringIn, bed.Arm, bed.AllNotesOff, bed.Step, bed.Step}, "bring-in C all-notes-off bring-in C F"},
		"panic in a landing stays":    {[]bed.Command{bed.BringIn, bed.Land, bed.Next, bed.Next, bed.AllNotesOff, bed.BringIn}, "bring-in C land F Bb Eb all-notes-off bring-in Eb"},
		"stay needs sound":            {[]bed.Command{bed.Stay, bed.BringIn}, "(the bed is silent) bring-in C"},
		"nothing to take":             {[]bed.Command{bed.BringIn, bed.Capture}, "bring-in C (no notes to take)"},
	} {
		r := newRun(t, twoMoments(t))
		for _, n := range []uint8{44, 60, 63} { // Ab, for capture
			if strings.Contains(c.want, "capture") {
				r.event(bed.Event{Kind: bed.NoteStruck, Note: n, Velocity: 60})
			}
		}
		for _, command := range c.commands {
			r.ask(command)
			r.wait(2 * time.Second)
		}
		if got := said(r.all); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		r.end()
	}
}

func TestLandingWithNoStepsWhereTheBedRestsOnTheSong(t *testing.T) {
	c := twoMoments(t)
	c.Moments[0].NextKey = pitch.Key{Tonic: pitch.Name{Letter: 3}} // F
	c.Moments[0].NextChord = harmony.Diatonic(c.Moments[0].NextKey, 1)
	r := newRun(t, c)
	r.ask(bed.BringIn)
	r.wait(time.Second)
	r.ask(bed.Next)
	r.wait(time.Second)
	notes := r.watcher.Sounding(bed.Warm)
	r.ask(bed.Land)
	r.wait(time.Second)
	if got := r.watcher.Sounding(bed.Warm); got != notes {
		t.Errorf("landing where the bed already is moves notes: %v to %v", notes.Append(nil), got.Append(nil))
	}
	if v := r.bed.View(); v.Key != c.Moments[0].NextKey || v.Place != bed.Landing || v.NextDoes != bed.NoCommand {
		t.Errorf("after landing: key %v, place %v, next does %v", v.Key, v.Place, v.NextDoes)
	}
	r.ask(bed.OutNow)
	r.wait(2 * time.Second)
	if got := r.bed.View().Moment; got != 1 {
		t.Errorf("after a landing and silence the moment is %d, want the second", got+1)
	}
	r.end()
}

func TestAKeyThatCannotBeVoicedMovesNothing(t *testing.T) {
	c := twoMoments(t)
	c.Voicing.Low, c.Voicing.High, c.Voicing.Full = 60, 70, 4
	r := newRun(t, c)
	r.ask(bed.BringIn)
	for _, n := range []uint8{49, 53, 56, 60} { // Dbmaj7
		r.event(bed.Event{Kind: bed.NoteStruck, Note: n, Velocity: 60})
	}
	r.ask(bed.Capture)
	refused := 0
	for tonic := range pitch.Class(12) {
		before := r.bed.View()
		r.all = nil
		r.event(bed.Event{Kind: bed.Asked, Command: bed.KeyTo, Tonic: tonic})
		after := r.bed.View()
		r.wait(time.Second)
		if !strings.Contains(said(r.all), "does not fit") {
			continue
		}
		refused++
		if after.Key != before.Key || after.Chord != before.Chord || strings.Contains(said(r.all), "key-to") {
			t.Errorf("to class %d: %q, key %v to %v, chord %v to %v", tonic, said(r.all), before.Key, after.Key, before.Chord, after.Chord)
		}
	}
	if refused == 0 {
		t.Error("every key could be voiced: the range is not small enough to try this")
	}
	r.end()
}

// What could not be carried out is not marked as done.
func TestALandingThatCannotBeVoicedIsNotMarked(t *testing.T) {
	c := twoMoments(t)
	c.Moments = []bed.Moment{moment(t, pitch.Key{}, "1 4", "")}
	c.Voicing.Low, c.Voicing.High, c.Voicing.Colours = 60, 69, 0
	c.Voicing.Thin, c.Voicing.Voices, c.Voicing.Full = 3, 3, 3
	refused := 0
	for tonic := range 12 {
		key := pitch.Key{}.Transpose(tonic)
		c.Moments[0].NextKey, c.Moments[0].NextChord = key, harmony.Diatonic(key, 1)
		r := newRun(t, c)
		r.ask(bed.BringIn)
		r.wait(5 * time.Second)
		r.all = nil
		before := r.bed.View()
		r.ask(bed.Land)
		if got := said(r.all); strings.Contains(got, "does not fit") {
			refused++
			if v := r.bed.View(); strings.Contains(got, "land") || v.Key != before.Key || v.Place != before.Place {
				t.Errorf("to %v: %q, now in %v, %v", key, got, v.Key, v.Place)
			}
		}
		r.end()
	}
	if refused == 0 {
		t.Error("every landing could be voiced: the range is not small enough to try this")
	}
}

func TestHandleAllocatesNothing(t *testing.T) {
	c := twoMoments(t)
	b, err := bed.New(c)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]bed.Action, 0, 1024)
	at, i := time.Duration(0), 0
	commands := []bed.Command{bed.Step, bed.Arm, bed.Step, bed.Next, bed.Capture, bed.Step, bed.KeyUp, bed.Swap, bed.Land, bed.Step, bed.Stay, bed.Stay, bed.KeyDown, bed.Previous, bed.LevelUp, bed.LevelDown}
	round := func() {
		at += 700 * ms
		out = b.Handle(at, bed.Event{Kind: bed.NoteStruck, Note: uint8(40 + i*7%40), Velocity: 70}, out[:0])
		out = b.Handle(at, bed.Event{Kind: bed.PedalMoved, Raw: uint16(i * 977 % 16384)}, out[:0])
		out = b.Handle(at, bed.Event{Kind: bed.Asked, Command: commands[i%len(commands)]}, out[:0])
		if due, ok := b.Deadline(); ok {
			out = b.Handle(due, bed.Event{}, out[:0])
		}
		out = b.Handle(at, bed.Event{Kind: bed.NoteLeft, Note: uint8(40 + i*7%40)}, out[:0])
		b.View()
		i++
	}
	for range 2500 { // every key and chord has been met
		round()
	}
	if n := testing.AllocsPerRun(500, round); n != 0 {
		t.Errorf("Handle allocates %v times a round, want 0", n)
	}
}

func TestNoAwayNeverLeavesSwapArmed(t *testing.T) {
	c := twoMoments(t)
	c.Moments[0].Away = nil
	for _, out := range []bed.Command{bed.Previous, bed.KeyUp, bed.AllNotesOff} {
		r := newRun(t, c)
		for _, command := range []bed.Command{bed.BringIn, bed.Land, bed.Arm, out} {
			r.ask(command)
			if v := r.bed.View(); v.NextDoes == bed.Swap && v.Place != bed.Landing {
				t.Errorf("after %v the next step swaps to nothing", command)
			}
			r.wait(time.Second)
		}
		r.end()
	}
}

func TestNothingIsAskedAfterTheEnd(t *testing.T) {
	r := newRun(t, twoMoments(t))
	r.ask(bed.BringIn)
	r.wait(5 * time.Second)
	r.watcher.InputEnded(r.now)
	r.event(bed.Event{Kind: bed.InputEnded})
	r.wait(100 * ms)
	r.ask(bed.Step) // a switch that settles late
	r.wait(5 * time.Second)
	if got := r.bed.View().Phase; got != bed.Silent {
		t.Errorf("the bed is %v after its end", got)
	}
	r.end()
}

func TestTheTrendRestsOnThePlan(t *testing.T) {
	c := twoMoments(t)
	c.Moments[0].Intensity = 0.9
	r := newRun(t, c)
	r.event(bed.Event{Kind: bed.NoteStruck, Note: 60, Velocity: 40})
	r.wait(time.Minute)
	r.ask(bed.BringIn)
	r.wait(10 * time.Second)
	if got := r.bed.View().Intensity; got < 0.85 {
		t.Errorf("a minute after one soft note the intensity is %.2f, the plan asks for 0.9", got)
	}
	r.end()
}

func TestFollowWaitsForStay(t *testing.T) {
	r := newRun(t, twoMoments(t))
	r.ask(bed.BringIn)
	r.ask(bed.Follow)
	r.wait(3 * time.Second)
	r.ask(bed.Stay)
	for _, n := range []uint8{41, 48, 57} {
		r.event(bed.Event{Kind: bed.NoteStruck, Note: n, Velocity: 60})
	}
	r.all = nil
	r.wait(5 * time.Second)
	if got := said(r.all); got != "" {
		t.Errorf("during stay: %q", got)
	}
	r.ask(bed.Stay)
	r.wait(5 * time.Second)
	if got, want := said(r.all), "stay F"; got != want {
		t.Errorf("after stay: %q, want %q", got, want)
	}
	r.end()
}

func TestTimeNeverOverflows(t *testing.T) {
	r := newRun(t, twoMoments(t))
	r.now = 1<<63 - 1
	r.ask(bed.BringIn)
	if at, ok := r.bed.Deadline(); !ok || at < 0 {
		t.Errorf("the next deadline is %v", at)
	}
}

func TestConfigErrors(t *testing.T) {
	for _, c := range []struct {
		change func(*bed.Config)
		want   string
	}{
		{func(c *bed.Config) { c.Moments = nil }, "a bed needs at least one moment"},
		{func(c *bed.Config) { c.Moments[1].Home = nil }, "moment 2 has no home progression"},
		{func(c *bed.Config) { c.Moments[0].Intensity = 2 }, "moment 1: intensity 2 is out of range 0…1"},
		{func(c *bed.Config) { c.First = 2 }, "first moment 2 is out of range 0…1"},
		{func(c *bed.Config) { c.Velocity = 0 }, "velocity 0 is out of range 1…127"},
		{func(c *bed.Config) { c.Leave = 0 }, "bring-in 3s, fade 6s and out-now 0s must each last at least 0.1 s"},
		{func(c *bed.Config) { c.Overlap = 0 }, "overlap 0s is out of range 20ms…2s"},
		{func(c *bed.Config) { c.Arms = []bed.Command{bed.KeyUp} }, "\"key-up\" cannot be armed: use any of [swap land land-through first-chord capture fade out-now stay follow swell settle choose-song choose-key]"},
		{func(c *bed.Config) { c.Voicing.Voices = 0 }, "0 voices are out of range 1…7"},
		{func(c *bed.Config) { c.Voicing.Low, c.Voicing.High = 60, 61 }, "moment 1: no 3-voice voicing of C fits between C4 and C#4: widen the range or ask for fewer voices"},
	} {
		config := twoMoments(t)
		c.change(&config)
		if _, err := bed.New(config); err == nil || err.Error() != c.want {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
}

// A key change while the bed sounds, with progressions of 2, 4 and 16 chords.
func BenchmarkKeyChange(b *testing.B) {
	for _, n := range []int{2, 4, bed.MaxChords} {
		b.Run(fmt.Sprint(n, " chords"), func(b *testing.B) {
			c := twoMoments(b)
			round := []string{"1", "4", "6m", "5", "3m", "2m", "1/3", "4maj7"}
			var home, away []string
			for i := range n {
				home = append(home, round[i%len(round)])
				away = append(away, round[(i+3)%len(round)])
			}
			c.Moments = []bed.Moment{moment(b, pitch.Key{}, strings.Join(home, " "), strings.Join(away, " "))}
			bd, err := bed.New(c)
			if err != nil {
				b.Fatal(err)
			}
			out := bd.Handle(0, bed.Event{Kind: bed.Asked, Command: bed.BringIn}, make([]bed.Action, 0, 64))
			at := time.Duration(0)
			for b.Loop() {
				at += time.Second
				out = bd.Handle(at, bed.Event{Kind: bed.Asked, Command: bed.KeyUp}, out[:0])
			}
		})
	}
}

func BenchmarkHandlePedal(b *testing.B) {
	bd, err := bed.New(twoMoments(b))
	if err != nil {
		b.Fatal(err)
	}
	out := bd.Handle(0, bed.Event{Kind: bed.Asked, Command: bed.BringIn}, make([]bed.Action, 0, 64))
	b.ReportAllocs()
	at := time.Duration(0)
	for i := 0; b.Loop(); i++ {
		at += ms
		out = bd.Handle(at, bed.Event{Kind: bed.PedalMoved, Raw: uint16(i * 13 % 16384)}, out[:0])
	}
}

func BenchmarkHandleStrike(b *testing.B) {
	bd, err := bed.New(twoMoments(b))
	if err != nil {
		b.Fatal(err)
	}
	out := bd.Handle(0, bed.Event{Kind: bed.Asked, Command: bed.BringIn}, make([]bed.Action, 0, 64))
	b.ReportAllocs()
	at := time.Duration(0)
	for i := 0; b.Loop(); i++ {
		at += ms
		note, kind := uint8(40+i/2%40), bed.NoteStruck
		if i%2 == 1 {
			kind = bed.NoteLeft
		}
		out = bd.Handle(at, bed.Event{Kind: kind, Note: note, Velocity: uint8(40 + i%80)}, out[:0])
	}
}

// A chord as prepared, and one that has to be searched for because the register
// rises.
func BenchmarkHandleNext(b *testing.B) {
	for name, intensity := range map[string]float64{"prepared": 0.5, "lifted": 1} {
		b.Run(name, func(b *testing.B) {
			c := twoMoments(b)
			c.Moments[0].Intensity = intensity
			bd, err := bed.New(c)
			if err != nil {
				b.Fatal(err)
			}
			out := bd.Handle(0, bed.Event{Kind: bed.Asked, Command: bed.BringIn}, make([]bed.Action, 0, 64))
			b.ReportAllocs()
			at := time.Duration(0)
			for b.Loop() {
				at += time.Second
				out = bd.Handle(at, bed.Event{Kind: bed.Asked, Command: bed.Next}, out[:0])
			}
		})
	}
}
