//go:build linux

package midiio

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

func TestLabNoSequencer(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		p := labPort(t, s, Out, 1)
		if err := os.Rename(sequencerPath, sequencerPath+".away"); err != nil {
			t.Fatal(err)
		}
		defer os.Rename(sequencerPath+".away", sequencerPath)
		noise := errorOutput(t, func() {
			if _, err := OpenSystem(s.driver); err != ErrNoSequencer {
				t.Errorf("OpenSystem: %v", err)
			}
			if _, err := s.Ins(); err != ErrNoSequencer {
				t.Errorf("Ins: %v", err)
			}
			if _, err := s.OpenOut(p); err != ErrNoSequencer {
				t.Errorf("OpenOut: %v", err)
			}
			if _, err := s.OpenVirtualOut("bedd"); err != ErrNoSequencer {
				t.Errorf("OpenVirtualOut: %v", err)
			}
			if err := whyNot(); err != ErrNoSequencer {
				t.Errorf("why: %v", err)
			}
		})
		if noise != "" {
			t.Errorf("on the screen: %s", noise)
		}
	})
}

// The test runs itself again as a user without rights.
func TestLabNoPermission(t *testing.T) {
	if driver := Driver(os.Getenv("LAB_NOBODY")); driver != "" {
		_, err := OpenSystem(driver)
		fmt.Printf("as nobody: %v\nwhy: %v\n", err, whyNot())
		return
	}
	needLab(t)
	dir, err := os.MkdirTemp("", "nobody")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	self, err := os.ReadFile(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(dir, "midiio.test")
	if err := errors.Join(os.WriteFile(program, self, 0o755), os.Chmod(dir, 0o755), os.Chmod(program, 0o755)); err != nil {
		t.Fatal(err)
	}
	for _, s := range labSystems {
		cmd := exec.Command(program, "-test.run", "^TestLabNoPermission$")
		cmd.Env = append(os.Environ(), "LAB_NOBODY="+string(s.driver))
		cmd.Dir = dir
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		out, err := cmd.CombinedOutput()
		want := fmt.Sprintf("as nobody: %v\nwhy: %v\n", ErrPermission, ErrPermission)
		if err != nil || !strings.HasPrefix(string(out), want) {
			t.Errorf("%s: %v: %s\nwant %s", s.driver, err, out, want)
		}
	}
}

// A port that went between the list and the opening is named, nothing is
// printed, and hundreds of tries leave nothing behind.
func TestLabGone(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		cmd, _ := monitor(t)
		p := monitorPort(t, s)
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		files, before := openFiles(t), len(ourClients(t))
		const want = `MIDI output "aseqdump:aseqdump": no longer there: check its cable and power`
		noise := errorOutput(t, func() {
			for range 200 {
				if _, err := s.OpenOut(p); err == nil || err.Error() != want || !errors.Is(err, ErrGone) {
					t.Fatalf("got %v, want %s", err, want)
				}
				in := p
				in.Way = In
				if _, err := s.OpenIn(in, func(time.Duration, []byte) {}); !errors.Is(err, ErrGone) {
					t.Fatal(err)
				}
			}
		})
		if noise != "" {
			t.Errorf("on the screen: %s", noise)
		}
		if n := len(ourClients(t)); n != before {
			t.Errorf("%d clients are left of %d", n, before)
		}
		if n := openFiles(t); n != files {
			t.Errorf("%d files are open, %d before", n, files)
		}
	})
}

func openFiles(t *testing.T) int {
	t.Helper()
	list, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Fatal(err)
	}
	return len(list)
}

// All places of the sequencer are taken: that is said, and once there is room
// again all is well, so no failure has kept one.
func TestLabFull(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		p := labPort(t, s, Out, 1)
		before := len(ourClients(t))
		var open []io.Closer
		var err error
		for range 200 {
			var place io.Closer
			if place, err = s.place(s); err != nil {
				break
			}
			open = append(open, place)
		}
		if err != ErrFull {
			t.Errorf("after %d: %v", len(open), err)
		}
		noise := errorOutput(t, func() {
			for range 100 {
				if other, err := OpenSystem(s.driver); err == nil {
					_, err = other.OpenOut(p)
					if err != ErrFull {
						t.Fatalf("once more: %v", err)
					}
				} else if err != ErrFull {
					t.Fatalf("once more: %v", err)
				}
			}
		})
		if noise != "" {
			t.Errorf("on the screen: %s", noise)
		}
		t.Logf("full after %d", len(open))
		for _, place := range open {
			_ = place.Close()
		}
		port, err := s.OpenOut(p)
		if err != nil {
			t.Fatal(err)
		}
		_ = port.Close()
		if n := len(ourClients(t)); n != before {
			t.Errorf("%d clients are left of %d", n, before)
		}
	})
}

// Stopping to listen while a message comes each millisecond takes nobody down,
// and nothing gets in afterwards.
func TestLabGateUnderFire(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		var passed atomic.Int64
		ports := NewPorts(PortsConfig{System: s, Clock: clockOf(time.Now())})
		in, err := ports.OpenIn(labPort(t, s, In, 0), func(time.Duration, []byte, Carried) { passed.Add(1) })
		if err != nil {
			t.Fatal(err)
		}
		keys := device(t, 0, os.O_WRONLY)
		stop, stopped := make(chan struct{}), make(chan struct{})
		go func() {
			defer close(stopped)
			tick := time.NewTicker(time.Millisecond)
			defer tick.Stop()
			for i := 0; ; i++ {
				select {
				case <-stop:
					return
				case <-tick.C:
					_, _ = keys.Write(on(0, byte(i%128), 1))
				}
			}
		}()
		for range 200 {
			ports.Listen(true)
			before := passed.Load()
			eventually(t, "a note", func() (int, bool) { return 0, passed.Load() > before })
			ports.Listen(false)
			for _, _, ok := ports.Take(); ok; _, _, ok = ports.Take() {
			}
		}
		before := passed.Load()
		time.Sleep(100 * time.Millisecond)
		if after := passed.Load(); after > before+1 { // one may have been on its way
			t.Errorf("%d messages passed a closed gate", after-before)
		}
		close(stop)
		<-stopped
		if err := ports.Close(); err != nil {
			t.Error(err)
		}
		if in.Broken() != 0 {
			t.Errorf("%d messages arrived in part", in.Broken())
		}
	})
}

