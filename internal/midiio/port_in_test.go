package midiio

import (
	"testing"
	"time"
)

// newTestInput is an input that listens, and what its driver would call.
func newTestInput(thru func(time.Duration, []byte)) (*Ports, Receiver) {
	p := NewPorts(PortsConfig{Clock: func() time.Duration { return 0 }})
	p.Listen(true)
	in := p.addIn(p.newInput(PortInfo{}, thru), deafPort{})
	return p, in.receiver()
}

func TestInputDoesNotAllocate(t *testing.T) {
	wire := NewWire(WireConfig{}, outputSink{testOutput(deafPort{})})
	p, receive := newTestInput(func(at time.Duration, msg []byte) { wire.Player(at, msg) })
	msg := []byte{0x90, 60, 100}
	n := testing.AllocsPerRun(1000, func() {
		receive(0, msg)
		<-p.Wake()
		p.Take()
	})
	if n != 0 {
		t.Errorf("a message from input to output and core allocates %v times, want 0", n)
	}
}

type outputSink struct{ out *Output }

func (s outputSink) Write(_ time.Duration, _ Source, msg []byte) bool { return s.out.Send(msg) }

// The whole way of a message through bedd without the driver at both ends:
// cutting, stamping, the wire's ledger, the output, and the ring.
func BenchmarkThru(b *testing.B) {
	start := time.Now()
	wire := NewWire(WireConfig{}, outputSink{testOutput(deafPort{})})
	p := NewPorts(PortsConfig{Clock: func() time.Duration { return time.Since(start) }})
	p.Listen(true)
	in := p.addIn(p.newInput(PortInfo{}, func(at time.Duration, msg []byte) { wire.Player(at, msg) }), deafPort{})
	receive := in.receiver()
	msg := []byte{0x90, 60, 100}
	b.ReportAllocs()
	for b.Loop() {
		receive(0, msg)
		p.Take()
	}
}

func testOutput(port OutPort) *Output {
	return NewPorts(PortsConfig{Clock: func() time.Duration { return 0 }}).addOut(&Output{port: port})
}
