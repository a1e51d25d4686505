//go:build cgo && linux

package sound

import (
	"bufio"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// pulse starts a PulseAudio server of our own with one silent output, and gives
// what kills it.
func pulse(t *testing.T, server string) (kill func()) {
	t.Helper()
	cmd := exec.Command(server, "-n", "-vv", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no", "--log-target=stderr",
		"-L", "module-null-sink sink_name=stage", "-L", "module-native-protocol-unix")
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	started, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		for lines := bufio.NewScanner(log); lines.Scan(); {
			if strings.Contains(lines.Text(), "startup complete") {
				close(started)
				break
			}
		}
		_, _ = io.Copy(io.Discard, log)
	}()
	kill = func() {
		_ = cmd.Process.Kill()
		<-ended
		_ = cmd.Wait()
	}
	select {
	case <-started:
	case <-ended:
		kill()
		t.Skip("PulseAudio does not start here")
	}
	return kill
}

// A real sound server that dies under the sound and comes back.
func TestCardSurvivesItsSoundServer(t *testing.T) {
	server, err := exec.LookPath("pulseaudio")
	if err != nil {
		t.Skip("needs pulseaudio")
	}
	dir := t.TempDir()
	for _, name := range []string{"HOME", "XDG_RUNTIME_DIR", "PULSE_RUNTIME_PATH"} {
		t.Setenv(name, dir)
	}
	t.Setenv("PULSE_SERVER", "") // whatever the tester's own is
	os.Unsetenv("PULSE_SERVER")
	told, filled := make(chan string, 16), make(chan bool, 1)
	hear := func(what string, told <-chan string, filled <-chan bool) (got string) {
		t.Helper()
		select {
		case got = <-told:
		case <-filled:
		case <-time.After(time.Minute): // only so that a failure ends
			t.Fatalf("waited a minute for %s", what)
		}
		return got
	}
	kill := pulse(t, server)
	card, err := OpenCard(CardConfig{
		Rate: 48000, Frames: 256,
		Fill: func(out []float32) {
			clear(out)
			select {
			case filled <- true:
			default:
			}
		},
		Restart: func() {},
		Changed: func(name string) { told <- name },
	})
	if err != nil {
		kill()
		t.Fatal(err)
	}
	defer card.Close()
	first := hear("the first card", told, nil)
	hear("its blocks", nil, filled)
	kill()
	if gone := hear("the card to go", told, nil); gone != "" {
		t.Fatalf("told of %q, want that the card went", gone)
	}
	<-filled // one that may have been asked for before
	hear("blocks from the clock", nil, filled)
	kill = pulse(t, server)
	defer kill()
	if again := hear("the card to come back", told, nil); again != first || first == "" {
		t.Errorf("first on %q, then on %q, want the same again", first, again)
	}
	<-filled
	hear("its blocks again", nil, filled)
}
