package main

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/listening"
	"bedd/internal/listening/talks"
	"bedd/internal/midiio"
	"bedd/internal/pitch"
	"bedd/internal/session"
	"bedd/internal/sound"
	"bedd/internal/soundcheck"
)

// invented is what is said in these tests.
const invented = "On the evening of the winter lights the whole harbour town comes down to the quay. The lamps are lit one after another. " +
	"Then the harbour master reads the names of the boats, and after each name a bell is rung."

// aTalk writes somebody speaking, and then silence, as WAV at the rate of espeak-ng.
func aTalk(t *testing.T, path string, silence time.Duration) {
	t.Helper()
	spoken, _, err := talks.Speak("en-gb", 155, 45, 100, invented)
	if err != nil {
		t.Fatal(err, "; scripts/install brings espeak-ng")
	}
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	wav, err := sound.NewWAV(file, talks.Rate, 16)
	if err != nil {
		t.Fatal(err)
	}
	stereo := make([]float32, 2*len(spoken)+2*int(silence.Seconds()*talks.Rate))
	for i, x := range spoken {
		stereo[2*i], stereo[2*i+1] = x, x
	}
	if err := wav.Write(stereo); err != nil {
		t.Fatal(err)
	}
	if err := wav.Close(); err != nil {
		t.Fatal(err)
	}
}

// listenTo runs a performance to a talk, and gives what the bed was like after each event.
func listenTo(t *testing.T, path string, cues ...midiio.Event) (told []bed.Event, at []time.Duration, views []bed.View) {
	t.Helper()
	rig := gathering.DefaultRig()
	moment, err := gathering.Plain(pitch.Key{}, "1 4", "6m 2m", harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	voice, err := openVoice(path, rig)
	if err != nil {
		t.Fatal(err)
	}
	defer voice.close()
	f := &midiio.File{Format: 1, Division: 480, Events: cues} // 960 ticks a second
	if _, _, _, err := session.PerformTo(rig, []bed.Moment{moment}, f, bed.BringIn, voice, func(when time.Duration, e bed.Event, v bed.View) {
		told, at, views = append(told, e), append(at, when), append(views, v)
	}); err != nil {
		t.Fatal(err)
	}
	return told, at, views
}

// The bed follows a voice it knows, is told at most four times a second, and settles when
// silence lasts.
func TestTheBedFollowsAVoiceAndSettles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "talk.wav")
	aTalk(t, path, 75*time.Second)
	told, at, views := listenTo(t, path)
	first, last, settled := time.Duration(-1), -time.Second, 0.0
	for i, e := range told {
		if e.Kind != bed.VoiceHeard {
			continue
		}
		if first < 0 {
			first = at[i]
		}
		if at[i]-last < 250*time.Millisecond {
			t.Errorf("told at %v and at %v", last, at[i])
		}
		if gap := at[i] - last; first < last && gap > 2100*time.Millisecond {
			t.Errorf("not told between %v and %v", last, at[i])
		}
		last, settled = at[i], e.Intensity
		if at[i] > 8*time.Second && views[i].Phase == bed.Holding && views[i].Source != dynamics.FromListening {
			t.Fatalf("at %v the intensity is from %v", at[i], views[i].Source)
		}
	}
	if first < 4*time.Second || first > 10*time.Second {
		t.Errorf("it is first told of a voice at %v", first)
	}
	if want := gathering.DefaultRig().Listening.Manner.SettleTo; math.Abs(settled-want) > 0.06 {
		t.Errorf("after a long silence it is told %v, want %v", settled, want)
	}
}

