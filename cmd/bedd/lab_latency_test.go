package main

import (
	"fmt"
	"os/exec"
	"slices"
	"syscall"
	"testing"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/session"
)

// newNote tells the first note of the bed's from all else that comes to a port.
type newNote struct{ at time.Time }

func (n *newNote) Send(_ midiio.Source, msg []byte) bool {
	if msg[0] == 0x91 && n.at.IsZero() {
		n.at = time.Now()
	}
	return true
}

// stepsOfTheCore gives how long after a foot's message the core strikes the first
// new note of the next chord, one of those prepared.
func stepsOfTheCore(tb testing.TB, steps int) (took []time.Duration) {
	tb.Helper()
	m := loaded(tb, "default")
	var first newNote
	s, err := session.New(m.rig, m.moments, session.NewTake(), session.Destination{Port: &first, Parts: midiio.AllParts})
	if err != nil {
		tb.Fatal(err)
	}
	press, lift := []byte{0xB0, 80, 127}, []byte{0xB0, 80, 0}
	at := time.Duration(0)
	for range steps + 1 { // the first brings it in
		at += time.Second
		first.at = time.Time{}
		begin := time.Now()
		s.Message(at, press)
		if first.at.IsZero() {
			tb.Fatal("a step strikes nothing")
		}
		took = append(took, first.at.Sub(begin))
		s.Message(at+200*time.Millisecond, lift)
		s.Advance(at + 900*time.Millisecond)
	}
	return took[1:]
}

func quantiles(d []time.Duration) string {
	sorted := slices.Sorted(slices.Values(d))
	at := func(q float64) time.Duration { return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)] }
	return fmt.Sprintf("p50 %v  p99 %v  most %v", at(0.5), at(0.99), at(1))
}

// From a foot's message to the first new note, in the core alone: a step of the
// demo's progression.
func BenchmarkStep(b *testing.B) {
	took := stepsOfTheCore(b, b.N)
	total := time.Duration(0)
	for _, d := range took {
		total += d
	}
	b.ReportMetric(float64(total.Nanoseconds())/float64(b.N), "ns/first-note")
}

// meter plays into bedd's own port and hears what bedd sends there.
type meter struct {
	t       *testing.T
	out     midiio.OutPort
	arrived chan arrival
}

type arrival struct {
	at  time.Time
	msg [3]byte
}

func newMeter(t *testing.T, system midiio.System, address string) *meter {
	t.Helper()
	m := &meter{t: t, arrived: make(chan arrival, 1024)}
	in, err := system.OpenIn(portAt(t, system.Ins, address), func(_ time.Duration, msg []byte) {
		if len(msg) == 3 {
			m.arrived <- arrival{time.Now(), [3]byte(msg)}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { in.Close() })
	if m.out, err = system.OpenOut(portAt(t, system.Outs, address)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.out.Close() })
	return m
}

func (m *meter) send(msg ...byte) {
	m.t.Helper()
	if _, err := m.out.Send(msg); err != nil {
		m.t.Fatal(err)
	}
}

// until gives how long after a message one of some status comes.
func (m *meter) until(status byte, msg ...byte) time.Duration {
	m.t.Helper()
	for len(m.arrived) > 0 {
		<-m.arrived
	}
	begin := time.Now()
	m.send(msg...)
	for late := time.After(5 * time.Second); ; {
		select {
		case a := <-m.arrived:
			if a.msg[0] == status {
				return a.at.Sub(begin)
			}
		case <-late:
			m.t.Fatalf("nothing comes of % X", msg)
		}
	}
}

// metered lets bedd play with more arguments. One synth is at a device, and the
// meter at bedd's own port, which hears it after that.
func metered(t *testing.T, args ...string) (*meter, *started) {
	t.Helper()
	needLab(t)
	system, err := midiio.OpenSystem(midiio.DriverALSA)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { system.Close() })
	args = append([]string{"play", "--virtual", "--in", lane(0).in(), "--out", lane(0).out()}, args...)
	running, err := start(exec.Command(binary, args...))
	if err != nil {
		t.Fatal(err)
	}
	return newMeter(t, system, virtualPort(t)), running
}

// TestMeasureLatencyOfAStep plays into bedd as a whole and hears it at a port: how
// long a key's note takes, and the first new note after a foot's press.
func TestMeasureLatencyOfAStep(t *testing.T) {
	const laps = 300
	m, running := metered(t)
	var keys, feet, more []time.Duration
	for i := range laps {
		key := m.until(0x90, 0x90, byte(i%128), 60)
		time.Sleep(20 * time.Millisecond)
		foot := m.until(0x91, 0xB0, 80, 127)
		time.Sleep(100 * time.Millisecond)
		m.until(0x80, 0x80, byte(i%128), 64)
		m.send(0xB0, 80, 0)
		time.Sleep(150 * time.Millisecond) // the old notes have ended
		if i > 0 {                         // the first one brings it in
			keys, feet, more = append(keys, key), append(feet, foot), append(more, foot-key)
		}
	}
	running.cmd.Process.Signal(syscall.SIGTERM)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
	t.Logf("bedd, a key's note          %s", quantiles(keys))
	t.Logf("bedd, a foot's first note   %s", quantiles(feet))
	t.Logf("paired: foot − key          %s", quantiles(more))
	t.Logf("the core alone, of the foot %s", quantiles(stepsOfTheCore(t, 1000)))
}

// portAt finds a port by its address.
func portAt(t *testing.T, list func() ([]midiio.PortInfo, error), address string) midiio.PortInfo {
	t.Helper()
	ports, err := list()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(ports, func(p midiio.PortInfo) bool { return p.Address == address })
	if i < 0 {
		t.Fatalf("no port at %s in %v", address, ports)
	}
	return ports[i]
}
