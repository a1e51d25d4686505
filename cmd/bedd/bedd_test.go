package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"

	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/midiio/readback"
)

const (
	demo        = "../../testdata/winter-lights.mid"
	demoJournal = "../../testdata/winter-lights.jsonl"
)

var binary string

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	if how := os.Getenv("BEDD_TEST_MISHAP"); how != "" {
		return playClumsily(how)
	}
	if crowd := os.Getenv("BEDD_TEST_CROWD"); crowd != "" {
		return beset(crowd, os.Getenv("BEDD_TEST_ADDRESS"))
	}
	state, err := os.MkdirTemp("", "bedd-state") // what is played here is nobody's history
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(state)
	os.Setenv("XDG_STATE_HOME", state)
	// Where compiling is slow the program is built beforehand, beside the tests.
	if built := filepath.Join(filepath.Dir(os.Args[0]), "bedd"); os.Getenv("LAB_ALSA") == "1" {
		binary = built
		return m.Run()
	}
	dir, err := os.MkdirTemp("", "bedd")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	binary = filepath.Join(dir, "bedd")
	build := exec.Command("go", "build", "-o", binary, ".")
	build.Stderr = os.Stderr
	if err := build.Run(); err != nil {
		fmt.Fprintln(os.Stderr, "cannot build bedd:", err)
		return 1
	}
	return m.Run()
}

// result is what a run of the program left behind.
type result struct {
	stdout, stderr string
	code           int
	peak           int64 // most memory it held at once, bytes; 0 where the system does not say
}

