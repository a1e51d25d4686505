package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"bedd/internal/session"

	"golang.org/x/sys/unix"
)

// stream is what a player sends: a thousand messages a second, each told from its
// neighbours, every note with its end. Two in a thousand are a foot's, ten the
// pedal's. The rest are values of four controls, none of which is thinned at 125 a
// second, also when some come late and at once.
func stream(i int) (msg []byte, through bool) {
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
	if controller := []byte{0, 1, 2, 74}[i/2%4]; controller > 0 {
		return []byte{0xB0, controller, byte(i / 8 % 128)}, true
	}
	return []byte{0xE0, byte(i % 128), byte(i / 128 % 128)}, true
}

// listener hears the stream at the other side of bedd.
type listener struct {
	mu      sync.Mutex
	next    int // message of the stream
	sent    int // messages of the stream so far
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
		if msg, through := stream(l.next); through {
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

// perTaken is what the take needs of a message, in bytes. It has room for
// session.MaxTake from the start, which counts as memory when it is written to: with
// the messages, or at once where Go takes memory again that has been used before.
const perTaken = 24 + 3

// grown gives how much memory, in KiB, the take's messages have come to need since
// the start, judged by what the process had early on.
func grown(early process, taken int) int {
	if early.anonymous > session.MaxTake*perTaken/1024 {
		return 0
	}
	return taken * perTaken / 1024
}

// stoodStill is how late a burst may be before the machine counts as having stood
// still. What was missed is not sent in a rush afterwards: that would be another
// rate, and two seconds of it are more than the kernel keeps for a program that
// stands still too.
const stoodStill = 100 * time.Millisecond

// rareThreads is by how many threads Go may have more after five minutes than after
// one. It starts one whenever all that it has happen to wait in the kernel at once, and
// keeps it; what leaked one for a message, a chord or a second would need hundreds.
const rareThreads = 2

// Five minutes at a thousand messages a second, feet and pedal among them: what is
// the player's comes through in full and in order, the bed's notes start and end in
// turn, and bedd needs no more memory, but for what the take keeps, no more
// descriptors, and no more threads but a rare one, at the end than after the first
// minute.
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
	running, err := start(exec.Command(binary, "play", "--baud", "off", "--in", lane(0).in(), "--out", lane(0).out()))
	if err != nil {
		t.Fatal(err)
	}
	var early, first, most process
	var buf []byte
	begin, stood := time.Now(), time.Duration(0)
	for i, due := 0, begin; i < int(length/every); i, due = i+1, due.Add(every) {
		time.Sleep(time.Until(due))
		if late := time.Since(due); late > stoodStill {
			due, stood = due.Add(late), stood+late
		}
		buf = buf[:0]
		for k := range burst {
			msg, _ := stream(i*burst + k)
			buf = append(buf, msg...)
		}
		taken, fault := l.expect((i + 1) * burst)
		if _, err := keys.Write(buf); err != nil || fault != "" {
			t.Error(err, fault)
			break
		}
		if i%1000 != 999 { // ten seconds
			continue
		}
		now := lookAt(t, running.cmd.Process.Pid)
		if i < 1000 {
			early = now
		}
		now.anonymous -= grown(early, taken)
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
	said, err := running.rest()
	if err != nil {
		t.Error(err)
	}
	time.Sleep(300 * time.Millisecond)
	l.judge(t, said)
	if most.anonymous > first.anonymous+first.anonymous/10 || most.threads > first.threads+rareThreads || most.descriptors > first.descriptors {
		t.Errorf("after a minute %+v, later as much as %+v", first, most)
	}
	t.Logf("%d messages in %v, of which the machine stood still %v; %d came through, %d of the bed's, %d of them strikes",
		l.sent, took.Round(time.Second), stood.Round(time.Millisecond), l.through, l.bed, l.strikes)
}

// expect says how much of the stream is on its way, and gives how many messages have
// come, and what was wrong with them.
func (l *listener) expect(sent int) (came int, fault string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sent = sent
	return l.through + l.bed, l.fault
}

// judge finds what is wrong when all has come that will. What it may come from is in
// bedd's last words and in what the kernel had no room for before the listener.
func (l *listener) judge(t *testing.T, said []string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.due(); l.fault != "" || l.next < l.sent {
		device, _ := os.ReadFile("/proc/asound/card0/midi1")
		words := strings.Fields(string(device))
		overruns := words[min(slices.Index(words, "Overruns")+2, len(words)-1)]
		t.Errorf("%d of %d messages came through: %s\nthe listener's device had no room for %s bytes, bedd says\n%s",
			l.next, l.sent, l.fault, overruns, strings.Join(said[max(len(said)-10, 0):], "\n"))
	}
	for ch := range l.on {
		for key, on := range l.on[ch] {
			if on {
				t.Errorf("at the end key %d of channel %d is on", key, ch+1)
			}
		}
	}
	if l.strikes < 300 {
		t.Errorf("only %d strikes of the bed's", l.strikes)
	}
	for _, line := range said {
		if strings.Contains(line, "lost messages") || strings.Contains(line, "faster than the bed could take") {
			t.Error(line)
		}
	}
}
