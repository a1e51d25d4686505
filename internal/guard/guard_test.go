//go:build unix

package guard

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"bedd/internal/midiio"
	"bedd/internal/midiio/porttest"
)

// The test binary also plays a bedd, and its guard, in processes of their own.
func TestMain(m *testing.M) {
	switch os.Getenv("GUARD_TEST") {
	case "bedd":
		os.Setenv("GUARD_TEST", "guard")
		bedd(os.Getenv("GUARD_END"))
	case "guard":
		guard(os.Getenv("GUARD_HEARD"))
	default:
		os.Exit(m.Run())
	}
}

var (
	synthOut = midiio.PortInfo{Way: midiio.Out, Name: "Module"}
	keysIn   = midiio.PortInfo{Way: midiio.In, Name: "Keys"}
)

// bedd strikes three notes, lets one go, and ends.
func bedd(how string) {
	dir, err := LockDir()
	if err != nil {
		panic(err)
	}
	record, err := NewRecord(dir)
	if err != nil {
		panic(err)
	}
	p, err := Start(os.Args[0], nil, Duty{
		Outs: []midiio.PortInfo{synthOut, {Way: midiio.Out, Name: "Gone"}}, Ins: []midiio.PortInfo{keysIn},
		Routes: []Route{{In: 0, Out: 0}}, Record: record.Name(),
	})
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	for _, msg := range [][]byte{{0x90, 60, 9}, {0x91, 36, 9}, {0xB0, 64, 127}, {0x91, 48, 9}, {0x81, 36, 9}} {
		p.Board.Page(0).Before(msg)
		p.Board.Page(0).After(msg)
	}
	switch how {
	case "killed":
		syscall.Kill(os.Getpid(), syscall.SIGKILL)
	case "crashed":
		go func() { panic(how) }()
		select {}
	case "well":
		if err := p.Dismiss(); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
	}
}

// guard writes down what its synth heard, in a file.
func guard(heard string) {
	system := new(porttest.System)
	port, keys := system.Plug(synthOut), system.Plug(keysIn)
	err := Serve(func() (midiio.System, error) { return system, nil })
	system.Play(keys, 0x90, 72, 80)
	text := fmt.Sprintf("%X", system.Sent(port))
	if err != nil {
		text += " " + err.Error()
	}
	if err := os.WriteFile(heard+".new", []byte(text), 0o600); err != nil {
		panic(err)
	}
	if err := os.Rename(heard+".new", heard); err != nil {
		panic(err)
	}
}

// A program that has no room when bedd dies gets the ends once it has, another waits
// for nothing, and one that takes none at all is given up and told.
func TestEndsWaitForRoom(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := new(porttest.System)
		var infos []midiio.PortInfo
		b, f, err := NewBoard(3, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		defer b.Close()
		for i, name := range []string{"Stuck", "Slow", "Quick"} {
			infos = append(infos, s.Plug(midiio.PortInfo{Way: midiio.Out, Name: name}))
			b.Page(i).Before([]byte{0x90, 60, 9})
			b.Page(i).Before([]byte{0x90, 64, 9})
		}
		outs := OpenOutputs(s, infos)
		s.Slow(infos[0], 0)
		s.Slow(infos[1], 3)
		go func() {
			time.Sleep(100 * time.Millisecond)
			for i, want := range []int{0, 1, 2} {
				if n := len(s.Sent(infos[i])); n != want {
					t.Errorf("while it has no room %s gets %d messages, want %d", infos[i].Name, n, want)
				}
			}
			s.Fast(infos[1])
		}()
		err = outs.End(b)
		if want := "Stuck: 2 messages were left out: " + midiio.ErrSlow.Error(); err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
		if got := fmt.Sprintf("%X", s.Sent(infos[1])); got != "[804040]" {
			t.Errorf("then it gets %s", got)
		}
	})
}

// run ends a bedd in some way and gives what its guard then had the synth hear,
// also of a key that is pressed later, and the connections left on record.
func run(t *testing.T, how string) (text, left string) {
	t.Helper()
	home, heard := t.TempDir(), filepath.Join(t.TempDir(), "heard")
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "GUARD_TEST=bedd", "GUARD_END="+how, "GUARD_HEARD="+heard, "XDG_RUNTIME_DIR="+home)
	out, err := cmd.CombinedOutput()
	if (how == "well") != (err == nil) {
		t.Fatalf("%s: %v\n%s", how, err, out)
	}
	for start := time.Now(); time.Since(start) < 20*time.Second; time.Sleep(5 * time.Millisecond) {
		if text, err := os.ReadFile(heard); err == nil {
			l, err := FindLeavings(filepath.Join(home, "bedd"))
			if err != nil {
				t.Error(err)
			}
			return string(text), fmt.Sprint(l.List)
		}
	}
	t.Fatalf("%s: the guard says nothing", how)
	return "", ""
}

// The guard ends what sounds, then connects the piano.
func TestGuardEndsWhatADeadBeddLeft(t *testing.T) {
	for _, how := range []string{"killed", "crashed"} {
		got, left := run(t, how)
		if want := "[803C40 813040 B04000 904850]"; got != want {
			t.Errorf("%s: the synth hears %s, want %s", how, got, want)
		}
		if want := "[Keys to Module]"; left != want {
			t.Errorf("%s: on record is %s, want %s", how, left, want)
		}
	}
	if got, left := run(t, "well"); got != "[]" || left != "[]" {
		t.Errorf("a bedd that ended well: the synth hears %s, on record is %s", got, left)
	}
}

// A bedd that starts again waits for the guard of the one that died, and for
// nobody else's.
func TestWaitForOthers(t *testing.T) {
	dir := t.TempDir()
	dead := exec.Command("true")
	if err := dead.Run(); err != nil {
		t.Fatal(err)
	}
	lock, err := Lock(dir, dead.Process.Pid)
	if err != nil {
		t.Fatal(err)
	}
	mine, err := Lock(dir, os.Getpid()) // plays, and so its guard has nothing to do
	if err != nil {
		t.Fatal(err)
	}
	defer mine.Close()
	if waited, err := WaitForOthers(dir, 30*time.Millisecond); !waited || err == nil ||
		!strings.HasPrefix(err.Error(), "the guard of a bedd that has died is still at work after 30ms: end it with kill, or remove "+lock.Name()) {
		t.Errorf("waited %v, %v", waited, err)
	}
	go func() {
		time.Sleep(30 * time.Millisecond)
		lock.Close()
	}()
	if waited, err := WaitForOthers(dir, 20*time.Second); !waited || err != nil {
		t.Errorf("waited %v, %v", waited, err)
	}
	if _, err := os.Stat(lock.Name()); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the lock's file is still there: %v", err)
	}
	if waited, err := WaitForOthers(dir, 0); waited || err != nil {
		t.Errorf("with nobody at work: waited %v, %v", waited, err)
	}
	if _, err := Lock(dir, os.Getpid()); err == nil {
		t.Error("a lock is given twice")
	}
}

func TestDutyIsReadBack(t *testing.T) {
	for _, c := range []struct {
		text string
		died bool
		err  string
	}{
		{"", false, "guard: no duty: EOF"},
		{"{}\n", true, ""},
		{"{}\nwell\n", false, ""},
		{"{}\nwel", true, ""},
		{"nonsense\nwell\n", false, "guard: invalid character"},
	} {
		_, died, err := Await(strings.NewReader(c.text), func(Duty) {})
		if died != c.died || (err == nil) != (c.err == "") || err != nil && !strings.HasPrefix(err.Error(), c.err) {
			t.Errorf("%q: died %v, %v", c.text, died, err)
		}
	}
}
