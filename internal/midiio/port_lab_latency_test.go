//go:build linux

package midiio

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// laps is how many notes take each way.
const laps = 3000

// route is one way of a note to the meter.
type route struct {
	name  string
	start OutPort
	took  []time.Duration
}

// TestMeasureLatency sends notes to one meter by several ways in turn: straight
// through the kernel, through programs in C (see testdata/loop.c), through each
// driver with nothing but a send in its receiver, and through bedd's input, wire
// and output with each driver. Each of them is a process of its own.
func TestMeasureLatency(t *testing.T) {
	if driver, whole := strings.CutSuffix(os.Getenv("LAB_LOOP"), " bedd"); driver != "" {
		if err := beInTheMiddle(Driver(driver), whole, os.Getenv("LAB_METER")); err != nil {
			t.Fatal(err)
		}
		return
	}
	onALSA(t, measureLatency)
}

func measureLatency(t *testing.T, s labSystem) {
	arrived := make(chan time.Time, 1)
	meter, err := s.OpenVirtualIn("meter", func(time.Duration, []byte) { arrived <- time.Now() })
	if err != nil {
		t.Fatal(err)
	}
	defer meter.Close()
	meterPort := listed(t, s, "bedd:meter")

	routes := []*route{{name: "kernel"}}
	targets := []PortInfo{meterPort}
	add := func(name string, cmd *exec.Cmd, port string) {
		begin(t, cmd)
		routes = append(routes, &route{name: name})
		targets = append(targets, listed(t, s, port))
	}
	loop := filepath.Join(t.TempDir(), "loop")
	if out, err := exec.Command("cc", "-O2", "-o", loop, loopSource(t), "-lasound").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	address := strings.SplitN(meterPort.Address, ":", 2)
	for _, how := range []string{"events", "bytes"} {
		add("C "+how, exec.Command(loop, append([]string{how}, address...)...), how+":in")
	}
	for _, d := range labSystems {
		for _, how := range []string{"", " bedd"} {
			name := string(d.driver) + how
			cmd := exec.Command(os.Args[0], "-test.run", "^TestMeasureLatency$")
			cmd.Env = append(os.Environ(), "LAB_LOOP="+name, "LAB_METER="+meterPort.Name)
			port, _ := d.virtual(In, name)
			add(name, cmd, port)
		}
	}
	for i, r := range routes {
		if r.start, err = s.OpenOut(targets[i]); err != nil {
			t.Fatal(err)
		}
		defer r.start.Close()
	}
	lap := func(r *route, msg []byte) time.Duration {
		sent := time.Now()
		if _, err := r.start.Send(msg); err != nil {
			t.Fatal(err)
		}
		select {
		case at := <-arrived:
			return at.Sub(sent)
		case <-time.After(5 * time.Second):
			t.Fatalf("%s: % X did not arrive", r.name, msg)
			return 0
		}
	}
	for _, r := range routes {
		for i := range 20 { // a note that is the same again would be an echo
			lap(r, on(0, byte(i), 2))
		}
	}
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for i := range laps {
		for r := range routes { // each is first, second and so on equally often
			<-tick.C
			r := routes[(r+i)%len(routes)]
			r.took = append(r.took, lap(r, on(0, byte(i%128), byte(i&1))))
		}
	}
	for _, r := range routes {
		t.Logf("%-12s %s", r.name, quantiles(r.took))
	}
	for i := 3; i+1 < len(routes); i += 2 { // each driver's bare loop, and bedd on it
		bare, whole := routes[i], routes[i+1]
		t.Logf("paired: %s − kernel %s", bare.name, quantiles(paired(bare, routes[0])))
		share := paired(whole, bare)
		t.Logf("paired: %s − %s %s: bedd's own share at the median is %.0f %% of the bare loop", whole.name, bare.name, quantiles(share),
			100*float64(quantile(share, 0.5))/float64(quantile(bare.took, 0.5)))
	}
	for _, c := range routes[1:3] {
		for _, r := range routes[3:] {
			t.Logf("%-12s against %-8s  p50 %.2f times  p99 %.2f times", r.name, c.name,
				float64(quantile(r.took, 0.5))/float64(quantile(c.took, 0.5)), float64(quantile(r.took, 0.99))/float64(quantile(c.took, 0.99)))
		}
	}
}

// paired gives by how much each note took longer on route a than on b.
func paired(a, b *route) []time.Duration {
	d := make([]time.Duration, len(a.took))
	for i := range d {
		d[i] = a.took[i] - b.took[i]
	}
	return d
}

// loopSource is the C program, in the lab at the place where it was compiled from.
func loopSource(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "testdata", "loop.c")
}

// begin starts a program that says "ready" when it is.
func begin(t *testing.T, cmd *exec.Cmd) {
	t.Helper()
	says, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	if line, err := bufio.NewReader(says).ReadString('\n'); line != "ready\n" {
		t.Fatalf("%v: it says %q, %v", cmd, line, err)
	}
}

// beInTheMiddle passes notes on until it is killed: the driver alone, or bedd as a
// whole.
func beInTheMiddle(d Driver, whole bool, meter string) error {
	s, err := OpenSystem(d)
	if err != nil {
		return err
	}
	ports := NewPorts(PortsConfig{System: s, Clock: clockOf(time.Now())})
	outs, err := s.Outs()
	if err != nil {
		return err
	}
	i := slices.IndexFunc(outs, func(p PortInfo) bool { return p.Name == meter })
	if i < 0 {
		return fmt.Errorf("no %s in %v", meter, outs)
	}
	if !whole {
		out, err := s.OpenOut(outs[i])
		if err != nil {
			return err
		}
		if _, err := s.OpenVirtualIn(string(d), func(_ time.Duration, b []byte) { _, _ = out.Send(b) }); err != nil {
			return err
		}
		fmt.Println("ready")
		select {}
	}
	out, err := ports.OpenOut(outs[i])
	if err != nil {
		return err
	}
	wire := NewWire(WireConfig{}, outputSink{out})
	if _, err := ports.VirtualIn(string(d)+" bedd", func(at time.Duration, msg []byte, _ Carried) { wire.Player(at, msg) }); err != nil {
		return err
	}
	ports.Listen(true)
	fmt.Println("ready")
	for range ports.Wake() { // the core takes its copies
		for _, _, ok := ports.Take(); ok; _, _, ok = ports.Take() {
		}
	}
	return nil
}

// listed finds a port by its whole name, whoever's it is.
func listed(t *testing.T, s System, name string) PortInfo {
	t.Helper()
	return eventually(t, name, func() (PortInfo, bool) {
		list, err := s.Outs()
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(list, func(p PortInfo) bool { return p.Name == name })
		if i < 0 {
			return PortInfo{}, false
		}
		return list[i], true
	})
}

func quantile(d []time.Duration, q float64) time.Duration {
	sorted := slices.Sorted(slices.Values(d))
	return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)].Round(100 * time.Nanosecond)
}

func quantiles(d []time.Duration) string {
	return "p50 " + quantile(d, 0.5).String() + "  p99 " + quantile(d, 0.99).String() + "  p99.9 " + quantile(d, 0.999).String()
}
