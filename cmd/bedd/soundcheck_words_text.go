package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"bedd/internal/soundcheck"
)

// wordsText writes what becomes of the words, and what to do.
func wordsText(w io.Writer, r *soundcheck.WordsRecord, noCeiling error) error {
	fmt.Fprintf(w, "voice   %s", r.Voice.Source)
	if r.Voice.LUFS != nil {
		fmt.Fprintf(w, ": %.0f s of speech at %.1f LUFS", r.Voice.Seconds, *r.Voice.LUFS)
	}
	fmt.Fprintf(w, "; taken as %.0f dB SPL at the listener\n", r.Voice.SPL)
	if r.Room != nil {
		fmt.Fprintf(w, "room    %.0f dB SPL in silence\n", r.Room.Overall())
	}
	fmt.Fprintf(w, "words   index %.2f without a bed; the target is %.2f, and the bed at least %.4g LU under the voice\n\n", r.Alone, r.Target, r.LeastUnder)

	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	head := "bed\tpedal\tloudness"
	if r.FaderKnown {
		head += "\tnow\tindex"
	}
	fmt.Fprintln(t, head+"\ttarget missed from\tat least\tworst chord")
	for _, b := range r.Beds {
		fmt.Fprintf(t, "%s\t%.0f…%.0f %%\t%.1f LUFS", b.Name, 100*b.From, 100*b.To, b.LUFS)
		if r.FaderKnown {
			fmt.Fprintf(t, "\t%s\t%.2f", underText(b.UnderNow), *b.IndexNow)
		}
		why := ""
		if b.ByIndex {
			why = ", for the words"
		}
		lost := "never"
		if b.Drops != nil {
			lost = underText(b.Drops)
		}
		fmt.Fprintf(t, "\t%s\t%s%s\t%s\n", lost, soundcheck.UnderText(b.Under, "LU"), why, b.Chord)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprint(w, "\n", r.Picture("").Sketch(), "\n")
	for _, line := range wordsAdvice(r, noCeiling) {
		fmt.Fprintln(w, folded("", line))
	}
	fmt.Fprintln(w, "\nwhat the figures do not tell")
	for _, line := range soundcheck.Holds {
		fmt.Fprintln(w, folded("  - ", line))
	}
	return nil
}

func underText(lu *float64) string {
	if lu == nil {
		return "–"
	}
	return soundcheck.UnderText(*lu, "LU")
}

// wordsAdvice says what to do.
func wordsAdvice(r *soundcheck.WordsRecord, noCeiling error) (lines []string) {
	lines = append(lines, fmt.Sprintf("At its fullest (%s) the bed should be %s the voice, or lower. WCAG 2 asks for 20 dB between recorded speech and what is behind it (success criterion 1.4.7).",
		r.Loudest, soundcheck.UnderText(r.Under, "LU")))
	written := func(settings []soundcheck.SettingRecord) string {
		var all []string
		for _, s := range settings {
			all = append(all, fmt.Sprintf("%s: {%s: %s}", s.Section, s.Field, s.Value))
		}
		return strings.Join(all, ", ")
	}
	switch {
	case !r.FaderKnown:
		lines = append(lines, "How loud it is now is not known: set the desk by that, or record voice and bed at the same gain, or say --below. bedd tone gives the desk a steady tone; note where the faders stand.")
	case noCeiling != nil:
		lines = append(lines, fmt.Sprintf("As the fader stands it is %.1f dB too loud: %v, by %.1f dB.", *r.Over, noCeiling, *r.Over))
	case r.TooLoud():
		lines = append(lines, fmt.Sprintf("As the fader stands it is %.1f dB too loud: bring the fader down by that, or let the rig keep it down with %s (--write FILE).", *r.Over, written(r.Remedies())))
	default:
		lines = append(lines, fmt.Sprintf("As the fader stands there are %.1f dB to spare: the rig needs no other ceiling.", -*r.Over))
	}
	if heard := r.Listening(); len(heard) > 0 {
		lines = append(lines, fmt.Sprintf("So loud came the voice through the input: with %s in the rig (--write FILE) play --listen eases the bed down for a softer speaker.", written(heard)))
	}
	for _, note := range r.Notes {
		lines = append(lines, "Doubt this: "+note+".")
	}
	if r.LowPassHz > 0 {
		lines = append(lines, fmt.Sprintf("A gentle low-pass at %.0f Hz (12 dB an octave) on the bed's channel of the desk would leave the words as clear with %.1f dB more of it.", r.LowPassHz, r.LowPassMore))
	}
	return lines
}
