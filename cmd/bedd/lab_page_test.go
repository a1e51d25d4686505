package main

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// crowds are what may beset the page, by the words that start one.
const (
	readersCrowd  = "fifty readers, ten of them slow, and twenty half-open connections"
	knockersCrowd = "strangers"
	doorCrowd     = "another door" // which shuts at once, whoever comes
)

// beset is one of them, as a process of its own with the lowest priority: what they
// themselves cost is not to be bedd's. It says how much they did, once its input ends.
func beset(crowd, address string) int {
	gone := make(chan struct{})
	go func() {
		io.Copy(io.Discard, os.Stdin)
		close(gone)
		if crowd == doorCrowd {
			os.Exit(0)
		}
	}()
	if crowd == doorCrowd {
		l, err := net.Listen("tcp", address)
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		fmt.Println("here")
		for c, err := l.Accept(); err == nil; c, err = l.Accept() {
			c.(*net.TCPConn).SetLinger(0)
			c.Close()
		}
	}
	if crowd == knockersCrowd {
		fmt.Println("here")
		n := 0
		for {
			select {
			case <-gone:
				fmt.Println(n, "requests")
				return 0
			default:
				n += knock(address)
			}
		}
	}
	var updates atomic.Int64
	for i := range 70 {
		c := insist(address)
		defer c.Close()
		switch {
		case i >= 50:
			fmt.Fprint(c, "GET /events HTTP/1.1\r\nHost: ")
		case i%5 == 0:
			fmt.Fprintf(c, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", address)
		default:
			fmt.Fprintf(c, "GET /events HTTP/1.1\r\nHost: %s\r\n\r\n", address)
			go func() {
				for lines := bufio.NewScanner(c); lines.Scan(); {
					if strings.HasPrefix(lines.Text(), "data:") {
						updates.Add(1)
					}
				}
			}()
		}
	}
	fmt.Println("here")
	<-gone
	fmt.Println(updates.Load(), "updates")
	return 0
}

// insist connects as soon as it is let in.
func insist(address string) net.Conn {
	for {
		if c, err := net.Dial("tcp", address); err == nil {
			return c
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// knock sends as many hostile requests as go onto one connection, twenty at most, and
// gives how many.
func knock(address string) (requests int) {
	c, err := net.DialTimeout("tcp", address, time.Second)
	if err != nil {
		return 0
	}
	defer c.Close()
	const request = "GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n"
	c.SetDeadline(time.Now().Add(time.Second))
	n, err := io.WriteString(c, strings.Repeat(request, 20))
	if err == nil {
		c.(*net.TCPConn).CloseWrite()
		io.Copy(io.Discard, c)
	}
	return n / len(request)
}

// besiege lets a crowd come to an address until end is called, which gives how much it
// did.
func besiege(t *testing.T, crowd, address string) (end func() string) {
	t.Helper()
	cmd := exec.Command("nice", "-n", "19", os.Args[0])
	cmd.Env = append(os.Environ(), "BEDD_TEST_CROWD="+crowd, "BEDD_TEST_ADDRESS="+address)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	says := bufio.NewScanner(out)
	if !says.Scan() {
		t.Fatal("the crowd does not come")
	}
	return func() string {
		in.Close()
		says.Scan()
		cmd.Wait()
		return says.Text()
	}
}

// turns is how long the threads of a process have had the processor and have waited
// for it when they wanted it, and how often they got it (the kernel's
// Documentation/scheduler/sched-stats.rst).
type turns struct {
	ran, waited time.Duration
	times       int64
}

func turnsOf(t *testing.T, pid int) (sum turns) {
	t.Helper()
	threads, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", pid))
	for _, thread := range threads {
		var one turns
		if text, err := os.ReadFile(thread); err == nil {
			fmt.Sscan(string(text), &one.ran, &one.waited, &one.times)
		}
		sum = sum.plus(one, 1)
	}
	return sum
}

func (a turns) plus(b turns, sign int64) turns {
	return turns{a.ran + time.Duration(sign)*b.ran, a.waited + time.Duration(sign)*b.waited, a.times + sign*b.times}
}

// TestMeasureLatencyBesideThePage is how long a key's note takes while nobody looks
// at the page, while fifty do, while strangers knock as fast as they can, and, for
// what their knocking itself costs this machine, while they knock at another door: in
// turn, so that what else the machine does meets all of them alike.
func TestMeasureLatencyBesideThePage(t *testing.T) {
	address, other := freeAddress(t), freeAddress(t)
	m, running := metered(t, "--page="+address)
	defer besiege(t, doorCrowd, other)()
	m.until(0x91, 0xB0, 80, 127) // the bed sounds, and there is something to see
	sieges := []struct{ name, crowd, address string }{
		{"nobody looks", "", ""}, {readersCrowd, readersCrowd, address},
		{"strangers at the page", knockersCrowd, address}, {"strangers at another door", knockersCrowd, other},
	}
	took, own, lasted := make([][]time.Duration, len(sieges)), make([]turns, len(sieges)), make([]time.Duration, len(sieges))
	for round := range 3 {
		for i, s := range sieges {
			end := func() string { return "" }
			if s.crowd != "" {
				end = besiege(t, s.crowd, s.address)
			}
			start, before := time.Now(), turnsOf(t, running.cmd.Process.Pid)
			for key := range 100 {
				took[i] = append(took[i], m.until(0x90, 0x90, byte(key), 60))
				time.Sleep(10 * time.Millisecond)
				m.until(0x80, 0x80, byte(key), 64)
				time.Sleep(10 * time.Millisecond)
			}
			own[i] = own[i].plus(turnsOf(t, running.cmd.Process.Pid).plus(before, -1), 1)
			lasted[i] += time.Since(start)
			if did := end(); did != "" {
				t.Logf("round %d, %s: %s in %v", round, s.name, did, time.Since(start).Round(100*time.Millisecond))
			}
		}
	}
	for i, s := range sieges {
		t.Logf("a key's note, %-30s %s; bedd runs %.1f %% of the time and waits %v for each turn", s.name, quantiles(took[i]),
			100*own[i].ran.Seconds()/lasted[i].Seconds(), (own[i].waited / time.Duration(max(own[i].times, 1))).Round(time.Microsecond))
	}
	running.cmd.Process.Signal(syscall.SIGTERM)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
}
