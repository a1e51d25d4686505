package gathering

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// How long a bed carries. Trade practice, no source: two chords carry a minute or
// two, home and away together five to ten. Three chords or more by themselves lie
// between.
const (
	carriesTwo  = 2 * time.Minute
	carriesOne  = 4 * time.Minute
	carriesBoth = 10 * time.Minute
)

// fits finds chords that the rig's range has no room for.
func (w at) fits() bool {
	for _, bed := range w.beds() {
		if err := w.engine.Fits(bed.chords, w.m.Bed.Key); err != nil {
			w.say(Failure, "widen the range in the rig, or take another chord", "%s cannot be voiced: %v", bed.name, err)
			return false
		}
	}
	return true
}

// namedBed is home or away.
type namedBed struct {
	name   string
	chords []harmony.Chord
}

func (w at) beds() []namedBed {
	beds := []namedBed{{"home", w.m.Bed.Home}}
	if len(w.m.Bed.Away) > 0 {
		beds = append(beds, namedBed{"away", w.m.Bed.Away})
	}
	return beds
}

// keys finds a bed that begins far from the song before, or far from the one that
// follows, and a key that lies badly.
func (w at) keys() {
	k := w.m.Bed.Key
	if w.m.After >= 0 {
		before := &w.g.Songs[w.m.After]
		if !before.NoKey && len(harmony.Pivots(before.Key, k)) == 0 {
			w.say(Trouble, fmt.Sprintf("stay in %s, and let the landing lead on", keyName(before.Key)),
				"it begins in %s right after %q in %s: the keys have no chord in common", keyName(k), before.Title, keyName(before.Key))
		}
	}
	if w.g.Comfort.Of(k) == Hard {
		w.say(Remark, "", "%s does not lie well under your hands", keyName(k))
	}
}

// variety finds a bed that will be worn before the moment is over.
func (w at) variety() {
	b := &w.m.Bed
	n := differentChords(b.Home, b.Away)
	carries := carriesBoth
	switch {
	case n <= 2:
		carries = carriesTwo
	case len(b.Away) == 0:
		carries = carriesOne
	}
	const advice = "add an away, ask bedd plan suggest for a longer pair, or leave pauses"
	switch {
	case w.m.Lasts > carries:
		w.say(Trouble, advice, "%s carry %s, and it is expected to last %s", chordCount(n), minutes(carries), minutes(w.m.Lasts))
	case w.m.Longest > carries:
		w.say(Remark, advice, "%s carry %s, and it may last %s", chordCount(n), minutes(carries), minutes(w.m.Longest))
	}
}

// repeats finds a bed that the moment before had.
func (w at) repeats() {
	if w.i == 0 {
		return
	}
	before := &w.g.Moments[w.i-1]
	l := harmony.Compare(w.m.Bed.Home, w.m.Bed.Key, before.Bed.Home, before.Bed.Key)
	if l.Kinship != harmony.Equal && l.Kinship != harmony.Rotated {
		return
	}
	if same := harmony.Compare(w.m.Bed.Away, w.m.Bed.Key, before.Bed.Away, before.Bed.Key); len(w.m.Bed.Away) > 0 && same.Kinship != harmony.Equal {
		return
	}
	w.say(Remark, "ask bedd plan suggest for another", "it has the bed that %q had just before", before.For)
}

// progressions finds what a bed has of the song that follows.
func (w at) progressions() {
	both := namedBed{"home and away together", append(slices.Clone(w.m.Bed.Home), w.m.Bed.Away...)}
	known := harmony.Unrelated
	for _, bed := range append(w.beds(), both) {
		var worst relation
		for _, s := range w.song.Sections {
			if l := harmony.Compare(bed.chords, w.m.Bed.Key, s.Chords, w.song.Key); l.Kinship > worst.Kinship {
				worst = relation{l, s.Name}
			}
		}
		if bed.name == both.name && (worst.Kinship <= known || len(w.m.Bed.Away) == 0) {
			continue
		}
		known = max(known, worst.Kinship)
		severity := Trouble
		switch worst.Kinship {
		case harmony.Unrelated:
			continue
		case harmony.Disguised, harmony.Contained:
			severity = Remark
		}
		w.say(severity, "ask bedd plan suggest for beds that give nothing away", "%s %s", bed.name, kinWords(worst.Kinship, worst.section, w.song.Title))
	}
}

