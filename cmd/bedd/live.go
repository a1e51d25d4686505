package main

import (
	"fmt"
	"os"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/journal"
	"bedd/internal/midiio"
	"bedd/internal/page"
	"bedd/internal/session"
)

// liveRun drives a session by the clock, from keys, MIDI inputs and a recorded
// performance.
type liveRun struct {
	session *session.Session
	screen  *screen
	keys    map[string]gathering.Order
	signals <-chan os.Signal
	midi    *midiRig  // nil without MIDI ports
	sound   *soundOut // nil without any
	broken  mishaps
	cues    []session.Cue
	length  time.Duration

	watch    *glance.Watch
	terminal *glance.Terminal // nil where nobody has one
	whole    bool             // a picture on all of the terminal, not lines
	page     *page.Process    // nil where it is not served
	pageURL  string
	orders   <-chan gathering.Order // the page's
	fingers  int                    // by how many semitones what sounds is above what the hands play
	first    string                 // what the player should know first, or nothing
	comesIn  bool                   // the bed, by itself: it did so in the session that is gone on from

	journal keeper
	lesson  *lesson // nil but in a practice
	channel uint8   // the player's, from 0
	hears   *hearer // nil where nobody is listened to
	rig     *gathering.Rig
	stalled bool // the player was told that the sound input stands still

	began    atomic.Pointer[time.Time] // the session's time began
	leaving  bool
	why      string        // it leaves, for the journal
	echoes   bool          // the player was told of them
	floods   []flood       // by input, what was told
	refused  bool          // the player was told of it
	statusAt time.Duration // before that the status line stays as it is
	repeat   repeats
}

// How often the status line is drawn: while nothing happens, and at most however
// much does. A foot's answer shows well within a tenth of a second, and a thousand
// messages a second cost no drawing of their own.
const (
	statusEvery = 200 * time.Millisecond
	statusLeast = 40 * time.Millisecond
)

// now is the session's time: 0 until play begins. Ports ask for it from their own
// threads.
func (l *liveRun) now() time.Duration {
	if began := l.began.Load(); began != nil {
		return time.Since(*began)
	}
	return 0
}

// play runs until the performance is over or the player ends it, and the bed
// has left. It fails with a [mishap].
func (l *liveRun) play(keyboard bool) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = mishap{p, debug.Stack()}
		}
	}()
	performed := l.length > 0 || len(l.cues) > 0
	var pressed <-chan glance.Key
	var terminalGone <-chan struct{}
	began := time.Now()
	l.began.Store(&began)
	l.beginJournal(began)
	if keyboard {
		leave, err := l.takeTerminal()
		if err != nil {
			return err
		}
		defer leave()
		pressed, terminalGone = l.terminal.Keys(), l.terminal.Done()
	}
	// Whatever ends this, also a mishap: nothing sounds afterwards.
	defer func() { l.session.Finish(l.now()) }()
	l.session.SetUp(0)
	if l.first != "" {
		l.notice(0, l.first)
	}
	if l.comesIn {
		l.session.Ask(0, gathering.Order{Command: bed.BringIn})
	}
	var arrived, unguarded <-chan struct{}
	var changes <-chan midiio.Change
	var routes <-chan midiio.Route
	if l.midi != nil {
		arrived, changes, unguarded = l.midi.ports.Wake(), l.midi.changes, l.midi.unguarded()
		routes = l.midi.routing.news
		l.midi.listen(l.screen)
		defer l.midi.deafen()
	}
	var voices <-chan voiceSaid
	if l.hears != nil {
		voices = l.hears.said
		l.hears.start(l.broken)
	}
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		stop := false
		select {
		case <-timer.C:
		case <-arrived:
			l.arrived()
		case c := <-changes:
			l.midi.changed(c, l.now(), l.session, l.screen)
			l.portChanged(c, l.now())
		case n := <-routes:
			l.midi.routing.changed(n, l.now())
		case <-unguarded:
			unguarded = nil
			l.notice(l.now(), "the guard has ended: if bedd is killed now, notes may hang")
		case m := <-l.broken:
			return m
		case s := <-l.signals:
			again := l.leave("signal", true)
			stop = again && s != syscall.SIGHUP // a terminal that closes says so more than once
		case <-terminalGone:
			terminalGone, pressed = nil, nil
			l.lostTerminal()
		case text := <-l.journal.News():
			l.journalNews(text)
		case v := <-voices:
			if !l.leaving {
				l.session.Voice(l.now(), v.intensity, v.eased)
			}
		case o := <-l.orders:
			l.ordered(o)
		case key := <-pressed:
			switch key.Name {
			case glance.Interrupt:
				stop = l.leave("asked", true)
			case glance.Suspend:
				l.notice(l.now(), "ctrl-z would stop the bed: stop it first")
			default:
				l.key(key)
			}
		}
		now := l.now()
		for len(l.cues) > 0 && l.cues[0].At <= now && !l.leaving {
			l.cue(l.cues[0])
			l.cues = l.cues[1:]
		}
		if performed && len(l.cues) == 0 && now >= l.length && !l.leaving {
			l.leaving, l.why = true, "performed"
			l.session.Leave(l.length, false)
		}
		if due, waiting := l.session.Deadline(); waiting {
			l.journal.late(due, now)
		}
		l.session.Advance(now)
		if l.lesson != nil {
			l.lesson.advance(l, now)
		}
		due, waiting := l.session.Deadline()
		if stop || l.leaving && !waiting {
			return nil
		}
		l.tell(now)
		l.account(now, false)
		if text := l.sound.stutter(); text != "" {
			l.journal.Under(now, l.sound.stutters)
			l.notice(now, text)
		}
		wake := l.status(now)
		if waiting {
			wake = min(wake, due)
		}
		if len(l.cues) > 0 && !l.leaving {
			wake = min(wake, l.cues[0].At)
		} else if performed && !l.leaving {
			wake = min(wake, l.length)
		}
		if l.lesson != nil && !l.leaving {
			if due, any := l.lesson.partner.Next(); any {
				wake = min(wake, due)
			}
		}
		timer.Reset(max(wake-l.now(), 0))
	}
}

