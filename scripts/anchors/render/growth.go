package main

import (
	"fmt"
	"slices"
	"time"

	"bedd/internal/sound"
)

// growth prints how many times faster than real time some numbers of voices are,
// on one core.
func growth() error {
	fmt.Println("pad voices  piano voices  times real time  % of a 128-frame block, median")
	for _, c := range []struct{ pad, piano int }{{0, 0}, {6, 0}, {12, 0}, {24, 0}, {0, 16}, {6, 16}, {0, 32}, {0, 64}, {12, 64}} {
		took, err := blockTime(c.pad, c.piano)
		if err != nil {
			return err
		}
		share := took.Seconds() / (block / float64(rate))
		fmt.Printf("%10d%14d%17.0f%12.1f\n", c.pad, c.piano, 1/share, 100*share)
	}
	return nil
}

const block = 128

// blockTime gives the median time of a block, in the second after the voices
// began.
func blockTime(pads, pianos int) (time.Duration, error) {
	s, err := sound.New(sound.Config{Rate: rate, Seed: 1})
	if err != nil {
		return 0, err
	}
	s.Send(0xC1, 89, 0)
	for i := range pads {
		s.Send(0x91, byte(36+i*2), 80)
	}
	for i := range pianos {
		s.Send(0x90, byte(30+i), 80)
	}
	out := make([]float32, 2*block)
	var took []time.Duration
	for range rate / block {
		start := time.Now()
		s.Render(out)
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	return took[len(took)/2], nil
}
