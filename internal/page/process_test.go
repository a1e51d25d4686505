package page

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"
)

// heard is a page apart, with what it says.
type heard struct {
	*Process
	process func() *os.Process
	said    chan string
	codes   chan string
}

func hearing(t *testing.T, address string, control bool) *heard {
	t.Helper()
	h := &heard{said: make(chan string, 100), codes: make(chan string, 100)}
	h.Process, h.process = apart(t, Config{Address: address, Control: control,
		Say: func(line string) { h.said <- line }, NewCode: func(code string) { h.codes <- code }})
	return h
}

// order asks for something by the page, as it does itself.
func order(t *testing.T, address, name string) (status int) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, "http://"+address+"/order", strings.NewReader(name))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Origin", "http://"+address)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	return answer.StatusCode
}

// TestThePageHasAProcessOfItsOwn: what is shown arrives there whole, orders come back,
// one after the other, and those that nobody takes are refused.
func TestThePageHasAProcessOfItsOwn(t *testing.T) {
	h := hearing(t, thisMachine, true)
	address := h.local.String()
	if h.Code() != "" || len(h.URLs()) != 1 || h.URLs()[0] != "http://"+address+"/" {
		t.Errorf("it is at %v with the code %q", h.URLs(), h.Code())
	}
	h.Show(named(2))
	c, reader := read(t, address)
	defer c.Close()
	if m, ok := reader.next(); !ok || m.Chord != "G7" || m.Page != "" {
		t.Errorf("a reader sees %+v", m)
	}
	var names []string
	for i := range 20 {
		name := []string{"step", "key-to Eb", "stay"}[i%3]
		if status := order(t, address, name); status == http.StatusServiceUnavailable {
			break
		} else if status != http.StatusNoContent {
			t.Fatalf("%s: %d", name, status)
		}
		names = append(names, name)
	}
	if n := len(names); n <= maxOrders || n > maxOrders+3 { // some are on their way
		t.Errorf("%d orders are let in that nobody takes", n)
	}
	for _, want := range names {
		if got := <-h.Orders(); got.String() != want {
			t.Errorf("it asks for %v, want %s", got, want)
		}
	}
}

// TestThePageGivesWayToTheBed: every thread of its process has a lower priority, and
// it is in another group than the terminal's.
func TestThePageGivesWayToTheBed(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("no /proc")
	}
	pid := hearing(t, thisMachine, false).process().Pid
	threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))
	if len(threads) < 3 {
		t.Fatalf("it has %d threads", len(threads))
	}
	for _, thread := range threads {
		text, err := os.ReadFile(thread)
		if err != nil {
			continue // it has ended
		}
		_, rest, _ := strings.Cut(string(text), ") ")
		fields := strings.Fields(rest) // from the third one on, proc_pid_stat(5)
		if group, nice := fields[2], fields[16]; nice != "10" || group != fmt.Sprint(pid) {
			t.Errorf("%s: nice %s, group %s", thread, nice, group)
		}
	}
}

// TestAPageThatDiesComesBack at its place, with a new code, as soon as that place is
// free, and shows the latest.
func TestAPageThatDiesComesBack(t *testing.T) {
	free, err := net.Listen("tcp", everywhere)
	if err != nil {
		t.Fatal(err)
	}
	free.Close()
	h := hearing(t, fmt.Sprintf("0.0.0.0:%d", free.Addr().(*net.TCPAddr).Port), false)
	code := h.Code()
	h.Show(named(1))
	h.process().Kill()
	if got := <-h.said; got != "page: its process ended; the bed goes on, and the page comes back" {
		t.Errorf("it says %q", got)
	}
	intruder, err := net.Listen("tcp", h.local.String())
	if err != nil {
		t.Fatal(err)
	}
	if got := <-h.said; got != "--page: "+h.config.Address+" is in use by another program, perhaps another bedd: close that, or name another port; bedd tries again" {
		t.Errorf("it says %q", got)
	}
	intruder.Close()
	h.Show(named(2))
	if got := <-h.codes; got == code || got != h.Code() {
		t.Errorf("the code is %q, was %q; told is %q", h.Code(), code, got)
	}
	c, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", h.local.Port()))
	if err != nil {
		t.Fatal(err)
	}
	c.Close()
}

