//go:build linux

package midiio

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// write writes a line into a file of the kernel's.
func write(t *testing.T, path, line string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(line+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}

const virtualCard = "/sys/bus/platform/drivers/snd_virmidi/"

// eventually waits for what the kernel does in its own time.
func eventually[T any](t *testing.T, what string, try func() (T, bool)) T {
	t.Helper()
	for start := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		if got, ok := try(); ok {
			return got
		}
		if time.Since(start) > 10*time.Second {
			t.Fatalf("%s: not within 10 s", what)
		}
	}
}

// playNow plays a note as soon as the device is there for it.
func playNow(t *testing.T, path string, msg []byte) {
	t.Helper()
	f := eventually(t, path, func() (*os.File, bool) {
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		return f, err == nil
	})
	defer f.Close()
	if _, err := f.Write(msg); err != nil {
		t.Fatal(err)
	}
}

// The card that both the keys and the synth are on is taken away with a note
// sounding, and given back.
func TestLabCardGoesAndReturns(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		r := newLabRig(t, s, labPort(t, s, In, 0), labPort(t, s, Out, 1))
		before := len(ourClients(t))
		var worst time.Duration
		for round := range s.rounds {
			rec := record(t, 1)
			note := on(0, byte(round), 100)
			play(t, 0, note)
			rec.wait(t, func(b []byte) bool { return bytes.Equal(b, note) }, s.soon)
			_ = rec.file.Close() // a card can't go while its devices are open
			write(t, virtualCard+"unbind", "snd_virmidi.0")
			if round%2 == 0 { // else it is back before anybody looks
				r.await(t, Out, false, s.soon)
				r.await(t, In, false, s.soon)
			}
			start := time.Now()
			write(t, virtualCard+"bind", "snd_virmidi.0")
			rec = record(t, 1)
			r.await(t, Out, true, s.soon)
			r.await(t, In, true, s.soon)
			worst = max(worst, time.Since(start))
			if owed := []byte{0x80, byte(round), 64}; s.Changed() == nil { // else it comes before anybody can hear it
				rec.wait(t, func(b []byte) bool { return bytes.HasSuffix(expand(b), owed) }, s.soon)
			}
			play(t, 0, []byte{0x81, 1, 1})
			rec.wait(t, func(b []byte) bool { return bytes.HasSuffix(b, []byte{0x81, 1, 1}) }, s.soon)
			_ = rec.file.Close()
			if n := r.wire.Sounding(); n != 0 {
				t.Fatalf("round %d: %d notes owed", round, n)
			}
		}
		t.Logf("%d rounds; working again after %v at most", s.rounds, worst.Round(time.Millisecond))
		if n := len(ourClients(t)); n != before {
			t.Errorf("%d clients of ours, %d before", n, before)
		}
	})
}

// ourClients are the ports of bedd's that the kernel knows of.
func ourClients(t *testing.T) []clientPort {
	t.Helper()
	all, known := clients()
	if !known {
		t.Fatal("the kernel doesn't tell its clients")
	}
	var list []clientPort
	for _, p := range all {
		if ours(p.clientName) {
			list = append(list, p)
		}
	}
	return list
}

// listing is what a program has said so far.
type listing struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (h *listing) Write(b []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.Write(b)
}

func (h *listing) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.String()
}

// monitor starts an independent program that listens at a port of its own, or to
// a port if one is named.
func monitor(t *testing.T, args ...string) (*exec.Cmd, *listing) {
	t.Helper()
	h := new(listing)
	cmd := exec.Command("aseqdump", args...)
	cmd.Stdout = h
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	return cmd, h
}

// listen waits until a program has heard the lines.
func (h *listing) listen(t *testing.T, lines ...string) {
	t.Helper()
	h.listenFor(t, 5*time.Second, lines...)
}

