package soundcheck

import (
	"errors"
	"fmt"
	"math"
	"time"

	"bedd/internal/bed"
	"bedd/internal/dynamics"
	"bedd/internal/gathering"
	"bedd/internal/session"
	"bedd/internal/sound"
)

// Row is a rig's bed at one density, in one register.
type Row struct {
	Voices   int     // upper notes that sound, besides the bass; 0 of a recording
	Lifted   bool    // the register has risen
	Name     string  // in words
	From, To float64 // the intensities at which it is like this
	LevelDB  float64 // how loud it was for what follows: dB under the loudest that the rig's level law has
	LUFS     float64 // of all its chords
	PeakDB   float64 // true peak, dBTP
	Chords   []Chord
}

// Chord is one chord of a row.
type Chord struct {
	Name  string
	Heard Heard
}

// Renderer sounds messages: events in order, tail frames after the last.
type Renderer func(events []sound.Event, tail int64, sink func([]float32) error) error

// How the bed is sounded to be measured: each chord long enough for the pads to
// attack, the chord before to die away and the room to fill, and then listened to.
const (
	renderRate = 48000
	chordTime  = 3 * time.Second
	listenFrom = 1500 * time.Millisecond
	quickest   = 100 * time.Millisecond
)

// spans are the densities and registers that a rig's intensity leads to.
func spans(c *bed.Config) (rows []Row) {
	thin, full := c.Voicing.Thin, c.Voicing.Full
	if c.SameVoices {
		thin, full = c.Voicing.Voices, c.Voicing.Voices
	}
	width := 1 / float64(full-thin+1)
	lift := c.LiftFrom + bed.LiftMargin
	lifts := c.Lift > 0 && c.Voicing.Stillness < 1
	const under = 1e-6 // just under an edge
	for n := thin; n <= full; n++ {
		from, to := float64(n-thin)*width, float64(n-thin+1)*width-under
		to = min(to, 1)
		if n == full {
			to = 1
		}
		if !lifts || from < lift {
			r := Row{Voices: n, From: from, To: to}
			if lifts {
				r.To = min(to, lift-under)
			}
			rows = append(rows, r)
		}
		if lifts && to >= lift {
			rows = append(rows, Row{Voices: n, Lifted: true, From: max(from, lift), To: to})
		}
	}
	return rows
}

// ErrShared says that bedd cannot sound a rig's bed by itself.
var ErrShared = errors.New("this rig's bed plays the piano's own sound (share:), which bedd does not know: record the bed instead")

