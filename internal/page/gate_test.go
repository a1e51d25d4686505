package page

import (
	"bufio"
	"io"
	"net"
	"net/http"
	"testing"
	"testing/synctest"
	"time"
)

// TestHalfOpenConnectionsEnd, whatever they have begun with.
func TestHalfOpenConnectionsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		for _, begun := range []string{"", "GET", "GET / HTTP/1.1\r\nHost: " + wallAddress.String() + "\r\nX-Long: ", "POST /order HTTP/1.1\r\nHost: " + wallAddress.String() + "\r\nContent-Length: 4\r\n\r\nst"} {
			c := w.dial()
			if _, err := io.WriteString(c, begun); err != nil {
				t.Fatal(err)
			}
			start := time.Now()
			_, _ = io.Copy(io.Discard, c)
			if took := time.Since(start); took > requestTime+time.Second {
				t.Errorf("%q stays open for %v", begun, took)
			}
			c.Close()
		}
		s.gate.mu.Lock()
		defer s.gate.mu.Unlock()
		if s.gate.open != 0 {
			t.Errorf("%d connections are counted", s.gate.open)
		}
	})
}

// TestTheGateIsNarrow: connections beyond the limit are closed at once, new ones
// come in no faster than they should, and a place that is left can be taken.
func TestTheGateIsNarrow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		start := time.Now()
		var conns []net.Conn
		for range maxConns {
			conns = append(conns, w.dial())
		}
		if took := time.Since(start); took != 0 {
			t.Errorf("the first %d took %v", maxConns, took)
		}
		for range connsRate {
			c := w.dial()
			if _, err := c.Read(make([]byte, 1)); err != io.EOF {
				t.Fatalf("one beyond the limit: %v", err)
			}
		}
		if took := time.Since(start); took < 990*time.Millisecond {
			t.Errorf("%d more took %v, want a second", connsRate, took)
		}
		conns[0].Close()
		synctest.Wait()
		c := w.get(t, "/about")
		defer c.Close()
		if answer, err := http.ReadResponse(bufio.NewReader(c), nil); err != nil || answer.StatusCode != 200 {
			t.Errorf("in the place that was left: %v, %v", answer, err)
		}
		for _, c := range conns {
			c.Close()
		}
	})
}

// TestNoAddressTakesAllPlaces: one of the network has its share.
func TestNoAddressTakesAllPlaces(t *testing.T) {
	g := newGate(newWall())
	one, other := peerOf(&net.TCPAddr{IP: net.IPv4(10, 0, 0, 1)}), peerOf(&net.TCPAddr{IP: net.IPv4(10, 0, 0, 2)})
	for range maxPerPeer {
		if !g.enter(one) {
			t.Fatal("refused too early")
		}
	}
	if g.enter(one) || !g.enter(other) {
		t.Error("one address takes the places of another")
	}
	g.leave(one)
	if !g.enter(one) {
		t.Error("a place that was left is lost")
	}
}
