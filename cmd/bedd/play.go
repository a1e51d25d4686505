package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/midiio"
	"bedd/internal/session"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

type playFlags struct {
	material
	player  string
	midi    string
	wav     string
	noSound bool
	frames  int
}

func newPlay() *cobra.Command {
	var f playFlags
	cmd := &cobra.Command{
		Use:   "play [PLAN]",
		Short: "Play live: the bed follows feet and keys",
		Long: `play holds the bed live. The computer's keys are the feet: space brings the bed
in and steps its chords, tab chooses what the next step does, o fades out, esc is
out now; the rig says what each key does. With --player a recorded performance
plays the part of keys and feet, in real time. PLAN is a gathering file or the
name of a built-in one.

Start with the volume down, in headphones above all, and turn it up slowly.`,
		Example: `  bedd play
  bedd play --key Eb --home "1 4" --away "6m 2m"
  bedd play winter-lights --player testdata/winter-lights.mid --wav evening.wav`,
		Args: atMostOnePlan,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	f.flags(cmd)
	flags := cmd.Flags()
	flags.StringVar(&f.player, "player", "", "a standard MIDI file that plays the part of keys and feet")
	flags.StringVar(&f.midi, "midi", "", "leave a standard MIDI file of what was played here")
	flags.StringVar(&f.wav, "wav", "", "leave the sound here, as WAV")
	flags.BoolVar(&f.noSound, "no-sound", false, "leave the sound card alone")
	flags.IntVar(&f.frames, "frames", 256, "frames in a block of sound: fewer answer faster, more stutter less")
	return cmd
}

func (f *playFlags) run(cmd *cobra.Command, args []string) error {
	if err := f.load(cmd, args); err != nil {
		return err
	}
	if f.frames < 32 || f.frames > 8192 {
		return badInput{fmt.Errorf("--frames %d is out of range 32…8192", f.frames)}
	}
	var performance *midiio.File
	if f.player != "" {
		var err error
		if performance, err = midiio.ReadFile(f.player); err != nil {
			return badInput{err}
		}
	}
	keyboard := term.IsTerminal(int(os.Stdin.Fd()))
	if performance == nil && !keyboard {
		return badInput{errors.New("there is nothing to play with: run play in a terminal, or name a recorded performance with --player FILE.mid")}
	}
	for _, path := range []string{f.midi, f.wav} {
		if err := writable(path); err != nil {
			return badInput{err}
		}
	}

	screen := newScreen(os.Stdout)
	defer screen.close()
	take := &session.Take{}
	room := &room{screen: screen, take: take, title: f.title}
	s, err := session.New(f.rig, f.moments, room)
	if err != nil {
		return badInput{err}
	}
	room.session = s
	take.Watch(s)

	screen.line("bedd: " + f.title(f.rig.Bed.First))
	if performance != nil {
		screen.line("the player is " + f.player + ", " + glance.Clock(session.Length(performance)) + " long")
	} else {
		screen.line("the computer's keys are the feet: " + keyHelp(f.rig) + ", ctrl-c ends")
	}
	out, err := openSound(f.rig, f.wav, f.frames, !f.noSound, screen)
	if err != nil {
		return err
	}
	if out.live != nil {
		room.live = out.live
	}

	s.SetUp(0)
	live := liveRun{session: s, screen: screen, keys: f.rig.Keys}
	if performance != nil {
		live.cues, live.length = session.Cues(performance), session.Length(performance)
	}
	live.play(keyboard)
	files, err := out.close()
	if err != nil {
		return err
	}
	if f.midi != "" {
		if err := midiio.WriteFile(f.midi, take.File(session.ClockOf(performance), f.moments[f.rig.Bed.First].Key)); err != nil {
			return err
		}
		files = append(files, f.midi)
	}
	for _, path := range files {
		screen.line("wrote " + path)
	}
	return nil
}

// writable finds out now, not after the evening, that a file cannot be written.
func writable(path string) error {
	if path == "" {
		return nil
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return fmt.Errorf("%s is a folder: name a file in it", path)
	}
	file, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	file.Close()
	return os.Remove(file.Name())
}

// keyHelp names the keys for the commands a newcomer needs.
func keyHelp(rig gathering.Rig) string {
	help := ""
	for _, c := range []bed.Command{bed.Step, bed.Arm, bed.FadeOut, bed.OutNow} {
		best := ""
		for key, order := range rig.Keys {
			if order.Command == c && (best == "" || key < best) {
				best = key
			}
		}
		if best != "" {
			help += ", " + best + " " + c.String()
		}
	}
	if help == "" {
		return "this rig names no keys"
	}
	return help[2:]
}

// room is where a live session's output goes.
type room struct {
	screen  *screen
	take    *session.Take
	session *session.Session
	live    pusher
	title   func(moment int) string
}

// pusher is what the room needs of the built-in sound.
type pusher interface {
	Push(status, data1, data2 byte) bool
}

func (r *room) Send(at time.Duration, from session.Origin, msg []byte) bool {
	if m, ok := channelMessage(msg); ok && r.live != nil {
		r.live.Push(m.Status, m.Data1, m.Data2)
	}
	return r.take.Send(at, from, msg)
}

func (r *room) Mark(a bed.Action) {
	r.take.Mark(a)
	switch a.Kind {
	case bed.EnterChord:
		r.screen.line(glance.Chord(a.At, r.session.View()))
	case bed.ChangeMoment:
		r.screen.line(glance.Clock(a.At) + "  next: " + r.title(int(a.Value)))
	default:
		r.screen.line(glance.Action(a))
	}
}

// liveRun drives a session by the clock, from keys and a recorded performance.
type liveRun struct {
	session *session.Session
	screen  *screen
	keys    map[string]gathering.Order
	cues    []session.Cue
	length  time.Duration
}

// statusEvery is how often the status line moves.
const statusEvery = 200 * time.Millisecond

// play runs until the performance is over or the player ends it, and the bed
// has left.
func (l *liveRun) play(keyboard bool) {
	performed := l.length > 0 || len(l.cues) > 0
	signals := make(chan os.Signal, 4)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)
	var pressed <-chan string
	if keyboard {
		keys, restore := readKeys()
		defer restore()
		l.screen.setRaw(true)
		defer l.screen.setRaw(false)
		pressed = keys
	}

	start := time.Now()
	timer := time.NewTimer(0)
	defer timer.Stop()
	leaving := false
	leave := func(at time.Duration) bool {
		if leaving {
			return true
		}
		leaving = true
		l.session.Leave(at)
		return false
	}
	for {
		stop := false
		select {
		case <-timer.C:
		case <-signals:
			stop = leave(time.Since(start))
		case name := <-pressed:
			if name == glance.Interrupt {
				stop = leave(time.Since(start))
			} else if !leaving {
				l.session.Ask(time.Since(start), l.keys[name])
			}
		}
		now := time.Since(start)
		for len(l.cues) > 0 && l.cues[0].At <= now && !leaving {
			l.cue(l.cues[0])
			l.cues = l.cues[1:]
		}
		if performed && len(l.cues) == 0 && now >= l.length && !leaving {
			leave(l.length)
		}
		l.session.Advance(now)
		due, waiting := l.session.Deadline()
		if stop || leaving && !waiting {
			l.session.Finish(now)
			return
		}
		l.screen.status(glance.Status(now, l.session.View(), l.screen.width()))
		wake := now + statusEvery
		if waiting {
			wake = min(wake, due)
		}
		if len(l.cues) > 0 && !leaving {
			wake = min(wake, l.cues[0].At)
		} else if performed && !leaving {
			wake = min(wake, l.length)
		}
		timer.Reset(max(wake-time.Since(start), 0))
	}
}

func (l *liveRun) cue(c session.Cue) {
	if c.Data == nil {
		l.screen.line(glance.Clock(c.At) + "  \"" + c.Text + "\"")
		return
	}
	l.session.Message(c.At, c.Data)
}
