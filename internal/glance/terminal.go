package glance

import (
	"errors"
	"io"
	"os"
	"strings"
	"sync"
	"time"

	tea "charm.land/bubbletea/v2"
	"golang.org/x/term"
)

// Interrupt is the name of control-C and control-D.
const Interrupt = "interrupt"

// perSecond is how often in a second the terminal shows something new at most.
const perSecond = 30

// quitTime is how long a terminal may take to be left sane; one that has stopped
// reading never ends.
const quitTime = time.Second

// Key is a key that was pressed.
type Key struct {
	Name string
	Held bool // the terminal says that it is only held down; not all terminals do
}

// Terminal shows models on a whole terminal and gives its keys by name. What it
// shows is a copy; whoever gives one never waits.
type Terminal struct {
	program *tea.Program
	restore func()
	models  chan picture // the latest that is not shown yet
	keys    chan Key
	quit    chan struct{}
	done    chan struct{}
	err     error // once done is closed
	leave   sync.Once
}

// OpenTerminal takes over a terminal: its keys, and its screen unless out is nil.
// help is listed when the player presses ?; without a screen that is a key as the
// others. Every goroutine of its own defers guard, for its panics.
func OpenTerminal(in, out *os.File, help []string, guard func()) (*Terminal, error) {
	was, err := term.GetState(int(in.Fd()))
	if err != nil {
		return nil, err
	}
	t := &Terminal{
		models: make(chan picture, 1), keys: make(chan Key, 64),
		quit: make(chan struct{}), done: make(chan struct{}),
		restore: func() { _ = term.Restore(int(in.Fd()), was) },
	}
	options := []tea.ProgramOption{tea.WithInput(in), tea.WithFPS(perSecond), tea.WithoutSignalHandler()}
	if out == nil { // bubbletea leaves the modes alone then
		if _, err := term.MakeRaw(int(in.Fd())); err != nil {
			return nil, err
		}
		options = append(options, tea.WithoutRenderer(), tea.WithOutput(io.Discard))
	} else {
		options = append(options, tea.WithOutput(out))
	}
	t.program = tea.NewProgram(&view{keys: t.keys, help: help, blind: out == nil}, options...)
	go func() {
		defer close(t.done)
		defer guard()
		_, t.err = t.program.Run()
	}()
	go func() {
		defer guard()
		t.feed()
	}()
	return t, nil
}

// feed hands models on, no faster than they can be seen.
func (t *Terminal) feed() {
	tick := time.NewTicker(time.Second / perSecond)
	defer tick.Stop()
	for {
		select {
		case m := <-t.models:
			t.program.Send(m)
		case <-t.quit:
			return
		}
		select {
		case <-tick.C:
		case <-t.quit:
			return
		}
	}
}

// Show shows a model in place of the one before. It never waits.
func (t *Terminal) Show(m Model) { t.show(m) }

// picture is what a terminal shows.
type picture interface {
	draw(width, height int, look styles) string
	drawHelp(help []string, width, height int, look styles) string
	busy() bool // control-Z is a key like others
}

func (m Model) draw(width, height int, look styles) string { return draw(m, width, height, look) }
func (m Model) drawHelp(help []string, width, height int, look styles) string {
	chord := " " + look.strong.Render(m.Chord) + look.dim.Render("  "+m.Step+" ▸ ") + look.next.Render(m.Next)
	return drawHelp([]string{head(m, width, look), chord}, help, width, height, look)
}
func (m Model) busy() bool { return m.Sounds }

func (t *Terminal) show(p picture) {
	for {
		select {
		case t.models <- p:
			return
		default:
		}
		select {
		case <-t.models: // an older one, not shown in time
		default:
		}
	}
}

// Keys are the keys that are pressed: characters by themselves, the others as in
// space, enter, tab, esc, up, pagedown, f1, and [Interrupt]. Those that nobody
// takes in time are dropped.
func (t *Terminal) Keys() <-chan Key { return t.keys }

// Done is closed when the terminal is gone, and when Close has been called.
func (t *Terminal) Done() <-chan struct{} { return t.done }