// TestAPageThatStandsStillHoldsUpNobody, and can be closed.
func TestAPageThatStandsStillHoldsUpNobody(t *testing.T) {
	h := hearing(t, thisMachine, true)
	stop(t, h.process())
	for i := range 100_000 { // a hundred times more than the way there holds
		h.Show(named(i))
	}
	h.Close()
	for deadline := time.Now().Add(patience); ; time.Sleep(time.Millisecond) {
		c, err := net.Dial("tcp", h.local.String())
		if err != nil {
			break
		}
		c.Close()
		if time.Now().After(deadline) {
			t.Fatal("it is still there")
		}
	}
}

// TestAFaultyModelEndsNoProcess: it is told of once, and the next is shown.
func TestAFaultyModelEndsNoProcess(t *testing.T) {
	h := hearing(t, thisMachine, false)
	c, reader := read(t, h.local.String())
	defer c.Close()
	told := func() (line string) { return <-h.said }
	h.Show(glance.Model{Intensity: math.NaN()})
	if line := told(); !strings.Contains(line, "the page has a fault, and the bed goes on") {
		t.Errorf("it says %q", line)
	}
	h.Show(glance.Model{Notes: []glance.Note{{Mark: 77}}})
	h.Show(named(1))
	for {
		m, ok := reader.next()
		if !ok {
			t.Fatal("the reader is not served any more")
		}
		if m.Chord == "F" {
			break
		}
	}
	if len(h.said) > 0 {
		t.Errorf("it says %q too", <-h.said)
	}
}

// TestAPageThatCannotBeServedSaysWhy, and one whose program is another or none.
func TestAPageThatCannotBeServedSaysWhy(t *testing.T) {
	l, err := net.Listen("tcp", thisMachine)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	c := quiet()
	c.Address = l.Addr().String()
	for _, try := range []struct {
		program, arg, want string
	}{
		{os.Args[0], "page", "--page: " + c.Address + " is in use by another program, perhaps another bedd: close that, or name another port"},
		{"/bin/sh", "-c", "--page: the process that serves it ended at once"},
		{"/nowhere/bedd", "page", "--page: fork/exec /nowhere/bedd: no such file or directory"},
	} {
		args := []string{try.arg}
		if try.arg == "-c" {
			args = append(args, "echo nonsense")
		}
		if p, err := Start(try.program, args, c); p != nil || err == nil || err.Error() != try.want {
			t.Errorf("%s: %v, want %s", try.program, err, try.want)
		}
	}
}

// TestServeEndsWithItsBedd: when nobody tells it any more, it gives up its port; by
// itself it does nothing.
func TestServeEndsWithItsBedd(t *testing.T) {
	for _, nothing := range []string{"", "nonsense\n", "{}\n", `{"model":{}}` + "\n"} {
		if err := serveLines(strings.NewReader(nothing), io.Discard); err != ErrAlone {
			t.Errorf("%q: %v", nothing, err)
		}
	}
	in, tell := io.Pipe()
	hears, out := io.Pipe()
	ended := make(chan error)
	go func() { ended <- serveLines(in, out) }()
	if err := newTeller(tell).send(toPage{Open: &opening{Address: thisMachine}}); err != nil {
		t.Fatal(err)
	}
	said, err := newLines[fromPage](hears).next()
	if err != nil || said.Opened == "" || said.Code != "" {
		t.Fatalf("%+v, %v", said, err)
	}
	tell.Close()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	if _, err := net.Dial("tcp", said.Opened); err == nil {
		t.Error("it is still served")
	}
}

// FuzzHear: whatever the page's process says, its bedd only gets orders that a rig
// could have given.
func FuzzHear(f *testing.F) {
	for _, s := range []string{`{"order":"step"}`, `{"order":"explode"}`, `{"say":"x"}`, `{"code":"123 456"}`, "{", "", "\x00", `{"order":"key-to Eb"}`, `[]`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		p := &Process{config: quiet()}
		orders := make(chan gathering.Order, 1)
		says := newLines[fromPage](bytes.NewReader(text))
		for said, err := says.next(); err == nil; said, err = says.next() {
			p.hear(said, orders)
			select {
			case o := <-orders:
				if again, err := gathering.ParseOrder(o.String()); err != nil || again != o {
					t.Errorf("%q is the order %v", text, o)
				}
			default:
			}
		}
	})
}
