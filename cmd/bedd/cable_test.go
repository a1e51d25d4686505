package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/midiio"
)

// What --baud says of a device, and of a program.
func TestBaud(t *testing.T) {
	device, program := midiio.PortInfo{Way: midiio.Out, Name: "Module"}, midiio.PortInfo{Way: midiio.Out, Name: "Synth", Program: true}
	for baud, want := range map[string][2]int{
		"auto": {31_250, 0}, "off": {0, 0}, "1200": {1200, 1200}, "115200": {115_200, 115_200}, "10000000": {10_000_000, 10_000_000},
	} {
		of, err := (&midiFlags{baud: baud}).bauds()
		if err != nil {
			t.Fatal(err)
		}
		var got [2]int
		if of != nil {
			got = [2]int{of(device), of(program)}
		}
		if got != want {
			t.Errorf("--baud %s: %v, want %v", baud, got, want)
		}
	}
	for _, baud := range []string{"", "fast", "1199", "10000001", "31250.5", "-1"} {
		_, err := (&midiFlags{baud: baud}).bauds()
		want := fmt.Sprintf("--baud %q is not known: use a number of bits a second in 1200…10000000, off or auto", baud)
		if _, usage := err.(badInput); !usage || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

// At the end it is told when an output was busiest, of one that keeps to a rate and
// was sent something.
func TestBusiestMomentIsTold(t *testing.T) {
	told := "Module: busiest at 0:00.0, when 9 bytes waited (2.9 ms at 31250 baud); the piano waited 1.9 ms at most, never more than 1.9 ms for the bed\n"
	for baud, want := range map[string]string{"31250": told, "off": ""} {
		s, _ := stageOf()
		r, end, err := opened(t, s, gathering.DefaultRig(), midiFlags{baud: baud})
		if err != nil {
			t.Fatal(err)
		}
		for _, key := range []byte{60, 64} {
			r.outs[0].Port.Send(midiio.Bed, []byte{0x91, key, 80})
		}
		r.outs[0].Port.Send(midiio.Player, []byte{0x90, 72, 80})
		if said := end(); !strings.Contains(said, want) || strings.Contains(said, "busiest") != (want != "") {
			t.Errorf("--baud %s: it says\n%s\nwant %q", baud, said, want)
		}
	}
}

// A control that floods is told of once while it does, and counted at the end.
func TestFloodIsTold(t *testing.T) {
	for name, c := range map[string]struct {
		flags midiFlags
		want  string
	}{
		"through bedd": {midiFlags{}, "Stage: controller 11 on channel 1 sends more values than anyone can hear; only the newest of them count; is it broken?"},
		"past bedd":    {midiFlags{route: "kernel"}, "Stage: controller 11 on channel 1 sends more values than anyone can hear; past bedd all of them go to the synth; is it broken? --route bedd thins them"},
	} {
		s, connection := stageOf()
		r, end, err := opened(t, s, gathering.DefaultRig(), c.flags)
		if err != nil {
			t.Fatal(err)
		}
		file, err := os.Create(filepath.Join(t.TempDir(), "said"))
		if err != nil {
			t.Fatal(err)
		}
		l := &liveRun{midi: r, screen: newScreen(file, newMishaps())}
		send := func(at time.Duration, values int) {
			for v := range values {
				s.Play(connection.In, 0xB0, 11, byte(v%50))
			}
			l.tellFloods(at)
		}
		send(81*time.Second, aFlood) // some of them pass
		send(82*time.Second, aFlood/2)
		if l.floods[0].told {
			t.Errorf("%s: %d values in two seconds are a flood", name, aFlood*3/2)
		}
		send(83*time.Second, aFlood)
		send(84*time.Second, aFlood)
		l.screen.close()
		text, err := os.ReadFile(file.Name())
		if err != nil {
			t.Fatal(err)
		}
		if want := "1:23.0  " + c.want + "\n"; strings.TrimLeft(string(text), " ") != want {
			t.Errorf("%s: it says\n%swant\n%s", name, text, want)
		}
		if said := end(); !strings.Contains(said, "values were left out, since their control sent too many: newer ones passed\n") {
			t.Errorf("%s: at the end it says\n%s", name, said)
		}
	}
}
