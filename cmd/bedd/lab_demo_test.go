package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"bedd/internal/midiio/readback"
	"bedd/internal/session"

	"github.com/spf13/cobra"
)

// offline is the demo performance as the engine has it without a clock, and how
// long the player plays.
func offline(t *testing.T) (sent []session.Sent, length time.Duration) {
	t.Helper()
	m := loaded(t, "saltmere")
	performance, err := readPerformance(demo)
	if err != nil {
		t.Fatal(err)
	}
	take, _, _, err := session.Perform(m.rig, m.moments, performance, nil)
	if err != nil {
		t.Fatal(err)
	}
	return take.Sent(), session.Length(performance)
}

// loaded is the demo's plan with a rig.
func loaded(t testing.TB, rig string) (m material) {
	t.Helper()
	cmd := &cobra.Command{}
	m.flags(cmd)
	m.rigName = rig
	if err := m.load(cmd, []string{"winter-lights"}); err != nil {
		t.Fatal(err)
	}
	return m
}

// The demo performance through a real sequencer: at the output's other side
// stands, message for message, what the engine has offline, as an independent
// parser reads the bytes; the output keeps to no rate, which would change their order.
func TestLabDemoLive(t *testing.T) {
	needLab(t)
	t.Parallel()
	l := lane(0)
	raw := filepath.Join(t.TempDir(), "raw")
	record := exec.Command("amidi", "-p", l.outDevice(), "-r", raw)
	if err := record.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(300 * time.Millisecond)
	if text, err := exec.Command(binary, "play", "winter-lights", "--rig", "saltmere", "--player", demo, "--baud", "off", "--out", l.out()).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	time.Sleep(300 * time.Millisecond)
	record.Process.Signal(os.Interrupt)
	record.Wait()
	got := readback.Stream(t, raw)
	sent, _ := offline(t)
	for i, s := range sent {
		if i >= len(got) || !bytes.Equal(got[i], s.Data) {
			t.Fatalf("message %d of %d: heard % X, want % X", i, len(sent), got[min(i, len(got)-1)], s.Data)
		}
	}
	if len(got) != len(sent) {
		t.Errorf("%d messages heard, want %d", len(got), len(sent))
	}
}

// The same, played into bedd by another program, with all that a clock makes of
// it: the piano byte for byte, the bed's notes as offline, and its levels on the
// path that they take offline, whenever they come: an emulated machine may be
// late.
func TestLabDemoPlayedIn(t *testing.T) {
	needLab(t)
	t.Parallel()
	l := lane(1)
	rec, err := l.record()
	if err != nil {
		t.Fatal(err)
	}
	running, err := start(exec.Command(binary, "play", "winter-lights", "--rig", "saltmere", "--virtual", "--in", l.in(), "--baud", "off", "--out", l.out()))
	if err != nil {
		t.Fatal(err)
	}
	if text, err := exec.Command("aplaymidi", "-d", "0", "-p", virtualPort(t), demo).CombinedOutput(); err != nil {
		t.Fatalf("aplaymidi: %v\n%s", err, text)
	}
	time.Sleep(8 * time.Second) // for what is late
	told := time.Now()
	running.cmd.Process.Signal(syscall.SIGTERM)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
	all := rec.stop()
	if list := hanging(all); len(list) > 0 {
		t.Error(list)
	}
	want, length := offline(t)
	for channel := range byte(16) {
		var live, still [][]byte
		for _, h := range all {
			if h.msg[0]&15 == channel && !isLevel(h.msg) {
				live = append(live, h.msg)
			}
		}
		for _, s := range want {
			if s.Data[0]&15 == channel && !isLevel(s.Data) { // SysEx counts to channel 1
				still = append(still, s.Data)
			}
		}
		if !slices.EqualFunc(live, still, bytes.Equal) {
			t.Errorf("channel %d: %s", channel+1, firstDifference(live, still))
		}
	}
	first := func(msg []byte) bool { return msg[0]&0xF0 == 0x90 && msg[0]&15 == 0 }
	start := all[slices.IndexFunc(all, func(h heard) bool { return first(h.msg) })].at
	zero := want[slices.IndexFunc(want, func(s session.Sent) bool { return first(s.Data) })].At
	for _, status := range []byte{0xB1, 0xB2} { // before, bedd prepares the synth; after, it is told to leave
		var live, still []int
		for _, h := range all {
			if isLevel(h.msg) && h.msg[0] == status && h.at.After(start) && h.at.Before(told) {
				live = append(live, int(h.msg[2]))
			}
		}
		for _, s := range want {
			if isLevel(s.Data) && s.Data[0] == status && s.At > zero && s.At < length {
				still = append(still, int(s.Data[2]))
			}
		}
		if d := strays(live, still); d > 8 {
			t.Errorf("channel %d: the levels stray by %d:\n%d\n%d", status&15+1, d, live, still)
		}
	}
}

