//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/soundcheck"
)

// device is the other side of a virtual device of the kernel's, to be written to as an
// instrument would.
type device struct {
	t    *testing.T
	file *os.File
}

func openDevice(t *testing.T, l lane) device {
	t.Helper()
	f, err := os.OpenFile(fmt.Sprintf("/dev/snd/midiC0D%d", 2*l), os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return device{t, f}
}

func (d device) send(bytes ...byte) {
	d.t.Helper()
	if _, err := d.file.Write(bytes); err != nil {
		d.t.Fatal(err)
	}
}

// tread presses a switch briefly, some times.
func (d device) tread(number byte, times int) {
	for range times {
		d.send(0xB0, number, 127)
		time.Sleep(150 * time.Millisecond)
		d.send(0xB0, number, 0)
		time.Sleep(time.Second)
	}
}

// sweep moves the pedal from one value to another.
func (d device) sweep(from, to int) {
	step := 2
	if to < from {
		step = -2
	}
	for v := from; (to-v)*step > 0; v += step {
		d.send(0xB0, 11, byte(v))
		time.Sleep(15 * time.Millisecond)
	}
	d.send(0xB0, 11, byte(to))
}

// says waits until the screen has each of some texts, wherever its lines break.
func (m *multiplexed) says(texts ...string) {
	m.t.Helper()
	for i, text := range texts {
		texts[i] = strings.ReplaceAll(regexp.QuoteMeta(text), " ", `\s+`)
	}
	m.sees(texts...)
}

// From nothing to a working rig, on a real sequencer, in tmux: keys by amidi, feet
// and pedal through the kernel's devices; what the check sounds is recorded by amidi; and
// then bedd plays with the rig that it wrote.
func TestLabFromCablesToARig(t *testing.T) {
	needLab(t)
	keys, board := lane(0), openDevice(t, lane(1))
	rig := filepath.Join(t.TempDir(), "new-rig.yaml")
	rec, err := keys.record()
	if err != nil {
		t.Fatal(err)
	}
	m := newMultiplexed(t, 200*time.Millisecond)
	m.keys(fmt.Sprintf("%s soundcheck --rig %s --in '%s' --in '%s' --out '%s'; echo status $?", binary, rig, keys.in(), lane(1).in(), keys.out()), "Enter")
	key := func(hex string) {
		if err := keys.send(hex); err != nil {
			t.Error(err)
		}
	}
	m.says("Touch nothing", "step 1 of 11")
	m.says("Press the C in the middle")
	key("90 3C 50 80 3C 40")
	m.says("Play for some seconds")
	key("90 30 50 80 30 40 90 40 50 80 40 40 90 43 50 80 43 40 90 48 50 80 48 40 B0 40 7F B0 40 00")
	m.says("brings the bed in")
	board.tread(80, 2)
	m.says("left: controller 80 on channel 1", "changes what the next left")
	board.tread(81, 2)
	m.says("Is there another switch")
	m.keys("Enter")
	m.says("Heel down")
	board.sweep(0, 127)
	board.sweep(127, 0)
	m.says("heel 0, toe 127", "Turn the volume down")
	m.keys("Enter")
	m.says("Volume up slowly")
	time.Sleep(5 * time.Second) // it rises
	m.keys("Enter")
	m.says("do you hear your keys")
	m.keys("n")
	m.says("passes your keys to")
	key("90 3E 50 80 3E 40")
	time.Sleep(300 * time.Millisecond)
	m.keys("Enter")
	m.says("Strike a chord")
	m.keys("n")
	m.says("is held")
	m.keys("Enter")
	m.says("When you hear it")
	m.keys("Enter")
	m.says("Is it silent")
	m.keys("Enter")
	m.says("Pull out the cable of")
	m.keys("s")
	m.says("bedd play --rig", "how far under a voice")
	m.keys("q", "Enter")
	m.sees(`(?m)^status 0$`)
	if alt := m.tmux("display-message", "-p", "-t", "w", "#{alternate_on} #{cursor_flag}"); alt != "0 1\n" {
		t.Errorf("alternate screen and cursor: %s", alt)
	}
	all := rec.stop()
	if list := hanging(all); len(list) > 0 {
		t.Error(list)
	}
	count := map[string]int{}
	for _, h := range all {
		count[fmt.Sprintf("% X", h.msg)]++
	}
	for _, want := range []string{"90 3E 50", "80 3E 40", "B1 0B 00", "91 3C 2D", "B0 7B 00", "BF 78 00"} {
		if count[want] == 0 {
			t.Errorf("% s was not sent: %v", want, count)
		}
	}
	learned, err := gathering.OpenRig(rig)
	if err != nil {
		t.Fatal(err)
	}
	if ports := learned.Ports; len(ports.InKeys) != 1 || len(ports.InFeet) != 1 || len(ports.Out) != 1 || len(learned.Feet) != 2 {
		t.Errorf("the rig: %+v", learned)
	}
	playsByTheNewRig(t, keys, board, rig)
	trip, err := exec.Command(binary, "soundcheck", "trip", "--out", "Midi Through", "--in", "Midi Through", "--count", "200", "--json").Output()
	var loop soundcheck.Trip
	if err != nil || json.Unmarshal(trip, &loop) != nil || loop.Back != 200 || loop.Swapped != 0 || loop.Median <= 0 || loop.Most < loop.P99 {
		t.Errorf("round trip: %v %s", err, trip)
	}
	t.Logf("round trip through the kernel: %s", trip)
}

// playsByTheNewRig has bedd play, and hears that it follows the gear.
func playsByTheNewRig(t *testing.T, keys lane, board device, rig string) {
	t.Helper()
	rec, err := keys.record()
	if err != nil {
		t.Fatal(err)
	}
	running, err := start(exec.Command(binary, "play", "--rig", rig, "--no-guard"))
	if err != nil {
		t.Fatal(err)
	}
	if err := keys.send("90 3C 40"); err != nil {
		t.Error(err)
	}
	board.tread(80, 1)
	time.Sleep(3 * time.Second)
	board.tread(80, 1)
	board.sweep(0, 127)
	time.Sleep(6 * time.Second)
	if err := keys.send("80 3C 40"); err != nil {
		t.Error(err)
	}
	board.send(0xB0, 81, 127)
	time.Sleep(time.Second) // held: it fades
	board.send(0xB0, 81, 0)
	time.Sleep(500 * time.Millisecond)
	running.cmd.Process.Signal(syscall.SIGTERM)
	said, err := running.rest()
	if err != nil {
		t.Error(err)
	}
	piano, bed, level := 0, 0, byte(0)
	for _, h := range rec.stop() {
		switch {
		case h.msg[0] == 0x90 && h.msg[2] > 0:
			piano++
		case h.msg[0] == 0x91 && h.msg[2] > 0:
			bed++
		case h.msg[0] == 0xB1 && h.msg[1] == 11:
			level = max(level, h.msg[2])
		case h.msg[0] == 0xB0 && (h.msg[1] == 80 || h.msg[1] == 81 || h.msg[1] == 11):
			t.Errorf("% X of the feet has reached the synth", h.msg)
		}
	}
	text := strings.Join(said, "\n")
	if piano != 1 || bed < 4 || level < 115 || !strings.Contains(text, "fade") {
		t.Errorf("%d notes of the piano, %d of the bed, level %d; it said\n%s", piano, bed, level, text)
	}
}