// Ports that come and go before it in the list don't put another one in the
// place of the one that was asked for.
func TestLabOpensTheRightPort(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		var crowd []OutPort
		for range 6 {
			port, err := s.OpenVirtualOut("crowd")
			if err != nil {
				t.Fatal(err)
			}
			crowd = append(crowd, port)
		}
		target, err := s.OpenVirtualOut("target")
		if err != nil {
			t.Fatal(err)
		}
		defer target.Close()
		ins, err := s.Ins()
		if err != nil {
			t.Fatal(err)
		}
		name, _ := s.virtual(Out, "target")
		i := slices.IndexFunc(ins, func(p PortInfo) bool { return p.Name == name })
		if i < 0 {
			t.Fatalf("the target is not in %v", ins)
		}
		for _, port := range crowd[:3] {
			_ = port.Close()
		}
		stop, stopped := make(chan struct{}), make(chan struct{})
		go func() { // another process, in effect: it doesn't share the system's lock
			defer close(stopped)
			other, err := OpenSystem(s.driver)
			if err == nil {
				defer other.Close()
			}
			for err == nil {
				var port OutPort
				if port, err = other.OpenVirtualOut("passer-by"); err == nil {
					_ = port.Close()
				}
				select {
				case <-stop:
					return
				default:
				}
			}
			t.Error(err)
		}()
		failed := 0
		for range 100 {
			in, err := s.OpenIn(ins[i], func(time.Duration, []byte) {})
			if errors.Is(err, ErrGone) {
				failed++
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			all, _ := clients()
			own := s.own(in)
			for _, p := range all {
				if own(p) && !slices.Equal(p.peers, []string{ins[i].Address}) {
					t.Fatalf("asked for %s, connected to %v", ins[i].Address, p.peers)
				}
			}
			if !in.Alive() {
				t.Fatal("an open port is not alive")
			}
			_ = in.Close() // nobody plays
		}
		close(stop)
		<-stopped
		for _, port := range crowd[3:] {
			_ = port.Close()
		}
		t.Logf("%d of 100 openings found no right port in three tries", failed)
	})
}

// A program that doesn't read for a while gets bedd's longest burst in full.
func TestLabBurstToASleeper(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		cmd, h := monitor(t)
		out, err := s.OpenOut(monitorPort(t, s))
		if err != nil {
			t.Fatal(err)
		}
		defer out.Close()
		if err := cmd.Process.Signal(syscall.SIGSTOP); err != nil {
			t.Fatal(err)
		}
		const burst = 190
		for i := range burst {
			_, _ = out.Send(off(byte(i/128), byte(i%128)))
		}
		if err := cmd.Process.Signal(syscall.SIGCONT); err != nil {
			t.Fatal(err)
		}
		h.listen(t, fmt.Sprintf("Note off                1, note %d,", burst-129))
		if n := strings.Count(h.String(), "Note off"); n != burst {
			t.Errorf("%d of %d messages arrived", n, burst)
		}
	})
}

// Other programs connect to bedd's own ports by its name.
func TestLabVirtualPorts(t *testing.T) {
	onEach(t, func(t *testing.T, s labSystem) {
		ports := NewPorts(PortsConfig{System: s, Clock: clockOf(time.Now())})
		out, err := ports.VirtualOut("bedd")
		if err != nil {
			t.Fatal(err)
		}
		in, err := ports.VirtualIn("bedd", func(_ time.Duration, msg []byte, _ Carried) { out.Send(Player, msg) })
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = ports.Close(); _ = in.port.Close() }()
		ports.Listen(true)
		outName, outClient := s.virtual(Out, "bedd")
		_, inClient := s.virtual(In, "bedd")
		_, h := monitor(t, "-p", outClient)
		eventually(t, "the monitor's connection", func() (int, bool) {
			return 0, slices.ContainsFunc(ourClients(t), func(p clientPort) bool { return p.clientName+":"+p.portName == outName && len(p.peers) > 0 })
		})
		var file bytes.Buffer
		if err := Write(&file, OutFile{Division: 480, Tracks: []OutTrack{{End: 96, Events: []Event{
			{Tick: 0, Data: on(4, 60, 100)}, {Tick: 48, Data: control(4, 11, 7)}, {Tick: 96, Data: off(4, 60)},
		}}}}); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "three.mid")
		if err := os.WriteFile(path, file.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		if text, err := exec.Command("aplaymidi", "-p", inClient, path).CombinedOutput(); err != nil {
			t.Fatalf("aplaymidi: %v: %s", err, text)
		}
		h.listen(t, "Note on                 4, note 60, velocity 100", "Control change          4, controller 11, value 7", "Note off                4, note 60, velocity 30")
		ins, _ := s.Ins()
		outs, _ := s.Outs()
		c, err := Choose(ins, outs, Wishes{})
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range append(Chosen(c.Ins), Chosen(c.Outs)...) {
			if v.Port.Ours || v.Port.Device() == "Midi Through" {
				t.Errorf("it would take %v", v.Port)
			}
		}
	})
}
