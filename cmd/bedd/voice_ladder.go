package main

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

func parseLadder(s string) (thin, full int, err error) {
	a, b, ok := strings.Cut(s, "-")
	if ok {
		if thin, err = strconv.Atoi(strings.TrimSpace(a)); err == nil {
			full, err = strconv.Atoi(strings.TrimSpace(b))
		}
	}
	if !ok || err != nil {
		return 0, 0, fmt.Errorf("%q is not two numbers of voices with a - between them, such as 3-6", s)
	}
	if thin < 1 || full < thin || full > voicing.MaxUpper {
		return 0, 0, fmt.Errorf("%s does not go up inside 1…%d", s, voicing.MaxUpper)
	}
	return thin, full, nil
}

type voicedLadder struct {
	Chord  string `json:"chord"`
	Degree string `json:"degree"`
	Bass   int    `json:"bass"`
	Enter  []int  `json:"enter"` // upper notes in the order in which they enter
	Thin   int    `json:"thin"`  // how many of them the thinnest rung has
	Lost   []int  `json:"lost"`  // numbers of voices asked for that keep no voicing under the rules
}

type voicedRung struct {
	Voices      int          `json:"voices"`
	Steps       []voicedStep `json:"steps"`
	Cost        voicing.Cost `json:"cost"`
	Alone       *float64     `json:"alone,omitempty"`   // what the best path for this rung alone costs
	Nesting     *float64     `json:"nesting,omitempty"` // how much more this one costs
	AloneProved bool         `json:"alone_proved"`
}

type voicedNested struct {
	Key     string         `json:"key"`
	By      voicedBy       `json:"by"`
	Loop    bool           `json:"loop"`
	Proved  bool           `json:"proved"`
	Price   float64        `json:"price"`
	Ladders []voicedLadder `json:"ladders"`
	Rungs   []voicedRung   `json:"rungs"`
}

func ladderJSON(n voicing.Nested, chords []harmony.Chord, key pitch.Key, loop bool, by voicing.Settings) voicedNested {
	out := voicedNested{Key: key.String(), By: settled(by), Loop: loop, Proved: n.Proved, Price: n.Price}
	for i, l := range n.Ladders {
		v := voicedLadder{Chord: chords[i].Symbol(), Degree: chords[i].Degree(key), Bass: int(l.Bass), Thin: int(l.Low),
			Lost: append([]int{}, l.Lost(by.Thin, by.Full)...)}
		for _, note := range l.Entry[:l.High] {
			v.Enter = append(v.Enter, int(note))
		}
		out.Ladders = append(out.Ladders, v)
	}
	for _, r := range n.Rungs {
		v := voicedRung{Voices: r.Voices, Steps: voicedSteps(r.Path, nil, key), Cost: r.Path.Cost, AloneProved: r.AloneProved}
		if r.Compared {
			nesting := r.Path.Cost.Total - r.Alone
			v.Alone, v.Nesting = &r.Alone, &nesting
		}
		out.Rungs = append(out.Rungs, v)
	}
	return out
}

func ladderText(out io.Writer, n voicing.Nested, chords []harmony.Chord, key pitch.Key, by voicing.Settings) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "chord\tdegree\tbass\tthinnest\tthen enter")
	for i, l := range n.Ladders {
		c := chords[i]
		var enter []string
		for _, note := range l.Entry[l.Low:l.High] {
			enter = append(enter, "+"+noteName(c, note, key))
		}
		var thin []string
		low := l.Rung(int(l.Low))
		for _, note := range low.Notes() {
			thin = append(thin, noteName(c, note, key))
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", c.Symbol(), c.Degree(key), noteName(c, l.Bass, key),
			strings.Join(thin, " "), strings.Join(enter, " "))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for i, l := range n.Ladders {
		if lost := l.Lost(by.Thin, by.Full); len(lost) > 0 {
			fmt.Fprintf(out, "lost: %s with %s voices, of which none keeps the rules and fits the ladder\n", chords[i].Symbol(), strings.Trim(fmt.Sprint(lost), "[]"))
		}
	}
	fmt.Fprintln(out)
	fmt.Fprintln(w, "voices\tmoves\tcost\talone\tnesting")
	alone, nested, compared := 0.0, 0.0, true
	for _, r := range n.Rungs {
		if compared = compared && r.Compared; !r.Compared {
			fmt.Fprintf(w, "%d\t%d\t%.2f\t\t\n", r.Voices, r.Path.Movement, r.Path.Cost.Total)
			continue
		}
		alone, nested = alone+r.Alone, nested+r.Path.Cost.Total
		mark := ""
		if !r.AloneProved {
			mark = " not proved"
		}
		fmt.Fprintf(w, "%d\t%d\t%.2f\t%.2f%s\t%.2f\n", r.Voices, r.Path.Movement, r.Path.Cost.Total, r.Alone, mark, r.Path.Cost.Total-r.Alone)
	}
	if compared {
		fmt.Fprintf(w, "total\t\t%.2f\t%.2f\t%.2f\n", nested, alone, nested-alone)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if !n.Proved {
		fmt.Fprintln(out, notProved)
	}
	return nil
}
