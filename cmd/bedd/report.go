package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/curve"
	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/midiio"
	"bedd/internal/session"
	"bedd/internal/wholefile"
)

// writeReports writes every report asked for: as text, or drawn where the name
// says so.
func (f *renderFlags) writeReports(stdout io.Writer, text, drawn func(io.Writer) error) error {
	told := false
	for _, path := range f.reports {
		write := text
		if isDrawing(path) {
			write = drawn
		} else {
			told = true
		}
		if path == "-" {
			if err := write(stdout); err != nil {
				return err
			}
		} else if err := wholefile.Write(path, func(file *os.File) error { return write(file) }); err != nil {
			return err
		}
	}
	if asked := f.midi != "" || f.wav != "" || len(f.reports) > 0; told || asked && !f.json {
		return nil
	}
	return text(stdout)
}

// isDrawing tells by a report's name that it is the curve.
func isDrawing(path string) bool { return strings.EqualFold(filepath.Ext(path), ".svg") }

func (f *renderFlags) textOrJSON(w io.Writer, r session.Report, take *session.Take, seen *curve.Curve) error {
	if f.json {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(r)
	}
	if err := textReport(w, r, take, switches(f.rig)); err != nil || r.Voice == nil {
		return err
	}
	return voiceReport(w, r, seen)
}

// drawn says what the curve is of.
func (f *renderFlags) drawn(r session.Report, take *session.Take, end time.Duration) curve.Run {
	file, rig := filepath.Base(f.source()), "rig "+f.rig.Name
	run := curve.Run{Title: file, Source: rig, Take: take, Cues: r.Cues, End: end, Moments: f.title}
	if g := f.gathering; g != nil {
		run.Title, run.Source = g.Title, file+", "+rig
		run.Moments = func(i int) string { return g.Moments[i].For }
	}
	return run
}

// textReport writes what happened as lines in order of time, and the sums.
func textReport(to io.Writer, r session.Report, take *session.Take, listened string) error {
	w := bufio.NewWriter(to)
	cue, entered := 0, 0
	cues := func(until time.Duration) {
		for ; cue < len(r.Cues) && seconds(r.Cues[cue].At) <= until; cue++ {
			fmt.Fprintf(w, "%s  \"%s\"\n", glance.Clock(seconds(r.Cues[cue].At)), r.Cues[cue].Text)
		}
	}
	for _, a := range take.Marks {
		cues(a.At)
		if a.Kind == bed.EnterChord {
			fmt.Fprintln(w, glance.Chord(a.At, take.Entered[entered].View, 0))
			entered++
		} else if line := glance.Action(a); line != "" {
			fmt.Fprintln(w, line)
		}
	}
	cues(time.Duration(1<<63 - 1))
	if len(take.Marks)+len(r.Cues) > 0 {
		fmt.Fprintln(w)
	}
	fmt.Fprintf(w, "%s in %.1f s; the bed sounded %.1f s; at changes %s held, %d struck\n",
		counted(len(r.Chords), "chord"), r.Length, r.Sounded, counted(r.Held, "note"), r.Struck)
	fmt.Fprintf(w, "messages: %d through, %d for the bed; %d refused on the bed's channels\n",
		r.Sent[session.Thru.String()], r.Sent[session.Warm.String()]+r.Sent[session.Air.String()], r.Refused)
	fmt.Fprintf(w, "one MIDI cable for all of it: %s\n", busiest(midiio.Load{Baud: r.Cable.Baud, Bytes: r.Cable.Bytes, At: seconds(r.Cable.At),
		Wait: seconds(r.Cable.Wait / 1000), ForBed: seconds(r.Cable.ForBed / 1000)}))
	if r.LUFS != nil {
		fmt.Fprintf(w, "loudness %.1f LUFS", *r.LUFS)
		if r.PeakDB != nil {
			fmt.Fprintf(w, ", true peak %.1f dBTP", *r.PeakDB)
		}
		fmt.Fprintln(w)
	}
	if len(r.Chords) == 0 {
		fmt.Fprintf(w, "no foot brought the bed in: this rig listens to %s\n", listened)
	}
	return w.Flush()
}

// voiceColumns is how wide the drawing of a voice in a terminal is.
const voiceColumns = 64

// voiceReport tells what was heard of a voice, and draws it over time.
func voiceReport(to io.Writer, r session.Report, seen *curve.Curve) error {
	v := r.Voice
	fmt.Fprintf(to, "voice: %.0f s of speech", v.Seconds["speech"])
	for _, what := range []string{"silence", "singing", "clapping", "knock"} {
		if s := v.Seconds[what]; s >= 0.5 {
			fmt.Fprintf(to, ", %.0f s of %s", s, what)
		}
	}
	fmt.Fprintf(to, "; it was followed for %.0f s, from %.2f to %.2f", v.Follows, v.Low, v.High)
	if v.Eased > 0 {
		fmt.Fprintf(to, "; the bed was eased by up to %.1f dB for the words", v.Eased)
	}
	fmt.Fprintln(to)
	for _, row := range seen.Rows(seconds(r.Length), voiceColumns) {
		if _, err := fmt.Fprintln(to, row); err != nil {
			return err
		}
	}
	return nil
}

// busiest says when a line was busiest, and what that meant to the player.
func busiest(l midiio.Load) string {
	ms := func(d time.Duration) float64 { return 1000 * d.Seconds() }
	takes := 10 * float64(l.Bytes) / float64(l.Baud)
	return fmt.Sprintf("busiest at %s, when %s waited (%.1f ms at %d baud); the piano waited %.1f ms at most, never more than %.1f ms for the bed",
		strings.TrimSpace(glance.Clock(l.At)), counted(l.Bytes, "byte"), 1000*takes, l.Baud, ms(l.Wait), ms(l.ForBed))
}

// counted writes a number of things.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

// switches names what a rig listens to, for a player who pressed something else.
func switches(rig gathering.Rig) string {
	var out []string
	for _, f := range rig.Feet {
		out = append(out, f.Switch.Control.String())
	}
	if len(out) == 0 {
		return "no switch"
	}
	return strings.Join(out, ", ")
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
