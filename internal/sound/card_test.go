package sound

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// fakeCard asks for a block every 10 ms until it is closed or pulled out.
type fakeCard struct {
	clock  *Clocked
	gone   func()
	closed atomic.Bool
	hangs  atomic.Bool
	once   sync.Once
}

func (f *fakeCard) Name() string { return "fake" }

func (f *fakeCard) Close() {
	f.closed.Store(true)
	if f.hangs.Load() {
		time.Sleep(time.Hour)
	}
	f.stall()
}

// stall makes it ask for nothing any more.
func (f *fakeCard) stall() { f.once.Do(f.clock.Close) }

// shelf hands out cards while there are any.
type shelf struct {
	t     *testing.T
	empty atomic.Bool
	cards []*fakeCard
}

func (s *shelf) open(fill func([]float32), gone func()) (device, error) {
	if s.empty.Load() {
		return nil, ErrNoDevice
	}
	clock, err := NewClocked(48000, 480, fill)
	if err != nil {
		s.t.Fatal(err)
	}
	s.cards = append(s.cards, &fakeCard{clock: clock, gone: gone})
	return s.cards[len(s.cards)-1], nil
}

func TestCardGoesAndComesBack(t *testing.T) {
	for _, how := range []string{"says so", "falls silent", "cannot be closed"} {
		synctest.Test(t, func(t *testing.T) {
			s := &shelf{t: t}
			var blocks, inside atomic.Int64
			var told []string
			restarted := 0
			card, err := openCard(CardConfig{
				Rate: 48000, Frames: 480,
				Fill: func([]float32) {
					if inside.Add(1) != 1 {
						t.Errorf("%s: two blocks are asked for at once", how)
					}
					blocks.Add(1)
					inside.Add(-1)
				},
				Restart: func() { restarted++ },
				Changed: func(name string) { told = append(told, name) },
			}, s.open)
			if err != nil {
				t.Fatal(err)
			}
			time.Sleep(10*time.Second + time.Millisecond)
			s.empty.Store(true)
			if first := s.cards[0]; how == "says so" {
				first.gone()
			} else {
				first.hangs.Store(how == "cannot be closed")
				first.stall()
			}
			time.Sleep(10 * time.Second)
			s.empty.Store(false)
			time.Sleep(10 * time.Second)
			card.Close()
			after := blocks.Load()
			time.Sleep(10 * time.Second)
			if want := []string{"fake", "", "fake"}; !slices.Equal(told, want) {
				t.Errorf("%s: told %q, want %q", how, told, want)
			}
			// 30 s of blocks, without what a silent card takes to be noticed.
			if after < 2490 || after > 3001 {
				t.Errorf("%s: %d blocks in 30 s, want about 3000", how, after)
			}
			if now := blocks.Load(); now != after {
				t.Errorf("%s: %d blocks asked for after Close", how, now-after)
			}
			if restarted != 1 {
				t.Errorf("%s: rose from nothing %d times, want 1", how, restarted)
			}
			for i, c := range s.cards {
				if !c.closed.Load() {
					t.Errorf("%s: card %d was not closed", how, i)
				}
			}
			if how == "cannot be closed" {
				time.Sleep(time.Hour) // so that nothing is left in the bubble
			}
		})
	}
}

func TestCardClosesWhileItIsGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &shelf{t: t}
		blocks := 0
		card, err := openCard(CardConfig{
			Rate: 48000, Frames: 480,
			Fill: func([]float32) { blocks++ }, Restart: func() {}, Changed: func(string) {},
		}, s.open)
		if err != nil {
			t.Fatal(err)
		}
		s.empty.Store(true)
		s.cards[0].gone()
		time.Sleep(5 * time.Second)
		card.Close()
		if blocks < 450 {
			t.Errorf("%d blocks in 5 s, want about 500", blocks)
		}
	})
}

func TestNoCardToBeginWith(t *testing.T) {
	failed := fmt.Errorf("this one: %w", ErrNoDevice)
	_, err := openCard(CardConfig{}, func(func([]float32), func()) (device, error) { return nil, failed })
	if !errors.Is(err, ErrNoDevice) {
		t.Errorf("error = %v, want ErrNoDevice", err)
	}
}

// A source whose turn it is not is silent, and whatever was in its block goes.
func TestGateLetsOneThrough(t *testing.T) {
	g := gate{fill: func(out []float32) { out[0] = 1 }}
	a, b := &source{gate: &g}, &source{gate: &g}
	g.give(a)
	out := []float32{7, 7}
	if b.fill(out); out[0] != 0 || out[1] != 0 {
		t.Errorf("the other one gets %v, want silence", out)
	}
	if a.fill(out); out[0] != 1 {
		t.Errorf("the one at turn gets %v, want a filled block", out)
	}
	g.mu.Lock() // a fill that still runs
	if a.fill(out); out[0] != 0 {
		t.Errorf("while another runs it gets %v, want silence", out)
	}
	g.mu.Unlock()
}
