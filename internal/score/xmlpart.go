package score

import (
	"encoding/xml"
	"fmt"
	"math"
	"strings"

	"bedd/internal/harmony"
)

// part is what one instrument plays.
type part struct {
	name      string
	divisions float64 // of a quarter note
	start, at float64 // of this bar and of what comes next, in quarter notes from the song's start
	furthest  float64
	transpose int // semitones from what is written to what sounds
	keys      []signature
	beat      float64 // quarter notes
	bar       float64
	tempo     float64
	notes     []note // sounding
	upper     []int  // indexes of those that may be the melody: on the upper staff
	chords    []timedChord
	marks     []mark
	sung      bool
	unread    []string // chords that could not be read
}

type timedChord struct {
	at    float64
	chord harmony.Chord
}

// mark is a rehearsal mark: the name of what begins there.
type mark struct {
	at   float64
	name string
}

type signature struct {
	at     float64
	fifths int
	mode   string
	odd    bool // it is no signature of the circle of fifths
}

func (p *part) endBar() {
	p.start = max(p.furthest, p.start)
	p.at, p.furthest = p.start, p.start
}

// forward moves the place where the next note begins.
func (p *part) forward(divisions float64) {
	by := divisions / p.divisions
	if math.IsNaN(by) || math.Abs(by) > 1e6 {
		return
	}
	p.at = max(p.at+by, 0)
	p.furthest = max(p.furthest, p.at)
}

type xmlAttributes struct {
	Divisions float64 `xml:"divisions"`
	Keys      []struct {
		Fifths  *int     `xml:"fifths"`
		Mode    string   `xml:"mode"`
		KeyStep []string `xml:"key-step"`
	} `xml:"key"`
	Time []struct {
		Beats    []string `xml:"beats"`
		BeatType []string `xml:"beat-type"`
	} `xml:"time"`
	Transpose []struct {
		Chromatic float64 `xml:"chromatic"`
		Octave    int     `xml:"octave-change"`
	} `xml:"transpose"`
}

type xmlNote struct {
	Grace *struct{} `xml:"grace"`
	Cue   *struct{} `xml:"cue"`
	Chord *struct{} `xml:"chord"`
	Pitch *struct {
		Step   string  `xml:"step"`
		Alter  float64 `xml:"alter"`
		Octave int     `xml:"octave"`
	} `xml:"pitch"`
	Duration float64 `xml:"duration"`
	Staff    int     `xml:"staff"`
	Ties     []struct {
		Type string `xml:"type,attr"`
	} `xml:"tie"`
	Lyrics []struct{} `xml:"lyric"`
}

type xmlSound struct {
	Tempo float64 `xml:"tempo,attr"`
}

type xmlDirection struct {
	Types []struct {
		Rehearsal []string `xml:"rehearsal"`
		Metronome *struct {
			Unit string     `xml:"beat-unit"`
			Dots []struct{} `xml:"beat-unit-dot"`
			Per  string     `xml:"per-minute"`
		} `xml:"metronome"`
	} `xml:"direction-type"`
	Sound *xmlSound `xml:"sound"`
}

// read takes one element of a bar.
func (p *part) read(x *xmlScore, name string, t xml.StartElement) error {
	switch name {
	case "attributes":
		var a xmlAttributes
		if err := x.d.DecodeElement(&a, &t); err != nil {
			return err
		}
		p.attributes(a)
	case "note":
		var n xmlNote
		if err := x.d.DecodeElement(&n, &t); err != nil {
			return err
		}
		if x.notes++; x.notes > maxNotes {
			return fmt.Errorf("more than %d notes, the most that are read", maxNotes)
		}
		p.note(n)
	case "harmony":
		var h xmlHarmony
		if err := x.d.DecodeElement(&h, &t); err != nil {
			return err
		}
		p.harmony(h)
	case "direction":
		var d xmlDirection
		if err := x.d.DecodeElement(&d, &t); err != nil {
			return err
		}
		p.direction(d)
	case "sound":
		var s xmlSound
		if err := x.d.DecodeElement(&s, &t); err != nil {
			return err
		}
		p.sound(s.Tempo)
	default:
		var move struct {
			Duration float64 `xml:"duration"`
		}
		if err := x.d.DecodeElement(&move, &t); err != nil {
			return err
		}
		if name == "backup" {
			move.Duration = -move.Duration
		}
		p.forward(move.Duration)
	}
	return nil
}