// Beds sounds a rig's bed through every chord of some moments, once for each density
// and register, each at the most that its intensity can be, whatever ceiling the rig
// has: the levels are those before any ceiling. Render sounds it with the rig's sounds
// set up. Progress, which may be nil, is told the rows and moments done and their number.
func Beds(rig gathering.Rig, moments []bed.Moment, render Renderer, progress func(done, total int64)) ([]Row, error) {
	if rig.Share {
		return nil, ErrShared
	}
	rig.Bed.Balance.Ceiling = 0
	rig.Bed.BringIn = quickest
	rig.Bed.Feel.Rise, rig.Bed.Feel.Fall = dynamics.MostRate, dynamics.MostRate
	rows := spans(&rig.Bed)
	done, total := int64(0), int64(len(rows)*len(moments))
	plain := render
	render = func(events []sound.Event, tail int64, sink func([]float32) error) error {
		err := plain(events, tail, sink)
		if done++; progress != nil {
			progress(done, total)
		}
		return err
	}
	for i := range rows {
		r := &rows[i]
		r.Name = fmt.Sprintf("%d voices", r.Voices)
		if r.Voices == 1 {
			r.Name = "1 voice"
		}
		if r.Lifted {
			r.Name += ", risen"
		}
		if r.LevelDB = 0; !rig.Bed.NoLevel {
			r.LevelDB = rig.Bed.Balance.DB(r.To)
		}
		if err := r.sound(rig, moments, render); err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// part is where a chord is listened to, in frames.
type part struct {
	name     string
	from, to int64
}

// sound plays a row's chords and measures them.
func (r *Row) sound(rig gathering.Rig, moments []bed.Moment, render Renderer) (err error) {
	r.Chords, r.LUFS, r.PeakDB, err = sounded(rig, moments, r.To, render)
	if err == nil && math.IsInf(r.LUFS, -1) {
		err = fmt.Errorf("the bed of %s sounds nothing: does the rig's level leave anything of it?", r.Name)
	}
	return err
}

// sounded plays the chords of some moments at an intensity and measures each, and all
// together.
func sounded(rig gathering.Rig, moments []bed.Moment, intensity float64, render Renderer) (chords []Chord, lufs, peakDB float64, err error) {
	all, err := sound.NewLoudness(renderRate)
	if err != nil {
		return nil, 0, 0, err
	}
	for _, m := range moments {
		m.Intensity = intensity
		events, parts, err := played(rig, m)
		if err != nil {
			return nil, 0, 0, err
		}
		l := listener{parts: parts, all: all}
		if err := render(events, parts[len(parts)-1].to-events[len(events)-1].Frame, l.add); err != nil {
			return nil, 0, 0, err
		}
		chords = append(chords, l.chords...)
	}
	return chords, all.Integrated(), all.PeakDB(), nil
}

// listener measures some parts of a sound.
type listener struct {
	parts  []part // to come, in order
	at     int64
	ear    *Ear
	all    *sound.Loudness // of all parts
	chords []Chord
}

func (l *listener) add(block []float32) (err error) {
	for len(block) > 0 && len(l.parts) > 0 {
		p := l.parts[0]
		frames := int64(len(block) / 2)
		if l.at < p.from {
			frames = min(frames, p.from-l.at)
			l.at, block = l.at+frames, block[2*frames:]
			continue
		}
		if l.at == p.from {
			if l.ear, err = NewEar(renderRate); err != nil {
				return err
			}
		}
		frames = min(frames, p.to-l.at)
		l.ear.Add(block[:2*frames])
		l.all.Add(block[:2*frames])
		l.at, block = l.at+frames, block[2*frames:]
		if l.at == p.to {
			l.chords = append(l.chords, Chord{p.name, l.ear.Heard()})
			l.parts = l.parts[1:]
		}
	}
	return nil
}

// played runs the bed through a moment's home and away chords.
func played(rig gathering.Rig, m bed.Moment) (events []sound.Event, parts []part, err error) {
	take := new(session.Take)
	s, err := session.New(rig, []bed.Moment{m}, take)
	if err != nil {
		return nil, nil, err
	}
	take.Watch(s)
	at := time.Duration(0)
	do := func(c bed.Command) {
		s.Ask(at, gathering.Order{Command: c})
		s.Advance(at + chordTime - 1)
		v := s.View()
		parts = append(parts, part{v.Chord.Symbol(), frame(at + listenFrom), frame(at + chordTime)})
		at += chordTime
	}
	do(bed.BringIn)
	for range len(m.Home) - 1 {
		do(bed.Next)
	}
	if len(m.Away) > 0 {
		do(bed.Swap)
		for range len(m.Away) - 1 {
			do(bed.Next)
		}
	}
	return eventsOf(take), parts, nil
}

// eventsOf gives the channel messages of a take.
func eventsOf(take *session.Take) (events []sound.Event) {
	for _, sent := range take.Sent() {
		if d := sent.Data; len(d) >= 2 && d[0] >= 0x80 && d[0] < 0xF0 {
			e := sound.Event{Frame: frame(sent.At), Status: d[0], Data1: d[1]}
			if len(d) > 2 {
				e.Data2 = d[2]
			}
			events = append(events, e)
		}
	}
	return events
}

func frame(at time.Duration) int64 { return int64(math.Round(at.Seconds() * renderRate)) }

// RecordedBed is a bed that was recorded, as a row of its own.
func RecordedBed(name string, h Heard) Row {
	return Row{Name: name, To: 1, LUFS: h.LUFS, PeakDB: h.PeakDB, Chords: []Chord{{name, h}}}
}
