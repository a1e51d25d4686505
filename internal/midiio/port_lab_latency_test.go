//go:build cgo && linux

package midiio

import (
	"slices"
	"testing"
	"time"

	"gitlab.com/gomidi/midi/v2/drivers"
	"gitlab.com/gomidi/midi/v2/drivers/rtmididrv"
)

// laps is how many notes take each way.
const laps = 3000

// route is one way of a note to the meter.
type route struct {
	name  string
	start OutPort
	took  []time.Duration
}

// TestMeasureLatency sends notes to one meter by three ways in turn: straight
// through the kernel, through the library's own driver with nothing but a send
// in its callback, and through bedd's input, wire and output.
func TestMeasureLatency(t *testing.T) {
	s := lab(t)
	arrived := make(chan time.Time, 1)
	meter, err := s.OpenVirtualIn("meter", func([]byte) { arrived <- time.Now() })
	if err != nil {
		t.Fatal(err)
	}
	defer meter.Close()
	meterPort := listed(t, s, "bedd in:meter")

	driver, err := rtmididrv.New()
	if err != nil {
		t.Fatal(err)
	}
	bareIn, err := driver.OpenVirtualIn("bare")
	if err != nil {
		t.Fatal(err)
	}
	outs, err := driver.Outs()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(outs, func(o drivers.Out) bool { return o.String() == meterPort.String() })
	if err := outs[i].Open(); err != nil {
		t.Fatal(err)
	}
	if _, err := bareIn.Listen(func(msg []byte, _ int32) { _ = outs[i].Send(msg) }, drivers.ListenConfig{SysEx: true}); err != nil {
		t.Fatal(err)
	}

	ports := NewPorts(PortsConfig{System: s, Clock: clockOf(time.Now())})
	out, err := ports.OpenOut(meterPort)
	if err != nil {
		t.Fatal(err)
	}
	wire := NewWire(WireConfig{}, outputSink{out})
	in, err := ports.VirtualIn("keys", func(at time.Duration, msg []byte) { wire.Player(at, msg) })
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		_ = ports.Close()
		_ = in.port.Close() // nobody plays any more
	}()
	ports.Listen(true)
	go func() { // the core takes its copies
		for range ports.Wake() {
			for _, _, ok := ports.Take(); ok; _, _, ok = ports.Take() {
			}
		}
	}()

	routes := []*route{{name: "kernel"}, {name: "bare driver"}, {name: "bedd"}}
	for r, target := range []string{"bedd in:meter", "RtMidi Input Client:bare", "bedd in:keys"} {
		if routes[r].start, err = s.OpenOut(listed(t, s, target)); err != nil {
			t.Fatal(err)
		}
		defer routes[r].start.Close()
	}
	lap := func(r *route, msg []byte) time.Duration {
		sent := time.Now()
		r.start.Send(msg)
		select {
		case at := <-arrived:
			return at.Sub(sent)
		case <-time.After(5 * time.Second):
			t.Fatalf("%s: % X did not arrive", r.name, msg)
			return 0
		}
	}
	lap(routes[0], on(0, 60, 1))
	eventually(t, "the driver's callback", func() (int, bool) { // it is set a while after Listen
		routes[1].start.Send(on(0, 60, 1))
		select {
		case <-arrived:
			return 0, true
		case <-time.After(50 * time.Millisecond):
			return 0, false
		}
	})
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for i := range laps {
		for r := range routes { // each is first, second and third equally often
			<-tick.C
			r := routes[(r+i)%len(routes)]
			r.took = append(r.took, lap(r, on(0, byte(i%128), byte(i&1))))
		}
	}
	for _, r := range routes {
		t.Logf("%-12s %s", r.name, quantiles(r.took))
	}
	extra := func(a, b *route) []time.Duration {
		d := make([]time.Duration, laps)
		for i := range d {
			d[i] = a.took[i] - b.took[i]
		}
		return d
	}
	share := extra(routes[2], routes[1])
	t.Logf("paired: bare driver − kernel %s", quantiles(extra(routes[1], routes[0])))
	t.Logf("paired: bedd − bare driver   %s", quantiles(share))
	t.Logf("bedd's own share at the median is %v, %.0f %% of the bare loop's %v",
		quantile(share, 0.5), 100*float64(quantile(share, 0.5))/float64(quantile(routes[1].took, 0.5)), quantile(routes[1].took, 0.5))
}

// listed finds a port by its whole name, whoever's it is.
func listed(t *testing.T, s System, name string) PortInfo {
	t.Helper()
	list, err := s.Outs()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(list, func(p PortInfo) bool { return p.Name == name })
	if i < 0 {
		t.Fatalf("no %s in %v", name, list)
	}
	return list[i]
}

func quantile(d []time.Duration, q float64) time.Duration {
	sorted := slices.Sorted(slices.Values(d))
	return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)].Round(time.Microsecond)
}

func quantiles(d []time.Duration) string {
	return "p50 " + quantile(d, 0.5).String() + "  p99 " + quantile(d, 0.99).String() + "  p99.9 " + quantile(d, 0.999).String()
}
