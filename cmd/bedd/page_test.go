package main

import (
	"bufio"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"syscall"
	"testing"

	"bedd/internal/glance"
	"bedd/internal/page"
)

// freeAddress is an address of this machine that nobody serves.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// TestThePagesAddressMayStandApart from its flag, as every other value may.
func TestThePagesAddressMayStandApart(t *testing.T) {
	for _, c := range []struct {
		args    []string
		address string
		rest    []string
	}{
		{[]string{"--page"}, page.DefaultAddress, nil},
		{[]string{"--page", "0.0.0.0:62333"}, "0.0.0.0:62333", nil},
		{[]string{"--page", ":8080", "winter-lights"}, "0.0.0.0:8080", []string{"winter-lights"}},
		{[]string{"winter-lights", "--page"}, page.DefaultAddress, []string{"winter-lights"}},
		{[]string{"--page=localhost:8080", "winter-lights"}, "127.0.0.1:8080", []string{"winter-lights"}},
		{[]string{"--page", "[::1]:8080"}, "[::1]:8080", nil},
		{[]string{"C:8080"}, "", []string{"C:8080"}},
		{nil, "", nil},
	} {
		f := new(playFlags)
		cmd := f.command()
		if err := cmd.ParseFlags(c.args); err != nil {
			t.Fatal(err)
		}
		rest, err := f.page.check(cmd.Flags().Args())
		if err != nil || f.page.address != c.address || !slices.Equal(rest, c.rest) {
			t.Errorf("%q: %q and %q, %v; want %q and %q", c.args, f.page.address, rest, err, c.address, c.rest)
		}
	}
}

// TestAPortInUseIsSaidPlainly before anything sounds or is written.
func TestAPortInUseIsSaidPlainly(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	address := l.Addr().String()
	r := bedd(t, "play", "--player", demo, "--no-sound", "--page", address)
	if want := "bedd: --page: " + address + " is in use by another program, perhaps another bedd: close that, or name another port\n"; r.code != exitFailed || r.stderr != want {
		t.Errorf("exit %d, %q, want %q", r.code, r.stderr, want)
	}
}

// TestPlayServesThePage: a whole bedd, seen and played by its page. An order is
// carried out and shown, and the page ends with the run.
func TestPlayServesThePage(t *testing.T) {
	address := freeAddress(t)
	cmd := exec.Command(binary, "play", "winter-lights", "--player", demo, "--no-sound", "--page", address, "--page-control")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	said := bufio.NewScanner(out)
	for said.Scan() && said.Text() != "page: http://"+address+"/" {
	}
	events, err := http.Get("http://" + address + "/events?transpose=-1")
	if err != nil {
		t.Fatal(err)
	}
	defer events.Body.Close()
	if events.StatusCode != http.StatusOK {
		t.Fatal(events.Status)
	}
	lines := bufio.NewScanner(events.Body)
	until := func(what string, ok func(m glance.Model) bool) {
		t.Helper()
		for lines.Scan() {
			data, isData := strings.CutPrefix(lines.Text(), "data: ")
			var m glance.Model
			if !isData {
				continue
			}
			if err := json.Unmarshal([]byte(data), &m); err != nil {
				t.Fatalf("%s: %v", data, err)
			}
			if ok(m) {
				return
			}
		}
		t.Fatalf("the events end before %s: %v", what, lines.Err())
	}
	until("the first moment", func(m glance.Model) bool {
		return m.Title == "the last words of Maud Terrick's talk, then Salt on the Window" && m.Key == "Eb" && m.Fingers == "D" && m.Chord == "D" && !m.Sounds
	})
	order := func(name string) {
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
		if answer.StatusCode != http.StatusNoContent {
			t.Fatalf("%s: %s", name, answer.Status)
		}
	}
	order("bring-in")
	until("the bed has come in", func(m glance.Model) bool { return m.Sounds && m.Chord == "D" })
	order("step")
	until("the next chord", func(m glance.Model) bool { return m.Chord != "D" })
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	for lines.Scan() { // to the end of the page
	}
	_, _ = io.Copy(io.Discard, out)
	if err := cmd.Wait(); err != nil {
		t.Error(err)
	}
	if _, err := http.Get("http://" + address + "/"); err == nil {
		t.Error("the page is still there")
	}
}

// TestThePagesProcessIsNothingByItself, whoever starts it by hand.
func TestThePagesProcessIsNothingByItself(t *testing.T) {
	if r := bedd(t, "page"); r.code != exitFailed || r.stderr != "bedd: a page is nothing by itself: bedd play --page starts it\n" || r.stdout != "" {
		t.Errorf("exit %d, %q, %q", r.code, r.stdout, r.stderr)
	}
}

// TestAKilledBeddGivesUpItsPort: the next one serves its page there at once.
func TestAKilledBeddGivesUpItsPort(t *testing.T) {
	address := freeAddress(t)
	for range 3 {
		cmd := exec.Command(binary, "play", "winter-lights", "--player", demo, "--no-sound", "--page", address)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		var errs strings.Builder
		cmd.Stderr = &errs
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		served := false
		for said := bufio.NewScanner(out); !served && said.Scan(); {
			served = said.Text() == "page: http://"+address+"/"
		}
		if answer, err := http.Get("http://" + address + "/"); !served || err != nil {
			t.Errorf("there is no page: %v, %s", err, errs.String())
		} else {
			answer.Body.Close()
		}
		cmd.Process.Kill()
		_ = cmd.Wait()
	}
}

// TestTheCodeIsForThePlayersEyes: the terminal's model has it, and what goes to
// the readers has not.
func TestTheCodeIsForThePlayersEyes(t *testing.T) {
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer null.Close()
	l := liveRun{screen: newScreen(null, newMishaps())}
	defer l.screen.close()
	_, port, _ := net.SplitHostPort(freeAddress(t))
	if err := l.openPage(&pageFlags{address: "0.0.0.0:" + port, program: binary}); err != nil {
		t.Fatal(err)
	}
	defer l.closePage()
	code := l.page.Code()
	invitation := l.invitation()
	if code == "" || !strings.HasPrefix(invitation, "code "+code+" at http://") {
		t.Errorf("the terminal shows %q, the code is %q", invitation, code)
	}
	data, err := json.Marshal(glance.Model{Page: invitation})
	if err != nil || strings.Contains(string(data), code) || strings.Contains(string(data), "http") {
		t.Errorf("readers get %s, %v", data, err)
	}
	if shown := glance.Draw(glance.Model{Page: invitation}, 120, 24); !strings.Contains(shown, code) {
		t.Errorf("the terminal shows\n%s", shown)
	}
}
