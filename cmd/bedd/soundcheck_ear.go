package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"bedd/internal/sound"
	"bedd/internal/soundcheck"
	"bedd/internal/wholefile"
)

// earTail is how long the last echoes may ring.
const earTail = 2 * liveRate

func writeSound(path string, events []sound.Event, render soundcheck.Renderer) error {
	return wholefile.Write(path, func(file *os.File) error {
		wav, err := sound.NewWAV(file, liveRate, 16)
		if err != nil {
			return err
		}
		if err := render(events, earTail, wav.Write); err != nil {
			return err
		}
		return wav.Close()
	})
}

// heard plays what there is to listen to.
func (f *levelsFlags) heard(w io.Writer, events []sound.Event, render soundcheck.Renderer) error {
	var all []float32
	if err := render(events, earTail, func(block []float32) error { all = append(all, block...); return nil }); err != nil {
		return err
	}
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)
	fmt.Fprintln(w, "\nturn the volume down first, headphones off: the piano alone for 8 s, then the bed under it, rising; ctrl-c ends it")
	player := playOnce(all)
	card, err := sound.OpenCard(sound.CardConfig{Rate: liveRate, Frames: f.frames, Fill: player.fill, Restart: func() {}, Changed: func(string) {}})
	if errors.Is(err, sound.ErrNoDevice) {
		return errors.New("no sound card answers: plug one in, or write it to a file with --wav")
	}
	if err != nil {
		return err
	}
	defer card.Close()
	select {
	case <-player.over:
	case <-signals:
		player.ending.Store(true)
		select {
		case <-player.over:
		case <-time.After(time.Second):
		}
	}
	return nil
}

// playedOnce plays a sound once, rising from 40 dB under it in five seconds, so that
// there is time to turn down, and lets it go within 50 ms where it is ended.
type playedOnce struct {
	left   []float32
	at     int // frames
	gain   float32
	told   bool
	over   chan struct{}
	ending atomic.Bool
}

func playOnce(sound []float32) *playedOnce {
	return &playedOnce{left: sound, gain: 1, over: make(chan struct{})}
}

func (p *playedOnce) fill(out []float32) {
	clear(out)
	n := copy(out, p.left)
	p.left = p.left[n:]
	const rise, under, end = 5 * liveRate, 40, 1 / (0.05 * liveRate)
	for i := 0; i+1 < n; i += 2 {
		gain := p.gain
		if p.at < rise {
			gain *= float32(math.Pow(10, under*(float64(p.at)/rise-1)/20))
		}
		if p.ending.Load() {
			p.gain = max(0, p.gain-end)
		}
		out[i], out[i+1] = out[i]*gain, out[i+1]*gain
		p.at++
	}
	if p.gain == 0 {
		p.left = nil
	}
	if len(p.left) == 0 && !p.told {
		p.told = true
		close(p.over)
	}
}
