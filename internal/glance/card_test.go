package glance

import (
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
)

var card = Card{
	Head: "sound check, step 3 of 11: left", Big: "left ×2",
	Say:   []string{"Press it twice, briefly, with a second between. You may go on playing.", "This is the switch that brings the bed in and steps its chords."},
	Heard: []string{"nothing moves by itself", "keys: Stage Piano MIDI 1, channel 1"},
	Alarm: []string{"the left switch: nothing of the kind has arrived. is the device on, and its MIDI OUT (or USB) in an input that is listed? does it send MIDI at all, on any channel? then press again, or skip"},
	Care:  "Cables and pedals: along walls, taped down where people walk, away from where anybody else treads.",
	Keys:  []string{"r again from the start of this step", "s skip", "b back", "q ends, keeping what is done"},
}

// A card fits every terminal; on an ordinary one all of it is there, in big letters.
func TestCardFitsEveryTerminal(t *testing.T) {
	for width := 1; width <= 240; width += 7 {
		for height := 1; height <= 70; height += 3 {
			rows := strings.Split(DrawCard(card, width, height), "\n")
			if len(rows) > height {
				t.Fatalf("%d rows on a terminal of %d by %d", len(rows), width, height)
			}
			for _, r := range rows {
				if ansi.StringWidth(r) > width {
					t.Fatalf("%d columns on a terminal of %d by %d: %q", ansi.StringWidth(r), width, height, r)
				}
			}
		}
	}
	if DrawCard(card, 0, 24) != "" || DrawCard(card, 80, 0) != "" {
		t.Error("something on no terminal")
	}
	text := ansi.Strip(DrawCard(card, 80, 24))
	flat := strings.Join(strings.Fields(text), " ")
	for _, want := range []string{"███", "step 3 of 11", "twice, briefly", "steps its chords", "! the left switch: nothing", "or skip", "taped down", "s skip", "q ends"} {
		if !strings.Contains(flat, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if small := ansi.Strip(DrawCard(card, 80, 4)); !strings.Contains(small, "left ×2") {
		t.Errorf("four rows lack what is to be done:\n%s", small)
	}
}

// The list of keys stands under what is to be done; without a list the card stays.
func TestCardListsKeys(t *testing.T) {
	text := ansi.Strip(card.drawHelp([]string{"space steps", "esc ends"}, 80, 24, onDark))
	for _, want := range []string{"step 3 of 11", "left ×2", "space steps", "esc ends", "? closes this list"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	if got := card.drawHelp(nil, 80, 24, onDark); got != drawCard(card, 80, 24, onDark) {
		t.Errorf("no list is not the card:\n%s", ansi.Strip(got))
	}
}
