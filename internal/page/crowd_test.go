package page

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"slices"
	"strings"
	"testing"

	"go.uber.org/goleak"
)

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
			if hostile, err = net.Dial("tcp", address); err != nil {
				refused[0]++
				continue
			}
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
		if !slices.Contains([]int{0, 200, 403, 421, 429, 431}, status) {
			t.Errorf("answers by status: %v", refused)
		}
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

// TestAThousandAtOnceAreTooMany: on one connection, it is told so and ended.
func TestAThousandAtOnceAreTooMany(t *testing.T) {
	c := quiet()
	c.Address = thisMachine
	s, err := Open(c)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	greedy := dial(t, s)
	defer greedy.Close()
	go io.WriteString(greedy, strings.Repeat("GET /about HTTP/1.1\r\nHost: "+s.Addr().String()+"\r\n\r\n", 1000))
	text, _ := io.ReadAll(greedy)
	if n := strings.Count(string(text), "429 Too Many"); n != 1 || strings.Count(string(text), "200 OK") > 2*requestsBurst {
		t.Errorf("a thousand requests at once are refused %d times", n)
	}
}

// BenchmarkShow is what a model costs the session's loop, with fifty readers.
func BenchmarkShow(b *testing.B) {
	c := quiet()
	c.Address = thisMachine
	p, _ := apart(b, c)
	for range 50 {
		conn, err := net.Dial("tcp", p.local.String())
		if err != nil {
			b.Fatal(err)
		}
		defer conn.Close()
		fmt.Fprintf(conn, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", p.local)
		go io.Copy(io.Discard, conn)
	}
	m := named(0)
	b.ReportAllocs()
	for b.Loop() {
		p.Show(m)
	}
}
