package page

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"bedd/internal/glance"
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
type pipe struct {
	net.Conn
	peer net.IP
}

func (pipe) LocalAddr() net.Addr    { return wallAddress }
func (p pipe) RemoteAddr() net.Addr { return &net.TCPAddr{IP: p.peer, Port: 50000} }

func (w *wall) dial() net.Conn { return w.dialFrom(net.IPv4(127, 0, 0, 1)) }

func (w *wall) dialFrom(peer net.IP) net.Conn {
	ours, theirs := net.Pipe()
	w.conns <- pipe{theirs, peer}
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

// arrivals are when events came.
type arrivals chan []time.Time

func newArrivals(t *testing.T, c net.Conn) arrivals {
	a := make(arrivals, 1)
	go func() {
		var at []time.Time
		events := newStream(t, c)
		for _, ok := events.next(); ok; _, ok = events.next() {
			at = append(at, time.Now())
		}
		a <- at
	}()
	return a
}

// end closes the connection and gives when events came.
func (a arrivals) end(c net.Conn) []time.Time {
	c.Close()
	return <-a
}

func quiet() Config { return Config{Say: func(string) {}, NewCode: func(string) {}} }

// named is a model that can be told from others.
func named(i int) glance.Model {
	m := sample()
	m.Title, m.Chord, m.Page = fmt.Sprint(i), []string{"C", "F", "G7"}[i%3], "code 123 456 at http://127.0.0.1/"
	return m
}
