package bed_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// threeSongs are songs in G, E flat and F sharp minor for a plan of some moments;
// the second is that which twoMoments leads to.
func threeSongs(t testing.TB, moments int) []bed.Song {
	var songs []bed.Song
	for i, name := range []string{"G", "Eb", "F#m"} {
		key, err := pitch.ParseKey(name)
		if err != nil {
			t.Fatal(err)
		}
		then := i
		if then >= moments {
			then = -1
		}
		songs = append(songs, bed.Song{Key: key, First: harmony.Diatonic(key, 1), Home: progression(t, key, "1 4"), Away: progression(t, key, "6 5"), Then: then})
	}
	return songs
}

func withSongs(t testing.TB) bed.Config {
	c := twoMoments(t)
	c.Songs = threeSongs(t, len(c.Moments))
	c.Moments[0].NextSong = 2
	return c
}

// sayAfter drives a bed by commands, some seconds apart, and gives what it did.
func sayAfter(t *testing.T, c bed.Config, every time.Duration, commands ...bed.Command) (string, *run) {
	r := newRun(t, c)
	for _, command := range commands {
		r.ask(command)
		r.wait(every)
	}
	return said(r.all), r
}

func TestLandThroughWalksByItself(t *testing.T) {
	c := twoMoments(t)
	got, r := sayAfter(t, c, time.Second, bed.BringIn, bed.LandThrough)
	if want := "bring-in C land-through F"; got != want {
		t.Errorf("a second after the press: %q, want %q", got, want)
	}
	r.wait(3500 * ms)
	if got, want := said(r.all), "bring-in C land-through F Bb"; got != want {
		t.Errorf("a pace later: %q, want %q", got, want)
	}
	r.ask(bed.Step) // the foot is faster
	r.wait(time.Second)
	if v := r.bed.View(); !v.Arrived || v.Walks || v.Chord.Symbol() != "Eb" {
		t.Errorf("after a step: %v, arrived %v, walks %v", v.Chord, v.Arrived, v.Walks)
	}
	r.wait(time.Minute)
	if v := r.bed.View(); v.Phase != bed.Holding {
		t.Errorf("a minute after arriving, before a song, the bed is %v: it must hold", v.Phase)
	}
	r.end()
}

func TestStayHoldsUpALandingThatWalks(t *testing.T) {
	got, r := sayAfter(t, twoMoments(t), time.Second, bed.BringIn, bed.LandThrough, bed.Stay)
	r.wait(time.Minute)
	if later := said(r.all); later != got {
		t.Errorf("during stay %q became %q", got, later)
	}
	r.ask(bed.Stay)
	r.wait(time.Minute)
	if v := r.bed.View(); !v.Arrived {
		t.Errorf("after stay it has not gone on: %q", said(r.all))
	}
	r.end()
}

func TestLandThroughEndsTheEveningWhereNoSongFollows(t *testing.T) {
	c := twoMoments(t)
	c.First = 1
	got, r := sayAfter(t, c, 2*time.Second, bed.BringIn, bed.Next, bed.LandThrough)
	r.wait(time.Minute)
	if v := r.bed.View(); v.Phase != bed.Silent || !strings.HasSuffix(said(r.all), "Am fade") {
		t.Errorf("%q, then %q and %v", got, said(r.all), v.Phase)
	}
	r.end()
}

// Asked for long after the bed has come to the tonic by steps, it rests there once
// more before it fades.
func TestLandThroughAfterArriving(t *testing.T) {
	c := twoMoments(t)
	c.First = 1
	got, r := sayAfter(t, c, 20*time.Second, bed.BringIn, bed.Land, bed.LandThrough)
	if !strings.Contains(got, "land-through") || !strings.HasSuffix(got, "fade") {
		t.Errorf("%q", got)
	}
	r.end()
}

func TestAfterLandingTheBedThinsOut(t *testing.T) {
	c := twoMoments(t)
	c.Moments[0].Intensity = 0.9
	r := newRun(t, c)
	for _, command := range []bed.Command{bed.BringIn, bed.Land, bed.Next, bed.Next} {
		r.ask(command)
		r.wait(10 * time.Second)
	}
	r.wait(20 * time.Second)
	v := r.bed.View()
	if v.Density != c.Voicing.Thin || v.Level[bed.Warm] < 80 {
		t.Errorf("%d voices at level %d, want the %d fewest at the level asked for", v.Density, v.Level[bed.Warm], c.Voicing.Thin)
	}
	r.ask(bed.Swap) // not the song after all
	r.wait(20 * time.Second)
	if got := r.bed.View().Density; got == c.Voicing.Thin {
		t.Errorf("back on the progression it is still thin: %d voices", got)
	}
	r.end()
}

