package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// own gives the player's notes among what was heard, in words.
func own(all []heard) (list []string) {
	for _, h := range all {
		if kind := h.msg[0] & 0xF0; h.msg[0]&0x0F == 0 && (kind == 0x90 || kind == 0x80) {
			list = append(list, fmt.Sprintf("%X", h.msg))
		}
	}
	return list
}

// wired connects the lane's keys and synth as a user would, or ends that.
func (l lane) wired(t *testing.T, how ...string) {
	t.Helper()
	if out, err := exec.Command("aconnect", append(how, address(t, l.in()), address(t, l.out()))...).CombinedOutput(); err != nil {
		t.Fatalf("aconnect: %v %s", err, out)
	}
}

// unwired ends every connection: what a guard made for a bedd that no other
// followed would carry the next test's keys.
func unwired() { exec.Command("aconnect", "-x").Run() }

// address finds a port of the virtual card by bedd's own list.
func address(t *testing.T, name string) string {
	t.Helper()
	for line := range strings.Lines(bedd(t, "ports").stdout) {
		if strings.Contains(line, name) {
			for _, word := range strings.Fields(line) {
				if client, port, ok := strings.Cut(word, ":"); ok && client != "" && strings.Trim(client+port, "0123456789") == "" {
					return word
				}
			}
		}
	}
	t.Fatalf("no %s", name)
	return ""
}

// connected reports whether the lane's keys go to its synth past bedd.
func (l lane) connected(t *testing.T) bool {
	t.Helper()
	out, err := exec.Command("aconnect", "-l").Output()
	if err != nil {
		t.Fatal(err)
	}
	client, _, _ := strings.Cut(address(t, l.in()), ":")
	_, mine, _ := strings.Cut(string(out), "client "+client+":")
	mine, _, _ = strings.Cut(mine, "\nclient ")
	return slices.ContainsFunc(strings.Split(mine, "\n"), func(line string) bool {
		_, to, ok := strings.Cut(line, "Connecting To:")
		return ok && strings.Contains(to, address(t, l.out()))
	})
}

