package soundcheck

import (
	"bytes"
	"context"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/clarity"
	"bedd/internal/gathering"
)

var (
	chromium = flag.String("chromium", "", "the Chromium to print the desk's page in")
	pictures = flag.String("pictures", "", "leave the printed page in this folder, as PDF")
	_        = flag.String("axe", "", "not used here")
)

// full is a page with all that it can have.
func full(t *testing.T) Desk {
	t.Helper()
	rig, moments := winterLights(t)
	rows := spans(&rig.Bed)
	for i := range rows {
		rows[i].Name, rows[i].LevelDB = "6 voices, risen", rig.Bed.Balance.DB(rows[i].To)
		rows[i].LUFS = -22 + rows[i].LevelDB
		rows[i].Chords = []Chord{{moments[0].Home[0].Symbol(), Heard{Levels: clarity.StandardSpeech(clarity.Normal).Plus(-82 + rows[i].LevelDB)}}}
	}
	h := Heard{Levels: clarity.StandardSpeech(clarity.Normal).Plus(-88), LUFS: -21.3, Seconds: 34}
	w, err := Judge(RecordedVoice("talk.wav", h, 62), clarity.Silence(), Bedding{Rows: rows, Config: rig.Bed, Law: true}, Wish{0.9, 10})
	if err != nil {
		t.Fatal(err)
	}
	w.Below(w.Under() - 4)
	m := Remedy{Ceiling: -4, Settings: []gathering.Setting{{Section: "grows", Field: "brightness", Value: "40-60"}, {Section: "level", Field: "ceiling", Value: "-4dB"}}}
	words, err := w.Record(&m)
	if err != nil {
		t.Fatal(err)
	}
	quarter, under := 0.25, 8.3
	advised, least := -6.0, 3.0
	levels := LevelsRecord{Ceiling: 0, Advised: &advised, LeastUnder: &least}
	for _, name := range []string{"piano, soft", "piano, usual", "piano, loud"} {
		levels.Piano = append(levels.Piano, LevelRecord{Name: name, LUFS: -26.7, PeakDB: -15})
	}
	for _, name := range []string{"bed, heel", "bed, a quarter", "bed, half", "bed, three quarters", "bed, toe"} {
		levels.Bed = append(levels.Bed, LevelRecord{Name: name, Intensity: &quarter, LUFS: -35, PeakDB: -25.1, Under: &under})
	}
	return Desk{
		Title: "Winter Lights in the net loft", Day: time.Date(2026, 12, 5, 17, 0, 0, 0, time.UTC), Rig: rig,
		Record: Record{Version: version, Rig: rig.Name, Words: words, Levels: &levels, Fader: "voice 0, piano −8, bed −15",
			Plugged: []PluggedEntry{{"piano", "DI 1, stage left"}, {"bed", "DI 2, stage left"}, {"lectern microphone", "channel 5"}, {"Ove Larkin's microphone", "channel 6"}},
			MIDI:    []PluggedEntry{{"keys", "MIDI from Stage to bedd"}, {"feet and pedal", "MIDI from Foot Board to bedd"}, {"piano and bed", "MIDI from bedd to Module"}}},
	}
}

func pageOf(t *testing.T, d Desk) string {
	t.Helper()
	var b bytes.Buffer
	if err := d.WriteHTML(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// text is what a reader sees of a page.
func text(page string) string {
	page = regexp.MustCompile(`(?s)<style>.*?</style>|<desc.*?</desc>`).ReplaceAllString(page, "")
	page = regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " ")
	return strings.Join(strings.Fields(page), " ")
}

func TestDeskPageTellsAllThatIsKnown(t *testing.T) {
	d := full(t)
	page := text(pageOf(t, d))
	for _, want := range []string{
		"For the desk: Winter Lights in the net loft", "5 December 2026 · rig Saltmere",
		"piano DI 1, stage left", "feet and pedal MIDI from Foot Board to bedd", "lectern microphone channel 5",
		"1 piano: the player&#39;s keys", "2 bed, warm 90, pad 2, warm 100", "3 bed, air 95, pad 7, halo 90",
		"left, controller 80 on channel 1", "pedal: how much, controller 11 on channel 1",
		"right held: fades out; out pressed: out at once; out held: silence, every channel",
		"As the fader stood it was 4.0 dB too loud: the rig is to say grows: {brightness: 40-60}, level: {ceiling: -4dB}.",
		"talk.wav, −21.3 LUFS, taken as 62 dB SPL", "WCAG 2 (1.4.7) asks for 20 dB",
		"from now on −6.0 dB: the bed is then 3.0 LU under the piano", "bed, toe −35.0 −25.1 8.3 LU under", "Faders as agreed: voice 0, piano −8, bed −15", "bedd tone",
		"once the desk moves, check again", "One microphone is not the room",
		"85 8 h 13 h", "100 15 min 24 min", "qualified people", "Local rules",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q:\n%s", want, page)
		}
	}
}

// A page of nothing but a rig has room to write what is not known.
func TestDeskPageOfARigAlone(t *testing.T) {
	for _, name := range gathering.RigNames() {
		rig, err := gathering.OpenRig(name)
		if err != nil {
			t.Fatal(err)
		}
		page := text(pageOf(t, Desk{Title: name, Rig: rig}))
		if strings.Contains(page, "Words first") || !strings.Contains(page, "the speaker's microphone") || strings.Contains(page, "%!") {
			t.Errorf("%s: %.300s", name, page)
		}
		if !strings.Contains(page, "To end the bed: ") && name != "one-switch" && name != "latching" {
			t.Errorf("%s: the page does not say how the bed ends", name)
		}
		if shared := strings.Contains(page, "and the bed in the same sound"); shared != rig.Share {
			t.Errorf("%s: share is %v", name, rig.Share)
		}
	}
}

// Names from files and flags stay text.
func TestDeskPageTakesNoMarkup(t *testing.T) {
	d := full(t)
	evil := `<script>alert("x")</script>`
	d.Title, d.Rig.Name, d.Record.Fader, d.Record.Words.Voice.Source = evil, evil, evil, evil
	d.Record.Plugged = []PluggedEntry{{evil, evil}}
	d.Record.Words.Beds[0].Name = evil
	if page := pageOf(t, d); strings.Contains(page, "<script") {
		t.Error("a script gets into the page")
	}
}

func TestProgramsByName(t *testing.T) {
	for program, want := range map[uint8]string{89: "90, pad 2, warm", 0: "1, acoustic grand piano", 127: "128"} {
		if got := ProgramName(program); got != want {
			t.Errorf("program %d is %q, want %q", program, got, want)
		}
	}
	if bed.NumLayers != 2 {
		t.Error("the page knows two layers")
	}
}

// Printed it is one sheet of A4.
func TestBrowserPrintsTheDeskPageOnOneSheet(t *testing.T) {
	if *chromium == "" {
		t.Skip("no browser: run make test-page")
	}
	dir := t.TempDir()
	if *pictures != "" {
		dir = *pictures
	}
	html, pdf := filepath.Join(dir, "desk.html"), filepath.Join(dir, "desk.pdf")
	if err := os.WriteFile(html, []byte(pageOf(t, full(t))), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute) // only so that a failure ends
	defer cancel()
	out, err := exec.CommandContext(ctx, *chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+filepath.Join(dir, "profile"),
		"--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+html).CombinedOutput()
	data, readErr := os.ReadFile(pdf)
	if readErr != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if pages := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(data, -1)); pages != 1 {
		t.Errorf("the page takes %d sheets", pages)
	}
}
