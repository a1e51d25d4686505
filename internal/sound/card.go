package sound

import (
	"sync"
	"sync/atomic"
	"time"
)

const (
	// lookEvery is how often a missing card is looked for.
	lookEvery = time.Second

	// silentFor is how long a card may ask for nothing until it counts as gone.
	// Sound servers with slow sinks ask for two seconds at a time.
	silentFor = 4 * time.Second

	// closeWait is how long a card that went may take to be closed: the drivers
	// of some that were pulled out never answer.
	closeWait = time.Second
)

// Card keeps blocks being asked for: by the system's sound card, and while that
// is gone by the clock, so that recordings and the synth's time go on. A card
// that comes back is taken again within about a second.
type Card struct {
	config  CardConfig
	open    opener
	gate    gate
	stop    chan struct{}
	stopped chan struct{}
}

// CardConfig is what a Card is made with.
type CardConfig struct {
	Rate, Frames int // as OpenDevice takes them
	Fill         func([]float32)
	Restart      func()            // told before another card's first block: let the sound rise from nothing
	Changed      func(name string) // told which card sounds now; "" when it went
}

// device is an open sound card.
type device interface {
	Name() string
	Close()
}

// opener opens a card that asks fill for blocks, and calls gone when it stops by
// itself.
type opener func(fill func([]float32), gone func()) (device, error)

// OpenCard opens the system's default output and keeps it. It returns
// ErrNoDevice when there is none to begin with.
func OpenCard(c CardConfig) (*Card, error) {
	return openCard(c, func(fill func([]float32), gone func()) (device, error) {
		return OpenDevice(c.Rate, c.Frames, fill, gone)
	})
}

func openCard(config CardConfig, open opener) (*Card, error) {
	c := &Card{config: config, open: open, stop: make(chan struct{}), stopped: make(chan struct{})}
	c.gate.fill = config.Fill
	first, err := c.attempt()
	if err != nil {
		return nil, err
	}
	c.gate.give(first)
	config.Changed(first.name())
	go c.run(first)
	return c, nil
}

// Close ends it; Fill is not called any more when it returns. Call it once.
func (c *Card) Close() {
	close(c.stop)
	<-c.stopped
}

// attempt opens the card, which stays silent until the gate is given to it.
func (c *Card) attempt() (*source, error) {
	s := &source{gate: &c.gate, gone: make(chan struct{}, 1)}
	d, err := c.open(s.fill, func() {
		select {
		case s.gone <- struct{}{}:
		default:
		}
	})
	if err != nil {
		return nil, err
	}
	s.device = d
	return s, nil
}

func (c *Card) run(card *source) {
	defer close(c.stopped)
	for {
		stopping := card.watch(c.stop)
		var clock *source
		if !stopping {
			clock = &source{gate: &c.gate}
			clocked, err := NewClocked(c.config.Rate, c.config.Frames, clock.fill)
			if err == nil { // both numbers were good for the card
				clock.device = clocked
				c.gate.give(clock)
			}
			c.config.Changed("")
		} else {
			c.gate.give(nil)
		}
		card.close()
		if stopping {
			return
		}
		if card = c.await(); card == nil {
			c.gate.give(nil)
			clock.close()
			return
		}
		c.config.Restart()
		c.gate.give(card)
		clock.close()
		c.config.Changed(card.name())
	}
}

// await looks for a card until there is one; nil when it is told to stop.
func (c *Card) await() *source {
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		select {
		case <-c.stop:
			return nil
		case <-look.C:
			if s, err := c.attempt(); err == nil {
				return s
			}
		}
	}
}

// gate lets one source of blocks at a time through to fill, and gives the
// others silence. Nobody who asks for a block waits at it.
type gate struct {
	mu   sync.Mutex
	turn *source
	fill func([]float32)
}

// give opens the gate to one source, nil for none, when a running fill has ended.
func (g *gate) give(to *source) {
	g.mu.Lock()
	g.turn = to
	g.mu.Unlock()
}

// source is what asks for blocks: a card, or the clock.
type source struct {
	gate   *gate
	device interface{ Close() }
	gone   chan struct{}
	asked  atomic.Uint64
}

func (s *source) fill(out []float32) {
	s.asked.Add(1)
	if s.gate.mu.TryLock() {
		defer s.gate.mu.Unlock()
		if s.gate.turn == s {
			s.gate.fill(out)
			return
		}
	}
	clear(out)
}

func (s *source) name() string {
	if d, ok := s.device.(device); ok {
		return d.Name()
	}
	return ""
}

// watch waits until the card stops, or asks for nothing any more; it reports
// whether it was told to stop instead.
func (s *source) watch(stop <-chan struct{}) (stopping bool) {
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	asked, silent := s.asked.Load(), time.Duration(0)
	for {
		select {
		case <-stop:
			return true
		case <-s.gone:
			return false
		case <-look.C:
			now := s.asked.Load()
			if silent += lookEvery; now != asked {
				asked, silent = now, 0
			}
			if silent >= silentFor {
				return false
			}
		}
	}
}

// close closes the device, and leaves one behind that does not answer.
func (s *source) close() {
	if s.device == nil {
		return
	}
	closed := make(chan struct{})
	go func() {
		defer close(closed)
		s.device.Close()
	}()
	select {
	case <-closed:
	case <-time.After(closeWait):
	}
}
