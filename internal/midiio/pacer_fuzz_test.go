package midiio

import (
	"testing"
	"time"
)

// messagesOf reads whole messages out of any bytes, each with a wait before it.
func messagesOf(data []byte, each func(wait time.Duration, from Source, msg []byte)) {
	for len(data) > 4 {
		wait, from := time.Duration(data[0])*50*time.Microsecond, Source(data[1]%3)
		status := data[2] | 0x80
		msg := []byte{status, data[3] & 0x7F, data[4] & 0x7F}
		if n := dataBytes(status); n >= 0 {
			msg = msg[:1+n]
		} else {
			msg = append(msg, sysexEnd)
			msg[0] = sysexStart
		}
		data = data[5:]
		each(wait, from, msg)
	}
}

// Whatever comes: in the end all has gone out but what was made void, and each
// control stands where it was left.
func FuzzPacer(f *testing.F) {
	f.Add([]byte("\x00\x01\x91\x40\x40\x00\x01\x91\x41\x40\x00\x01\x91\x42\x40\x00\x00\x90\x42\x40\x00\x01\x81\x42\x40\x00\x02\xb1\x7b\x00"))
	f.Add([]byte("\x01\x00\xe0\x40\x40\x01\x00\xe0\x41\x40\x00\x00\xd0\x42\x40\x00\x00\xb0\x42\x40\x00\x01\xb1\x0b\x40\x00\x02\xb1\x0b\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		sent, out, bytes := 0, 0, 0
		said, heard := map[controlNumber]string{}, map[controlNumber]string{}
		note := func(m map[controlNumber]string, msg []byte) {
			if n, ok := valueOf(msg); ok && msg[0] < sysexStart {
				m[n] = string(msg)
			}
		}
		var now time.Duration
		var p *Pacer
		p = NewPacer(DINBaud, func(msg []byte) {
			if !whole(msg) {
				t.Fatalf("% X goes out", msg)
			}
			out, bytes = out+1, bytes+len(msg)
			note(heard, msg)
			p.Sent(now, len(msg))
		})
		messagesOf(data, func(wait time.Duration, from Source, msg []byte) {
			now += wait
			p.Advance(now)
			from = []Source{Player, Bed, Ledger}[(int(from)+int(msg[0]&1))%3]
			if msg[0] < sysexStart { // each control has one owner
				from = Source(msg[0] & 0x0F % 3)
			}
			note(said, msg)
			sent++
			p.Send(now, from, msg)
		})
		for range sent {
			due, waits := p.Deadline()
			if !waits {
				break
			}
			if due > now+time.Second*10 {
				t.Fatalf("the next is due in %v", due-now)
			}
			now = max(now, due)
			before := out
			if p.Advance(now); out == before {
				t.Fatal("nothing goes out when it is due")
			}
		}
		if out+int(p.Load().Overtaken) != sent {
			t.Fatalf("%d of %d go out, %d are void", out, sent, p.Load().Overtaken)
		}
		if n := p.Load().Sent; n != uint64(bytes) {
			t.Fatalf("%d bytes go out, %d are told", bytes, n)
		}
		for n, want := range said {
			if heard[n] != want {
				t.Fatalf("%v: % X, want % X", n, heard[n], want)
			}
		}
	})
}

// The same of a thinner.
func FuzzThinner(f *testing.F) {
	f.Add([]byte("\x00\x00\xb0\x0b\x40\x00\x00\xb0\x0b\x41\x00\x00\xb0\x2b\x41\x00\x00\xe0\x40\x41\x00\x00\x90\x41\x41"))
	f.Fuzz(func(t *testing.T, data []byte) {
		var l thinning
		sent := 0
		said, heard := map[controlNumber]string{}, map[controlNumber]string{}
		for range 20 { // enough of them to fill the bursts
			messagesOf(data[:min(len(data), 1000)], func(wait time.Duration, _ Source, msg []byte) {
				l.until(l.now + wait/50)
				if n, ok := valueOf(msg); ok && msg[0] < sysexStart {
					said[n] = string(msg)
				}
				sent++
				l.send(msg)
			})
		}
		l.until(l.now + valueEvery)
		if l.waiting > 0 || len(l.got)+int(l.left.Load()) != sent {
			t.Fatalf("%d of %d pass, %d are left out, %d wait", len(l.got), sent, l.left.Load(), l.waiting)
		}
		for _, a := range l.got {
			if n, ok := valueOf(a.msg); ok && a.msg[0] < sysexStart {
				heard[n] = string(a.msg)
			}
		}
		for n, want := range said {
			if heard[n] != want {
				t.Fatalf("%v: % X, want % X", n, heard[n], want)
			}
		}
	})
}
