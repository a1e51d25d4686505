package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/listening"
	"bedd/internal/sound"
)

// voiceFile is a recording of a voice, listened to a twentieth of a second at a time.
type voiceFile struct {
	path     string
	file     *os.File
	wav      *sound.WAVReader
	listener *listening.Listener
	balance  dynamics.Balance
	teller   listening.Teller
	block    []float32
	frames   int64 // read up to here
	over     bool
	failed   error
	see      func(listening.Heard) // told of all that was heard, or nil
}

// openVoiceFile opens a WAV file to be heard by the clock.
func openVoiceFile(path string) (*playedFile, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, badInput{err}
	}
	wav, err := sound.NewWAVReader(file)
	if err != nil {
		file.Close()
		return nil, badInput{fmt.Errorf("%s: %w", path, err)}
	}
	return &playedFile{voice: file, wav: wav}, nil
}

// openVoice opens a WAV file of any rate that an ear takes.
func openVoice(path string, rig gathering.Rig) (*voiceFile, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, badInput{err}
	}
	bad := func(err error) (*voiceFile, error) {
		file.Close()
		return nil, badInput{fmt.Errorf("%s: %w", path, err)}
	}
	wav, err := sound.NewWAVReader(file)
	if err != nil {
		return bad(err)
	}
	listener, err := listening.NewListener(wav.Rate(), 2, rig.Listening.Manner, rig.Cleared())
	if err != nil {
		return bad(err)
	}
	v := &voiceFile{path: path, file: file, wav: wav, listener: listener, balance: rig.Bed.Balance, block: make([]float32, 2*listener.Hop())}
	v.fill()
	return v, nil
}

// fill reads the next hop; what is missing of the last one is silence.
func (v *voiceFile) fill() {
	clear(v.block)
	for got := 0; got < len(v.block); {
		n, err := v.wav.Read(v.block[got:])
		got += 2 * n
		if err != nil || n == 0 {
			v.over = v.over || got == 0
			if err != nil && !errors.Is(err, io.EOF) {
				v.failed = fmt.Errorf("%s: %w", v.path, err)
			}
			break
		}
	}
	v.frames += int64(v.listener.Hop())
}

// Next gives until when it has been listened to when Hear returns next.
func (v *voiceFile) Next() (time.Duration, bool) {
	at := time.Duration(float64(v.frames) / float64(v.wav.Rate()) * float64(time.Second))
	return at, !v.over
}

// Hear listens on.
func (v *voiceFile) Hear(view bed.View) (intensity, eased float64, tell bool) {
	at, _ := v.Next()
	h := v.listener.Hear(v.block, nil, view.Intensity, bedLevel(view, v.balance))
	v.fill()
	if v.see != nil {
		v.see(h)
	}
	return h.Intensity, h.Eased, v.teller.Tell(at, h)
}

func (v *voiceFile) close() { v.file.Close() }

// bedLevel gives how loud the bed is, in dB under its loudest.
func bedLevel(v bed.View, b dynamics.Balance) float64 {
	if v.Phase == bed.Silent {
		return math.Inf(-1)
	}
	return min(b.DB(v.Intensity), b.Ceiling)
}
