package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bedd/configs"
	"bedd/internal/gathering"
	"bedd/internal/midiio"
	"bedd/internal/sound"
	"bedd/internal/soundcheck"
)

// recorded writes some seconds of a sound, and gives its name.
func recorded(t *testing.T, name string, seconds int, at func(i int) float64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := sound.NewWAV(f, 48000, 16)
	if err != nil {
		t.Fatal(err)
	}
	block := make([]float32, 2*48000*seconds)
	for i := range block {
		block[i] = float32(at(i / 2))
	}
	if err := errors.Join(w.Write(block), w.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// voiced is a buzz of 120 Hz that falls off as speech does, and comes and goes five
// times a second.
func voiced(i int) (x float64) {
	for n := 1; n <= 60; n++ {
		x += math.Pow(float64(n), -0.8) * math.Sin(2*math.Pi*120*float64(n*i)/48000+float64(n*n))
	}
	return 0.03 * x * (0.6 - 0.4*math.Cos(2*math.Pi*5*float64(i)/48000))
}

// bright is a chord of a synth that is all brilliance, where consonants are.
func bright(i int) (x float64) {
	for n := 1; n <= 20; n++ {
		x += math.Sin(2*math.Pi*440*float64(n*i)/48000 + float64(n*n))
	}
	return 0.012 * x
}

func wordsOf(t *testing.T, args ...string) (soundcheck.WordsRecord, result) {
	t.Helper()
	r := bedd(t, append([]string{"soundcheck", "words", "--json"}, args...)...)
	var w soundcheck.WordsRecord
	if r.code == 0 {
		if err := json.Unmarshal([]byte(r.stdout), &w); err != nil {
			t.Fatalf("%v: %s", err, r.stdout)
		}
	}
	return w, r
}

// Without recordings the standard's voice and the built-in bed tell how far under the
// voice the bed should be at every density, and not how loud it is.
func TestWordsWithoutRecordings(t *testing.T) {
	w, r := wordsOf(t)
	if r.code != 0 || w.FaderKnown || w.UnderNow != nil || len(w.Beds) < 4 || w.Alone < 0.99 {
		t.Fatalf("%d %s%+v", r.code, r.stderr, w)
	}
	for _, b := range w.Beds {
		if b.Under < 10 || b.ByIndex != (b.Under > 10) {
			t.Errorf("%+v", b)
		}
	}
	text := bedd(t, "soundcheck", "words").stdout
	for _, want := range []string{"6 voices, risen", "How loud it is now is not known", "WCAG 2 asks for 20 dB", "One microphone is not the room", "once the desk moves, check again", "█ the voice"} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("the text does not say %q:\n%s", want, text)
		}
	}
	for i, line := range strings.Split(text, "\n") {
		if len([]rune(line)) > 120 {
			t.Errorf("line %d is %d wide", i+1, len([]rune(line)))
		}
	}
}

// A bed that is a few dB too loud: a ceiling goes into the rig, all else stays, what was
// there is kept, and with the new rig the same bed is no longer too loud.
func TestWordsWriteTheRig(t *testing.T) {
	saltmere, err := configs.FS.ReadFile("rig-saltmere.yaml")
	if err != nil {
		t.Fatal(err)
	}
	rig := file(t, "mine.yaml", string(saltmere))
	args := []string{"--rig", rig, "--below", "5"}
	w, r := wordsOf(t, append(args, "--write", rig)...)
	if r.code != 0 || w.Over == nil || math.Abs(*w.Over-5) > 0.011 || w.Ceiling == nil || *w.Ceiling >= 0 {
		t.Fatalf("%d %s%+v", r.code, r.stderr, w)
	}
	if want := "wrote " + rig + "; what was there is " + rig + ".bak\n"; r.stderr != want {
		t.Errorf("%q, want %q", r.stderr, want)
	}
	kept, err := os.ReadFile(rig + ".bak")
	if err != nil || string(kept) != string(saltmere) {
		t.Errorf("the old rig is not kept: %v", err)
	}
	data, err := os.ReadFile(rig)
	if want := fmt.Sprintf("level:\n  ceiling: %gdB # from the sound check\n", *w.Ceiling); err != nil || string(data) != string(saltmere)+want {
		t.Errorf("the new rig:\n%s", data)
	}
	if is, err := gathering.ReadRig(rig, data); err != nil || is.Bed.Balance.Ceiling != *w.Ceiling {
		t.Errorf("ceiling %v, %v", is.Bed.Balance.Ceiling, err)
	}
	// The fader has not moved: the bed under its ceiling is as much farther under.
	under := 5 - *w.Ceiling
	if w, r = wordsOf(t, "--rig", rig, "--below", fmt.Sprint(under), "--write", rig); r.code != 0 || *w.Over > 0.1 || len(w.Settings) > 0 {
		t.Errorf("with the new rig: %d %s%+v", r.code, r.stderr, w)
	}
	if !strings.Contains(r.stderr, "needs no change") {
		t.Errorf("%q", r.stderr)
	}
}

