//go:build linux

package midiio

import (
	"bytes"
	"errors"
	"slices"
	"testing"
	"time"
)

// A USB keyboard whose notes go past bedd is pulled out and put in: each time it is
// connected again within the time, every note arrives once, and at the end what is
// held is let go.
func TestLabConnectionReturnsWithItsDevice(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		g := newGadget(t)
		g.plug(t)
		defer g.unplug(t)
		carries := make(chan Route, 64)
		p := running(t, PortsConfig{System: s, Clock: clockOf(time.Now()), Carries: func(r Route) { carries <- r }})
		out, err := p.OpenOut(labPort(t, s, Out, 1))
		if err != nil {
			t.Fatal(err)
		}
		wire := NewWire(WireConfig{}, outputSink{out})
		in, err := p.OpenIn(g.port(t, s, In), func(at time.Duration, msg []byte, c Carried) {
			if c.Ours.Has(0) {
				wire.Carried(msg)
			} else {
				wire.Player(at, msg)
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		if r := p.Route(in, 0, true, func(Connection) bool { return false }); r.By != ByConnection {
			t.Fatalf("carried by %d: %v", r.By, r.Err)
		}
		p.Listen(true)
		rec := record(t, 1)
		var want []byte
		says := func(msg []byte) {
			t.Helper()
			playNow(t, raw(t, "f_midi"), msg)
			want = append(want, msg...)
			rec.wait(t, func(b []byte) bool { return bytes.HasSuffix(expand(b), msg) }, 2*time.Second)
		}
		const rounds = 10
		for round := range byte(rounds) {
			says(on(3, round, 9))
			says(off(3, round))
			g.unplug(t)
			time.Sleep(50 * time.Millisecond)
			g.plug(t)
			g.port(t, s, In)
			select {
			case r := <-carries:
				if r.By != ByConnection || r.Err != nil {
					t.Fatalf("round %d: carried by %d: %v", round, r.By, r.Err)
				}
			case <-time.After(s.soon):
				t.Fatalf("round %d: not connected again", round)
			}
		}
		says(on(3, 60, 9))
		for start := time.Now(); !in.carried().Ours.Has(0) || wire.Sounding() == 0; time.Sleep(time.Millisecond) {
			if time.Since(start) > 2*time.Second {
				t.Fatal("the ledger knows nothing of the note")
			}
		}
		if err := p.Disconnect(); err != nil {
			t.Error(err)
		}
		want = append(want, 0x83, 60, releaseVelocity)
		got := rec.wait(t, func(b []byte) bool { return len(expand(b)) >= len(want) }, 2*time.Second)
		compare(t, "past bedd", expand(got), want)
	})
}

// A connection is made and ended, is seen by other clients, and may be ended by
// them; what cannot be is said.
func TestLabConnect(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		c := Connection{labPort(t, s, In, 0), labPort(t, s, Out, 1)}
		other := openLab(t, DriverALSA)
		for range 3 {
			if s.Connected(c) || other.Connected(c) {
				t.Fatal("connected already")
			}
			if err := s.Connect(c); err != nil {
				t.Fatal(err)
			}
			if !s.Connected(c) || !other.Connected(c) {
				t.Error("not connected")
			}
			if err := other.Connect(c); !errors.Is(err, ErrBusy) {
				t.Errorf("connected twice: %v", err)
			}
			if err := other.Disconnect(c); err != nil {
				t.Error(err)
			}
			if err := s.Disconnect(c); err != nil {
				t.Errorf("ended twice: %v", err)
			}
		}
		wrong := c
		wrong.Out.Address = "250:3"
		if err := s.Connect(wrong); err == nil || s.Connected(wrong) || s.Disconnect(wrong) != nil {
			t.Errorf("a port that is not there: %v", err)
		}
		renamed := c
		renamed.In.Name = "Somebody:else"
		if err := s.Connect(renamed); err == nil || s.Connected(renamed) {
			t.Errorf("another port at the address: %v", err)
		}
	})
}

// When a connection has been ended, all that went through it has been handed on.
func TestLabDisconnectWaitsForTheReader(t *testing.T) {
	onALSA(t, func(t *testing.T, s labSystem) {
		c := Connection{labPort(t, s, In, 0), labPort(t, s, Out, 1)}
		var heard []byte // written by the reader alone, until it is known to be done
		in, err := s.OpenIn(c.In, func(_ time.Duration, b []byte) {
			time.Sleep(time.Millisecond)
			heard = append(heard, b...)
		})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Connect(c); err != nil {
			t.Fatal(err)
		}
		rec := record(t, 1)
		var want []byte
		for key := range byte(100) {
			want = append(want, on(0, key, 9)...)
		}
		play(t, 0, want)
		rec.wait(t, func(b []byte) bool { return len(expand(b)) >= len(want) }, 5*time.Second)
		if err := s.Disconnect(c); err != nil {
			t.Error(err)
		}
		if !slices.Equal(heard, want) {
			t.Errorf("%d of %d bytes were handed on", len(heard), len(want))
		}
		_ = in.Close()
	})
}
