package main

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/session"
)

func needLab(t *testing.T) {
	t.Helper()
	if os.Getenv("LAB_ALSA") != "1" {
		t.Skip("needs a real ALSA sequencer: run scripts/test-alsa")
	}
}

// lane is a pair of virtual devices: what is written to the first bedd hears,
// what bedd sends the second gives out.
type lane int

func (l lane) inDevice() string  { return fmt.Sprintf("hw:0,%d", 2*l) }
func (l lane) outDevice() string { return fmt.Sprintf("hw:0,%d", 2*l+1) }
func (l lane) in() string        { return fmt.Sprintf("VirMIDI 0-%d", 2*l) }
func (l lane) out() string       { return fmt.Sprintf("VirMIDI 0-%d", 2*l+1) }

// send has amidi write bytes to bedd's input.
func (l lane) send(hex string) error {
	if out, err := exec.Command("amidi", "-p", l.inDevice(), "-S", hex).CombinedOutput(); err != nil {
		return fmt.Errorf("amidi: %w\n%s", err, out)
	}
	return nil
}

// bedd is bedd play on the lane, with its locks in a directory of the lane's.
func (l lane) bedd(home string, args ...string) *exec.Cmd {
	cmd := exec.Command(binary, append([]string{"play", "--in", l.in(), "--out", l.out()}, args...)...)
	cmd.Env = append(os.Environ(), "XDG_RUNTIME_DIR="+home)
	return cmd
}

// heard is a message at the output's other side.
type heard struct {
	at  time.Time
	msg []byte
}

// recording is what amidi hears at an output's other side.
type recording struct {
	cmd  *exec.Cmd
	done chan struct{}
	mu   sync.Mutex
	all  []heard
}

// record records without Active Sensing, unless an option of amidi's asks for it.
func (l lane) record(options ...string) (*recording, error) {
	r := &recording{cmd: exec.Command("amidi", append(options, "-p", l.outDevice(), "-d")...), done: make(chan struct{})}
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := r.cmd.Start(); err != nil {
		return nil, err
	}
	go func() {
		defer close(r.done)
		r.read(out)
	}()
	time.Sleep(200 * time.Millisecond) // it says nothing when it listens
	return r, nil
}

// read takes amidi's lines: two digits a byte, and blanks for a status byte that
// is the same as before.
func (r *recording) read(out io.Reader) {
	status := byte(0)
	for lines := bufio.NewScanner(out); lines.Scan(); {
		at := time.Now()
		msg, err := hex.DecodeString(strings.ReplaceAll(lines.Text(), " ", ""))
		if err != nil || len(msg) == 0 {
			continue
		}
		if msg[0] < 0x80 {
			msg = append([]byte{status}, msg...)
		}
		status = msg[0]
		r.mu.Lock()
		r.all = append(r.all, heard{at, msg})
		r.mu.Unlock()
	}
}

// silent waits until no note heard lacks its end, ten seconds at most.
func (r *recording) silent() {
	for start := time.Now(); time.Since(start) < 10*time.Second; time.Sleep(10 * time.Millisecond) {
		r.mu.Lock()
		list := hanging(r.all)
		r.mu.Unlock()
		if len(list) == 0 {
			return
		}
	}
}

// stop gives the messages heard, whole.
func (r *recording) stop() []heard {
	time.Sleep(300 * time.Millisecond)
	r.cmd.Process.Signal(os.Interrupt)
	<-r.done
	r.cmd.Wait()
	return r.all
}

// hanging gives the notes with more ons than offs.
func hanging(all []heard) (list []string) {
	on := map[[2]byte]int{}
	for _, h := range all {
		switch key := [2]byte{h.msg[0] & 15, h.msg[len(h.msg)-2]}; {
		case h.msg[0]&0xF0 == 0x90 && h.msg[2] > 0:
			on[key]++
		case h.msg[0]&0xF0 == 0x80 || h.msg[0]&0xF0 == 0x90:
			on[key]--
		}
	}
	for key, n := range on {
		if n != 0 {
			list = append(list, fmt.Sprintf("channel %d note %d: %d ons more than offs", key[0]+1, key[1], n))
		}
	}
	return list
}

// started is bedd while it plays.
type started struct {
	cmd   *exec.Cmd
	lines *bufio.Scanner
	stdin io.WriteCloser
}

// start starts a command and waits until it listens.
func start(cmd *exec.Cmd) (*started, error) {
	s := &started{cmd: cmd}
	says, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if s.stdin, err = cmd.StdinPipe(); err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	s.lines = bufio.NewScanner(says)
	for s.lines.Scan() && !strings.Contains(s.lines.Text(), "listens to") {
	}
	time.Sleep(300 * time.Millisecond)
	return s, nil
}