// Recordings of both tell how the fader stands. A bed that is all brilliance is judged by
// the words, and a low-pass is offered.
func TestWordsOfRecordings(t *testing.T) {
	voice := recorded(t, "talk.wav", 12, voiced)
	dull, shrill := recorded(t, "dull.wav", 5, func(i int) float64 { return 0.02 * math.Sin(2*math.Pi*150*float64(i)/48000) }), recorded(t, "shrill.wav", 5, bright)
	svg, keep := filepath.Join(t.TempDir(), "words.svg"), filepath.Join(t.TempDir(), "check.json")
	w, r := wordsOf(t, "--voice", voice, "--bed", shrill, "--under", "0", "--target", "0.9", "--svg", svg, "--keep", keep)
	if r.code != 0 || !w.FaderKnown || len(w.Beds) != 1 || !w.Beds[0].ByIndex || w.LowPassHz != 1000 || w.LowPassMore < 3 || w.Voice.Source != "talk.wav" {
		t.Fatalf("%d %s%+v", r.code, r.stderr, w)
	}
	d, _ := wordsOf(t, "--voice", voice, "--bed", dull, "--under", "0", "--target", "0.9")
	if *d.Beds[0].IndexNow <= *w.Beds[0].IndexNow || d.Under >= w.Under {
		t.Errorf("the dull bed: %+v, the shrill one: %+v", d.Beds[0], w.Beds[0])
	}
	// A louder voice from the same recorder is the same to the index, beside a louder bed.
	both := func(name string, at func(int) float64) string {
		return recorded(t, name, 12, func(i int) float64 { return at(i) / 2 })
	}
	h, _ := wordsOf(t, "--voice", both("talk.wav", voiced), "--bed", both("shrill.wav", bright), "--under", "0", "--target", "0.9")
	if math.Abs(h.Under-w.Under) > 0.1 || math.Abs(*h.UnderNow-*w.UnderNow) > 0.1 {
		t.Errorf("at half the gain: %v under, should be %v; before %v and %v", *h.UnderNow, h.Under, *w.UnderNow, w.Under)
	}
	if drawing, err := os.ReadFile(svg); err != nil || !strings.HasPrefix(string(drawing), "<svg") {
		t.Errorf("no drawing: %v", err)
	}
	if record, err := soundcheck.Load(keep); err != nil || record.Words == nil || record.Rig != "Default" || record.When.IsZero() {
		t.Errorf("kept: %+v, %v", record, err)
	}
}

// A room that is so loud that no bed is too little is no matter of the bed.
func TestWordsInALoudRoom(t *testing.T) {
	voice, bed := recorded(t, "talk.wav", 12, voiced), recorded(t, "bed.wav", 5, bright)
	r := bedd(t, "soundcheck", "words", "--voice", voice, "--bed", bed, "--room", voice, "--target", "0.95")
	if r.code != 1 || !strings.Contains(r.stderr, "the words miss the target without any bed") {
		t.Errorf("%d %s", r.code, r.stderr)
	}
}

func TestWordsThatNoCeilingHelps(t *testing.T) {
	target := filepath.Join(t.TempDir(), "new.yaml")
	r := bedd(t, "soundcheck", "words", "--below", "-9", "--write", target)
	if r.code != 1 || !strings.Contains(r.stderr, "is not written: no ceiling of this rig") || !strings.Contains(r.stdout, "the fader has to come") {
		t.Errorf("%d %s%s", r.code, r.stderr, r.stdout)
	}
	if _, err := os.Stat(target); err == nil {
		t.Error("a rig is written")
	}
}

