package page

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/glance"

	"go.uber.org/goleak"
)

// wall is a listener without a network, so that a made-up clock rules what comes
// through it.
type wall struct {
	conns chan net.Conn
	done  chan struct{}
}

var wallAddress = &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 62333}

func newWall() *wall { return &wall{make(chan net.Conn), make(chan struct{})} }

func (w *wall) Accept() (net.Conn, error) {
	select {
	case c := <-w.conns:
		return c, nil
	case <-w.done:
		return nil, net.ErrClosed
	}
}

func (w *wall) Close() error {
	select {
	case <-w.done:
	default:
		close(w.done)
	}
	return nil
}

func (w *wall) Addr() net.Addr { return wallAddress }

// pipe is a side of a connection through a wall.
type pipe struct{ net.Conn }

func (pipe) LocalAddr() net.Addr  { return wallAddress }
func (pipe) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 50000} }

func (w *wall) dial() net.Conn {
	ours, theirs := net.Pipe()
	w.conns <- pipe{theirs}
	return ours
}

// get sends a request and leaves the answer unread.
func (w *wall) get(t *testing.T, path string) net.Conn {
	t.Helper()
	c := w.dial()
	if _, err := fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: %s\r\n\r\n", path, wallAddress); err != nil {
		t.Fatal(err)
	}
	return c
}

// stream reads the events of a connection.
type stream struct {
	t    *testing.T
	body *bufio.Reader
}

func newStream(t *testing.T, c net.Conn) stream {
	t.Helper()
	answer, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	if answer.StatusCode != 200 || answer.Header.Get("Content-Type") != "text/event-stream" {
		t.Fatalf("%s %v", answer.Status, answer.Header)
	}
	return stream{t, bufio.NewReader(answer.Body)}
}

// next gives the next model, and false at the end.
func (s stream) next() (m struct{ Chord, Key, Fingers, Page string }, ok bool) {
	s.t.Helper()
	for {
		line, err := s.body.ReadString('\n')
		if err != nil {
			return m, false
		}
		if data, ok := strings.CutPrefix(line, "data: "); ok {
			if strings.Contains(data, "code") {
				s.t.Errorf("a reader is told %s", data)
			}
			if err := json.Unmarshal([]byte(data), &m); err != nil {
				s.t.Fatal(err)
			}
			return m, true
		}
	}
}

func quiet() Config { return Config{Say: func(string) {}, NewCode: func(string) {}} }

// named is a model that can be told from others.
func named(i int) glance.Model {
	m := sample()
	m.Title, m.Chord, m.Page = fmt.Sprint(i), []string{"C", "F", "G7"}[i%3], "http://127.0.0.1/  code 123 456"
	return m
}

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
		got := make(chan time.Time, 1000)
		go func() {
			defer close(got)
			events := newStream(t, c)
			for _, ok := events.next(); ok; _, ok = events.next() {
				got <- time.Now()
			}
		}()
		start := time.Now()
		for i := range 3000 { // three seconds
			s.Show(named(i))
			time.Sleep(time.Millisecond) // of the made-up clock
		}
		c.Close()
		var at []time.Time
		for a := range got {
			at = append(at, a)
		}
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