func bedd(t *testing.T, args ...string) result {
	t.Helper()
	cmd := exec.Command(binary, args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	r := result{stdout: out.String(), stderr: errs.String(), code: cmd.ProcessState.ExitCode()}
	if usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok && runtime.GOOS == "linux" {
		r.peak = usage.Maxrss << 10
	}
	return r
}

func file(t *testing.T, name, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// Every kind of bad input: exit 2, an error of a line or a few that says where,
// nothing written, little memory.
func TestBadInput(t *testing.T) {
	whole, err := os.ReadFile(demo)
	if err != nil {
		t.Fatal(err)
	}
	patched := func(at int, b ...byte) string {
		broken := slices.Clone(whole)
		copy(broken[at:], b)
		return string(broken)
	}
	mid := func(content string) []string {
		return []string{"render", "--performance", file(t, "evening.mid", content)}
	}
	render := func(args ...string) []string { return append([]string{"render", "--performance", demo}, args...) }
	for name, c := range map[string]struct {
		args []string
		want string // in what it says
	}{
		"a truncated file":          {mid(string(whole[:len(whole)-40])), "evening.mid: byte "},
		"a huge track":              {mid(patched(18, 0xFF, 0xFF, 0xFF, 0xFF)), "evening.mid: byte "},
		"a huge length inside":      {mid(string(whole[:22]) + "\x00\xFF\x01\x8F\xFF\xFF\x7F" + string(whole[29:])), "evening.mid: byte "},
		"SMPTE time":                {mid(patched(12, 0xE7, 0x28)), "evening.mid: byte 12"},
		"65,535 tracks":             {mid(patched(10, 0xFF, 0xFF)), "evening.mid: byte "},
		"not a MIDI file":           {mid("a song, really"), "evening.mid: byte 0"},
		"no such file":              {[]string{"render", "--performance", "nowhere.mid"}, "nowhere.mid"},
		"no performance":            {[]string{"render"}, "name one with --performance FILE.mid"},
		"an unknown chord":          {render("--home", "1 Hx"), "at character 3"},
		"an unknown chord to voice": {[]string{"voice", "C Xm"}, "at character 3"},
		"a range too small":         {[]string{"voice", "C", "--range", "C4-D4"}, "no 4-voice voicing of C fits between C4 and D4"},
		"a range upside down":       {[]string{"voice", "C", "--range", "C5-C4"}, "the upper range C5…C4 is empty"},
		"a rig that names nothing":  {render("--rig", file(t, "rig.yaml", "name: Empty\n")), "rig.yaml:1: "},
		"a rig out of range":        {render("--rig", file(t, "rig.yaml", "name: X\nkeys:\n  a: step\n  b: fade\npedal:\n  controller: 128\n")), "rig.yaml:6: "},
		"a typo in a plan":          {append(render(), file(t, "plan.yaml", "title: X\norder:\n  - for: a talk\n    kye: C\n")), "plan.yaml:4: unknown field \"kye\": did you mean \"key\"?"},
		"no such plan":              {append(render(), "nowhere"), "nowhere"},
		"no such moment":            {append(render(), "winter-lights", "--moment", "a duel"), "no moment is for \"a duel\""},
		"a moment out of range":     {append(render(), "winter-lights", "--moment", "9"), "--moment 9 is out of range 1…5"},
		"a moment without a plan":   {render("--moment", "2"), "needs a plan to look in"},
		"a key with a plan":         {append(render(), "winter-lights", "--key", "C"), "--key goes without a plan"},
		"an unknown key":            {render("--key", "H"), "--key: "},
		"stillness":                 {render("--stillness", "7"), "--stillness 7 is out of range 0…1"},
		"a SoundFont that is none":  {render("--wav", filepath.Join(t.TempDir(), "out.wav"), "--soundfont", file(t, "song.sf2", "a song, really")), "song.sf2 is no SoundFont"},
		"a ceiling too high":        {render("--ceiling", "0"), "--ceiling 0 is out of range -24…-0.5"},
		"a tone too loud":           {[]string{"tone", "--level", "0"}, "tone at 0 dBFS: −60…−6 can be played"},
		"a tone's side":             {[]string{"tone", "--side", "up"}, "--side \"up\" is not known: use both, left or right"},
		"a tone's length":           {[]string{"tone", "--seconds", "-1"}, "--seconds -1 is out of range: more than 0, up to 3600"},
		"a tone's block":            {[]string{"tone", "--frames", "1"}, "--frames 1 is out of range 32…8192"},
		"a tone of something":       {[]string{"tone", "A4"}, "bedd tone takes no \"A4\": see bedd tone --help"},
		"an unknown command":        {[]string{"sing"}, "there is no command \"sing\""},
		"an unknown flag":           {[]string{"play", "--loud"}, "unknown flag: --loud: see bedd play --help"},
		"an unknown driver":         {[]string{"ports", "--driver", "oss"}, "--driver \"oss\" is not known: use auto, alsa or rtmidi"},
		"an unknown rate":           {[]string{"play", "--player", demo, "--baud", "fast"}, "--baud \"fast\" is not known: use a number of bits a second in 1200…10000000, off or auto"},
		"two plans":                 {[]string{"render", "a", "b"}, "takes one plan at most, not 2"},
		"nothing to play with":      {[]string{"play"}, "there is nothing to play with"},
		"a page at no address":      {[]string{"play", "--player", demo, "--page", "stage:62333"}, "--page \"stage:62333\" is no address: write it as ADDRESS:PORT in numbers"},
		"a page at port 0":          {[]string{"play", "--player", demo, "--page=127.0.0.1:0"}, "--page \"127.0.0.1:0\" cannot be served"},
		"control without a page":    {[]string{"play", "--player", demo, "--page-control"}, "--page-control says what the page may do: it needs --page"},
		"two plans and a page":      {[]string{"play", "a", "b", "--page", ":62333"}, "takes one plan at most, not 2"},
		"two things to listen to":   {[]string{"play", "--player", demo, "--listen", "--listen-file", "talk.wav"}, "--listen and --listen-file go one at a time"},
		"a talk that is none":       {[]string{"play", "--player", demo, "--listen-file", file(t, "talk.wav", "RIFF")}, "talk.wav: not a WAV file: record or convert to WAV, uncompressed"},
		"a talk that is not there":  {[]string{"render", "--voice", "nowhere.wav"}, "nowhere.wav: no such file"},
		"a talk and a journal":      {[]string{"render", "--journal", demoJournal, "--voice", "talk.wav"}, "--voice goes without a journal: the journal has what was heard"},
		"a broken player":           {[]string{"play", "--player", file(t, "evening.mid", "MThd")}, "evening.mid: byte "},
		"a folder to write to":      {[]string{"play", "--player", demo, "--wav", os.TempDir()}, "is a folder"},
		"one report over another":   {render("--report", "x.svg", "--report", "x.svg"), "--report would overwrite the file of --report, x.svg"},
		"a drawing in no folder":    {render("--report", "nowhere/x.svg"), "nowhere/x.svg: there is no folder nowhere"},
		"a bad rate":                {render("--wav", "x.wav", "--rate", "8000"), "--rate 8000 is not known"},
		"from that falls":           {[]string{"voice", "C", "--from", "60 55"}, "--from: the notes do not ascend"},
		"an unknown colour":         {[]string{"voice", "C", "--colour", "blue"}, "--colour: colour \"blue\" is not known"},
		"an unknown pedal point":    {[]string{"voice", "C", "--pedal-point", "up"}, "--pedal-point: pedal point \"up\" is not known"},
		"a hand upside down":        {[]string{"voice", "C", "--hand", "C6-C4"}, "--hand: C6-C4 is empty"},
		"by what":                   {[]string{"voice", "C", "--by", "luck"}, "--by \"luck\" is not known"},
		"no progression":            {[]string{"voice"}, "voice takes one progression in quotes"},
		"no plan":                   {[]string{"plan", "check"}, "bedd plan check takes one plan, a file or one of "},
		"an unknown part of plan":   {[]string{"plan", "sing"}, "there is no command \"sing\": see bedd plan --help"},
		"a plan that is not there":  {[]string{"plan", "suggest", "nowhere"}, "no gathering \"nowhere\""},
		"a plan with faults":        {[]string{"plan", "check", file(t, "sunday.yaml", "order:\n  - song: Low Tide\n    key: H\n")}, "sunday.yaml:3: unknown key \"H\""},
		"a moment that is not":      {[]string{"plan", "suggest", "winter-lights", "--moment", "tea"}, "no moment is for \"tea\": the plan has "},
		"too many suggestions":      {[]string{"plan", "suggest", "winter-lights", "--count", "90"}, "--count 90 is out of range 1…20"},
		"a plan for no rig":         {[]string{"plan", "check", "winter-lights", "--rig", "nowhere"}, "no rig \"nowhere\""},
	} {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "out.mid")
			args := c.args
			if args[0] == "render" || slices.Contains(args, "--player") {
				args = append(slices.Clone(args), "--midi", out)
			}
			r := bedd(t, args...)
			if r.code != 2 {
				t.Errorf("exit %d, want 2", r.code)
			}
			if !strings.Contains(r.stderr, c.want) {
				t.Errorf("says %q, want %q in it", r.stderr, c.want)
			}
			if n := strings.Count(r.stderr, "\n"); n < 1 || n > 4 {
				t.Errorf("the error has %d lines: %q", n, r.stderr)
			}
			if r.stdout != "" {
				t.Errorf("it also prints %q", r.stdout)
			}
			if left, _ := os.ReadDir(filepath.Dir(out)); len(left) > 0 {
				t.Errorf("it leaves %v", left)
			}
			if r.peak > 64<<20 {
				t.Errorf("it takes %d MiB", r.peak>>20)
			}
		})
	}
}

