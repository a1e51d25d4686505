package main

import (
	"errors"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/midiio"
	"bedd/internal/practice"
	"bedd/internal/session"
	"bedd/internal/sound"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

type playFlags struct {
	material
	ports   midiFlags
	player  string
	midi    string
	wav     string
	noSound bool
	frames  int
	choice  instrumentFlags
	lines   bool
	page    pageFlags
	keep    journalFlags
	lesson  *lesson // nil but in a practice, which has loaded all
	hears   listenFlags

	wrap func(session.Recorder) session.Recorder // nil but in tests
}

func newPlay() *cobra.Command { return new(playFlags).command() }

func (f *playFlags) command() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "play [PLAN]",
		Short: "Play live: the bed follows feet and keys",
		Long: `play holds the bed live: the piano goes straight through to the output, feet and
plan choose the chords. It takes the MIDI devices it finds (see bedd ports), or
those named with --in and --out, or piano and bed apart with --out-piano and
--out-bed, keys and feet apart with --in-keys and --in-feet; without an output it
sounds by itself. With --route kernel the piano goes past bedd. The computer's keys
are feet too: space brings the bed in and steps its chords, tab chooses what the
next step does, o fades out, esc is out now, ? lists them all. On a terminal it
shows a picture, with --lines a line for each chord, and with --page a browser shows
the picture too. With --listen bedd hears who
speaks and lends the bed a slow intensity, where no foot and no hand decides; nothing of
it is kept. With --player a recorded performance plays the part of keys and
feet, in real time. A journal of the session is kept in the user's own folder for
state, from which --resume goes on after a crash: same chord, progression, moment,
key and level, softly. PLAN is a gathering file, or the name of a built-in one: ` + strings.Join(gathering.GatheringNames(), ", ") + `.

Start with the volume down, in headphones above all, and turn it up slowly.`,
		Example: `  bedd play
  bedd play --key Eb --home "1 4" --away "6m 2m"
  bedd play --in Stage --in Board --out-bed Module
  bedd play --in-keys Stage --in-feet Board --route kernel
  bedd play --page                         http://127.0.0.1:62333/, on this machine alone
  bedd play --page 0.0.0.0:62333 --page-control
  bedd play --listen                       the bed follows who speaks
  bedd play --resume                       after a crash
  bedd play winter-lights --player testdata/winter-lights.mid --wav evening.wav`,
		Args: func(cmd *cobra.Command, args []string) error {
			_, rest := f.page.split(args)
			_, rest = f.keep.split(rest)
			return atMostOnePlan(cmd, rest)
		},
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args) },
	}
	f.flags(cmd)
	flags := cmd.Flags()
	f.ports.flags(cmd)
	f.ports.playFlags(cmd)
	f.page.flags(cmd)
	f.keep.flags(cmd)
	f.hears.flags(cmd)
	flags.StringVar(&f.player, "player", "", "a standard MIDI file that plays the part of keys and feet")
	flags.StringVar(&f.midi, "midi", "", "leave a standard MIDI file of what was played here")
	flags.StringVar(&f.wav, "wav", "", "leave the sound here, as WAV")
	flags.BoolVar(&f.noSound, "no-sound", false, "leave the sound card alone")
	f.choice.flags(cmd)
	flags.BoolVar(&f.lines, "lines", false, "plain lines instead of a picture on all of the terminal")
	flags.IntVar(&f.frames, "frames", 256, "frames in a block of sound: fewer answer faster, more stutter less")
	return cmd
}