func (s *started) wait() error {
	_, err := s.rest()
	return err
}

// rest gives what it says until it ends.
func (s *started) rest() (said []string, err error) {
	for s.lines.Scan() {
		said = append(said, s.lines.Text())
	}
	return said, s.cmd.Wait()
}

// Whatever ends bedd while it plays on a real sequencer, nothing sounds
// afterwards; until then the piano goes through and the bed changes.
func TestLabEndings(t *testing.T) {
	needLab(t)
	const rounds = 20
	endings := []string{"interrupt", "terminated", "hangup", "closed terminal", "mishap in thru", "mishap in the core"}
	var lanes sync.WaitGroup
	for l := range lane(2) {
		lanes.Go(func() {
			for _, ending := range endings {
				for round := int(l); round < rounds; round += 2 {
					for _, fault := range l.ending(ending, round) {
						t.Errorf("%s, round %d: %s", ending, round, fault)
					}
				}
			}
		})
	}
	lanes.Wait()
}

// ending plays a little, ends bedd in some way, and gives what was wrong.
func (l lane) ending(how string, round int) (faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	rec, err := l.record()
	if err != nil {
		return []string{err.Error()}
	}
	args := []string{"play", "--in", l.in(), "--out", l.out()}
	cmd := exec.Command(binary, args...)
	mishap := strings.HasPrefix(how, "mishap")
	switch {
	case how == "closed terminal":
		args = append(args, "--lines")
		cmd = exec.Command("script", "-qfec", "exec '"+binary+"' '"+strings.Join(args, "' '")+"'", "/dev/null")
	case mishap:
		cmd = exec.Command(os.Args[0], args...)
		cmd.Env = append(os.Environ(), "BEDD_TEST_MISHAP="+how)
	}
	running, err := start(cmd)
	if err != nil {
		return []string{err.Error()}
	}
	played := [][]byte{{0x90, 0x3C, 0x64}, {0x90, 0x40, 0x50}, {0x80, 0x3C, 0x40}}
	say := func(hex string) {
		if err := l.send(hex); err != nil {
			fault("%v", err)
		}
	}
	say("90 3C 64")
	say("B0 50 7F")
	say("90 40 50")
	say("B0 50 00")
	time.Sleep(time.Duration(100+40*round) * time.Millisecond)
	say("80 3C 40") // the other key stays down
	say("B0 50 7F")
	var ended error
	switch how {
	case "interrupt":
		cmd.Process.Signal(syscall.SIGINT)
		ended = running.wait()
	case "terminated":
		cmd.Process.Signal(syscall.SIGTERM)
		ended = running.wait()
	case "hangup":
		cmd.Process.Signal(syscall.SIGHUP)
		ended = running.wait()
	case "closed terminal":
		inside := childOf(cmd.Process.Pid)
		cmd.Process.Kill() // the terminal's other side is gone
		running.wait()
		ended = gone(inside)
	case "mishap in thru":
		say("90 63 40")
		ended = running.wait()
	default:
		ended = running.wait()
	}
	if mishap != (ended != nil) {
		fault("bedd ends with %v", ended)
	}
	var through [][]byte
	bedNotes := 0
	all := rec.stop()
	for _, h := range all {
		if h.msg[0]&0x0F == 0 {
			through = append(through, h.msg)
		} else if h.msg[0] == 0x91 {
			bedNotes++
		}
	}
	faults = append(faults, hanging(all)...)
	if len(through) < len(played) || !slices.EqualFunc(through[:len(played)], played, bytes.Equal) {
		fault("through came % X, want % X first", through, played)
	}
	if bedNotes < 4 {
		fault("the bed struck %d notes", bedNotes)
	}
	return faults
}

// childOf gives a process's child, or 0.
func childOf(parent int) int {
	stats, _ := filepath.Glob("/proc/[0-9]*/stat")
	for _, path := range stats {
		text, err := os.ReadFile(path)
		if err != nil {
			continue
		}
		_, rest, _ := strings.Cut(string(text), ") ") // the name may hold anything
		if fields := strings.Fields(rest); len(fields) > 1 && fields[1] == strconv.Itoa(parent) {
			pid, _ := strconv.Atoi(strings.Split(path, "/")[2])
			return pid
		}
	}
	return 0
}

// gone waits until a process is gone.
func gone(pid int) error {
	if pid == 0 {
		return fmt.Errorf("there was no process")
	}
	for range 100 {
		if text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid)); err != nil || strings.Contains(string(text), ") Z ") {
			return nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return fmt.Errorf("process %d is still there", pid)
}