func TestVoiceJSON(t *testing.T) {
	r := bedd(t, "voice", "C Am F", "--plain", "--voices", "3", "--stillness", "0", "--by", "movement", "--json", "--range", "C3-C6", "--from", "36 60 64 67")
	if r.code != 0 {
		t.Fatal(r.stderr)
	}
	var p struct {
		Key    string
		From   []int
		By     map[string]any
		Loop   bool
		Proved bool
		Static []int
		Steps  []struct {
			Chord, Degree                 string
			Bass                          int
			Upper, Held, Struck, Released []int
			Movement                      int
			Missing                       []string
			Departs                       string
			Safe                          []struct {
				Note, To int
				Use      string
			}
			Cost map[string]float64
		}
		Movement int
		Cost     map[string]float64
	}
	d := json.NewDecoder(strings.NewReader(r.stdout))
	d.DisallowUnknownFields()
	if err := d.Decode(&p); err != nil {
		t.Fatal(err)
	}
	// C E G – A C E moves two semitones, A C E – A C F one (Cohn 1997: R and L).
	if p.Key != "C" || !p.Proved || p.Movement != 3 || len(p.Steps) != 3 || p.Steps[1].Movement != 2 || p.Steps[2].Movement != 1 {
		t.Errorf("%+v", p)
	}
	s := p.Steps[1]
	if s.Chord != "Am" || s.Degree != "6m" || s.Bass%12 != 9 || !slices.Equal(s.Held, []int{60, 64}) || !slices.Equal(s.Released, []int{67}) || !slices.Equal(s.Struck, []int{69}) {
		t.Errorf("%+v", s)
	}
	sum := 0.0
	for term, cost := range s.Cost {
		if term != "total" {
			sum += cost
		}
	}
	if sum != s.Cost["total"] {
		t.Errorf("the terms sum to %v, the total is %v", sum, s.Cost["total"])
	}
	// At stillness 1 it is reported that 2m has no third.
	r = bedd(t, "voice", "1 4 6m 2m", "--stillness", "1", "--json")
	p.Steps, p.Cost = nil, nil
	if err := json.Unmarshal([]byte(r.stdout), &p); err != nil {
		t.Fatal(err)
	}
	if got := p.Steps[3].Missing; !slices.Equal(got, []string{"F"}) {
		t.Errorf("2m at stillness 1 misses %q, want F", got)
	}
	for _, s := range p.Steps {
		if !slices.Equal(s.Upper, p.Static) || s.Departs != "" {
			t.Errorf("%s has %v at stillness 1 and departs because it %q, want %v", s.Chord, s.Upper, s.Departs, p.Static)
		}
	}
	// Over C, with F to come, G may rest on both; F is a neighbour of E.
	for _, want := range []struct {
		note, to int
		use      string
	}{{67, 67, "held"}, {65, 64, "neighbour"}} {
		found := false
		for _, n := range p.Steps[0].Safe {
			found = found || n.Note == want.note && n.To == want.to && n.Use == want.use
		}
		if !found {
			t.Errorf("the safe notes over C are %v, want %v among them", p.Steps[0].Safe, want)
		}
	}
}