// status shows how things stand, if it is time and somebody looks, and gives when
// to come again.
func (l *liveRun) status(now time.Duration) (again time.Duration) {
	if now < l.statusAt {
		return l.statusAt
	}
	l.statusAt = now + statusLeast
	if line, ok := l.watch.Remind(now, l.session.View()); ok && !l.whole { // a picture has it anyway
		l.notice(now, line)
	}
	if !l.screen.terminal && !l.whole && l.page == nil {
		return now + statusEvery
	}
	switch {
	case l.lesson != nil:
		l.lesson.show(l, now)
	case l.whole || l.page != nil:
		l.show(l.model(now))
	}
	switch {
	case l.whole:
	case l.lesson != nil:
		l.screen.status(l.lesson.status(l, now))
	default:
		l.screen.status(glance.Status(now, l.session.View(), l.heard(), l.screen.width()))
	}
	return now + statusEvery
}

// thru gives what sends an input's messages straight on to some outputs, on the
// input's own thread, from where a panic must not escape.
func (l *liveRun) thru(outs midiio.Outputs, role midiio.Role) midiio.Thru {
	return func(at time.Duration, msg []byte, c midiio.Carried) {
		defer l.broken.catch()
		l.session.Thru(at, msg, session.Passage{Role: role, To: outs &^ (c.Ours | c.Others), Carried: c.Ours})
	}
}

// arrived tells the session of every message that waits.
func (l *liveRun) arrived() {
	for {
		m, input, ok := l.midi.ports.Take()
		if !ok {
			return
		}
		role := l.midi.roles[input]
		l.midi.heard(input, l.session.IsFoot(m.Bytes(), role), m.Bytes())
		l.journal.heard(m.At, l.now())
		l.session.Observe(m.At, m.Bytes(), role)
	}
}

// tell says once what the player should know of the MIDI that arrives.
func (l *liveRun) tell(now time.Duration) {
	if !l.refused && l.session.Refused() > 0 {
		l.refused = true
		text := "is left out where the bed plays; aside: in the rig moves it"
		if l.midi != nil && l.midi.routing.past {
			text = "plays the bed's sounds, where the piano goes past bedd; give your keys other channels, or use --route bedd"
		}
		l.notice(now, "what your keys send on the bed's channels "+text)
	}
	if l.midi != nil {
		l.tellFloods(now)
	}
	l.tellHeard(now)
	if l.midi != nil && !l.echoes && l.midi.ports.Echoes() > 0 {
		l.echoes = true
		l.midi.echo()
		l.notice(now, "what bedd sends comes back on an input: the echo is cut; switch off the synth's own repeating of MIDI")
	}
}

