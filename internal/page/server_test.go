package page

import (
	"io"
	"math"
	"net"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/glance"
)

// TestReadersSeeTheModel, each as it asked for it, the late ones the last at once,
// and nobody the code.
func TestReadersSeeTheModel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		m := named(0)
		m.Key = "C"
		s.Show(m)
		synctest.Wait()
		for path, want := range map[string]string{"/events": "C", "/events?transpose=-3": "A", "/events?transpose=2": "D", "/events?transpose=0": "C"} {
			c := w.get(t, path)
			defer c.Close()
			got, ok := newStream(t, c).next()
			if !ok || got.Chord != want || got.Key != "C" || got.Page != "" {
				t.Errorf("%s: %+v", path, got)
			}
		}
	})
}

// TestAtMostThirtyASecond however many are shown, and always the latest.
func TestAtMostThirtyASecond(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		c := w.get(t, "/events")
		defer c.Close()
		got := newArrivals(t, c)
		start := time.Now()
		for i := range 3000 { // three seconds
			s.Show(named(i))
			time.Sleep(time.Millisecond) // of the made-up clock
		}
		at := got.end(c)
		if len(at) < 85 || len(at) > 91 {
			t.Errorf("%d models in %v, want 90", len(at), time.Since(start))
		}
		for i := perSecond; i < len(at); i++ {
			if gap := at[i].Sub(at[i-perSecond]); gap < time.Second-time.Millisecond {
				t.Errorf("31 models in %v", gap)
			}
		}
	})
}

// TestManyReadersAreServedMoreSlowly: fifty get no more than they may together, and
// still each a chord within a tenth of a second.
func TestManyReadersAreServedMoreSlowly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		var events atomic.Int64
		for range 50 {
			c := w.get(t, "/events")
			defer c.Close()
			go func() {
				stream := newStream(t, c)
				for _, ok := stream.next(); ok; _, ok = stream.next() {
					events.Add(1)
				}
			}()
		}
		for i := range 4000 { // four seconds
			s.Show(named(i))
			time.Sleep(time.Millisecond)
		}
		if n := events.Load(); n > 4*eventsRate+50 || n < 3*eventsRate {
			t.Errorf("%d events in four seconds, want %d", n, 4*eventsRate)
		}
	})
}

// TestShowNeverWaits: with a hundred thousand models, and readers that take nothing
// at all, not an instant of the made-up clock passes; the readers are let go, and
// one that reads is served all the while.
func TestShowNeverWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		var stalled []net.Conn
		for range 50 {
			c := w.get(t, "/events")
			defer c.Close()
			stalled = append(stalled, c)
		}
		good := w.get(t, "/events")
		defer good.Close()
		served := make(chan int)
		go func() {
			n := 0
			events := newStream(t, good)
			for _, ok := events.next(); ok; _, ok = events.next() {
				n++
			}
			served <- n
		}()
		start := time.Now()
		for i := range 100_000 {
			s.Show(named(i))
		}
		if took := time.Since(start); took != 0 {
			t.Errorf("Show waited %v", took)
		}
		synctest.Wait()
		s.readers.mu.Lock()
		open := len(s.readers.open)
		s.readers.mu.Unlock()
		if open != 51 {
			t.Errorf("%d readers are open", open)
		}
		time.Sleep(stallTime + time.Second)
		synctest.Wait()
		s.readers.mu.Lock()
		open = len(s.readers.open)
		s.readers.mu.Unlock()
		if open != 1 {
			t.Errorf("%d readers are open after %v, want the one that reads", open, stallTime)
		}
		for _, c := range stalled {
			if _, err := io.Copy(io.Discard, c); err != nil {
				t.Errorf("a stalled reader is left open: %v", err)
			}
		}
		good.Close()
		if n := <-served; n == 0 {
			t.Error("who reads is not served")
		}
	})
}

// TestTheCodeNeedsNobody: the session's loop, which shows it, does not wait while a
// device is being paired.
func TestTheCodeNeedsNobody(t *testing.T) {
	s := hall(t, network, false)
	s.pairing.mu.Lock() // as if it took for ever
	defer s.pairing.mu.Unlock()
	if code := s.Code(); len(code) != codeDigits+1 {
		t.Errorf("the code is %q", code)
	}
}

// TestShowNeedsNobody: without anything that takes models, it does not wait.
func TestShowNeedsNobody(t *testing.T) {
	s := hall(t, loopback, false)
	for i := range 1000 {
		s.Show(named(i)) // a second place to wait would never end
	}
	if m := <-s.models; m.Title != "999" {
		t.Errorf("the latest is %s", m.Title)
	}
}

// TestTooManyReadersAreRefused, and the place of one that leaves is free again.
func TestTooManyReadersAreRefused(t *testing.T) {
	var r readers
	var all []*reader
	for range maxReaders {
		all = append(all, r.join(0))
	}
	if r.join(0) != nil {
		t.Error("one too many")
	}
	r.leave(all[7])
	if r.join(0) == nil {
		t.Error("a place is lost")
	}
}

// TestAFaultyModelEndsNothing: it is told of, and the next is shown.
func TestAFaultyModelEndsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		said := make(chan string, 10)
		c := quiet()
		c.Say = func(line string) { said <- line }
		s := serve(w, c)
		defer s.Close()
		conn := w.get(t, "/events")
		defer conn.Close()
		events := newStream(t, conn)
		for _, bad := range []glance.Model{{Intensity: math.NaN()}, {Notes: []glance.Note{{Mark: 77}}}} {
			s.Show(bad)
			time.Sleep(time.Second)
			synctest.Wait()
		}
		s.Show(named(1))
		if m, ok := events.next(); !ok || m.Chord != "F" {
			t.Errorf("after it comes %+v", m)
		}
		if len(said) != 1 || !strings.Contains(<-said, "the page has a fault, and the bed goes on") {
			t.Error("it is not told of")
		}
	})
}