// figure finds the next song's figure in the bed's top line and safe notes.
func (w at) figure() {
	if len(w.song.Figure) == 0 {
		return
	}
	var on []string
	for _, bed := range w.beds() {
		v := w.voice(bed.chords, w.m.Bed.Key)
		if v.err != nil {
			continue // said elsewhere
		}
		if _, found := harmony.FindFigure(w.song.Figure, w.song.Key, v.top, w.m.Bed.Key, true); found {
			w.say(Trouble, "take another bed, or other voices", "the top line of %s, %s, begins like the figure of %q", bed.name, lineNames(v.top, w.m.Bed.Key), w.song.Title)
		}
		for i, rest := range v.rest {
			if _, given := harmony.GivesAway(w.song.Figure, w.song.Key, rest, w.m.Bed.Key); given && !slices.Contains(on, bed.chords[i].Symbol()) {
				on = append(on, bed.chords[i].Symbol())
			}
		}
	}
	if len(on) > 0 {
		w.say(Remark, "keep your right hand off it", "over %s the figure of %q lies on safe notes", strings.Join(on, ", "), w.song.Title)
	}
}

func lineNames(line []int, k pitch.Key) string {
	var names []string
	for _, n := range line {
		names = append(names, pitch.NoteName(n, k))
	}
	return strings.Join(names, " ")
}

// landings finds ways into the next song that are none, turn the key by force, or
// hold nothing.
func (w at) landings() {
	var forced, bare []string
	for _, bed := range w.beds() {
		for _, from := range bed.chords {
			route, steps, err := w.Landing(from, w.m.Bed.Key, w.song.Key, w.song.First, w.m.Ending)
			var small *voicing.RangeError
			switch {
			case errors.As(err, &small):
				w.say(Failure, "widen the range in the rig, or say another first: chord", "there is no landing in %q: %v", w.song.Title, err)
				return
			case err != nil:
				w.say(Failure, "", "there is no landing in %q: %v", w.song.Title, err)
				return
			}
			if route.Turn == harmony.ChromaticTurn {
				forced = append(forced, from.Symbol())
			}
			last := from
			for _, s := range steps {
				if text := unheld(last, s.Chord); s.Held.Len() == 0 && !slices.Contains(bare, text) {
					bare = append(bare, text)
				}
				last = s.Chord
			}
		}
	}
	if len(forced) > 0 {
		text := fmt.Sprintf("%s and %s, where %q is, have no chord in common", keyName(w.m.Bed.Key), keyName(w.song.Key), w.song.Title)
		if len(harmony.Pivots(w.m.Bed.Key, w.song.Key)) > 0 {
			text = fmt.Sprintf("no common chord of %s and %s, where %q is, is near enough", keyName(w.m.Bed.Key), keyName(w.song.Key), w.song.Title)
		}
		w.say(Trouble, w.otherEnding(), "the keys clash: %s, and from %s the landing takes a chromatic step", text, listed(slices.Compact(forced)))
	}
	for _, text := range bare {
		w.say(Remark, "", "landing in %q: %s", w.song.Title, text)
	}
}

// otherEnding advises what leads into the song by common chords alone.
func (w at) otherEnding() string {
	var endings []string
	for e := range harmony.NumEndings {
		forced := false
		for _, bed := range w.beds() {
			for _, from := range bed.chords {
				forced = forced || harmony.Land(from, w.m.Bed.Key, w.song.Key, w.song.First, e).Turn == harmony.ChromaticTurn
			}
		}
		if !forced {
			endings = append(endings, "ending: "+e.String())
		}
	}
	if len(endings) > 0 {
		return strings.Join(endings, " or ") + " leads there by common chords"
	}
	var between []string
	for _, k := range harmony.CloselyRelated(w.m.Bed.Key) {
		if len(harmony.Pivots(k, w.song.Key)) > 0 {
			between = append(between, keyName(k))
		}
	}
	if len(between) == 0 {
		return "be content with the step: no key lies between"
	}
	last := len(between) - 1
	return "be content with the step, or go by " + strings.TrimPrefix(strings.Join(between[:last], ", ")+" or ", " or ") + between[last] + ": close to the one, with chords of the other"
}

// listed joins words as one says them.
func listed(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}