// What the sound check measures of a voice is what listening takes its speech to be, so
// that the voice it writes into the rig eases nothing down while the same person speaks as
// loud. 1.5 LU by ear: sentences differ by more.
func TestListeningAndTheSoundCheckAgreeOnAVoice(t *testing.T) {
	path := filepath.Join(t.TempDir(), "talk.wav")
	aTalk(t, path, 0)
	checked, err := soundcheck.HearFile(path)
	if err != nil {
		t.Fatal(err)
	}
	voice, err := openVoice(path, gathering.DefaultRig())
	if err != nil {
		t.Fatal(err)
	}
	defer voice.close()
	var speech []float64
	voice.see = func(h listening.Heard) {
		if h.Voice && h.Sound == listening.Speech && h.At > 3*time.Second {
			speech = append(speech, h.Speech)
		}
	}
	for _, more := voice.Next(); more; _, more = voice.Next() {
		voice.Hear(bed.View{})
	}
	slices.Sort(speech)
	if len(speech) < 100 {
		t.Fatalf("%d twentieths of a second of speech", len(speech))
	}
	usual := speech[len(speech)/2]
	t.Logf("the sound check hears %.1f LUFS, listening %.1f, %.1f to %.1f", checked.LUFS, usual, speech[len(speech)/10], speech[len(speech)*9/10])
	if math.Abs(usual-checked.LUFS) > 1.5 {
		t.Errorf("the sound check hears %.1f LUFS, listening %.1f", checked.LUFS, usual)
	}
}

// A foot that moves wins over the voice, and stay holds.
func TestFootAndStayWinOverListening(t *testing.T) {
	path := filepath.Join(t.TempDir(), "talk.wav")
	aTalk(t, path, 5*time.Second)
	var cues []midiio.Event
	for v := range 60 { // a foot from the heel up, from the eighth second on
		cues = append(cues, midiio.Event{Tick: int64(7680 + 10*v), Data: []byte{0xB0, 11, byte(2 * v)}})
	}
	cues = append(cues, midiio.Event{Tick: 12480, Data: []byte{0xB0, 82, 127}}, midiio.Event{Tick: 12500, Data: []byte{0xB0, 82, 0}})
	told, at, views := listenTo(t, path, cues...)
	held := -1.0
	for i, v := range views {
		if told[i].Kind == bed.InputEnded {
			break
		}
		switch {
		case at[i] > 9*time.Second && at[i] < 13*time.Second && v.Source != dynamics.FromFoot:
			t.Fatalf("at %v the foot has moved, and the intensity is from %v", at[i], v.Source)
		case at[i] > 13*time.Second && held < 0 && v.Source == dynamics.FromStay:
			held = v.Intensity
		case at[i] > 13*time.Second && (v.Source != dynamics.FromStay || v.Intensity != held):
			t.Fatalf("at %v stay is on, and the intensity is %v from %v, was %v", at[i], v.Intensity, v.Source, held)
		}
	}
	if math.Abs(held-gathering.DefaultRig().Bed.Pedal.Position(118<<7)) > 0.03 {
		t.Errorf("the foot has brought it to %v", held)
	}
}

// fakeInput brings what a test says, and stands still.
type fakeInput struct{ waiting []float32 }

func (f *fakeInput) Read(block []float32) int {
	n := copy(block, f.waiting)
	f.waiting = f.waiting[n:]
	return n
}
func (f *fakeInput) Rate() int { return talks.Rate }
func (f *fakeInput) Close()    {}

