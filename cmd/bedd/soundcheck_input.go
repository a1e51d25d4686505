package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"bedd/internal/sound"
	"bedd/internal/soundcheck"
)

// inputWait is how long an input may bring nothing until it counts as gone.
const inputWait = 5 * time.Second

// hearInput measures some seconds of what a sound input hears, named as for
// [sound.OpenInput], after a word of what is wanted. Nothing of it is kept.
func hearInput(talk io.Writer, name string, seconds float64, wanted string) (soundcheck.Heard, error) {
	ear, err := soundcheck.NewEar(liveRate)
	if err != nil {
		return soundcheck.Heard{}, err
	}
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer signal.Stop(signals)

	tee, err := sound.NewTee(1 << 17)
	if err != nil {
		return soundcheck.Heard{}, err
	}
	gone := make(chan struct{}, 1)
	input, err := sound.OpenInput(liveRate, 512, name, tee.Write, func() {
		select {
		case gone <- struct{}{}:
		default:
		}
	})
	if err != nil {
		return soundcheck.Heard{}, err
	}
	defer input.Close()
	fmt.Fprintf(talk, "listens to %s for %.0f s: %s\n", input.Name(), seconds, wanted)
	look := time.NewTicker(50 * time.Millisecond)
	defer look.Stop()
	block := make([]float32, 1<<14)
	total, heard, silent := int(seconds*liveRate), 0, time.Now()
	for heard < total {
		select {
		case <-signals:
			return soundcheck.Heard{}, errors.New("interrupted, nothing is measured")
		case <-gone:
			return soundcheck.Heard{}, errors.New("the sound input has gone: plug it in and try again")
		case <-look.C:
		}
		for n := tee.Read(block); n > 0; n = tee.Read(block) {
			ear.Add(block[:n])
			heard, silent = heard+n/2, time.Now()
		}
		if time.Since(silent) > inputWait {
			return soundcheck.Heard{}, errors.New("the sound input brings nothing: is it switched on, and not taken by another program?")
		}
	}
	h := ear.Heard()
	if err := h.Check(); err != nil {
		return h, fmt.Errorf("%s: %w", input.Name(), err)
	}
	return h, nil
}
