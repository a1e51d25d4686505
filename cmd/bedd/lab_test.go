package main

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// recording is what a program of ALSA's own heard at the output's other side.
type recording struct {
	cmd *exec.Cmd
	out bytes.Buffer
}

func record(t *testing.T, device string) *recording {
	t.Helper()
	r := &recording{cmd: exec.Command("amidi", "-p", device, "-d")}
	r.cmd.Stdout = &r.out
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(200 * time.Millisecond) // it says nothing when it listens
	return r
}

// stop gives the messages heard, whole, with their status bytes.
func (r *recording) stop(t *testing.T) (msgs [][]byte) {
	t.Helper()
	time.Sleep(300 * time.Millisecond)
	r.cmd.Process.Signal(os.Interrupt)
	r.cmd.Wait()
	status := byte(0)
	for _, line := range strings.Split(r.out.String(), "\n") {
		// amidi writes two digits a byte; where the status byte is the same as
		// before, blanks.
		var msg []byte
		for line = strings.TrimRight(line, " "); len(line) >= 2; line = line[2:] {
			if b, err := strconv.ParseUint(line[:2], 16, 8); err == nil {
				msg = append(msg, byte(b))
			}
		}
		if len(msg) == 0 {
			continue
		}
		if msg[0] < 0x80 {
			msg = append([]byte{status}, msg...)
		}
		status = msg[0]
		msgs = append(msgs, msg)
	}
	return msgs
}

func sendRaw(t *testing.T, hex string) {
	t.Helper()
	if out, err := exec.Command("amidi", "-p", "hw:0,0", "-S", hex).CombinedOutput(); err != nil {
		t.Fatalf("amidi: %v\n%s", err, out)
	}
}

// Whatever ends bedd while it plays on a real sequencer, nothing sounds
// afterwards; until then the piano goes through and the bed changes.
func TestLabEndings(t *testing.T) {
	if os.Getenv("LAB_ALSA") != "1" {
		t.Skip("needs a real ALSA sequencer: run scripts/test-alsa")
	}
	for _, ending := range []syscall.Signal{syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP} {
		for round := range 5 {
			heard := record(t, "hw:0,1")
			cmd := exec.Command(binary, "play", "--in", "VirMIDI 0-0", "--out", "VirMIDI 0-1")
			says, err := cmd.StdoutPipe()
			if err != nil {
				t.Fatal(err)
			}
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			lines := bufio.NewScanner(says)
			for lines.Scan() && !strings.HasPrefix(lines.Text(), "listens to") {
			}
			time.Sleep(300 * time.Millisecond)
			played := [][]byte{{0x90, 0x3C, 0x64}, {0x90, 0x40, 0x50}, {0x80, 0x3C, 0x40}}
			sendRaw(t, "90 3C 64")
			sendRaw(t, "B0 50 7F")
			sendRaw(t, "90 40 50")
			sendRaw(t, "B0 50 00")
			time.Sleep(time.Duration(100+150*round) * time.Millisecond)
			sendRaw(t, "B0 50 7F")
			sendRaw(t, "80 3C 40") // the other key stays down
			cmd.Process.Signal(ending)
			for lines.Scan() {
			}
			if err := cmd.Wait(); err != nil {
				t.Errorf("%v round %d: bedd ends with %v", ending, round, err)
			}
			on := map[[2]byte]int{}
			var through [][]byte
			bedNotes := 0
			for _, m := range heard.stop(t) {
				key := [2]byte{m[0] & 15, m[1]}
				switch {
				case m[0]&0xF0 == 0x90 && m[2] > 0:
					on[key]++
					if key[0] == 1 {
						bedNotes++
					}
				case m[0]&0xF0 == 0x80 || m[0]&0xF0 == 0x90:
					on[key]--
				}
				if key[0] == 0 {
					through = append(through, m)
				}
			}
			for key, n := range on {
				if n != 0 {
					t.Errorf("%v round %d: channel %d note %d has %d ons more than offs", ending, round, key[0]+1, key[1], n)
				}
			}
			if len(through) < len(played) || !slices.EqualFunc(through[:len(played)], played, bytes.Equal) {
				t.Errorf("%v round %d: through came % X, want % X first", ending, round, through, played)
			}
			if bedNotes < 4 {
				t.Errorf("%v round %d: the bed struck %d notes", ending, round, bedNotes)
			}
		}
	}
}