// An input that stands still changes nothing for as long as a silence would not: what was
// asked for holds and is told on, then settles gently, but for what is eased. The glance
// says so, nobody waits for the core, and a voice that comes back is followed.
func TestAnInputThatStandsStill(t *testing.T) {
	spoken, _, err := talks.Speak("en-gb", 155, 45, 100, invented)
	if err != nil {
		t.Fatal(err, "; scripts/install brings espeak-ng")
	}
	input := &fakeInput{}
	h, err := newHearer(input, gathering.DefaultRig(), nil)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Duration(0)
	for i := range spoken {
		input.waiting = append(input.waiting, spoken[i], spoken[i])
		if len(input.waiting) == 2*talks.Rate/50 {
			now += listenLook
			h.look(now)
		}
	}
	said := <-h.said
	words := h.now.Load().words()
	if !strings.HasPrefix(words, "hears: speech, ") && words != "holds: silence" {
		t.Errorf("it says %q", words)
	}
	manner, ended := gathering.DefaultRig().Listening.Manner, now
	times, before, at := 0, said, now
	for end := now + 2*time.Minute; now < end; {
		now += listenLook
		h.look(now)
		select {
		case again := <-h.said:
			times++
			most := 0.011
			if now > ended+manner.Rest {
				most += manner.Rate * (now - at).Seconds()
			}
			if math.Abs(again.intensity-before.intensity) > most || again.eased != before.eased {
				t.Fatalf("it has stood still for %v and is told %+v, was %+v", now-ended, again, before)
			}
			before, at = again, now
		default:
		}
		if now == ended+manner.Rest-time.Second { // it may have been in a pause already
			if times < 7 || times > 11 || math.Abs(before.intensity-said.intensity) > 0.011 {
				t.Errorf("in %v the bed is told %d times, want one in two seconds, and %v, want %v", now-ended, times, before.intensity, said.intensity)
			}
			if got := h.now.Load().words(); got != "holds: the sound input brings nothing" {
				t.Errorf("it says %q", got)
			}
		}
	}
	if math.Abs(before.intensity-manner.SettleTo) > 0.02 || math.Abs(said.intensity-manner.SettleTo) < 0.05 {
		t.Errorf("it was told %v, and after two minutes %v, want %v", said.intensity, before.intensity, manner.SettleTo)
	}
	if got := h.now.Load().words(); got != "settles, 0.2: the sound input brings nothing" {
		t.Errorf("it says %q", got)
	}
	for i := range spoken { // it is there again
		input.waiting = append(input.waiting, spoken[i], spoken[i])
		if len(input.waiting) == 2*talks.Rate/50 {
			now += listenLook
			h.look(now)
		}
	}
	if got := h.now.Load().words(); !strings.HasPrefix(got, "hears: speech, ") && got != "holds: silence" {
		t.Errorf("the voice has come back, and it says %q", got)
	}
	for range 100 { // nobody takes what is said
		now += time.Second
		h.look(now)
	}
}

// Nothing is listened to unless the player says so.
func TestListeningIsOffByDefault(t *testing.T) {
	var f listenFlags
	rig := gathering.DefaultRig()
	if err := f.check(&rig); err != nil || rig.Listening.On {
		t.Errorf("by default: %v, %v", rig.Listening.On, err)
	}
	rig.Listening.On, f.input = true, listenOff
	if err := f.check(&rig); err != nil || rig.Listening.On {
		t.Errorf("with --listen=off: %v, %v", rig.Listening.On, err)
	}
	f.input = "Desk"
	if err := f.check(&rig); err != nil || !rig.Listening.On || rig.Listening.Input != "Desk" {
		t.Errorf("with --listen=Desk: %+v, %v", rig.Listening, err)
	}
	f.file = "talk.wav" // which is looked at only where it goes alone
	if err := f.check(&rig); err == nil {
		t.Error("a file and an input are taken at once")
	}
}

