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

// What is played into a real sound server's silent output is what its monitor, the
// server's default input, gives back: a sine of 1 kHz at its level.
func TestInputHearsTheSoundServer(t *testing.T) {
	server, err := exec.LookPath("pulseaudio")
	if err != nil {
		t.Skip("needs pulseaudio")
	}
	dir := t.TempDir()
	for _, name := range []string{"HOME", "XDG_RUNTIME_DIR", "PULSE_RUNTIME_PATH"} {
		t.Setenv(name, dir)
	}
	t.Setenv("PULSE_SERVER", "")
	os.Unsetenv("PULSE_SERVER")
	defer pulse(t, server)()
	tone, err := NewTone(ToneConfig{Rate: 48000, Hz: 1000, LevelDB: -60, Side: Right})
	if err != nil {
		t.Fatal(err)
	}
	card, err := OpenDevice(48000, 1024, tone.Render, func() {})
	if err != nil {
		t.Skip("PulseAudio has no output here: ", err)
	}
	defer card.Close()
	blocks := make(chan []float32, 64)
	in, err := OpenInput(48000, 1024, "", func(block []float32) {
		select {
		case blocks <- append([]float32(nil), block...):
		default:
		}
	}, func() {})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	over := time.After(time.Minute) // only so that a failure ends
	for heard := []float32(nil); ; {
		select {
		case block := <-blocks:
			if heard = append(heard, block...); len(heard) < 2*24000 {
				continue
			}
			s := spectrumOf(heard, 48000)
			// Half of the right side alone, as the two are taken together: −60 − 6 − 3 dB.
			if got := s.bandDB(900, 1100); got > -69.5 && got < -68.5 && s.bandDB(2000, 20000) < -90 {
				if in.Name() == "" {
					t.Error("the input has no name")
				}
				return
			}
			heard = nil
		case <-over:
			t.Fatal("in a minute the tone never came back")
		}
	}
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