func (p *part) attributes(a xmlAttributes) {
	if a.Divisions > 0 {
		p.divisions = a.Divisions
	}
	if len(a.Keys) > 0 { // further ones are those of other staves
		k := a.Keys[0]
		s := signature{at: p.at, mode: k.Mode, odd: k.Fifths == nil || len(k.KeyStep) > 0}
		if !s.odd {
			s.fifths = *k.Fifths
			s.odd = s.fifths < -7 || s.fifths > 7
		}
		p.keys = append(p.keys, s)
	}
	if len(a.Time) > 0 {
		t := a.Time[0]
		var beats, kind int
		if len(t.Beats) == 1 && len(t.BeatType) == 1 {
			fmt.Sscan(t.Beats[0], &beats)
			fmt.Sscan(t.BeatType[0], &kind)
		}
		p.beat, p.bar = meter(beats, kind)
	}
	if len(a.Transpose) > 0 {
		p.transpose = int(a.Transpose[0].Chromatic) + 12*a.Transpose[0].Octave
	}
}

// meter gives beat and bar in quarter notes; what is no meter counts as 4/4.
func meter(beats, kind int) (beat, bar float64) {
	if beats < 1 || beats > 64 || kind < 1 || kind > 64 {
		return 1, 4
	}
	beat = 4 / float64(kind)
	bar = beat * float64(beats)
	if kind >= 8 && beats%3 == 0 && beats > 3 {
		beat *= 3 // a compound meter, such as 6/8
	}
	return beat, bar
}

func (p *part) note(n xmlNote) {
	if n.Grace != nil {
		return
	}
	at := p.at
	if n.Chord != nil {
		at = max(p.at-min(n.Duration/p.divisions, p.at), 0)
	} else {
		p.forward(n.Duration)
	}
	if n.Cue != nil || n.Pitch == nil || len(n.Pitch.Step) != 1 {
		return
	}
	letter := strings.IndexByte("C D EF G A B", n.Pitch.Step[0])
	sounds := letter + int(math.Round(n.Pitch.Alter)) + 12*(n.Pitch.Octave+1) + p.transpose
	if letter < 0 || math.Abs(n.Pitch.Alter) > 3 || sounds < 0 || sounds > 127 {
		return
	}
	long := n.Duration / p.divisions
	if !(long >= 0 && long < 1e6) {
		return
	}
	p.sung = p.sung || len(n.Lyrics) > 0
	for _, tie := range n.Ties {
		if tie.Type == "stop" && p.prolong(sounds, at, long) {
			return
		}
	}
	if n.Staff <= 1 {
		p.upper = append(p.upper, len(p.notes))
	}
	p.notes = append(p.notes, note{sounds, at, long})
}

// prolong lets a note that ends here go on.
func (p *part) prolong(sounds int, at, long float64) bool {
	const near, farthest = 1e-3, 64
	for i := len(p.notes) - 1; i >= max(0, len(p.notes)-farthest); i-- {
		if n := &p.notes[i]; n.pitch == sounds && math.Abs(n.at+n.long-at) < near {
			n.long += long
			return true
		}
	}
	return false
}

// Quarter notes of a beat unit, by its name in MusicXML.
var units = map[string]float64{"breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": 0.5, "16th": 0.25, "32nd": 0.125}

func (p *part) direction(d xmlDirection) {
	for _, t := range d.Types {
		for _, name := range t.Rehearsal {
			if name = clean(name); name != "" && len(p.marks) < 10*maxSections {
				p.marks = append(p.marks, mark{p.at, name})
			}
		}
		if m := t.Metronome; m != nil && p.tempo == 0 {
			var perMinute float64
			if _, err := fmt.Sscan(m.Per, &perMinute); err == nil && units[m.Unit] > 0 {
				p.tempo = tempo(perMinute)
			}
		}
	}
	if d.Sound != nil {
		p.sound(d.Sound.Tempo)
	}
}

// sound takes a tempo in quarter notes a minute, as beats of the meter.
func (p *part) sound(quarters float64) {
	if p.tempo == 0 && quarters > 0 {
		p.tempo = tempo(quarters / p.beat)
	}
}

// tempo is a tempo that a plan takes, or 0.
func tempo(perMinute float64) float64 {
	if t := math.Round(perMinute*10) / 10; t >= 20 && t <= 300 {
		return t
	}
	return 0
}
