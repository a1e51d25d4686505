package main

import (
	"errors"
	"fmt"
	"math"
	"sync/atomic"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/listening"
	"bedd/internal/sound"

	"github.com/spf13/cobra"
)

// listenFlags say whether a voice is listened to while playing, and through what.
type listenFlags struct {
	input string
	file  string
	wrap  func(source) source // around what is listened to, if not nil
}

// The words of --listen that are no input's name.
const (
	listenAny = "default"
	listenOff = "off"
)

func (f *listenFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.input, "listen", "", "listen to who speaks: through the system's sound input, or --listen=`INPUT` by a part of its name (bedd ports lists them); off: not even where the rig says so")
	flags.Lookup("listen").NoOptDefVal = listenAny
	flags.StringVar(&f.file, "listen-file", "", "a WAV `FILE` plays the part of the sound input, by the clock")
}

// check takes in what the rig says.
func (f *listenFlags) check(rig *gathering.Rig) error {
	switch {
	case f.file != "" && f.input != "":
		return badInput{errors.New("--listen and --listen-file go one at a time")}
	case f.input == listenOff:
		rig.Listening.On = false
	case f.input == listenAny:
		rig.Listening.On = true
	case f.input != "":
		rig.Listening.On, rig.Listening.Input = true, f.input
	case f.file != "":
		rig.Listening.On = true
		v, err := openVoice(f.file, *rig) // what is wrong with it is told before anything sounds
		if err != nil {
			return err
		}
		v.close()
	}
	return nil
}

const (
	listenFrames = 512
	listenLook   = 20 * time.Millisecond // how often what has arrived is taken
	mostHops     = 4                     // that are listened to at one look
	stalledAfter = time.Second           // an input that brings nothing for so long stands still
	goneAfter    = 5 * time.Second       // and one for so long is opened again
	reopenEvery  = 2 * time.Second
	closeInput   = time.Second  // how long an input may take to close
	knownLead    = liveRate / 5 // frames that what is played may be ahead of what arrives
)

// hearing is what a live run's listening has come to.
type hearing struct {
	listening.Heard
	stalled bool
}

// words say it for a glance.
func (h hearing) words() string {
	switch {
	case h.stalled && h.Known && h.Why == listening.Settles:
		return fmt.Sprintf("settles, %.1f: the sound input brings nothing", h.Intensity)
	case h.stalled:
		return "holds: the sound input brings nothing"
	}
	return h.Words()
}

// voiceSaid is what the bed is to be told.
type voiceSaid struct{ intensity, eased float64 }

// source gives what has arrived of a signal, as stereo, at most as much as there is
// room, and nothing where nothing has arrived yet.
type source interface {
	Read(block []float32) int
	Rate() int
	Close()
}

// hearer listens on a goroutine of its own. The core tells it what the bed is like
// and takes what it says, both without waiting.
type hearer struct {
	source   source
	listener *listening.Listener
	known    *sound.Tee // nil where nothing is known
	said     chan voiceSaid
	now      atomic.Pointer[hearing]
	bed      atomic.Uint64 // its intensity, as bits
	level    atomic.Uint64 // dB under its loudest, as bits
	teller   listening.Teller
	last     hearing
	shownAt  time.Duration
	stop     chan struct{}
	stopped  chan struct{}

	block   []float32 // of the hop that is being filled
	filled  int
	played  []float32 // stereo, what was played and not yet compared
	mono    []float32
	arrived time.Duration // when something last did
	looked  time.Duration // when that was last seen to
}

// newHearer makes one for a source.
func newHearer(s source, rig gathering.Rig, known *sound.Tee) (*hearer, error) {
	inner, err := listening.NewListener(s.Rate(), 2, rig.Listening.Manner, rig.Cleared())
	if err != nil {
		return nil, badInput{err}
	}
	l := &hearer{source: s, listener: inner, known: known, said: make(chan voiceSaid, 1),
		block: make([]float32, 2*inner.Hop()), mono: make([]float32, inner.Hop()),
		stop: make(chan struct{}), stopped: make(chan struct{})}
	l.level.Store(math.Float64bits(math.Inf(-1)))
	return l, nil
}

// start listens until close.
func (l *hearer) start(broken mishaps) {
	go func() {
		defer close(l.stopped)
		defer broken.catch()
		began := time.Now()
		tick := time.NewTicker(listenLook)
		defer tick.Stop()
		for {
			select {
			case <-l.stop:
				return
			case <-tick.C:
				l.look(time.Since(began))
			}
		}
	}()
}

// close ends it. A source that does not let go is left behind.
func (l *hearer) close() {
	if l == nil {
		return
	}
	close(l.stop)
	closed := make(chan struct{})
	go func() {
		defer close(closed)
		<-l.stopped
		l.source.Close()
	}()
	select {
	case <-closed:
	case <-time.After(closeInput):
	}
}

// tells says what the bed is like.
func (l *hearer) tells(v bed.View, rig *gathering.Rig) {
	l.bed.Store(math.Float64bits(v.Intensity))
	l.level.Store(math.Float64bits(bedLevel(v, rig.Bed.Balance)))
}

