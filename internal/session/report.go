package session

import (
	"math"
	"time"

	"bedd/internal/bed"
	"bedd/internal/midiio"
	"bedd/internal/voicing"
)

// Report is what a take tells afterwards. Times are seconds from the start,
// notes MIDI numbers.
type Report struct {
	Length  float64        `json:"length_s"`
	Chords  []ReportChord  `json:"chords"`
	Did     []ReportAction `json:"did"`
	Cues    []ReportCue    `json:"cues"`
	Sounded float64        `json:"bed_sounded_s"` // from the first strike after silence to the last off
	Held    int            `json:"notes_held"`    // over all chord changes, bass included
	Struck  int            `json:"notes_struck"`
	Sent    map[string]int `json:"messages"` // by origin
	Refused uint64         `json:"refused"`  // the player's messages on the bed's channels
	Cable   ReportCable    `json:"midi_cable"`
	Voice   *ReportVoice   `json:"voice,omitempty"`
	LUFS    *float64       `json:"loudness_lufs,omitempty"`
	PeakDB  *float64       `json:"true_peak_dbtp,omitempty"`
}

// ReportCable is how busy a MIDI cable would be that carried all of a take, piano and
// bed, as [midiio.Pacer] has it.
type ReportCable struct {
	Baud      int     `json:"baud"`
	Bytes     int     `json:"most_bytes_waiting"`
	At        float64 `json:"at_s"`
	Wait      float64 `json:"player_waits_ms"`         // at most
	ForBed    float64 `json:"player_waits_for_bed_ms"` // at most
	Overtaken uint64  `json:"overtaken"`               // messages made void by later ones before they went out
}

// ReportVoice is what was heard of a voice.
type ReportVoice struct {
	Seconds map[string]float64 `json:"heard_s"` // by what was heard
	Low     float64            `json:"intensity_low"`
	High    float64            `json:"intensity_high"`
	Follows float64            `json:"follows_s"` // how long the intensity followed the voice
	Eased   float64            `json:"eased_db"`  // for the words' sake, at most
}

// ReportChord is one chord of a report.
type ReportChord struct {
	At        float64 `json:"at_s"`
	Chord     string  `json:"chord"`
	Degree    string  `json:"degree"`
	Key       string  `json:"key"`
	Place     string  `json:"place"`
	Bass      *int    `json:"bass"`
	Upper     []int   `json:"upper"`
	Held      []int   `json:"held"`
	Struck    []int   `json:"struck"`
	Released  []int   `json:"released"`
	Intensity float64 `json:"intensity"`
	Source    string  `json:"source"`
	Density   int     `json:"density"`
}

// ReportAction is a command that was carried out.
type ReportAction struct {
	At float64 `json:"at_s"`
	Do string  `json:"do"`
}

// ReportCue is a spoken cue of the performance.
type ReportCue struct {
	At   float64 `json:"at_s"`
	Text string  `json:"text"`
}

// Report sums a take up. Of the cues those that were spoken count; end is when all
// was silent.
func (t *Take) Report(cues []Cue, end time.Duration, refused uint64) Report {
	r := Report{Length: end.Seconds(), Refused: refused, Sent: map[string]int{},
		Cable: cableReport(t.Load(midiio.DINBaud)), Chords: []ReportChord{}, Did: []ReportAction{}, Cues: []ReportCue{}}
	for _, e := range t.Entered {
		v := e.View
		c := ReportChord{
			At: e.At.Seconds(), Chord: v.Chord.Symbol(), Degree: v.Chord.Degree(v.Key), Key: v.Key.String(),
			Place: v.Place.String(), Upper: numbers(v.Voicing.Pitches()), Held: numbers(v.Change.Held),
			Struck: numbers(v.Change.Struck), Released: numbers(v.Change.Released),
			Intensity: v.Intensity, Source: v.Source.String(), Density: v.Density,
		}
		if v.Voicing.Bass != voicing.NoBass {
			bass := int(v.Voicing.Bass)
			c.Bass = &bass
		}
		if !v.Change.Before.IsZero() { // a change, not a bring-in
			r.Held += v.Change.Held.Len()
			r.Struck += v.Change.Struck.Len()
		}
		r.Chords = append(r.Chords, c)
	}
	for _, a := range t.Marks {
		if text, ok := Marker(a); ok && a.Kind == bed.Did {
			r.Did = append(r.Did, ReportAction{a.At.Seconds(), text[len("do "):]})
		}
	}
	for _, c := range cues {
		if c.Data == nil {
			r.Cues = append(r.Cues, ReportCue{c.At.Seconds(), c.Text})
		}
	}
	on, since := 0, time.Duration(0)
	for _, s := range t.Sent() {
		r.Sent[s.From.String()]++
		if s.From != Warm || len(s.Data) != 3 {
			continue
		}
		switch {
		case s.Data[0]&0xF0 == 0x90:
			if on == 0 {
				since = s.At
			}
			on++
		case s.Data[0]&0xF0 == 0x80:
			if on--; on == 0 {
				r.Sounded += (s.At - since).Seconds()
			}
		}
	}
	return r
}

func cableReport(l midiio.Load) ReportCable {
	ms := func(d time.Duration) float64 { return math.Round(d.Seconds()*1e5) / 100 }
	return ReportCable{l.Baud, l.Bytes, l.At.Seconds(), ms(l.Wait), ms(l.ForBed), l.Overtaken}
}

// Loudness adds figures of the rendered sound, LUFS and dBTP; what is not finite,
// as of silence, is left out.
func (r *Report) Loudness(lufs, peakDB float64) {
	if !math.IsInf(lufs, 0) && !math.IsNaN(lufs) {
		r.LUFS = &lufs
	}
	if !math.IsInf(peakDB, 0) && !math.IsNaN(peakDB) {
		r.PeakDB = &peakDB
	}
}

func numbers(p voicing.Pitches) []int {
	var room [128]uint8
	out := []int{}
	for _, n := range p.Append(room[:0]) {
		out = append(out, int(n))
	}
	return out
}