// At stillness 1 a chord that the set would mislead about departs, and it is said
// why; colours and a pedal point are as asked for.
func TestVoiceText(t *testing.T) {
	for _, c := range []struct {
		args []string
		want []string
	}{
		{[]string{"1 1sus4", "--stillness", "1"}, []string{"departs: Csus4, over which it rubs or contradicts\n", "\nstays: "}},
		{[]string{"1 4/1", "--stillness", "1"}, []string{"departs: F/C, over which it is heard as another chord\n"}},
		{[]string{"1 4", "--stillness", "1"}, []string{"C E G A |  | D>C F>E B>C\n"}},
		{[]string{"1 4", "--pedal-point", "dominant", "--key", "Eb"}, []string{"Ab     4       Bb2 "}},
		{[]string{"1", "--colour", "open", "--voices", "2"}, []string{"+C4 +G4"}},
		{[]string{"1", "--colour", "sus", "--voices", "2"}, []string{"+F4 +"}},
	} {
		r := bedd(t, append([]string{"voice"}, c.args...)...)
		for _, want := range c.want {
			if r.code != 0 || !strings.Contains(r.stdout, want) {
				t.Errorf("voice %q prints\n%s%s, want %q in it", c.args, r.stdout, r.stderr, want)
			}
		}
	}
}

// The examples of every --help run.
func TestHelpExamplesRun(t *testing.T) {
	dir := t.TempDir()
	for from, to := range map[string]string{demo: "evening.mid", demoJournal: "session.jsonl"} {
		data, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, to), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "sunday.yaml"), []byte("order:\n  - {song: Low Tide, key: C}\n  - {song: Kittiwake, key: G}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	leaveSongs(t, dir)
	aTalk(t, filepath.Join(dir, "talk.wav"), 0)
	ran := 0
	for _, command := range []string{"", "render", "voice", "plan", "plan check", "plan suggest", "plan import", "plan chart", "plan schema", "practice", "practice progress"} {
		args := append(strings.Fields(command), "--help")
		_, examples, found := strings.Cut(bedd(t, args...).stdout, "Examples:\n")
		if !found {
			t.Fatalf("bedd %s --help has no examples", command)
		}
		examples, _, _ = strings.Cut(examples, "\n\n")
		for _, line := range strings.Split(examples, "\n") {
			line = strings.TrimSpace(line)
			if strings.HasPrefix(line, "bedd play") || strings.HasPrefix(line, "bedd practice") && !strings.Contains(line, "progress") { // live: its own tests
				continue
			}
			cmd := exec.Command("sh", "-c", strings.Replace(line, "bedd", binary, 1))
			cmd.Dir = dir
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("%s: %v\n%s", line, err, out)
			}
			ran++
		}
	}
	if ran < 12 {
		t.Errorf("only %d examples ran", ran)
	}
}