func (h *listing) listenFor(t *testing.T, limit time.Duration, lines ...string) {
	t.Helper()
	start := time.Now()
	for _, line := range lines {
		for !strings.Contains(h.String(), line) {
			if time.Since(start) > limit {
				t.Fatalf("the program heard no %q but\n%s", line, h)
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
}

// monitorPort is the monitor's port.
func monitorPort(t *testing.T, s labSystem) PortInfo {
	t.Helper()
	return eventually(t, "the monitor", func() (PortInfo, bool) {
		outs, err := s.Outs()
		if err != nil {
			t.Fatal(err)
		}
		p, err := Match(Out, outs, "aseqdump:aseqdump")
		return p, err == nil
	})
}

// The program that is played on is killed and started again, every other time
// under another number.
func TestLabPeerIsKilled(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		cmd, _ := monitor(t)
		r := newLabRig(t, s, labPort(t, s, In, 0), monitorPort(t, s))
		numbers := map[string]bool{r.out.Port().Address: true}
		var worst time.Duration
		for round := range s.rounds {
			play(t, 0, on(2, byte(round), 6))
			eventually(t, "the note", func() (int, bool) { return 0, r.wire.Sounding() == 1 })
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
			var holder *seqClient
			if round%2 == 0 {
				r.await(t, Out, false, s.soon)
				var err error
				if holder, err = openSeqClient("holder", 0); err != nil { // takes its number
					t.Fatal(err)
				}
			}
			var h *listing
			cmd, h = monitor(t)
			monitorPort(t, s)
			c, took := r.await(t, Out, true, s.soon)
			worst = max(worst, took)
			numbers[c.Port.Address] = true
			play(t, 0, on(2, byte(round), 7), on(2, byte(round), 0))
			h.listen(t,
				fmt.Sprintf("Note off                2, note %d, velocity 64", round),
				fmt.Sprintf("Note on                 2, note %d, velocity 7", round),
				fmt.Sprintf("Note off                2, note %d\n", round)) // as it words velocity 0
			if holder != nil {
				holder.close()
			}
		}
		if len(numbers) < 2 {
			t.Errorf("it always came back as %v", numbers)
		}
		t.Logf("%d rounds, addresses %v; working again %v after it was listed, at most", s.rounds, numbers, worst.Round(time.Millisecond))
	})
}

// Where the kernel's list is kept from bedd, as in some containers, ports are
// listed by the driver, and a loss is noticed all the same.
func TestLabWithoutTheKernelsList(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		told, err := s.Ins()
		if err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mount("none", "/proc/asound", "tmpfs", 0, ""); err != nil {
			t.Fatal(err)
		}
		defer syscall.Unmount("/proc/asound", 0)
		if _, known := clients(); known {
			t.Fatal("the list is still there")
		}
		listed, err := s.Ins()
		if err != nil || !slices.Equal(listed, told) {
			t.Errorf("the driver lists %v, %v, the kernel %v", listed, err, told)
		}
		cmd, h := monitor(t)
		r := newLabRig(t, s, labPort(t, s, In, 0), monitorPort(t, s))
		play(t, 0, on(1, 50, 1))
		h.listen(t, "Note on                 1, note 50, velocity 1")
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		r.await(t, Out, false, s.soon)
		_, h = monitor(t)
		r.await(t, Out, true, s.soon)
		play(t, 0, on(1, 51, 1))
		h.listen(t, "Note off                1, note 50, velocity 64", "Note on                 1, note 51, velocity 1")
	})
}

// gadget is a USB keyboard at the other end of a cable, by the real USB driver.
type gadget struct{ path string }