// With hands: the bed leaves once the player has taken over, and comes back where
// the playing stops; before it arrives, and without playing, it never does.
func TestTheBedLeavesToHandsThatPlay(t *testing.T) {
	c := twoMoments(t)
	c.Hands = 8 * time.Second
	r := newRun(t, c)
	play := func(d time.Duration) {
		for end := r.now + d; r.now < end; {
			r.event(bed.Event{Kind: bed.NoteStruck, Note: 60, Velocity: 60})
			r.wait(400 * ms)
			r.event(bed.Event{Kind: bed.NoteLeft, Note: 60})
			r.wait(400 * ms)
		}
	}
	r.ask(bed.BringIn)
	r.ask(bed.Land)
	play(20 * time.Second)
	if v := r.bed.View(); v.Phase != bed.Holding {
		t.Fatalf("on the way the bed is %v", v.Phase)
	}
	r.ask(bed.FirstChord)
	r.wait(time.Minute)
	if v := r.bed.View(); v.Phase != bed.Holding || !v.Arrived {
		t.Fatalf("while nobody plays the bed is %v, arrived %v", v.Phase, v.Arrived)
	}
	play(9 * time.Second)
	if v := r.bed.View(); v.Phase != bed.Fading {
		t.Fatalf("nine seconds of playing: %v, want fading", v.Phase)
	}
	r.wait(5 * time.Second)
	if v := r.bed.View(); v.Phase != bed.Rising && v.Phase != bed.Holding {
		t.Fatalf("the playing stopped, and the bed is %v", v.Phase)
	}
	play(16 * time.Second)
	if v := r.bed.View(); v.Phase != bed.Silent || v.Moment != 1 {
		t.Errorf("after playing on: %v, moment %d", v.Phase, v.Moment+1)
	}
	r.end()
}

func TestFirstChordIsOnePress(t *testing.T) {
	got, r := sayAfter(t, withSongs(t), 2*time.Second, bed.FirstChord, bed.BringIn, bed.Next, bed.FirstChord, bed.OutNow)
	if want := "(the bed is silent) bring-in C F first-chord Eb out-now moment 2"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if v := r.bed.View(); !v.Used.Has(2) || v.Used.Has(1) {
		t.Error("the song that began is not among those used")
	}
	r.end()
}

func TestEndings(t *testing.T) {
	for ending, want := range map[harmony.Ending]string{harmony.DominantEnding: "Bb", harmony.PlagalEnding: "Ab"} {
		for _, own := range []bool{true, false} {
			c := twoMoments(t)
			c.Ending = ending
			if own {
				c.Ending, c.Moments[0].OwnEnding, c.Moments[0].Ending = harmony.PlainEnding, true, ending
			}
			r := newRun(t, c)
			v := r.bed.View()
			if v.WayLen < 2 || v.Way[v.WayLen-2].Symbol() != want || v.Way[v.WayLen-1].Symbol() != "Eb" {
				t.Errorf("%v ending, the moment's own %v: %v", ending, own, v.Way[:v.WayLen])
			}
			r.end()
		}
	}
}

// Wherever the bed goes the landing in the view is the one that a press would
// begin: it is found as the bed moves.
func TestTheLandingIsReadyAtAnyInstant(t *testing.T) {
	for _, command := range []bed.Command{bed.Next, bed.Swap, bed.KeyUp, bed.Take, bed.FirstChord} {
		r := newRun(t, withSongs(t))
		r.ask(bed.BringIn)
		if command == bed.Take {
			r.ask(bed.ChooseSong)
		}
		r.ask(command)
		r.wait(30 * time.Second)
		v := r.bed.View()
		key, first := v.Key, v.Way
		if n := v.WayLen; n > 0 {
			r.ask(bed.Land)
			if got := r.bed.View().Chord; got != first[0] {
				t.Errorf("after %v in %v: the view promised %v, the press gave %v", command, key, first[:n], got)
			}
		}
		r.end()
	}
}

// A key change in the middle of a moment goes by chords that hold a note, and ends
// at home there.
func TestKeyChangesHoldNotes(t *testing.T) {
	torn := 0
	for tonic := range pitch.Class(12) {
		for _, command := range []bed.Command{bed.Next, bed.Swap} {
			r := newRun(t, twoMoments(t))
			r.ask(bed.BringIn)
			r.wait(5 * time.Second)
			r.ask(command)
			r.wait(5 * time.Second)
			chord := r.bed.View().Chord
			r.event(bed.Event{Kind: bed.Asked, Command: bed.KeyTo, Tonic: tonic})
			for range 20 {
				r.wait(time.Second)
				if v := r.bed.View(); v.Chord != chord {
					if chord = v.Chord; v.Change.Held.Len() == 0 {
						torn++
					}
				}
			}
			v := r.bed.View()
			if tonic != 0 && (v.Key.Tonic.Class() != tonic || v.Place != bed.Home || v.Chord.Root.Class() != tonic) {
				t.Errorf("to class %d: %v in %v, %v", tonic, v.Chord, v.Key, v.Place)
			}
			r.end()
		}
	}
	if torn > 0 {
		t.Errorf("%d changes hold nothing", torn)
	}
}