func TestSoundcheckUsage(t *testing.T) {
	short := recorded(t, "short.wav", 1, voiced)
	odd := file(t, "check.json", "{}")
	for want, args := range map[string]string{
		`there is no step "walk": see bedd soundcheck --help`:                                  "walk",
		`--effort "shout" is not known: use normal, raised or loud`:                            "words --effort shout",
		`--spl 20 is out of range 40…100`:                                                      "words --spl 20",
		`--seconds 1 is out of range 5…300`:                                                    "words --seconds 1",
		`a target of 1.5 is out of range: more than 0, up to 1`:                                "words --target 1.5",
		`a bed -1 LU under the voice is out of range 0…60`:                                     "words --under -1",
		`--room is heard beside a voice recorded at the same gain: name it with --voice`:       "words --room x.wav",
		`--write needs to know how loud the bed is now: `:                                      "words --write x.yaml",
		`--below goes without recordings of both voice and bed`:                                "words --voice a --bed b --below 3",
		short + `: only 0.8 s of it count, pauses left out: ten seconds or more are needed`:    "words --voice " + short,
		`open nowhere.wav: no such file or directory`:                                          "words --voice nowhere.wav",
		odd + `: not what this sound check keeps: `:                                            "words --keep " + odd,
		`this rig's bed plays the piano's own sound (share:), which bedd does not know: recor`: "words --rig one-sound",
		`--hours goes with --dba, the level that lasts so long`:                                "levels --hours 3",
		`--write goes with --under, how far the bed is to stay under the piano`:                "levels --write x.yaml",
		`--under 50 is out of range -20…40`:                                                    "levels --under 50",
		`--dba 20 is out of range 60…130`:                                                      "levels --dba 20",
		`name the page with --html FILE`:                                                       "report",
		`--plug "bed" is not what and where with a colon between, as in "bed: DI 2"`:           "report --html x.html --plug bed",
	} {
		r := bedd(t, append([]string{"soundcheck"}, strings.Fields(args)...)...)
		if r.code != 2 || !strings.HasPrefix(r.stderr, "bedd: "+want) || r.stdout != "" {
			t.Errorf("%s: %d %q, want %q", args, r.code, r.stderr, want)
		}
	}
}