func (f *playFlags) run(cmd *cobra.Command, args []string) (err error) {
	last, err := f.goOn(cmd, args)
	if err != nil {
		return err
	}
	if args, err = f.page.check(args); err != nil {
		return err
	}
	f.onStage = true
	from, args := f.keep.split(args)
	dir, noPlace := f.keep.openDir(f.player != "")
	if from == "" && f.lesson == nil {
		if err := f.load(cmd, args); err != nil {
			return err
		}
	}
	if err := f.hears.check(&f.rig); err != nil {
		return err
	}
	f.rig.Setup = f.rig.Setup && !f.ports.noSetup
	if !f.ports.noMIDI && f.player == "" {
		f.ports.take(f.rig.Ports, cmd.Flags().Changed)
	}
	if _, err := f.ports.wishes(); err != nil {
		return err
	}
	if _, err := f.ports.bauds(); err != nil {
		return err
	}
	if err := checkFrames(f.frames); err != nil {
		return err
	}
	if err := f.choice.check(); err != nil {
		return err
	}
	var performance *midiio.File
	if f.player != "" {
		if performance, err = readPerformance(f.player); err != nil {
			return err
		}
	}
	keyboard := term.IsTerminal(int(os.Stdin.Fd()))
	if performance == nil && !keyboard && !f.ports.wants() {
		return badInput{errors.New("there is nothing to play with: run play in a terminal, name a MIDI input with --in, or a recorded performance with --player FILE.mid")}
	}
	if err := checkOutputs(f.player, output{"--midi", f.midi}, output{"--wav", f.wav}); err != nil {
		return err
	}

	// From here on nothing but the end of the run ends the program: what sounds is
	// let go and what was recorded is written, whoever closes the terminal.
	signals := make(chan os.Signal, 8)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	defer signal.Stop(signals)
	signal.Ignore(syscall.SIGPIPE)

	broken := newMishaps()
	screen := newScreen(os.Stdout, broken)
	defer screen.close()
	take := session.NewTake()
	room := &room{screen: screen, take: take, title: f.title, noPiano: f.ports.thru == "off", moment: f.moment}
	room.tellMoment(f.rig.Bed.First)
	room.watch.Songs(f.songs())
	for _, line := range f.left {
		screen.line("left out: " + line)
	}
	if f.lesson != nil { // a key that is going to be called is a secret
		room.title = func(int) string { return "practice" }
	}
	screen.line("bedd: " + room.title(f.rig.Bed.First))
	live := liveRun{screen: screen, keys: f.rig.Keys, signals: signals, broken: broken, watch: &room.watch, fingers: f.rig.In,
		whole: keyboard && screen.terminal && !screen.dumb && !f.lines}
	if err := live.openPage(&f.page); err != nil {
		return err
	}
	defer live.closePage()
	var ports []session.Destination
	if performance == nil || f.ports.wants() {
		if live.midi, err = f.ports.open(&f.rig, live.now, screen, live.thru, broken); err != nil {
			return without(err, last)
		}
	}
	if live.midi != nil {
		defer live.midi.close(screen)
		ports = live.midi.outs
	}
	var recorder session.Recorder = room
	if f.wrap != nil {
		recorder = f.wrap(recorder)
	}
	s, err := session.New(f.rig, f.moments, recorder, ports...)
	if err != nil {
		return badInput{err}
	}
	live.session, room.session = s, s
	take.Watch(s)
	if live.channel, live.lesson = f.rig.Player.Channel, f.lesson; f.lesson != nil {
		f.lesson.follow(&live)
		room.partner = f.lesson.partner
	}
	if from != "" {
		if err := live.goOn(last); err != nil {
			live.first = fmt.Sprintf("going on from %s fails: %v; the session begins anew", last.Name, err)
			last.State = nil
		}
	} else if live.first = noPlace; dir != "" && f.lesson == nil {
		live.first = hint(dir)
	}
	live.journal.start = f.startJournal(dir, live.journalPorts(), options(cmd.Flags()), last)
	if performance != nil {
		live.cues, live.length = session.Cues(performance), session.Length(performance)
		screen.line("the player is " + f.player + ", " + strings.TrimSpace(glance.Clock(live.length)) + " long")
	} else if keyboard {
		live.useKeys()
	}
	var known *sound.Tee
	if f.rig.Listening.On && f.hears.file == "" {
		if known, err = sound.NewTee(1 << 16); err != nil {
			return err
		}
	}
	out, err := openSound(f.rig, f.choice, f.wav, f.frames, !f.noSound && len(ports) == 0, known, screen, broken)
	if err != nil {
		return err
	}
	live.sound = out
	if out.live == nil {
		known = nil // an instrument outside sounds
	}
	if live.hears, err = f.hears.openListening(f.rig, known, live.now, screen, broken); err != nil {
		return err
	}
	defer live.hears.close()
	live.rig = &f.rig
	if out.live != nil {
		room.live = out.live
	}

	failed := live.play(keyboard)
	if err := live.endJournal(failed, s.Refused()); err != nil {
		screen.line(err.Error())
	} else if path := live.journal.Path(); path != "" {
		screen.line("kept " + path)
	}
	if f.lesson != nil {
		f.lesson.sumUp(&live)
	}
	wav, wavErr := out.close(signals)
	if failed == nil {
		failed = broken.late()
	}
	if take.Dropped > 0 {
		screen.line(fmt.Sprintf("the MIDI file ends early: more than %d messages were played", session.MaxTake))
	}
	files := []string{wav}
	var midiErr error
	if f.midi != "" {
		if midiErr = midiio.WriteFile(f.midi, take.File(session.ClockOf(performance), f.moments[f.rig.Bed.First].Key)); midiErr == nil {
			files = append(files, f.midi)
		}
	}
	for _, path := range files {
		if path != "" {
			screen.line("wrote " + path)
		}
	}
	return errors.Join(failed, wavErr, midiErr)
}