// What is chosen is heard only when it is taken: the notes are those of a bed that
// nobody chose anything on.
func TestChoosingDisturbsNothing(t *testing.T) {
	play := func(commands ...bed.Command) []bed.Action {
		r := newRun(t, withSongs(t))
		r.foot(9000)
		r.ask(bed.BringIn)
		r.wait(10 * time.Second)
		for _, c := range commands {
			r.ask(c)
		}
		r.wait(20 * time.Second)
		r.end()
		return slices.DeleteFunc(r.all, func(a bed.Action) bool { return a.Kind == bed.Did || a.Kind == bed.Tell })
	}
	want := play()
	for _, c := range [][]bed.Command{
		{bed.ChooseSong, bed.Arm, bed.Next, bed.Previous, bed.ChooseSong, bed.Step},
		{bed.ChooseSong, bed.Take}, {bed.ChooseKey, bed.Arm, bed.ChooseKey, bed.Previous},
		{bed.Stay, bed.ChooseSong, bed.Take, bed.Stay},
	} {
		if got := play(c...); !slices.Equal(got, want) {
			t.Errorf("%v is heard", c)
		}
	}
}

func TestAMomentIsCalledUpInTwoPresses(t *testing.T) {
	r := newRun(t, withSongs(t))
	r.ask(bed.ChooseSong) // the plan's own next song first
	if v := r.bed.View(); v.Choice != bed.WhichSong || v.Chosen != 2 || v.NextDoes != bed.Take {
		t.Errorf("choice %v of %d, step does %v", v.Choice, v.Chosen, v.NextDoes)
	}
	r.ask(bed.Step)
	v := r.bed.View()
	if v.Key.String() != "Eb" || !v.Called || v.Song != 2 || v.Phase != bed.Silent {
		t.Errorf("taken: in %v, called up %v, song %d, %v", v.Key, v.Called, v.Song, v.Phase)
	}
	r.ask(bed.Step)
	r.wait(5 * time.Second)
	for range 4 {
		r.ask(bed.Land)
		r.wait(5 * time.Second)
	}
	r.ask(bed.OutNow)
	r.wait(2 * time.Second)
	if v := r.bed.View(); v.Called || v.Moment != 0 && v.Moment != 1 || !v.Used.Has(2) {
		t.Errorf("after the song: moment %d, called up %v", v.Moment+1, v.Called)
	}
	r.ask(bed.ChooseKey)
	r.event(bed.Event{Kind: bed.Asked, Command: bed.KeyTo, Tonic: 3})
	if v := r.bed.View(); v.Choice != bed.NoChoice || v.Key.Tonic.Class() != 3 {
		t.Errorf("a key in two presses: %v, choice %v", v.Key, v.Choice)
	}
	r.end()
}

func TestAChoiceClosesByItself(t *testing.T) {
	r := newRun(t, withSongs(t))
	r.ask(bed.BringIn)
	r.ask(bed.ChooseSong)
	r.wait(13 * time.Second)
	if v := r.bed.View(); v.Choice != bed.NoChoice || v.Song != 2 {
		t.Errorf("choice %v, song %d", v.Choice, v.Song)
	}
	r.ask(bed.ChooseSong)
	for range 4 { // three songs and none
		r.ask(bed.Arm)
	}
	if v := r.bed.View(); v.Choice != bed.NoChoice {
		t.Errorf("once round the choice is %v", v.Choice)
	}
	r.end()
}

// The leader skips a song while the bed sounds: the landing leads to the other one.
func TestAnotherSongIsTakenWhileTheBedSounds(t *testing.T) {
	r := newRun(t, withSongs(t))
	r.ask(bed.BringIn)
	r.wait(time.Second)
	r.ask(bed.Land)
	r.ask(bed.ChooseSong)
	r.ask(bed.Step)
	v := r.bed.View()
	if v.Song != 3 || v.WayLen == 0 || v.Way[v.WayLen-1].Symbol() != "F#m" {
		t.Fatalf("song %d, way %v", v.Song, v.Way[:v.WayLen])
	}
	for range v.WayLen {
		r.ask(bed.Step)
		r.wait(2 * time.Second)
	}
	if v := r.bed.View(); !v.Arrived || v.Chord.Symbol() != "F#m" {
		t.Errorf("at %v, arrived %v", v.Chord, v.Arrived)
	}
	r.end()
}