// tellHeard tells the listener what the bed is like, and the player when the sound
// input stands still, once each time.
func (l *liveRun) tellHeard(now time.Duration) {
	if l.hears == nil {
		return
	}
	l.hears.tells(l.session.View(), l.rig)
	h := l.hears.now.Load()
	if h == nil || h.stalled == l.stalled {
		return
	}
	if l.stalled = h.stalled; l.stalled {
		l.notice(now, fmt.Sprintf("the sound input brings nothing: what listening asked for holds for %v, then settles", l.rig.Listening.Manner.Rest))
	} else {
		l.notice(now, "the sound input is heard again")
	}
}

// notice says what the player should know, and puts it into the journal.
func (l *liveRun) notice(at time.Duration, text string) {
	l.journal.Say(journal.Notice, at, text)
	l.say(at, text)
}

// say says something to the player, with its time where lines are kept.
func (l *liveRun) say(at time.Duration, text string) {
	if !l.whole {
		text = glance.Clock(at) + "  " + text
	}
	l.screen.line(text)
}

// flood is what an input has left out of controls that send too much.
type flood struct {
	told   bool
	since  time.Duration
	before uint64 // values
}

// aFlood is how many values must have been left out within floodIn before the player
// is told: a control that sends thousands a second does so in a tenth of it, a quick
// wheel never. Common practice, no source.
const (
	aFlood  = 200
	floodIn = time.Second
)

// tellFloods says once of each input that one of its controls sends too much.
func (l *liveRun) tellFloods(now time.Duration) {
	if l.floods == nil {
		l.floods = make([]flood, len(l.midi.ins))
	}
	for i, in := range l.midi.ins {
		f, n := &l.floods[i], in.Thinned()
		if !f.told && n-f.before >= aFlood {
			f.told = true
			l.journal.Flood(now, i, n)
			text := "only the newest of them count; is it broken?"
			if l.midi.routing.past {
				text = "past bedd all of them go to the synth; is it broken? --route bedd thins them"
			}
			l.notice(now, fmt.Sprintf("%s: %s sends more values than anyone can hear; %s", in.Port().Name, in.ThinnedLast(), text))
		}
		if now-f.since >= floodIn {
			f.since, f.before = now, n
		}
	}
}

// leave begins the end of the run; a second time it says to stop at once.
func (l *liveRun) leave(why string, hurry bool) (stop bool) {
	if l.leaving {
		return true
	}
	l.leaving, l.why = true, why
	if l.lesson != nil {
		l.lesson.partner.End(l.now())
	}
	l.screen.line("leaving; what was recorded is being kept (ctrl-c again to hurry)")
	l.session.Leave(l.now(), hurry)
	return false
}

// key does what a key of the computer is for.
func (l *liveRun) key(key glance.Key) {
	name := key.Name
	if l.leaving {
		return
	}
	if l.lesson != nil && !key.Held && l.lesson.key(l, strings.ToLower(name)) {
		return
	}
	order, known := l.keys[name]
	if !known { // caps lock may be on
		order, known = l.keys[strings.ToLower(name)]
	}
	now := l.now()
	switch {
	case (l.repeat.held(name, now) || key.Held) && order.Command != bed.LevelUp && order.Command != bed.LevelDown:
	case known:
		l.session.Ask(now, order)
	case name == "?":
		for _, line := range allKeys(l.keys) {
			l.screen.line(line)
		}
	default:
		l.screen.line(name + " does nothing here: ? lists the keys")
	}
}

func (l *liveRun) cue(c session.Cue) {
	if c.Data == nil {
		l.journal.Say(journal.Cue, c.At, c.Text)
		l.say(c.At, "\""+c.Text+"\"")
		return
	}
	l.session.Message(c.At, c.Data)
}

// repeats tells the quick repeats of a key held down from a key pressed again: a
// keyboard repeats a held key every 30 ms or so, and no one presses one as fast
// as that. The first repeat, a quarter of a second or more after the press, looks
// like a second press and counts as one.
type repeats struct {
	last string
	at   time.Duration
}

// quickest is the shortest time between two presses of one key. Common practice,
// no source: trills on one key reach ten a second.
const quickest = 90 * time.Millisecond

// held reports whether the key is only the last one again, still held down.
func (r *repeats) held(name string, at time.Duration) bool {
	again := name == r.last && at-r.at < quickest
	r.last, r.at = name, at
	return again
}
