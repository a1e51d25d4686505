package page

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// hostile are requests of those who should get nothing: by a foreign name, from a
// foreign site, past the page's own checks, unpaired, with huge heads and bodies.
func hostile(address string) []string {
	return []string{
		"GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n",
		"GET /events HTTP/1.1\r\nHost: " + address + "\r\nOrigin: http://evil.example\r\n\r\n",
		"OPTIONS * HTTP/1.1\r\nHost: " + address + "\r\n\r\n",
		"POST /order HTTP/1.1\r\nHost: " + address + "\r\nContent-Length: 4\r\n\r\nstep",
		"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
		"POST /order HTTP/1.1\r\nHost: " + address + "\r\nOrigin: http://evil.example\r\nContent-Length: 1000000000\r\n\r\nstep",
		"GET /" + strings.Repeat("x", 2*maxHeader) + " HTTP/1.1\r\nHost: " + address + "\r\n\r\n",
	}
}

// flood is strangers at an address, each with one connection after the other and as
// many requests on each as it takes, pipelined.
type flood struct {
	sent, refused atomic.Int64 // requests, connections
	mu            sync.Mutex
	answers       map[int]int // by status
	stop          func()
}

func newFlood(address string, strangers int) *flood {
	f := &flood{answers: map[int]int{}}
	done := make(chan struct{})
	var all sync.WaitGroup
	for i := range strangers {
		all.Go(func() {
			requests := hostile(address)
			for j := i; ; j++ {
				select {
				case <-done:
					return
				default:
					f.visit(address, requests[j%len(requests)])
				}
			}
		})
	}
	f.stop = func() { close(done); all.Wait() }
	return f
}

// atOnce is how many requests a stranger sends on a connection.
const atOnce = 20

func (f *flood) visit(address, request string) {
	c, err := net.Dial("tcp", address)
	if err != nil {
		f.refused.Add(1)
		return
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(time.Second))
	n, err := io.WriteString(c, strings.Repeat(request, atOnce))
	f.sent.Add(int64(n / len(request)))
	answer, bad := http.ReadResponse(bufio.NewReader(c), nil)
	if bad != nil {
		f.refused.Add(1)
		return
	}
	if err == nil {
		_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 1000))
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.answers[answer.StatusCode]++
}

// String tells of it.
func (f *flood) String() string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return fmt.Sprintf("%d requests, %d connections refused, answers by status %v", f.sent.Load(), f.refused.Load(), f.answers)
}

// apart is a page with a process of its own, which is this test's program.
func apart(t testing.TB, c Config) (p *Process, process func() *os.Process) {
	t.Helper()
	var last atomic.Pointer[exec.Cmd]
	p, err := start(func() *exec.Cmd {
		cmd := exec.Command(os.Args[0], "page")
		last.Store(cmd)
		return cmd
	}, c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	return p, func() *os.Process { return last.Load().Process }
}

// descriptors is how many files a process has open.
func descriptors(t *testing.T, pid int) int {
	t.Helper()
	list, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", pid))
	if err != nil {
		t.Skip("no /proc:", err)
	}
	return len(list)
}

// memory is how much a process holds, in kB.
func memory(t testing.TB, pid int) int {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Skip("no /proc:", err)
	}
	_, rest, _ := strings.Cut(string(text), "VmRSS:")
	kB, err := strconv.Atoi(strings.Fields(rest)[0])
	if err != nil {
		t.Fatal(err)
	}
	return kB
}

// quiets waits until a number is at most another.
func quiets(t *testing.T, what string, most int, n func() int) {
	t.Helper()
	got := 0
	for range 1000 {
		if got = n(); got <= most {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Errorf("%d %s, were %d", got, what, most)
}

// read joins as a reader, as soon as that is possible, as a browser tries again.
func read(t *testing.T, address string) (net.Conn, stream) {
	t.Helper()
	for range 1000 {
		if c, err := net.Dial("tcp", address); err == nil {
			fmt.Fprintf(c, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", address)
			body := bufio.NewReader(c)
			if answer, err := http.ReadResponse(body, nil); err == nil && answer.StatusCode == http.StatusOK {
				return c, stream{t, bufio.NewReader(answer.Body)}
			}
			c.Close()
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("a reader gets no place")
	return nil, stream{}
}

// thousands is how many requests a second the flood must at least send to be called one.
const thousands = 2000

// TestThousandsASecond: while strangers send thousands of hostile requests a second,
// a reader gets what is shown, as soon as they have gone a new one gets a place, the
// page's process holds no more memory and no more files than before, and its bedd has
// no goroutine and no file more.
func TestThousandsASecond(t *testing.T) {
	if l, err := net.Listen("tcp", thisMachine); err != nil { // which opens what stays open
		t.Fatal(err)
	} else {
		l.Close()
	}
	before, own := goleak.IgnoreCurrent(), descriptors(t, os.Getpid())
	c := quiet()
	c.Address = thisMachine
	p, process := apart(t, c)
	address := p.local.String()
	p.Show(named(0))
	conn, reader := read(t, address)
	defer conn.Close()
	pid := process().Pid
	shown := 0
	storm := func(requests int64) (rate float64, f *flood) {
		f = newFlood(address, 4)
		start := time.Now()
		for begin := shown; shown < begin+20 || f.sent.Load() < requests; {
			shown++
			p.Show(named(shown))
			if _, ok := reader.next(); !ok {
				t.Fatal("the reader is not served any more")
			}
		}
		rate = float64(f.sent.Load()) / time.Since(start).Seconds()
		f.stop()
		return rate, f
	}
	storm(5000) // what it comes to need it has after this
	files, kB := descriptors(t, pid), memory(t, pid)
	rate, f := storm(20_000)
	t.Logf("%.0f requests a second: %v", rate, f)
	if rate < thousands {
		t.Errorf("%.0f requests a second are no flood, want %d", rate, thousands)
	}
	for status := range f.answers {
		if status != 403 && status != 421 && status != 429 && status != 431 && status != 400 && status != 505 {
			t.Errorf("answers by status: %v", f.answers)
		}
	}
	again, _ := read(t, address)
	again.Close()
	quiets(t, "files are open", files, func() int { return descriptors(t, pid) })
	if now := memory(t, pid); now > kB+8<<10 {
		t.Errorf("it holds %d kB, before %d", now, kB)
	} else {
		t.Logf("the page's process holds %d kB, before %d", now, kB)
	}
	if process().Pid != pid {
		t.Error("it was started again")
	}
	p.Close()
	conn.Close()
	goleak.VerifyNone(t, before)
	quiets(t, "files are open in its bedd", own, func() int { return descriptors(t, os.Getpid()) })
}

// BenchmarkFlood is how many hostile requests a second a page takes on.
func BenchmarkFlood(b *testing.B) {
	c := quiet()
	c.Address = thisMachine
	p, _ := apart(b, c)
	f := newFlood(p.local.String(), 4)
	for b.Loop() {
		for want := f.sent.Load() + atOnce; f.sent.Load() < want; {
			time.Sleep(100 * time.Microsecond)
		}
	}
	f.stop()
	b.ReportMetric(float64(f.sent.Load())/b.Elapsed().Seconds(), "requests/s")
}