// ErrMishap says that the picture failed, by a fault of ours or the library's.
var ErrMishap = tea.ErrProgramPanic

// Close gives the terminal back as it was. It fails with [ErrMishap], or when the
// terminal is gone or doesn't read any more.
func (t *Terminal) Close() error {
	t.leave.Do(func() {
		close(t.quit)
		t.program.Quit()
	})
	select {
	case <-t.done:
	case <-time.After(quitTime):
		t.restore()
		return errors.New("the terminal does not read any more")
	}
	t.restore()
	return t.err
}

// awakeTime is after how long a run is continued that was to be suspended, and
// awakeTries how often: the terminal has to be given back before.
const (
	awakeTime  = 500 * time.Millisecond
	awakeTries = 10
)

// keepAwake continues a process that was to be suspended until it has resumed: bubbletea
// waits for that, but nobody can stop, and so nobody continues, a group of processes
// that no shell looks after (POSIX, 2.4.3: an orphaned process group). In one that has
// been stopped this stands still too.
func keepAwake(resumed <-chan struct{}) {
	for range awakeTries {
		select {
		case <-resumed:
			return
		case <-time.After(awakeTime):
			awaken()
		}
	}
}

// view is what bubbletea shows.
type view struct {
	keys          chan<- Key
	blind         bool // there is no screen
	help          []string
	helping       bool
	shows         picture       // nil at first
	light         bool          // the terminal's ground
	resumed       chan struct{} // closed when a suspended run goes on; nil but then
	width, height int
}

func (v *view) Init() tea.Cmd {
	if v.blind {
		return nil
	}
	return tea.RequestBackgroundColor // one that does not answer is taken for dark
}

func (v *view) Update(msg tea.Msg) (tea.Model, tea.Cmd) {
	switch msg := msg.(type) {
	case picture:
		v.shows = msg
	case tea.WindowSizeMsg:
		v.width, v.height = msg.Width, msg.Height
	case tea.BackgroundColorMsg:
		v.light = !msg.IsDark()
	case tea.ResumeMsg:
		if v.resumed != nil {
			close(v.resumed)
			v.resumed = nil
		}
	case tea.KeyPressMsg:
		return v, v.press(tea.Key(msg))
	}
	return v, nil
}

// press hands on a key.
func (v *view) press(k tea.Key) tea.Cmd {
	name := keyName(k)
	switch {
	case name == "?" && !v.blind:
		v.helping = !v.helping
	case name == Suspend && (v.blind || v.shows != nil && v.shows.busy()):
		v.send(Key{Name: Suspend})
	case name == Suspend:
		if v.resumed == nil {
			v.resumed = make(chan struct{})
			go keepAwake(v.resumed)
		}
		return tea.Suspend
	case name == "":
	default:
		v.send(Key{name, k.IsRepeat})
	}
	return nil
}

func (v *view) send(k Key) {
	select {
	case v.keys <- k:
	default:
	}
}

// Suspend is the name of control-Z, which is a key like others while the bed sounds,
// and stops a silent bedd.
const Suspend = "suspend"

// keyNames are our words for bubbletea's keys where they differ.
var keyNames = map[string]string{
	"pgup": "pageup", "pgdown": "pagedown", "ctrl+c": Interrupt, "ctrl+d": Interrupt, "return": "enter", "ctrl+z": Suspend,
}

// keyName names a key; "" is one that has no name in a rig.
func keyName(k tea.Key) string {
	name := k.String()
	if ours, ok := keyNames[name]; ok {
		return ours
	}
	if strings.Contains(name, "+") && len(name) > 1 {
		return ""
	}
	return name
}

func (v *view) View() tea.View {
	text := ""
	look := onDark
	if v.light {
		look = onLight
	}
	switch {
	case v.shows == nil:
	case v.helping:
		text = v.shows.drawHelp(v.help, v.width, v.height, look)
	default:
		text = v.shows.draw(v.width, v.height, look)
	}
	s := tea.NewView(text)
	s.AltScreen = true
	s.WindowTitle = "bedd"
	s.KeyboardEnhancements.ReportEventTypes = true
	return s
}