// useKeys makes the computer's keys feet, the default rig's where this rig has
// none to bring the bed in with, and says so.
func (l *liveRun) useKeys() {
	can := false
	for _, order := range l.keys {
		can = can || order.Command == bed.Step || order.Command == bed.BringIn
	}
	if !can {
		l.keys = gathering.DefaultRig().Keys
	}
	if l.lesson != nil { // its cards say what they are
		return
	}
	l.screen.line("keys: " + keyHelp(l.keys, bed.Step, bed.Arm, bed.FadeOut, bed.OutNow) + "; ? lists them, ctrl-c ends")
}

// keyHelp names the keys for some commands.
func keyHelp(keys map[string]gathering.Order, commands ...bed.Command) string {
	var out []string
	for _, c := range commands {
		var names []string
		for key, order := range keys {
			if order.Command == c && c != bed.KeyTo {
				names = append(names, key)
			}
		}
		slices.Sort(names)
		if len(names) > 0 {
			out = append(out, strings.Join(names, " or ")+" "+c.String())
		}
	}
	return strings.Join(out, ", ")
}

// allKeys lists every key of a rig in a few lines.
func allKeys(keys map[string]gathering.Order) (lines []string) {
	var commands []bed.Command
	for c := bed.Step; c < bed.NumCommands; c++ {
		commands = append(commands, c)
	}
	for half := range slices.Chunk(commands, 4) {
		if line := keyHelp(keys, half...); line != "" {
			lines = append(lines, "  "+line)
		}
	}
	var tonics []string
	for key, order := range keys {
		if order.Command == bed.KeyTo {
			tonics = append(tonics, key)
		}
	}
	if slices.Sort(tonics); len(tonics) > 0 {
		lines = append(lines, "  "+strings.Join(tonics, " ")+" to a key")
	}
	return lines
}

// room hears a live session: it keeps the take, sounds it where no port does,
// and tells the screen. The session keeps its Sends apart, whichever input's
// thread they come from.
type room struct {
	screen  *screen
	take    *session.Take
	session *session.Session
	live    pusher // the built-in sound, or nil
	noPiano bool   // it sounds the bed alone
	title   func(moment int) string
	watch   glance.Watch
	moment  func(i int) (title string, lasts, longest time.Duration)
	partner *practice.Partner // nil but in a practice
}

func (r *room) tellMoment(i int) { r.watch.Moment(r.moment(i)) }

// pusher is what the room needs of the built-in sound.
type pusher interface {
	Push(status, data1, data2 byte) bool
}

func (r *room) Send(at time.Duration, from session.Origin, msg []byte) {
	if m, ok := channelMessage(msg); ok && r.live != nil && !(r.noPiano && from == session.Thru) {
		r.live.Push(m.Status, m.Data1, m.Data2)
	}
	r.take.Send(at, from, msg)
}

func (r *room) Mark(a bed.Action) {
	r.take.Mark(a)
	if r.partner != nil {
		r.partner.Mark(a)
	}
	view := r.session.View()
	r.watch.Mark(a)
	if a.Kind == bed.ChangeMoment {
		r.tellMoment(int(a.Value))
	}
	r.screen.log(func() string {
		switch a.Kind {
		case bed.EnterChord:
			return glance.Chord(a.At, view, r.screen.columns())
		case bed.ChangeMoment:
			return glance.Clock(a.At) + "  next: " + r.title(int(a.Value))
		}
		return glance.Action(a)
	})
}
