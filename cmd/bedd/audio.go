package main

import (
	"errors"
	"fmt"
	"os"
	"sync/atomic"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/sound"
	"bedd/internal/wholefile"
)

// liveRate is the sound's frames a second while playing.
const liveRate = 48000

// liveTail is how long the last echoes may ring before play ends.
const liveTail = 2 * time.Second

// soundEnd is how long the sound may take to end after that, blocks and all.
const soundEnd = 200 * time.Millisecond

// soundOut is the built-in sound of a live run: on a sound card where there is
// one, into a file where one is asked for.
type soundOut struct {
	live     *sound.Live
	device   interface{ Close() }
	recorder *sound.Recorder
	tee      *sound.Tee
	file     *wholefile.Pending
	path     string
	screen   *screen
	card     bool        // it sounds on one
	up       atomic.Bool // which is there
	known    *sound.Tee  // what is played, for who listens
	stutters uint64      // that the player was told of
	release  func()      // of the instrument
}

// checkFrames refuses block lengths that sound cards do not take.
func checkFrames(frames int) error {
	if frames < 32 || frames > 8192 {
		return badInput{fmt.Errorf("--frames %d is out of range 32…8192", frames)}
	}
	return nil
}

// openSound opens what the run needs. Without a card and without a file to
// record, there is no sound and live is nil.
func openSound(rig gathering.Rig, choice instrumentFlags, wav string, frames int, card bool, known *sound.Tee, screen *screen, broken mishaps) (o *soundOut, err error) {
	o = &soundOut{path: wav, screen: screen, known: known}
	if !card && wav == "" {
		if choice.soundFont != "" {
			screen.line("--soundfont is left alone: nothing sounds here by itself")
		}
		return o, nil
	}
	synth, release, err := choice.open(rig, liveRate)
	if err != nil {
		return nil, err
	}
	o.release = release
	if wav != "" {
		if o.tee, err = sound.NewTee(1 << 17); err != nil { // 2.7 s for a slow disk
			return nil, err
		}
		if o.file, err = wholefile.Begin(wav); err != nil {
			return nil, err
		}
		defer func() {
			if err != nil {
				o.file.Abort()
			}
		}()
		w, err := sound.NewWAV(o.file, liveRate, 16)
		if err != nil {
			return nil, err
		}
		o.recorder = sound.Record(o.tee, w)
	}
	if o.live, err = sound.NewLive(synth, o.tee); err != nil {
		return nil, err
	}
	for _, m := range builtIn(rig) {
		o.live.Push(m.Status, m.Data1, m.Data2)
	}
	fill := func(block []float32) {
		defer broken.catch()
		o.live.Fill(block)
		if o.known != nil {
			o.known.Write(block)
		}
	}
	if card {
		first := true
		device, err := sound.OpenCard(sound.CardConfig{
			Rate: liveRate, Frames: frames, Fill: fill, Restart: o.live.Restart,
			Changed: func(name string) {
				o.up.Store(name != "")
				switch {
				case name == "":
					screen.line("the sound card has gone: bedd plays on, and takes it again when it comes back")
				case first:
					screen.line("sound on " + name + ": start with the volume down")
				default:
					screen.line("sound on " + name + " again")
				}
				first = false
			},
		})
		switch {
		case err == nil:
			o.device, o.card = device, true
			return o, nil
		case errors.Is(err, sound.ErrNoDevice) || errors.Is(err, sound.ErrBuild):
			screen.line(err.Error())
		default:
			screen.line("sound card: " + err.Error())
		}
	}
	if wav == "" {
		o.live = nil
		return o, nil
	}
	if o.device, err = sound.NewClocked(liveRate, frames, fill); err != nil {
		return nil, err
	}
	return o, nil
}

// link is the card as the player should see it, if there is one.
func (o *soundOut) link() (link glance.Link, ok bool) {
	if o == nil || !o.card {
		return link, false
	}
	return glance.Link{Name: "sound card", Way: "out", Up: o.up.Load()}, true
}

// stutter is what to say when the card has run dry, the first time and each time
// that there are ten times as many; else it is empty.
func (o *soundOut) stutter() string {
	if o == nil || !o.card { // there is none, or it is not heard
		return ""
	}
	n := o.live.Underruns()
	if n < max(1, 10*o.stutters) {
		return ""
	}
	o.stutters = n
	return fmt.Sprintf("the sound has stuttered %s: a larger --frames stutters less", times(n))
}

// times writes how often.
func times(n uint64) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// close lets the sound ring out, unless hurried, and names the file written.
func (o *soundOut) close(hurry <-chan os.Signal) (path string, err error) {
	if o.device == nil {
		return "", nil
	}
	select {
	case <-time.After(liveTail):
	case <-hurry:
	}
	o.live.End()
	time.Sleep(soundEnd)
	o.device.Close()
	o.release()
	if n := o.live.Underruns(); o.card && n > 0 {
		o.screen.line(fmt.Sprintf("the sound stuttered %s", times(n)))
	}
	if o.recorder == nil {
		return "", nil
	}
	if err := o.recorder.Close(); err != nil {
		o.file.Abort()
		return "", fmt.Errorf("%s: %w", o.path, err)
	}
	if err := o.file.Commit(); err != nil {
		return "", err
	}
	if n := o.tee.Dropped(); n > 0 {
		o.screen.line(fmt.Sprintf("%s lacks %.2f s: the disk was too slow", o.path, float64(n)/liveRate))
	}
	return o.path, nil
}
