package midiio

import (
	"fmt"
	"slices"
	"testing"
	"time"
)

// newTestInput is an input that listens, and what its driver would call.
func newTestInput(thru Thru) (*Ports, Receiver) {
	p := NewPorts(PortsConfig{Clock: func() time.Duration { return 0 }})
	p.Listen(true)
	in := p.addIn(p.newInput(PortInfo{}, thru), deafPort{})
	return p, in.receiver()
}

func TestInputDoesNotAllocate(t *testing.T) {
	wire := NewWire(WireConfig{}, outputSink{testOutput(deafPort{})})
	p, receive := newTestInput(func(at time.Duration, msg []byte, _ Carried) { wire.Player(at, msg) })
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

func (s outputSink) Write(_ time.Duration, from Source, msg []byte) bool {
	return s.out.Send(from, msg)
}

// The whole way of a message through bedd without the driver at both ends:
// cutting, stamping, the wire's ledger, the output, and the ring.
func BenchmarkThru(b *testing.B) {
	start := time.Now()
	wire := NewWire(WireConfig{}, outputSink{testOutput(deafPort{})})
	p := NewPorts(PortsConfig{Clock: func() time.Duration { return time.Since(start) }})
	p.Listen(true)
	in := p.addIn(p.newInput(PortInfo{}, func(at time.Duration, msg []byte, _ Carried) { wire.Player(at, msg) }), deafPort{})
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

// What an input holds when its device is pulled out is let go, once, and nothing
// of what others hold.
func TestInputLetsGoWhatItHolds(t *testing.T) {
	var thru, observed []string
	word := func(list *[]string) func(time.Duration, []byte) {
		return func(_ time.Duration, msg []byte) { *list = append(*list, fmt.Sprintf("%X", msg)) }
	}
	passed := func(at time.Duration, msg []byte, _ Carried) { word(&thru)(at, msg) }
	p := NewPorts(PortsConfig{Clock: func() time.Duration { return 0 }})
	p.Listen(true)
	keys := p.addIn(p.newInput(PortInfo{}, passed), deafPort{})
	feet := p.addIn(p.newInput(PortInfo{}, passed), deafPort{})
	keys.receiver()(0, []byte{0x90, 60, 100, 62, 100, 0x80, 60, 0, 0xB0, 64, 127, 66, 127, 66, 0, 0x95, 61, 1, 61, 0})
	feet.receiver()(0, []byte{0xB0, 80, 127})
	thru = nil
	feet.LetGo(word(&observed))
	if len(thru)+len(observed) > 0 {
		t.Errorf("the feet hold nothing: %v, %v", thru, observed)
	}
	keys.LetGo(word(&observed))
	want := []string{"803E40", "B04000"}
	if !slices.Equal(thru, want) || !slices.Equal(observed, want) {
		t.Errorf("let go %v and %v, want %v", thru, observed, want)
	}
	if keys.LetGo(word(&observed)); len(thru) > 2 {
		t.Errorf("let go twice: %v", thru)
	}
}

// A fault on an input's own thread is handed over, wherever it is.
func TestInputHandsOverItsMishaps(t *testing.T) {
	var caught any
	p := NewPorts(PortsConfig{Clock: func() time.Duration { panic("the clock's") }, Mishap: func() { caught = recover() }})
	p.Listen(true)
	p.addIn(p.newInput(PortInfo{}, nil), deafPort{}).receiver()(0, []byte{0x90, 60, 100})
	if caught != "the clock's" {
		t.Errorf("caught %v", caught)
	}
}

// flooded is an input with the newest of twenty values at once waiting.
func flooded(t *testing.T) (p *Ports, in *Input, thru *[]string) {
	t.Helper()
	thru = new([]string)
	p = NewPorts(PortsConfig{Clock: func() time.Duration { return 0 }})
	p.Listen(true)
	in = p.addIn(p.newInput(PortInfo{}, func(_ time.Duration, msg []byte, c Carried) {
		*thru = append(*thru, fmt.Sprintf("%X to others than %v", msg, c.Ours))
	}), deafPort{})
	for v := range byte(20) {
		in.receiver()(0, []byte{0xB0, 64, 80 + v})
	}
	if want := "B0405F to others than 0"; len(*thru) != valueBurst || (*thru)[valueBurst-1] != want {
		t.Fatalf("at first passes %v, want %d values up to %s", *thru, valueBurst, want)
	}
	return p, in, thru
}

// A value that waits passes before what it must not follow or be left out by: the
// end of what its pedal holds, the end of listening, another way of the piano.
func TestWaitingValueIsNotLate(t *testing.T) {
	newest := "B04063 to others than 0"
	for name, c := range map[string]struct {
		then func(p *Ports, in *Input)
		want []string
	}{
		"the input is gone":       {func(_ *Ports, in *Input) { in.LetGo(func(time.Duration, []byte) {}) }, []string{newest, "B04000 to others than 0"}},
		"nobody listens any more": {func(p *Ports, _ *Input) { p.Listen(false) }, []string{newest}},
		"a connection carries": {func(_ *Ports, in *Input) {
			(&path{in: in, out: testOutput(new(cable))}).carry(true, true)
			in.receiver()(0, on(0, 60, 1))
		}, []string{newest, "903C01 to others than 1"}},
	} {
		p, in, thru := flooded(t)
		c.then(p, in)
		if got := (*thru)[valueBurst:]; !slices.Equal(got, c.want) {
			t.Errorf("%s: then passes %v, want %v", name, got, c.want)
		}
		if in.settle(); len(*thru) != valueBurst+len(c.want) {
			t.Errorf("%s: later passes %v", name, (*thru)[valueBurst+len(c.want):])
		}
	}
}
