//go:build linux

package midiio

import (
	"os"
	"sync/atomic"
	"testing"
	"time"
)

// A pedal that sends 5,000 values a second on one input while notes come on
// another: every note arrives, and hardly later than without the flood.
func TestLabFloodDelaysNoNote(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		ports := running(t, PortsConfig{System: s, Clock: clockOf(time.Now()), Baud: func(PortInfo) int { return DINBaud }})
		out, err := ports.OpenOut(labPort(t, s, Out, 1))
		if err != nil {
			t.Fatal(err)
		}
		wire := NewWire(WireConfig{}, outputSink{out})
		thru := func(at time.Duration, msg []byte, _ Carried) { wire.Player(at, msg) }
		var pedal *Input
		for _, n := range []int{0, 2} {
			if pedal, err = ports.OpenIn(labPort(t, s, In, n), thru); err != nil {
				t.Fatal(err)
			}
		}
		ports.Listen(true)
		go func() { // the core takes its copies
			for range ports.Wake() {
				for _, _, ok := ports.Take(); ok; _, _, ok = ports.Take() {
				}
			}
		}()
		arrived := make(chan time.Time, 1)
		synth := device(t, 1, os.O_RDONLY)
		go func() {
			var buf [256]byte
			c := &cutter{emit: func(msg []byte) {
				if msg[0]&0xF0 == noteOn {
					arrived <- time.Now()
				}
			}}
			for n, err := synth.Read(buf[:]); err == nil; n, err = synth.Read(buf[:]) {
				c.write(buf[:n])
			}
		}()
		var flooding atomic.Bool
		flooded := flood(t, &flooding)
		keys := device(t, 0, os.O_WRONLY)
		took := map[bool][]time.Duration{}
		for i := range 3000 {
			flooding.Store(i/100%2 == 1)
			time.Sleep(5 * time.Millisecond)
			sent := time.Now()
			if _, err := keys.Write(on(0, byte(i%128), byte(1+i%100))); err != nil {
				t.Fatal(err)
			}
			select {
			case at := <-arrived:
				took[flooding.Load()] = append(took[flooding.Load()], at.Sub(sent))
			case <-time.After(5 * time.Second):
				t.Fatalf("note %d did not arrive", i)
			}
		}
		load, _ := out.Load()
		t.Logf("bare     %s", quantiles(took[false]))
		t.Logf("flooded  %s; %d values sent, %d thinned, %d dropped; the line %+v", quantiles(took[true]), flooded(), pedal.Thinned(), pedal.Dropped(), load)
		if pedal.Thinned() == 0 || pedal.Dropped() > 0 {
			t.Errorf("%d thinned, %d dropped", pedal.Thinned(), pedal.Dropped())
		}
		if bare, under := quantile(took[false], 0.99), quantile(took[true], 0.9); under > 2*bare {
			t.Errorf("under the flood one note in ten takes %v, without it one in a hundred %v", under, bare)
		}
	})
}

// flood sends 5,000 values a second from a pedal while it is on, and gives how many
// it has sent.
func flood(t *testing.T, on *atomic.Bool) (sent func() int64) {
	board := device(t, 2, os.O_WRONLY)
	var n atomic.Int64
	stop := make(chan struct{})
	t.Cleanup(func() { close(stop) })
	go func() {
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		for i := byte(0); ; {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			if !on.Load() {
				continue
			}
			var five []byte
			for range 5 {
				i = (i + 1) % 60
				five = append(five, control(0, 11, i)...)
			}
			if _, err := board.Write(five); err == nil {
				n.Add(5)
			}
		}
	}()
	return n.Load
}
