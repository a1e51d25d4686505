package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
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
	var m material
	cmd := &cobra.Command{}
	m.flags(cmd)
	m.rigName = "saltmere"
	if err := m.load(cmd, []string{"winter-lights"}); err != nil {
		t.Fatal(err)
	}
	performance, err := readPerformance(demo)
	if err != nil {
		t.Fatal(err)
	}
	take, _, _, err := session.Perform(m.rig, m.moments, performance)
	if err != nil {
		t.Fatal(err)
	}
	return take.Sent, session.Length(performance)
}

// The demo performance through a real sequencer: at the output's other side
// stands, message for message, what the engine has offline, as an independent
// parser reads the bytes.
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
	if text, err := exec.Command(binary, "play", "winter-lights", "--rig", "saltmere", "--player", demo, "--out", l.out()).CombinedOutput(); err != nil {
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
// it: the piano byte for byte, the bed's notes as offline, its levels and chord
// changes where they are offline, within what an emulated machine is late.
func TestLabDemoPlayedIn(t *testing.T) {
	needLab(t)
	t.Parallel()
	l := lane(1)
	rec, err := l.record()
	if err != nil {
		t.Fatal(err)
	}
	running, err := start(exec.Command(binary, "play", "winter-lights", "--rig", "saltmere", "--virtual", "--in", l.in(), "--out", l.out()))
	if err != nil {
		t.Fatal(err)
	}
	if text, err := exec.Command("aplaymidi", "-d", "0", "-p", "bedd", demo).CombinedOutput(); err != nil {
		t.Fatalf("aplaymidi: %v\n%s", err, text)
	}
	time.Sleep(time.Second)
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
	for _, h := range all {
		// Before, bedd prepares the synth; after, it is told to leave.
		if at := h.at.Sub(start) + zero; isLevel(h.msg) && at > zero && at < length && !levelNear(want, h.msg, at) {
			t.Errorf("%v after the first note channel %d has level %d, unlike offline", at-zero, h.msg[0]&15+1, h.msg[2])
		}
	}
}

// isLevel tells the bed's levels from everything else.
func isLevel(msg []byte) bool { return msg[0]&0xF0 == 0xB0 && msg[1] == 11 && msg[0]&15 != 0 }

// levelNear reports whether a level is among those that the same channel has at
// about that time.
func levelNear(want []session.Sent, msg []byte, at time.Duration) bool {
	const late = 300 * time.Millisecond
	low, high := 127, 0
	before := 0
	for _, s := range want {
		if !isLevel(s.Data) || s.Data[0] != msg[0] {
			continue
		}
		v := int(s.Data[2])
		if s.At < at-late {
			before = v
			continue
		}
		if s.At > at+late {
			break
		}
		low, high = min(low, v), max(high, v)
	}
	low, high = min(low, before), max(high, before)
	return int(msg[2]) >= low-1 && int(msg[2]) <= high+1
}

func firstDifference(got, want [][]byte) string {
	for i := range max(len(got), len(want)) {
		if i >= len(got) || i >= len(want) || !bytes.Equal(got[i], want[i]) {
			return fmt.Sprintf("message %d: % X, want % X", i, got[min(i, len(got)):min(i+3, len(got))], want[min(i, len(want)):min(i+3, len(want))])
		}
	}
	return "none"
}