// stream writes a note every few milliseconds to the lane's keys, each another one
// than all before, and gives what it wrote: a strike that is repeated at once may be
// taken for an echo where a machine stands still for a while.
func (l lane) stream(t *testing.T, struck *int, notes int) (written []string) {
	t.Helper()
	keys, err := os.OpenFile(fmt.Sprintf("/dev/snd/midiC0D%d", 2*l), os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer keys.Close()
	for range notes {
		note, velocity := byte(*struck%128), byte(1+*struck%127)
		*struck++
		for _, msg := range [][]byte{{0x90, note, velocity}, {0x80, note, 0x40}} {
			if _, err := keys.Write(msg); err != nil {
				t.Fatal(err)
			}
			written = append(written, fmt.Sprintf("%X", msg))
			time.Sleep(3 * time.Millisecond)
		}
	}
	return written
}

// With the route in the kernel the piano goes on while bedd stands still and while
// it is killed: every note is heard, once and in order. The bed is ended by the
// guard. The next bedd takes the piano over, and at its end the connection is gone.
func TestLabPianoPastBedd(t *testing.T) {
	needLab(t)
	l, home, struck := lane(0), t.TempDir(), 0
	rec, err := l.record()
	if err != nil {
		t.Fatal(err)
	}
	running, err := start(l.bedd(home, "--route", "kernel"))
	if err != nil {
		t.Fatal(err)
	}
	if !l.connected(t) {
		t.Error("keys and synth are not connected")
	}
	if err := l.send("B0 50 7F B0 50 00"); err != nil { // the bed comes in
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	want := l.stream(t, &struck, 50)
	running.cmd.Process.Signal(syscall.SIGSTOP)
	want = append(want, l.stream(t, &struck, 50)...)
	running.cmd.Process.Signal(syscall.SIGCONT)
	want = append(want, l.stream(t, &struck, 20)...)
	if err := l.send("90 3C 64 B0 40 7F"); err != nil { // held throughout
		t.Fatal(err)
	}
	want = append(want, "903C64")
	killed := time.AfterFunc(300*time.Millisecond, func() { running.cmd.Process.Kill() })
	defer killed.Stop()
	want = append(want, l.stream(t, &struck, 150)...)
	running.wait()
	if !l.connected(t) {
		t.Error("the piano's connection died with bedd")
	}

	next, err := start(l.bedd(home, "--route", "bedd"))
	if err != nil {
		t.Fatal(err)
	}
	if l.connected(t) {
		t.Error("the connection that was left is still there while bedd carries")
	}
	if err := l.send("80 3C 40 B0 40 00 90 3E 64"); err != nil {
		t.Fatal(err)
	}
	want = append(want, "803C40", "903E64")
	next.cmd.Process.Signal(syscall.SIGTERM)
	if err := next.wait(); err != nil {
		t.Error(err)
	}
	want = append(want, "803E40")
	if err := l.send("90 40 64 80 40 40"); err != nil { // nobody carries it
		t.Fatal(err)
	}
	all := rec.stop()
	if got := own(all); !slices.Equal(got, want) {
		t.Errorf("the synth hears of the piano\n%v, want\n%v", got, want)
	}
	damper := []byte{}
	for _, h := range all {
		if h.msg[0] == 0xB0 && h.msg[1] == 64 {
			damper = append(damper, h.msg[2])
		}
	}
	if !bytes.HasPrefix(damper, []byte{127, 0}) {
		t.Errorf("the damper goes %v", damper)
	}
	if list := hanging(all); len(list) > 0 {
		t.Errorf("%v hang", list)
	}
	if files, _ := os.ReadDir(home + "/bedd"); len(files) > 0 {
		t.Errorf("left behind: %v", files)
	}
}

// A connection that the user made is neither doubled nor ended, and what is held
// goes on when bedd ends; bedd carries when it is cut.
func TestLabPianoConnectedByTheUser(t *testing.T) {
	needLab(t)
	l, home := lane(0), t.TempDir()
	rec, err := l.record()
	if err != nil {
		t.Fatal(err)
	}
	l.wired(t)
	defer unwired()
	running, err := start(l.bedd(home))
	if err != nil {
		t.Fatal(err)
	}
	say := func(hex string) {
		t.Helper()
		if err := l.send(hex); err != nil {
			t.Fatal(err)
		}
		time.Sleep(200 * time.Millisecond)
	}
	say("90 3C 64")
	l.wired(t, "-d")
	say("80 3C 40")
	say("90 3E 64")
	l.wired(t)
	say("80 3E 40")
	say("90 40 64")
	running.cmd.Process.Signal(syscall.SIGTERM)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
	if !l.connected(t) {
		t.Error("the user's connection is gone")
	}
	say("80 40 40")
	got := own(rec.stop())
	// What bedd itself began it ends once more, which no synth minds.
	if want := []string{"903C64", "803C40", "903E64", "803E40", "904064", "803E40", "804040"}; !slices.Equal(got, want) {
		t.Errorf("the synth hears %v, want %v", got, want)
	}
}

// A device that sounds hears Active Sensing, unless it is switched off; one that
// doesn't, and one whose piano goes past bedd, hears none.
func TestLabSensing(t *testing.T) {
	needLab(t)
	l := lane(0)
	for _, c := range []struct {
		args   []string
		played string
		least  int // bytes in 4 s
	}{
		{nil, "B0 50 7F B0 50 00", 1}, // as long as levels move there is little need
		{nil, "90 3C 64", 10},
		{nil, "B0 07 64", 0},
		{[]string{"--no-sensing"}, "B0 50 7F B0 50 00", 0},
		{[]string{"--route", "kernel"}, "B0 50 7F B0 50 00 90 3C 64", 0},
	} {
		rec, err := l.record("-a")
		if err != nil {
			t.Fatal(err)
		}
		running, err := start(l.bedd(t.TempDir(), c.args...))
		if err != nil {
			t.Fatal(err)
		}
		if err := l.send(c.played); err != nil {
			t.Fatal(err)
		}
		time.Sleep(4 * time.Second)
		running.cmd.Process.Signal(syscall.SIGTERM)
		if err := running.wait(); err != nil {
			t.Error(err)
		}
		n := 0
		for _, h := range rec.stop() {
			if bytes.Equal(h.msg, []byte{0xFE}) {
				n++
			}
		}
		t.Logf("%v, %s: %d bytes", c.args, c.played, n)
		if n < c.least || c.least == 0 && n > 0 {
			t.Errorf("%v, %s: %d bytes of sensing", c.args, c.played, n)
		}
	}
}

// A bedd that carries the piano itself is killed under a stream of notes: some are
// lost until the guard has connected keys and synth, and from then on none.
func TestLabPianoIsBackAfterDeath(t *testing.T) {
	needLab(t)
	l, home, struck := lane(0), t.TempDir(), 0
	defer unwired()
	const rounds = 10
	for round := range rounds {
		rec, err := l.record()
		if err != nil {
			t.Fatal(err)
		}
		running, err := start(l.bedd(home))
		if err != nil {
			t.Fatal(err)
		}
		written := l.stream(t, &struck, 20)
		kill := time.AfterFunc(time.Duration(50+7*round)*time.Millisecond, func() { running.cmd.Process.Kill() })
		written = append(written, l.stream(t, &struck, 120)...)
		running.wait()
		kill.Stop()
		got := own(rec.stop())
		at, missing, last := 0, 0, 0
		for i, msg := range written {
			if next := slices.Index(got[at:], msg); next >= 0 {
				at += next + 1
			} else {
				missing, last = missing+1, i
			}
		}
		t.Logf("round %d: %d of %d messages lost, none after the first %d", round, missing, len(written), last+1)
		if last > len(written)/2 {
			time.Sleep(3 * time.Second)
			t.Errorf("round %d: %d messages lost, the last of them message %d of %d; the guard connected at last: %v", round, missing, last, len(written), l.connected(t))
		}
	}
}