// A short performance: left, play a little, left, and let it fade.
func shortPerformance(t *testing.T) string {
	t.Helper()
	track := midiio.OutTrack{Name: "player", End: 2000}
	add := func(tick int64, msg ...byte) {
		track.Events = append(track.Events, midiio.Event{Tick: tick, Data: msg})
	}
	add(0, 0x90, 60, 70)
	add(96, 0xB0, 80, 127)
	add(200, 0xB0, 80, 0)
	add(480, 0x80, 60, 0)
	add(500, 0xB0, 11, 90)
	add(960, 0xB0, 80, 127)
	add(1000, 0xB0, 80, 0)
	add(1440, 0xB0, 83, 127)
	add(1500, 0xB0, 83, 0)
	add(2000, 0xB0, 1, 0)
	path := filepath.Join(t.TempDir(), "short.mid")
	if err := midiio.WriteFile(path, midiio.OutFile{Division: 480, Tracks: []midiio.OutTrack{track}}); err != nil {
		t.Fatal(err)
	}
	return path
}

// Live by the clock and offline give the same file from one engine, and play
// leaves the WAV and the MIDI file that it names.
func TestPlayGivesWhatRenderGives(t *testing.T) {
	performance := shortPerformance(t)
	dir := t.TempDir()
	live, offline, wav := filepath.Join(dir, "live.mid"), filepath.Join(dir, "offline.mid"), filepath.Join(dir, "live.wav")
	r := bedd(t, "play", "--player", performance, "--midi", live, "--wav", wav, "--no-sound")
	if r.code != 0 {
		t.Fatal(r.stderr)
	}
	if !strings.Contains(r.stdout, "wrote "+live) || !strings.Contains(r.stdout, "wrote "+wav) || !strings.Contains(r.stdout, "  C       1 ") || !strings.Contains(r.stdout, "  F       4 ") {
		t.Errorf("play prints %q", r.stdout)
	}
	if r := bedd(t, "render", "--performance", performance, "--midi", offline); r.code != 0 {
		t.Fatal(r.stderr)
	}
	a, err := os.ReadFile(live)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(offline)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Errorf("the live file has %d bytes, the offline one %d, and they differ:\n%+v\n%+v", len(a), len(b), readback.Read(t, live), readback.Read(t, offline))
	}
	if info, err := os.Stat(wav); err != nil || info.Size() < 3*48000*4 {
		t.Errorf("the WAV: %v, %v", info, err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 3 {
		t.Errorf("play and render leave %v", left)
	}
}

func TestRenderReport(t *testing.T) {
	r := bedd(t, "render", "winter-lights", "--rig", "saltmere", "--performance", demo, "--report", "-", "--json", "--wav", filepath.Join(t.TempDir(), "x.wav"))
	if r.code != 0 {
		t.Fatal(r.stderr)
	}
	var report struct {
		Length float64 `json:"length_s"`
		Chords []struct {
			Chord     string
			Intensity float64
		}
		Cues []struct{ Text string }
		LUFS float64 `json:"loudness_lufs"`
		Peak float64 `json:"true_peak_dbtp"`
	}
	if err := json.Unmarshal([]byte(r.stdout), &report); err != nil {
		t.Fatal(err)
	}
	if len(report.Chords) != 13 || len(report.Cues) != 8 || report.Length < 54 || report.Length > 55 {
		t.Errorf("%+v", report)
	}
	if report.LUFS < -32 || report.LUFS > -18 || report.Peak > -1 {
		t.Errorf("loudness %.1f LUFS, true peak %.1f dBTP, want about -26 and under -1", report.LUFS, report.Peak)
	}
}

// A report whose name ends in .svg is the curve; the others stay text, or JSON,
// which goes to standard output where no file takes it.
func TestReportIsDrawnWhereItsNameSaysSo(t *testing.T) {
	dir := t.TempDir()
	svg, text := filepath.Join(dir, "curve.SVG"), filepath.Join(dir, "report.txt")
	for _, c := range []struct {
		args         []string
		stdout, file string // what they begin with
	}{
		{nil, "", ""},
		{[]string{"--json"}, "{\n", ""},
		{[]string{"--report", "-"}, " 0:00.4  \"Maud", ""},
		{[]string{"--report", text}, "", " 0:00.4  \"Maud"},
		{[]string{"--report", text, "--json"}, "", "{\n"},
	} {
		os.Remove(text)
		r := bedd(t, append([]string{"render", "winter-lights", "--rig", "saltmere", "--performance", demo, "--report", svg}, c.args...)...)
		written, _ := os.ReadFile(text)
		if r.code != 0 || r.stderr != "" || !strings.HasPrefix(r.stdout, c.stdout) || c.stdout == "" && r.stdout != "" ||
			!strings.HasPrefix(string(written), c.file) || c.file == "" && len(written) > 0 {
			t.Errorf("%q: exit %d, %s, prints %.40q and writes %.40q", c.args, r.code, r.stderr, r.stdout, written)
		}
		drawn, err := os.ReadFile(svg)
		if err != nil || !strings.HasPrefix(string(drawn), "<svg ") || !strings.HasSuffix(string(drawn), "</svg>\n") {
			t.Errorf("%q draws %.40q, %v", c.args, drawn, err)
		}
		for _, want := range []string{">Winter Lights in the net loft<", ">winter-lights.mid, rig Saltmere: ", ">the collection for the lifeboat shed<", ">Bbmaj7<"} {
			if !strings.Contains(string(drawn), want) {
				t.Errorf("%q is not in the drawing", want)
			}
		}
		os.Remove(svg)
	}
}

// Built without cgo, bedd does everything but ports and devices, and says so
// when asked for them.
func TestWithoutCgo(t *testing.T) {
	plain := filepath.Join(t.TempDir(), "bedd")
	build := exec.Command("go", "build", "-o", plain, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := exec.Command(plain, "play", "--player", shortPerformance(t)).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if want := "this bedd was built without cgo: no audio devices"; !strings.Contains(string(out), want) {
		t.Errorf("play without cgo says\n%s\nwant %q in it", out, want)
	}
	if out, err := exec.Command(plain, "render", "--performance", demo).CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
	learn := exec.Command(plain, "ports", "--learn", "--driver", "rtmidi")
	out, _ = learn.CombinedOutput()
	if want := "bedd: " + midiio.ErrBuild.Error() + "\n"; learn.ProcessState.ExitCode() != 1 || string(out) != want {
		t.Errorf("ports --learn --driver rtmidi without cgo: exit %d, %q, want %q", learn.ProcessState.ExitCode(), out, want)
	}
}

// The README's excerpt is what the demo prints, its commands exist, and the
// tests it names are there.
func TestReadmeIsTrue(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	report := bedd(t, "render", "winter-lights", "--rig", "saltmere", "--performance", demo, "--report", "-").stdout
	lines, commands, tests := 0, 0, 0
	for _, line := range strings.Split(string(readme), "\n") {
		switch {
		case strings.HasPrefix(line, " 0:"):
			lines++
			if !strings.Contains(report, line+"\n") {
				t.Errorf("the demo does not print %q", line)
			}
		case strings.HasPrefix(line, "bed   "), strings.HasPrefix(line, "3 voices "), strings.HasPrefix(line, "6 voices"):
			lines++
			if said := bedd(t, "soundcheck", "words", "--below", "8").stdout; !strings.Contains(said, line+"\n") {
				t.Errorf("the sound check does not print %q:\n%s", line, said)
			}
		case strings.HasPrefix(line, "bedd "):
			commands++
			words := strings.Fields(line)
			help := []string{words[1], "--help"}
			if words[1] == "plan" || words[1] == "soundcheck" && !strings.HasPrefix(words[2], "--") || words[1] == "practice" && words[2] == "progress" { // their steps have the flags
				help = []string{words[1], words[2], "--help"}
			}
			for _, word := range words {
				if flag, ok := strings.CutPrefix(word, "--"); ok && !strings.Contains(bedd(t, help...).stdout, "--"+flag+" ") {
					t.Errorf("%v has no flag --%s", help, flag)
				}
			}
		}
		for _, link := range strings.Split(line, "[`Test")[1:] {
			tests++
			name, rest, _ := strings.Cut(link, "`](")
			path, _, _ := strings.Cut(rest, ")")
			source, err := os.ReadFile(filepath.Join("../..", path))
			if err != nil || !strings.Contains(string(source), "func Test"+name+"(") {
				t.Errorf("there is no Test%s in %s: %v", name, path, err)
			}
		}
	}
	if lines < 5 || commands < 7 || tests < 7 {
		t.Errorf("found %d lines, %d commands, %d tests: has the README changed its form?", lines, commands, tests)
	}
}

// A fault of bedd's own ends the run, not the recording: every note has its end,
// the file is whole, and the user is told.
func TestMishapKeepsTheRecording(t *testing.T) {
	for _, how := range []string{"mishap in the core", "mishap while listening"} {
		t.Run(how, func(t *testing.T) { keepsTheRecording(t, how) })
	}
}

func keepsTheRecording(t *testing.T, how string) {
	press := func(tick int64, number byte) []midiio.Event {
		return []midiio.Event{{Tick: tick, Data: []byte{0xB0, number, 127}}, {Tick: tick + 100, Data: []byte{0xB0, number, 0}}}
	}
	state := t.TempDir()
	player := filepath.Join(t.TempDir(), "player.mid")
	track := midiio.OutTrack{Events: slices.Concat([]midiio.Event{{Data: []byte{0x90, 60, 80}}}, press(10, 80), press(300, 80), press(600, 80)), End: 5000}
	if err := midiio.WriteFile(player, midiio.OutFile{Division: 480, Tracks: []midiio.OutTrack{track}}); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "out.mid")
	talk := filepath.Join(t.TempDir(), "talk.wav")
	aTalk(t, talk, 0)
	cmd := exec.Command(os.Args[0], "play", "--player", player, "--no-sound", "--midi", out, "--journal", state, "--listen-file", talk)
	cmd.Env = append(os.Environ(), "BEDD_TEST_MISHAP="+how)
	said, err := cmd.CombinedOutput()
	if err == nil || !strings.Contains(string(said), "the run ended by a fault of bedd's own; please report it with all of this: "+how+"\n") {
		t.Errorf("%v\n%s", err, said)
	}
	on := map[[2]byte]int{}
	notes := 0
	for _, track := range readback.Read(t, out).Tracks {
		for _, e := range track.Events {
			switch key := [2]byte{e.Data[0] & 15, e.Data[1]}; e.Data[0] & 0xF0 {
			case 0x90:
				on[key]++
				notes++
			case 0x80:
				on[key]--
			}
		}
	}
	for key, n := range on {
		if n != 0 {
			t.Errorf("channel %d note %d has %d ons more than offs", key[0]+1, key[1], n)
		}
	}
	if notes < 5 {
		t.Errorf("%d notes in the file", notes)
	}
	// Its journal can be gone on from.
	path, err := journal.Find(state, "")
	if err != nil {
		t.Fatal(err)
	}
	if last, err := journal.ReadLast(path); err != nil || last.Closed || last.State == nil {
		t.Errorf("the journal ends with %+v, %v", last, err)
	}
	// The call that failed in the core is its last: this bedd, which does not fail there, tells.
	if how != "mishap in the core" {
		return
	}
	if r := bedd(t, "render", "--journal", path, "--report", "-"); r.code != 1 || !strings.Contains(r.stderr, "this bedd would play otherwise") {
		t.Errorf("exit %d: %s", r.code, r.stderr)
	}
}
