package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// flood is what a player sends: a thousand messages a second, each told from its
// neighbours, every note with its end. Two in a thousand are a foot's, ten the pedal's.
func flood(i int) (msg []byte, through bool) {
	switch {
	case i%1000 == 0:
		return []byte{0xB0, 80, 127}, false
	case i%1000 == 200:
		return []byte{0xB0, 80, 0}, false
	case i%100 == 51:
		return []byte{0xB0, 11, byte(i / 100 % 128)}, false
	case i%4 == 0:
		return []byte{0x90, byte(i / 4 % 128), byte(1 + i/512%127)}, true
	case i%4 == 2:
		return []byte{0x80, byte(i / 4 % 128), byte(i / 512 % 128)}, true
	}
	return []byte{0xE0, byte(i % 128), byte(i / 128 % 128)}, true
}

// listener hears the flood at the other side of bedd.
type listener struct {
	mu      sync.Mutex
	next    int // message of the flood
	sent    int // messages of the flood so far
	through int
	bed     int // messages
	on      [16][128]bool
	strikes int
	fault   string
	pending []byte // of a message that has not come as a whole
}

// due gives the next message that is to come through.
func (l *listener) due() []byte {
	for ; ; l.next++ {
		if msg, through := flood(l.next); through {
			return msg
		}
	}
}

// read takes bytes, in which a status byte may stand for several messages.
func (l *listener) read(from io.Reader) {
	buf := make([]byte, 4096)
	for {
		n, err := from.Read(buf)
		if err != nil {
			return
		}
		l.mu.Lock()
		for _, b := range buf[:n] {
			if b >= 0x80 {
				l.pending = l.pending[:0]
			}
			l.pending = append(l.pending, b)
			if len(l.pending) == size(l.pending[0]) {
				l.take(l.pending)
				l.pending = l.pending[:1]
			}
		}
		l.mu.Unlock()
	}
}

// size gives how long a channel message is.
func size(status byte) int {
	if kind := status & 0xF0; kind == 0xC0 || kind == 0xD0 {
		return 2
	}
	return 3
}

func (l *listener) take(msg []byte) {
	switch {
	case l.fault != "":
	case msg[0]&15 == 0:
		if due := l.due(); l.next >= l.sent || !bytes.Equal(msg, due) {
			l.fault = fmt.Sprintf("message %d of the player's should be % X and is % X", l.next, due, msg)
		}
		l.next++
		l.through++
	default:
		l.bed++
		if kind, on := msg[0]&0xF0, &l.on[msg[0]&15][msg[1]]; kind == 0x90 || kind == 0x80 {
			if *on == (kind == 0x90) {
				l.fault = fmt.Sprintf("the bed's % X comes twice", msg)
			}
			if *on = kind == 0x90; *on {
				l.strikes++
			}
		}
	}
}

// process is what the kernel says of a process.
type process struct{ anonymous, threads, descriptors int } // memory in KiB

func lookAt(t *testing.T, pid int) (p process) {
	t.Helper()
	dir := fmt.Sprintf("/proc/%d/", pid)
	status, err := os.ReadFile(dir + "status")
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(status), "\n") {
		words := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "RssAnon:"):
			p.anonymous, _ = strconv.Atoi(words[1])
		case strings.HasPrefix(line, "Threads:"):
			p.threads, _ = strconv.Atoi(words[1])
		}
	}
	open, _ := filepath.Glob(dir + "fd/*")
	p.descriptors = len(open)
	return p
}

// perTaken is what the take needs of a message, in bytes, and has room for from the
// start, which counts as memory when it is written to.
const perTaken = 24 + 3

// Five minutes at a thousand messages a second, feet and pedal among them: what is
// the player's comes through in full and in order, the bed's notes start and end in
// turn, and bedd needs no more memory, but for what the take keeps, no more threads
// and descriptors at the end than after the first minute.
func TestLabFiveMinutes(t *testing.T) {
	needLab(t)
	const length, every, burst = 5 * time.Minute, 10 * time.Millisecond, 10
	synth, err := os.Open("/dev/snd/midiC0D1")
	if err != nil {
		t.Fatal(err)
	}
	defer synth.Close()
	keys, err := os.OpenFile("/dev/snd/midiC0D0", os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer keys.Close()
	var l listener
	go l.read(synth)
	// Memory in large pages would come two megabytes at a time; bedd inherits this.
	if err := unix.Prctl(unix.PR_SET_THP_DISABLE, 1, 0, 0, 0); err != nil {
		t.Fatal(err)
	}
	running, err := start(exec.Command(binary, "play", "--in", lane(0).in(), "--out", lane(0).out()))
	if err != nil {
		t.Fatal(err)
	}
	pid := running.cmd.Process.Pid
	var first, most process
	var buf []byte
	begin := time.Now()
	behind := time.Duration(0)
	for i := 0; i < int(length/every); i++ {
		time.Sleep(time.Until(begin.Add(time.Duration(i) * every)))
		behind = max(behind, time.Since(begin)-time.Duration(i)*every)
		buf = buf[:0]
		for k := range burst {
			msg, _ := flood(i*burst + k)
			buf = append(buf, msg...)
		}
		l.mu.Lock()
		l.sent = (i + 1) * burst
		fault, taken := l.fault, l.through+l.bed
		l.mu.Unlock()
		if _, err := keys.Write(buf); err != nil || fault != "" {
			t.Fatal(err, fault)
		}
		if i%1000 != 999 { // ten seconds
			continue
		}
		now := lookAt(t, pid)
		now.anonymous -= taken * perTaken / 1024
		t.Logf("%v: %d KiB besides the take's messages, %d threads, %d descriptors", time.Since(begin).Round(time.Second), now.anonymous, now.threads, now.descriptors)
		switch {
		case i < 6000:
		case i < 7000:
			first, most = now, now
		default:
			most = process{max(most.anonymous, now.anonymous), max(most.threads, now.threads), max(most.descriptors, now.descriptors)}
		}
	}
	time.Sleep(time.Second)
	took := time.Since(begin)
	running.cmd.Process.Signal(syscall.SIGTERM)
	if err := running.wait(); err != nil {
		t.Error(err)
	}
	time.Sleep(300 * time.Millisecond)
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.due(); l.fault != "" || l.next < l.sent {
		t.Errorf("%d of %d messages came through: %s", l.next, l.sent, l.fault)
	}
	if l.strikes < 300 || l.on != [16][128]bool{} {
		t.Errorf("%d strikes of the bed's; on at the end: %v", l.strikes, l.on)
	}
	if most.anonymous > first.anonymous+first.anonymous/10 || most.threads > first.threads || most.descriptors > first.descriptors {
		t.Errorf("after a minute %+v, later as much as %+v", first, most)
	}
	t.Logf("%d messages in %v, at most %v behind; %d came through, %d of the bed's, %d of them strikes",
		l.sent, took.Round(time.Second), behind.Round(time.Millisecond), l.through, l.bed, l.strikes)
}