// clumsy is a recorder with a fault, for runs that have to end by one.
type clumsy struct {
	session.Recorder
	how    string
	chords int
}

func (c *clumsy) Send(at time.Duration, from session.Origin, msg []byte) {
	if c.how == "mishap in thru" && bytes.Equal(msg, []byte{0x90, 0x63, 0x40}) {
		panic(c.how)
	}
	c.Recorder.Send(at, from, msg)
}

func (c *clumsy) Mark(a bed.Action) {
	if a.Kind == bed.EnterChord {
		c.chords++
	}
	if c.how == "mishap in the core" && c.chords == 2 {
		panic(c.how)
	}
	c.Recorder.Mark(a)
}

// playClumsily is bedd play with a fault in it, for a process of its own.
func playClumsily(how string) int {
	f := playFlags{wrap: func(r session.Recorder) session.Recorder { return &clumsy{Recorder: r, how: how} }}
	f.hears.wrap = func(s source) source { return &clumsySource{source: s, how: how} }
	cmd := f.command()
	cmd.SetArgs(os.Args[2:])
	if err := cmd.Execute(); err != nil {
		return exitFailed
	}
	return exitFine
}

// Piano and bed on synths of their own: each hears its part and no more.
func TestLabTwoOutputs(t *testing.T) {
	needLab(t)
	keys := lane(0)
	var synths [2]*recording
	for l := range synths {
		var err error
		if synths[l], err = lane(l).record(); err != nil {
			t.Fatal(err)
		}
	}
	running, err := start(exec.Command(binary, "play", "--in", keys.in(), "--out-piano", lane(0).out(), "--out-bed", lane(1).out()))
	if err != nil {
		t.Fatal(err)
	}
	for _, hex := range []string{"90 3C 64", "B0 50 7F", "80 3C 40", "B0 50 00"} {
		if err := keys.send(hex); err != nil {
			t.Fatal(err)
		}
	}
	running.cmd.Process.Signal(syscall.SIGTERM)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
	piano, pad := synths[0].stop(), synths[1].stop()
	if len(piano) != 2 || !bytes.Equal(piano[0].msg, []byte{0x90, 0x3C, 0x64}) || !bytes.Equal(piano[1].msg, []byte{0x80, 0x3C, 0x40}) {
		t.Errorf("the piano's synth hears %v", piano)
	}
	strikes := 0
	for _, h := range pad {
		if h.msg[0]&15 == 0 {
			t.Errorf("the pad's synth hears the piano: % X", h.msg)
		}
		if h.msg[0]&0xF0 == 0x90 {
			strikes++
		}
	}
	if list := hanging(pad); len(list) > 0 || strikes < 4 {
		t.Errorf("the pad's synth hears %d strikes; %v", strikes, list)
	}
}

// bedd is killed, at any time, while piano and bed sound and the damper is down:
// its guard ends all of it within 300 ms, and a key that is pressed a second later
// is heard.
func TestLabKilled(t *testing.T) {
	needLab(t)
	defer unwired()
	const rounds = 50
	var mu sync.Mutex
	worst := time.Duration(0)
	var lanes sync.WaitGroup
	for l := range lane(2) {
		random := rand.New(rand.NewPCG(uint64(l), 9))
		home := t.TempDir()
		lanes.Go(func() {
			for round := int(l); round < rounds; round += 2 {
				took, fault := l.killed(home, time.Duration(random.IntN(800))*time.Millisecond)
				if fault != "" {
					t.Errorf("round %d: %s", round, fault)
				}
				mu.Lock()
				worst = max(worst, took)
				mu.Unlock()
			}
		})
	}
	lanes.Wait()
	t.Logf("%d rounds; silent after %v at most", rounds, worst.Round(time.Millisecond))
	if worst > 300*time.Millisecond {
		t.Error("that is more than 300 ms")
	}
}