func newGadget(t *testing.T) gadget {
	t.Helper()
	for _, module := range []string{"dummy_hcd", "usb_f_midi", "snd-usb-audio"} {
		if out, err := exec.Command("modprobe", module).CombinedOutput(); err != nil {
			t.Skipf("this kernel has no USB keyboard to play with: %s: %s", module, out)
		}
	}
	const config = "/sys/kernel/config"
	if err := syscall.Mount("none", config, "configfs", 0, ""); err != nil && err != syscall.EBUSY {
		t.Fatal(err)
	}
	g := gadget{config + "/usb_gadget/keys"}
	for _, dir := range []string{"", "strings/0x409", "configs/c.1", "functions/midi.usb0"} {
		if err := os.MkdirAll(filepath.Join(g.path, dir), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	write(t, g.path+"/idVendor", "0x1d6b")
	write(t, g.path+"/idProduct", "0x0104")
	write(t, g.path+"/strings/0x409/product", "LabKeys")
	write(t, g.path+"/strings/0x409/manufacturer", "Lab")
	if err := os.Symlink(g.path+"/functions/midi.usb0", g.path+"/configs/c.1/midi.usb0"); err != nil && !os.IsExist(err) {
		t.Fatal(err)
	}
	return g
}

func (g gadget) plug(t *testing.T)   { write(t, g.path+"/UDC", "dummy_udc.0") }
func (g gadget) unplug(t *testing.T) { write(t, g.path+"/UDC", "") }

// raw is the device file of a card whose long name has the word in it.
func raw(t *testing.T, word string) string {
	t.Helper()
	return eventually(t, "the card of "+word, func() (string, bool) {
		list, _ := os.ReadFile("/proc/asound/cards")
		for line := range strings.Lines(string(list)) {
			if number, rest, ok := strings.Cut(line, " ["); ok && strings.Contains(rest, word) {
				return fmt.Sprintf("/dev/snd/midiC%sD0", strings.TrimSpace(number)), true
			}
		}
		return "", false
	})
}

func (g gadget) port(t *testing.T, s labSystem, way Way) PortInfo {
	t.Helper()
	return eventually(t, "the keyboard", func() (PortInfo, bool) {
		list, err := s.Ins()
		if way == Out {
			list, err = s.Outs()
		}
		if err != nil {
			t.Fatal(err)
		}
		p, err := Match(way, list, "LabKeys")
		return p, err == nil
	})
}

// A USB keyboard is pulled out and put in again, every other time under another
// number.
func TestLabUSBKeyboardGoesAndReturns(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		g := newGadget(t)
		g.plug(t)
		defer g.unplug(t)
		keys := g.port(t, s, In)
		if !keys.Hardware() || !g.port(t, s, Out).Hardware() {
			t.Errorf("%+v doesn't count as a device", keys)
		}
		r := newLabRig(t, s, keys, labPort(t, s, Out, 1))
		numbers := map[string]bool{keys.Address: true}
		rec := record(t, 1)
		var worst time.Duration
		for round := range s.rounds {
			g.unplug(t)
			r.await(t, In, false, s.soon)
			free := round%2 == 0
			if free { // the number of another card is free, so the keyboard gets that
				write(t, "/sys/bus/platform/drivers/snd_dummy/unbind", "snd_dummy.0")
			}
			g.plug(t)
			g.port(t, s, In)
			c, took := r.await(t, In, true, s.soon)
			worst = max(worst, took)
			numbers[c.Port.Address] = true
			playNow(t, raw(t, "f_midi"), on(3, byte(round), 9))
			rec.wait(t, func(b []byte) bool { return bytes.HasSuffix(expand(b), on(3, byte(round), 9)) }, s.soon)
			if free {
				g.unplug(t)
				r.await(t, In, false, s.soon)
				write(t, "/sys/bus/platform/drivers/snd_dummy/bind", "snd_dummy.0")
				g.plug(t)
				r.await(t, In, true, s.soon+2*time.Second)
			}
		}
		if len(numbers) < 2 {
			t.Errorf("the keyboard always came back as %v", numbers)
		}
		t.Logf("%d rounds, addresses %v; working again %v after it was listed, at most", s.rounds, numbers, worst.Round(time.Millisecond))
	})
}

// A device whose only place is taken says so, and works once it is free.
func TestLabBusy(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		g := newGadget(t)
		g.plug(t)
		defer g.unplug(t)
		keys := g.port(t, s, In)
		host := raw(t, "LabKeys")
		taken, err := os.OpenFile(host, os.O_RDONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer taken.Close()
		noise := errorOutput(t, func() { _, err = s.OpenIn(keys, func(time.Duration, []byte) {}) })
		const want = `MIDI input "LabKeys:LabKeys MIDI 1": in use by another program: close it there, then try again`
		if err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
		if noise != "" {
			t.Errorf("on the screen: %s", noise)
		}
		_ = taken.Close()
		in, err := s.OpenIn(keys, func(time.Duration, []byte) {})
		if err != nil {
			t.Fatal(err)
		}
		_ = in.Close()
	})
}
