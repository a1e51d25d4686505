package page

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
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

// closed waits for the end of a connection that is let in by nobody.
func closed(t *testing.T, c net.Conn) {
	t.Helper()
	if _, err := c.Read(make([]byte, 1)); err != io.EOF {
		t.Fatalf("one beyond the limit: %v", err)
	}
}

// TestTheGateIsNarrow: connections beyond the limit are closed at once, and a place
// that is left can be taken.
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
		for range maxConns {
			closed(t, w.dialFrom(net.IPv4(10, 0, 0, 1)))
		}
		if took := time.Since(start); took != 0 {
			t.Errorf("that took %v", took)
		}
		conns[0].Close()
		time.Sleep(time.Second / connsRate) // of the made-up clock
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

// TestNobodyWaitsBehindAKnocker: whoever comes too often is closed out at once and gets
// as many connections as a second brings, others come in meanwhile, and all of them
// together cost no more than they may.
func TestNobodyWaitsBehindAKnocker(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		for range connsBurst {
			w.dial().Close()
		}
		for range acceptBurst - connsBurst - 1 {
			closed(t, w.dial())
		}
		start := time.Now()
		c := w.dialFrom(net.IPv4(10, 0, 0, 1))
		defer c.Close()
		fmt.Fprintf(c, "GET /about HTTP/1.1\r\nHost: %s\r\n\r\n", wallAddress)
		if answer, err := http.ReadResponse(bufio.NewReader(c), nil); err != nil || answer.StatusCode != 200 || time.Since(start) != 0 {
			t.Errorf("another is answered %v, %v after %v", answer, err, time.Since(start))
		}
		for range acceptRate {
			w.dial().Close()
		}
		if took := time.Since(start); took < 990*time.Millisecond || took > 1010*time.Millisecond {
			t.Errorf("%d more took %v, want a second", acceptRate, took)
		}
	})
}

// TestANetworkCountsAsOne: in IPv6 a device may take any address of its network's.
func TestANetworkCountsAsOne(t *testing.T) {
	for a, want := range map[string]string{
		"10.0.0.1": "10.0.0.1", "::ffff:10.0.0.1": "10.0.0.1", "::1": "::1",
		"2001:db8:1:2:3:4:5:6": "2001:db8:1:2::", "2001:db8:1:2::7": "2001:db8:1:2::", "fe80::1%eth0": "fe80::",
	} {
		if got := asPeer(netip.MustParseAddr(a)); got.String() != want {
			t.Errorf("%s counts as %v, want %s", a, got, want)
		}
	}
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