// virtualPort is the address of the port that bedd --virtual makes, whatever
// else plays.
func virtualPort(t *testing.T) string {
	t.Helper()
	list, err := exec.Command("aplaymidi", "-l").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(list), "\n") {
		if words := strings.Fields(line); len(words) == 3 && words[1] == "bedd" && words[2] == "bedd" {
			return words[0]
		}
	}
	t.Fatalf("no port called bedd in\n%s", list)
	return ""
}

// isLevel tells the bed's levels from everything else.
func isLevel(msg []byte) bool { return msg[0]&0xF0 == 0xB0 && msg[1] == 11 && msg[0]&15 != 0 }

// strays gives how far a path of values is from another, however fast each is
// walked, until the other's end is reached; what comes after does not count: the
// discrete Fréchet distance (Eiter and Mannila, 1994) with the one end left open.
func strays(path, from []int) int {
	const far = 1 << 20
	least := far
	row := make([]int, len(from))
	for i, x := range path {
		diagonal := far
		for j, y := range from {
			before := min(row[j], diagonal) // from the left, from below, or both
			if i == 0 {
				before = far
			}
			if j > 0 {
				before = min(before, row[j-1])
			}
			if i == 0 && j == 0 {
				before = 0
			}
			diagonal, row[j] = row[j], max(before, max(x-y, y-x))
		}
		if len(row) > 0 {
			least = min(least, row[len(row)-1])
		}
	}
	return least
}

func TestStrays(t *testing.T) {
	for _, c := range []struct {
		path, from []int
		want       int
	}{
		{[]int{1, 2, 3}, []int{1, 1, 1, 2, 3, 3}, 0},
		{[]int{0, 10, 0}, []int{0, 0}, 0}, // at once at its end
		{[]int{0, 10, 0}, []int{0, 5, 0}, 5},
		{[]int{0, 5, 9}, []int{1, 6, 7}, 2},
		{[]int{9, 0, 9, 0}, []int{9, 0}, 0},
		{[]int{9, 0, 4}, []int{9, 4}, 4},
		{[]int{1, 2, 3, 4, 5, 80}, []int{1, 2, 3}, 0},
		{[]int{1, 2, 3}, []int{1, 2, 3, 4, 5, 80}, 77},
		{nil, []int{1}, 1 << 20},
		{[]int{1}, nil, 1 << 20},
	} {
		if got := strays(c.path, c.from); got != c.want {
			t.Errorf("%v strays by %d from %v, want %d", c.path, got, c.from, c.want)
		}
	}
}

func firstDifference(got, want [][]byte) string {
	for i := range max(len(got), len(want)) {
		if i >= len(got) || i >= len(want) || !bytes.Equal(got[i], want[i]) {
			return fmt.Sprintf("message %d: % X, want % X", i, got[min(i, len(got)):min(i+3, len(got))], want[min(i, len(want)):min(i+3, len(want))])
		}
	}
	return "none"
}