// TestWhatLooksTheSameIsNotSentAgain, but for a sign of life each second, from which
// a page knows that its link is whole; what changes is sent at once.
func TestWhatLooksTheSameIsNotSentAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := newWall()
		s := serve(w, quiet())
		defer s.Close()
		c := w.get(t, "/events")
		defer c.Close()
		var got []time.Time
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			events := newStream(t, c)
			for _, ok := events.next(); ok; _, ok = events.next() {
				got = append(got, time.Now())
			}
		}()
		m := sample()
		m.Elapsed = 7
		for range 100 { // ten seconds
			s.Show(m)
			m.Elapsed += 0.001
			m.Intensity += 0.00001
			m.News, m.Notes = slices.Clone(m.News), slices.Clone(m.Notes) // others, and the same
			time.Sleep(100 * time.Millisecond)
		}
		m.Chord = "D7"
		s.Show(m)
		changed := time.Now()
		time.Sleep(100 * time.Millisecond)
		c.Close()
		<-ended
		if len(got) != 11 {
			t.Errorf("%d events in ten seconds and a change, want 11", len(got))
		}
		if late := got[len(got)-1].Sub(changed); late < 0 || late > time.Second/perSecond {
			t.Errorf("the change is sent after %v", late)
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

// dial connects to a server over the real loopback.
func dial(t *testing.T, s *Server) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", s.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestACrowdLeavesNothingBehind: fifty readers, some of whom read nothing, half-open
// connections, requests with wrong names and endless bodies as fast as they come; the
// readers are served, and after the end every goroutine is gone and the port free.
func TestACrowdLeavesNothingBehind(t *testing.T) {
	before := goleak.IgnoreCurrent()
	c := quiet()
	c.Address = thisMachine
	s, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	address := s.Addr().String()
	if _, err := Open(Config{Address: address}); err == nil || err.Error() != "--page: "+address+" is in use by another program, perhaps another bedd: close that, or name another port" {
		t.Errorf("a second server: %v", err)
	}
	s.Show(named(0))
	var readers []stream
	for i := range 50 {
		c := dial(t, s)
		defer c.Close()
		fmt.Fprintf(c, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", address)
		if i%5 != 0 { // the others never read
			readers = append(readers, newStream(t, c))
		}
	}
	for range 20 { // say nothing
		c := dial(t, s)
		defer c.Close()
	}
	// A hundred and fifty requests as fast as they can be sent: on one connection, and with
	// a new one wherever that is closed.
	refused := map[int]int{}
	var hostile net.Conn
	var answers *bufio.Reader
	for i := range 150 {
		if hostile == nil {
			hostile = dial(t, s)
			answers = bufio.NewReader(hostile)
		}
		request := []string{
			"GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n",
			"POST /order HTTP/1.1\r\nHost: " + address + "\r\nOrigin: http://evil.example\r\nContent-Length: 1000000000\r\n\r\nstep",
			"GET /" + strings.Repeat("x", 2*maxHeader) + " HTTP/1.1\r\nHost: " + address + "\r\n\r\n",
			"GET /about HTTP/1.1\r\nHost: " + address + "\r\n\r\n",
		}[i%4]
		_, err := io.WriteString(hostile, request)
		var answer *http.Response
		if err == nil {
			answer, err = http.ReadResponse(answers, nil)
		}
		if err != nil || answer.Close {
			hostile.Close()
			hostile = nil
		}
		if err == nil {
			_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 1000))
			refused[answer.StatusCode]++
		}
	}
	if hostile != nil {
		hostile.Close()
	}
	t.Logf("answers by status: %v", refused)
	for status := range refused {
		if !slices.Contains([]int{200, 403, 421, 429, 431}, status) {
			t.Errorf("answers by status: %v", refused)
		}
	}
	// And a thousand at once on one connection, of which it is told that they are
	// too many.
	greedy := dial(t, s)
	defer greedy.Close()
	go io.WriteString(greedy, strings.Repeat("GET /about HTTP/1.1\r\nHost: "+address+"\r\n\r\n", 1000))
	text, _ := io.ReadAll(greedy)
	if n := strings.Count(string(text), "429 Too Many"); n != 1 || strings.Count(string(text), "200 OK") > 2*requestsBurst {
		t.Errorf("a thousand requests at once are refused %d times", n)
	}
	for i := 1; i <= 5; i++ {
		s.Show(named(i))
		for _, r := range readers { // each gets this one or the one before
			if _, ok := r.next(); !ok {
				t.Fatal("a reader is not served any more")
			}
		}
	}
	s.Close()
	for _, r := range readers {
		for _, ok := r.next(); ok; _, ok = r.next() {
		}
	}
	goleak.VerifyNone(t, before)
	again, err := Open(Config{Address: address, Say: c.Say, NewCode: c.NewCode})
	if err != nil {
		t.Fatalf("the port is still taken: %v", err)
	}
	again.Close()
	again.Close()
	goleak.VerifyNone(t, before)
}

// BenchmarkShow is what a model costs the session's loop, with fifty readers.
func BenchmarkShow(b *testing.B) {
	c := quiet()
	c.Address = thisMachine
	s, err := Open(c)
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	for range 50 {
		conn, err := net.Dial("tcp", s.Addr().String())
		if err != nil {
			b.Fatal(err)
		}
		defer conn.Close()
		fmt.Fprintf(conn, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", s.Addr())
		go io.Copy(io.Discard, conn)
	}
	m := named(0)
	b.ReportAllocs()
	for b.Loop() {
		s.Show(m)
	}
}