// killed kills bedd a while after a bring-in, and gives how long the last note
// then took to end.
func (l lane) killed(home string, after time.Duration) (took time.Duration, fault string) {
	rec, err := l.record()
	if err != nil {
		return 0, err.Error()
	}
	running, err := start(l.bedd(home))
	if err != nil {
		return 0, err.Error()
	}
	for _, hex := range []string{"90 3C 64", "B0 40 7F", "B0 50 7F", "90 40 50"} {
		if err := l.send(hex); err != nil {
			return 0, err.Error()
		}
	}
	time.Sleep(after)
	running.cmd.Process.Kill()
	at := time.Now()
	running.wait()
	rec.silent()
	time.Sleep(time.Until(at.Add(time.Second)))
	if err := l.send("90 43 64 80 43 40"); err != nil {
		return 0, err.Error()
	}
	all := rec.stop()
	later := [][]byte{{0x90, 0x43, 0x64}, {0x80, 0x43, 0x40}}
	if n := len(all) - len(later); n < 0 || !bytes.Equal(all[n].msg, later[0]) || !bytes.Equal(all[n+1].msg, later[1]) {
		return 0, "the key pressed a second later is not heard"
	} else {
		all = all[:n]
	}
	strikes, damper := 0, byte(0)
	for _, h := range all {
		switch {
		case h.msg[0]&0xF0 == 0x90:
			strikes++
		case h.msg[0]&0xF0 == 0x80:
			took = max(took, h.at.Sub(at))
		case h.msg[0] == 0xB0 && h.msg[1] == 64:
			damper = h.msg[2]
		}
	}
	switch list := hanging(all); {
	case strikes < 6:
		return took, fmt.Sprintf("only %d strikes", strikes)
	case len(list) > 0 || damper > 0:
		return took, fmt.Sprintf("%v hang, damper at %d", list, damper)
	}
	return took, ""
}

// dump is aseqdump, a program that listens at a port of its own, and what it has
// said.
type dump struct {
	cmd   *exec.Cmd
	mu    sync.Mutex
	lines []string
}

func startDump() (*dump, error) {
	d := &dump{cmd: exec.Command("stdbuf", "-oL", "aseqdump")}
	out, err := d.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := d.cmd.Start(); err != nil {
		return nil, err
	}
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			d.mu.Lock()
			d.lines = append(d.lines, strings.Join(strings.Fields(lines.Text()), " "))
			d.mu.Unlock()
		}
	}()
	time.Sleep(300 * time.Millisecond)
	return d, nil
}

func (d *dump) said() []string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.lines)
}

// A synth that goes while the bed sounds, and comes back: it is prepared, then
// what the bed holds is struck, then the level rises from nothing; in the end
// all is ended.
func TestLabSynthReturnsUnderTheBed(t *testing.T) {
	needLab(t)
	l := lane(0)
	synth, err := startDump()
	if err != nil {
		t.Fatal(err)
	}
	running, err := start(exec.Command(binary, "play", "--in", l.in(), "--out", "aseqdump"))
	if err != nil {
		t.Fatal(err)
	}
	if err := l.send("B0 50 7F B0 50 00"); err != nil {
		t.Fatal(err)
	}
	time.Sleep(4 * time.Second)
	const rounds = 5
	for round := range rounds {
		synth.cmd.Process.Kill()
		synth.cmd.Wait()
		if synth, err = startDump(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(6 * time.Second)
		stage, strikes, level := 0, 0, -1
		for _, line := range synth.said() {
			switch {
			case strings.Contains(line, "Note off"):
				if stage > 0 {
					t.Errorf("round %d: %q comes too late", round, line)
				}
			case strings.Contains(line, "Program change") || strings.Contains(line, "controller 7,"):
				if stage = max(stage, 1); stage > 1 {
					t.Errorf("round %d: %q comes too late", round, line)
				}
			case strings.Contains(line, "Note on"):
				stage = 2
				strikes++
			case strings.Contains(line, "Control change 1, controller 11,"):
				var v int
				if _, err := fmt.Sscanf(line[strings.Index(line, "value"):], "value %d", &v); err != nil {
					t.Fatal(err)
				}
				if strikes == 0 && v != 0 || strikes > 0 && v > level+8 {
					t.Errorf("round %d: level %d after %d, %d strikes", round, v, level, strikes)
				}
				level = v
			}
		}
		if strikes < 4 || level < 20 {
			t.Errorf("round %d: %d strikes, level %d:\n%s", round, strikes, level, strings.Join(synth.said(), "\n"))
		}
	}
	running.cmd.Process.Signal(syscall.SIGINT)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
	time.Sleep(300 * time.Millisecond)
	on := map[string]int{}
	for _, line := range synth.said() {
		_, rest, _ := strings.Cut(line, "Note ")
		switch way, note, _ := strings.Cut(rest, " "); way {
		case "on":
			key, _, _ := strings.Cut(note, ", velocity")
			on[key]++
		case "off":
			key, _, _ := strings.Cut(note, ", velocity")
			on[key]--
		}
	}
	for key, n := range on {
		if n > 0 {
			t.Errorf("note %s hangs", key)
		}
	}
	synth.cmd.Process.Kill()
	synth.cmd.Wait()
}