// A voice by the clock reaches the bed, its journal gives the same again, and a talk is
// rendered the same twice, with what was heard.
func TestListeningLiveAndOffline(t *testing.T) {
	dir := t.TempDir()
	talk, player, state := filepath.Join(dir, "talk.wav"), filepath.Join(dir, "player.mid"), filepath.Join(dir, "state")
	aTalk(t, talk, 0)
	track := midiio.OutTrack{Name: "player", End: 10000, Events: []midiio.Event{
		{Tick: 96, Data: []byte{0xB0, 80, 127}}, {Tick: 200, Data: []byte{0xB0, 80, 0}}, {Tick: 10000, Data: []byte{0xB0, 1, 0}}}}
	if err := midiio.WriteFile(player, midiio.OutFile{Division: 480, Tracks: []midiio.OutTrack{track}}); err != nil {
		t.Fatal(err)
	}
	live, again := filepath.Join(dir, "live.mid"), filepath.Join(dir, "again.mid")
	r := bedd(t, "play", "--player", player, "--listen-file", talk, "--no-sound", "--journal", state, "--midi", live)
	if r.code != 0 || !strings.Contains(r.stdout, "listens to "+talk) {
		t.Fatal(r)
	}
	text, err := os.ReadFile(only(t, state).Path)
	if n := strings.Count(string(text), `"k":"voice"`); err != nil || n < 2 || n > 25 {
		t.Errorf("the journal tells of a voice %d times, %v", n, err)
	}
	if r := bedd(t, "render", "--journal", only(t, state).Path, "--midi", again); r.code != 0 || !sameFile(t, live, again) {
		t.Errorf("the journal gives something else: %s", r.stderr)
	}
	svg := filepath.Join(dir, "talk.svg")
	one := bedd(t, "render", "--voice", talk, "--report", "-", "--report", svg)
	if one.code != 0 || one.stdout != bedd(t, "render", "--voice", talk, "--report", "-").stdout {
		t.Errorf("twice the same talk: %s", one.stderr)
	}
	for _, want := range []string{"s of speech", "heard     |", "syllables |", "asks for  |", "bed       |"} {
		if !strings.Contains(one.stdout, want) {
			t.Errorf("the report lacks %q:\n%s", want, one.stdout)
		}
	}
	drawn, err := os.ReadFile(svg)
	for _, want := range []string{"loudness", "syllables", "pitch", ">speech<", "from-listening"} {
		if err != nil || !strings.Contains(string(drawn), want) {
			t.Errorf("the drawing lacks %q, %v", want, err)
		}
	}
}

// What was played is known to the ear hop by hop, silence where it lags, and never
// more than a fifth of a second ahead.
func TestWhatIsKnownKeepsUp(t *testing.T) {
	known, err := sound.NewTee(1 << 16)
	if err != nil {
		t.Fatal(err)
	}
	h, err := newHearer(&fakeInput{}, gathering.DefaultRig(), known)
	if err != nil {
		t.Fatal(err)
	}
	block := make([]float32, 2*30000)
	for i := range block {
		block[i] = 0.5
	}
	known.Write(block)
	if got := h.knows(); got[0] != 0.5 || len(h.played) != 0 {
		t.Errorf("it knows %v, and %d samples wait", got[0], len(h.played))
	}
	if got := h.knows(); got[0] != 0 {
		t.Errorf("where nothing was played it knows %v", got[0])
	}
}

// brokenInput fails by a fault of bedd's own.
type brokenInput struct{ fakeInput }

func (*brokenInput) Read([]float32) int { panic("made to fail") }

// A fault while listening is a mishap like others, which ends the run (see
// TestMishapKeepsTheRecording), and nobody waits for the listener.
func TestAFaultWhileListeningIsAMishap(t *testing.T) {
	h, err := newHearer(&brokenInput{}, gathering.DefaultRig(), nil)
	if err != nil {
		t.Fatal(err)
	}
	broken := newMishaps()
	h.start(broken)
	select {
	case m := <-broken:
		if !strings.Contains(m.Error(), "made to fail") {
			t.Error(m)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("nobody was told")
	}
	h.close()
}

// clumsySource has a fault after half a second of sound, for a run that has to end by it.
type clumsySource struct {
	source
	how    string
	frames int
}

func (c *clumsySource) Read(block []float32) int {
	n := c.source.Read(block)
	if c.frames += n / 2; c.how == "mishap while listening" && c.frames > c.Rate()/2 {
		panic(c.how)
	}
	return n
}

// endless brings more than anyone can listen to.
type endless struct{ fakeInput }

func (*endless) Read(block []float32) int { return len(block) }

// On a computer that cannot keep up with the input a look comes to its end all the same,
// and what was heard is told.
func TestALookEndsWhateverArrives(t *testing.T) {
	h, err := newHearer(&endless{}, gathering.DefaultRig(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 50 {
		h.look(time.Duration(i) * listenLook)
	}
	if heard := h.now.Load(); heard == nil || heard.stalled {
		t.Errorf("%+v", heard)
	}
}