func TestLevelsAndTheDesksPage(t *testing.T) {
	dir := t.TempDir()
	keep, page, wav := filepath.Join(dir, "check.json"), filepath.Join(dir, "desk.html"), filepath.Join(dir, "ear.wav")
	r := bedd(t, "soundcheck", "levels", "--rig", "saltmere", "--keep", keep, "--dba", "91", "--hours", "1", "--wav", wav)
	for _, want := range []string{"bed, toe", "ceiling 0 dB", "91 dB(A) for 1 h: 50 % of a day's dose (NIOSH), as 82.0 dB(A)", "3.2 h a week", "take care", "qualified people"} {
		if !strings.Contains(strings.Join(strings.Fields(r.stdout), " "), want) {
			t.Errorf("the text does not say %q:\n%s%s", want, r.stdout, r.stderr)
		}
	}
	if h, err := soundcheck.HearFile(wav); err != nil || h.PeakDB > -1 || h.Seconds < 20 {
		t.Errorf("what is heard by ear: %+v, %v", h, err)
	}
	if r = bedd(t, "soundcheck", "report", "--keep", keep, "--html", page); r.code != 2 || !strings.Contains(r.stderr, "is of the rig Saltmere, not of Default") {
		t.Errorf("of another rig: %d %s", r.code, r.stderr)
	}
	r = bedd(t, "soundcheck", "report", "--keep", keep, "--rig", "saltmere", "--title", "Winter Lights", "--plug", "bed: DI 2", "--fader", "bed -15", "--html", page)
	html, err := os.ReadFile(page)
	if r.code != 0 || err != nil {
		t.Fatalf("%d %s %v", r.code, r.stderr, err)
	}
	for _, want := range []string{"For the desk: Winter Lights", "DI 2", "bed, three quarters", "bed -15"} {
		if !strings.Contains(string(html), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	// What was said is kept for the next page.
	record, err := soundcheck.Load(keep)
	if err != nil || record.Fader != "bed -15" || len(record.Plugged) != 1 || record.Levels == nil {
		t.Errorf("%+v, %v", record, err)
	}
	var levels soundcheck.LevelsRecord
	if r = bedd(t, "soundcheck", "levels", "--json"); json.Unmarshal([]byte(r.stdout), &levels) != nil || len(levels.Bed) != 5 {
		t.Errorf("%s%s", r.stdout, r.stderr)
	}
}

// The devices on the desk's page are those that play would take, for what it takes them.
func TestDevicesOnTheDesksPage(t *testing.T) {
	port := func(name string) midiio.PortInfo { return midiio.PortInfo{Name: name, Address: name} }
	choice, err := midiio.Choose([]midiio.PortInfo{port("Stage"), port("Board"), port("Spare")}, []midiio.PortInfo{port("Module"), port("Stage")}, midiio.Wishes{
		Ins:  []midiio.InWish{{Pattern: "Stage", Role: midiio.KeysRole}, {Pattern: "Board", Role: midiio.FeetRole}},
		Outs: []midiio.OutWish{{Pattern: "Module", Parts: midiio.BedPart}, {Pattern: "Stage", Parts: midiio.PianoPart}},
	})
	if err != nil {
		t.Fatal(err)
	}
	got := fmt.Sprint(pluggedDevices(choice))
	if want := "[{keys MIDI from Stage to bedd} {feet and pedal MIDI from Board to bedd} {bed MIDI from bedd to Module} {piano MIDI from bedd to Stage}]"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// The ceiling that keeps the bed under the piano goes into a rig of its own, made from a
// built-in one.
func TestLevelsWriteTheRig(t *testing.T) {
	rig := filepath.Join(t.TempDir(), "mine.yaml")
	r := bedd(t, "soundcheck", "levels", "--under", "0", "--write", rig)
	if r.code != 0 || r.stderr != "wrote "+rig+"\n" || !strings.Contains(r.stdout, "with level: {ceiling: -") {
		t.Errorf("%d %q %s", r.code, r.stderr, r.stdout)
	}
	if is, err := gathering.OpenRig(rig); err != nil || is.Bed.Balance.Ceiling >= -1 || is.Name != "Default" {
		t.Errorf("%v, %v", is.Bed.Balance.Ceiling, err)
	}
	if r = bedd(t, "soundcheck", "levels", "--under", "40", "--write", rig); r.code != 1 || !strings.Contains(r.stderr, "no ceiling of this rig") {
		t.Errorf("%d %q", r.code, r.stderr)
	}
}

// What is played by ear rises from 40 dB under it in five seconds, is then as it is, ends
// by itself, and where it is ended, within 50 ms and without a step.
func TestWhatIsHeardRisesAndEnds(t *testing.T) {
	whole := make([]float32, 2*8*liveRate)
	for i := range whole {
		whole[i] = 1
	}
	play := func(stop int) (out []float32) { // stop after so many frames
		p := playOnce(whole)
		block := make([]float32, 2*441)
		for {
			if len(out)/2 >= stop {
				p.ending.Store(true)
			}
			p.fill(block)
			out = append(out, block...)
			select {
			case <-p.over:
				return out
			default:
			}
		}
	}
	out := play(math.MaxInt)
	if out[0] > 0.0101 || math.Abs(float64(out[2*5*liveRate/2])-0.1) > 0.001 || out[2*6*liveRate] != 1 || len(out) < len(whole) {
		t.Errorf("begins at %v, half way up %v, then %v, of %d frames %d", out[0], out[2*5*liveRate/2], out[2*6*liveRate], len(whole)/2, len(out)/2)
	}
	out = play(6 * liveRate)
	if frames := len(out)/2 - 6*liveRate; frames > liveRate*7/100 || out[len(out)-1] != 0 {
		t.Errorf("ended, it goes on for %d frames, to %v", frames, out[len(out)-1])
	}
	for i := 2 * 6 * liveRate; i < len(out); i++ {
		if step := math.Abs(float64(out[i] - out[i-2])); step > 0.001 {
			t.Fatalf("a step of %v at frame %d", step, i/2)
		}
	}
}

// What listening is to know is told apart from what keeps the bed down.
func TestWordsTellWhatListeningLearns(t *testing.T) {
	over, under := 3.0, 7.0
	r := &soundcheck.WordsRecord{Loudest: "6 voices", FaderKnown: true, Over: &over, UnderNow: &under,
		Settings: []soundcheck.SettingRecord{{Section: "level", Field: "ceiling", Value: "-3dB"}, {Section: "listening", Field: "voice", Value: "-23.5LUFS"}}}
	text := strings.Join(wordsAdvice(r, nil), "\n")
	for _, want := range []string{"let the rig keep it down with level: {ceiling: -3dB} (--write FILE).",
		"\nSo loud came the voice through the input: with listening: {voice: -23.5LUFS} in the rig (--write FILE) play --listen eases the bed down for a softer speaker."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not say %q", text, want)
		}
	}
	r.Settings = r.Settings[:1]
	if text := strings.Join(wordsAdvice(r, nil), "\n"); strings.Contains(text, "listening") {
		t.Errorf("nothing is known of the input: %q", text)
	}
}