// look takes what has arrived.
func (l *hearer) look(now time.Duration) {
	for hops := 0; hops < mostHops; { // a computer that cannot keep up still tells what it has
		n := l.source.Read(l.block[l.filled:])
		if n == 0 {
			break
		}
		l.arrived = now
		if l.filled += n; l.filled == len(l.block) {
			l.filled = 0
			hops++
			l.last.Heard = l.listener.Hear(l.block, l.knows(), math.Float64frombits(l.bed.Load()), math.Float64frombits(l.level.Load()))
		}
	}
	if l.last.stalled = now-l.arrived > stalledAfter; l.last.stalled {
		l.last.Heard = l.listener.Miss(now - l.looked)
	}
	l.looked = now
	if l.teller.Tell(now, l.last.Heard) { // also while it stands still, so that the bed goes on believing it
		said := voiceSaid{l.last.Intensity, l.last.Eased}
		select {
		case <-l.said: // nobody has taken it
		default:
		}
		l.said <- said
	}
	if l.now.Load() == nil || now-l.shownAt >= statusEvery {
		shown := l.last
		l.now.Store(&shown)
		l.shownAt = now
	}
}

// knows gives what was played while the hop arrived, or nil.
func (l *hearer) knows() []float32 {
	if l.known == nil {
		return nil
	}
	hop := l.listener.Hop()
	if cap(l.played) == 0 {
		l.played = make([]float32, 0, 8*knownLead)
	}
	n := l.known.Read(l.played[len(l.played):cap(l.played)])
	l.played = l.played[:len(l.played)+n]
	if ahead := len(l.played)/2 - hop; ahead > knownLead { // the card's clock, or a stall
		l.drop(ahead)
	}
	take := min(hop, len(l.played)/2)
	clear(l.mono)
	for i := range take {
		l.mono[i] = (l.played[2*i] + l.played[2*i+1]) / 2
	}
	l.drop(take)
	return l.mono
}

func (l *hearer) drop(frames int) {
	l.played = l.played[:copy(l.played, l.played[2*frames:])]
}

// microphone is a sound input that is opened again when it goes.
type microphone struct {
	input  string
	tee    *sound.Tee
	name   string
	heard  atomic.Int64 // when something arrived, since began
	began  time.Time
	gone   atomic.Bool
	stop   chan struct{}
	ended  chan struct{}
	device *sound.Device
}

func openMicrophone(input string, broken mishaps) (*microphone, error) {
	tee, err := sound.NewTee(1 << 17)
	if err != nil {
		return nil, err
	}
	m := &microphone{input: input, tee: tee, began: time.Now(), stop: make(chan struct{}), ended: make(chan struct{})}
	if err := m.open(broken); err != nil {
		return nil, err
	}
	m.name = m.device.Name()
	go m.keep(broken)
	return m, nil
}

func (m *microphone) open(broken mishaps) (err error) {
	m.gone.Store(false)
	m.heard.Store(int64(time.Since(m.began)))
	m.device, err = sound.OpenInput(liveRate, listenFrames, m.input, func(block []float32) {
		defer broken.catch()
		m.tee.Write(block)
		m.heard.Store(int64(time.Since(m.began)))
	}, func() { m.gone.Store(true) })
	return err
}

// keep opens the input again when it has gone or brings nothing.
func (m *microphone) keep(broken mishaps) {
	defer close(m.ended)
	defer broken.catch()
	tick := time.NewTicker(reopenEvery)
	defer tick.Stop()
	for {
		select {
		case <-m.stop:
			m.letGo()
			return
		case <-tick.C:
		}
		if m.device != nil && (m.gone.Load() || time.Since(m.began)-time.Duration(m.heard.Load()) > goneAfter) {
			m.letGo()
		}
		if m.device == nil {
			if err := m.open(broken); err != nil {
				m.device = nil
			}
		}
	}
}

// letGo closes the device, and leaves one behind that does not answer.
func (m *microphone) letGo() {
	if m.device == nil {
		return
	}
	closed, device := make(chan struct{}), m.device
	m.device = nil
	go func() {
		defer close(closed)
		device.Close()
	}()
	select {
	case <-closed:
	case <-time.After(closeInput):
	}
}

func (m *microphone) Read(block []float32) int { return m.tee.Read(block) }
func (m *microphone) Rate() int                { return liveRate }
func (m *microphone) Close()                   { close(m.stop); <-m.ended }

// playedFile is a WAV file that arrives by the clock.
type playedFile struct {
	voice interface{ Close() error }
	wav   *sound.WAVReader
	clock func() time.Duration
	given int64 // frames
	over  bool
}

func (p *playedFile) Read(block []float32) int {
	due := int64(p.clock().Seconds()*float64(p.wav.Rate())) - p.given
	if p.over || due <= 0 {
		return 0
	}
	n, err := p.wav.Read(block[:min(int64(len(block)), 2*due)])
	p.over = err != nil
	p.given += int64(n)
	return 2 * n
}
func (p *playedFile) Rate() int { return p.wav.Rate() }
func (p *playedFile) Close()    { p.voice.Close() }

// openListening opens what a run listens to, or gives nil. An input that is not there
// is told of, and the run goes on without.
func (f *listenFlags) openListening(rig gathering.Rig, known *sound.Tee, now func() time.Duration, screen *screen, broken mishaps) (*hearer, error) {
	if !rig.Listening.On {
		return nil, nil
	}
	if f.file != "" {
		v, err := openVoiceFile(f.file)
		if err != nil {
			return nil, err
		}
		v.clock = now
		screen.line("listens to " + f.file)
		return newHearer(f.wrapped(v), rig, nil)
	}
	m, err := openMicrophone(rig.Listening.Input, broken)
	if err != nil {
		screen.line(fmt.Sprintf("nothing is listened to: %v", err))
		return nil, nil
	}
	screen.line("listens to " + m.name + ": nothing of it is kept")
	return newHearer(f.wrapped(m), rig, known)
}

func (f *listenFlags) wrapped(s source) source {
	if f.wrap != nil {
		return f.wrap(s)
	}
	return s
}
