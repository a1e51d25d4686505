package linecheck

import (
	"fmt"
	"slices"
	"strings"
)

// moreDo is what the switches after left and right are for, in their order.
var moreDo = []string{
	"stay on and off", "out now; held: all notes off", "swell", "settle", "capture the chord of your hands", "the next moment",
}

var moreOrders = [][]string{
	{"press: stay"}, {"press: out-now", "hold: all-notes-off"}, {"press: swell"}, {"press: settle"}, {"press: capture"}, {"press: next-moment"},
}

func moreDoes(n int) string { return moreDo[min(n, len(moreDo)-1)] }

// long reports whether a switch can be held.
func (w Switch) long() bool { return !w.Latching && w.Kind != kinds[program].String() }

// Section is a part of a rig file: a field and its lines.
type Section struct{ Name, Text string }

// Sections writes what was found as parts of a rig file. What was skipped is left to
// whatever else the file says, or to the default rig; but a pedal that was skipped is
// none. Of a walk through some steps alone only what these found is written, so that
// nobody's own changes elsewhere are lost.
func (f Found) Sections(steps ...Step) (list []Section) {
	did := func(any ...Step) bool {
		return slices.ContainsFunc(any, func(s Step) bool { return slices.Contains(steps, s) })
	}
	add := func(name string, lines ...string) {
		list = append(list, Section{name, strings.Join(lines, "\n") + "\n"})
	}
	if lines := f.ports(); f.Keys != nil && len(lines) > 1 {
		add("ports", lines...)
	}
	if f.Keys != nil && did(Piano) {
		add("player", "player:", fmt.Sprintf("  channel: %d", f.Keys.Channel))
	}
	switch {
	case !did(Foot):
	case f.Pedal != nil:
		add("pedal", f.Pedal.lines()...)
	case slices.Contains(f.Skipped, Foot):
		add("pedal", "pedal: none # how much: what you play")
	}
	if len(f.Feet) > 0 && did(Left, Right, More) {
		lines, fades := f.switches()
		add("switches", lines...)
		arms := "arms: [swap, land]"
		if !fades {
			arms = "arms: [swap, land, fade]"
		}
		add("arms", arms)
	}
	if warm, air := f.BedChannels(); f.Keys != nil && (warm != 1 || air != 2) {
		add("sounds", "sounds:", fmt.Sprintf("  warm: {channel: %d}", warm+1), fmt.Sprintf("  air: {channel: %d}", air+1))
	}
	return list
}

// computerKeys are those of a rig file that is new.
const computerKeys = `keys:
  space: step
  tab: arm
  enter: bring-in
  up: level-up
  down: level-down
  s: stay
  o: fade
  esc: out-now
  backspace: all-notes-off
`

// Rig writes a whole rig file of a name.
func (f Found) Rig(name string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Written by bedd soundcheck. The rigs in configs/ say what else may stand here.\nname: %q\n", name)
	for _, s := range f.Sections(Steps...) {
		b.WriteString("\n" + s.Text)
	}
	b.WriteString("\n# The same on the computer's keys.\n" + computerKeys)
	return b.String()
}

// ports says which ports the rig takes. Keys and feet of different inputs are told
// apart: then nothing of the feet reaches the synth, and no key is a foot's.
func (f Found) ports() []string {
	lines := []string{"ports:"}
	var feet []string
	for _, w := range f.Feet {
		feet = append(feet, w.Input)
	}
	if f.Pedal != nil {
		feet = append(feet, f.Pedal.Input)
	}
	keys := ""
	if f.Keys != nil {
		keys = f.Keys.Input
	}
	slices.Sort(feet)
	feet = slices.Compact(feet)
	shared := slices.Contains(feet, keys)
	apart := slices.DeleteFunc(slices.Clone(feet), func(s string) bool { return s == keys })
	say := func(field string, names ...string) {
		var quoted []string
		for _, n := range names {
			if n != "" {
				quoted = append(quoted, fmt.Sprintf("%q", n))
			}
		}
		if len(quoted) > 0 {
			lines = append(lines, "  "+field+": ["+strings.Join(quoted, ", ")+"]")
		}
	}
	if shared {
		say("in", keys)
	} else {
		say("in-keys", keys)
	}
	say("in-feet", apart...)
	say("out", f.Synth)
	if f.Synth != "" && f.Thru != "" {
		lines = append(lines, "  thru: "+map[string]string{"on": "on", "off": "off # your keys sound by themselves"}[f.Thru])
	}
	return lines
}

func (p Pedal) lines() []string {
	lines := []string{"pedal:", fmt.Sprintf("  controller: %d", p.Number), fmt.Sprintf("  channel: %d", p.Channel)}
	if p.Fine {
		lines = append(lines, "  bits: 14")
	}
	lines = append(lines, fmt.Sprintf("  heel: %d", p.Heel), fmt.Sprintf("  toe: %d", p.Toe))
	if p.Noise > usualNoise {
		lines = append(lines, fmt.Sprintf("  noise: %.3f # it wanders", p.Noise))
	}
	return lines
}

// usualNoise is what a rig allows a pedal anyway.
const usualNoise = 0.02

// switches lists the feet with what they do, and reports whether one of them fades.
func (f Found) switches() (lines []string, fades bool) {
	lines = []string{"switches:"}
	more := 0
	hasRight := f.count(Right) > 0
	for _, w := range f.Feet {
		var does []string
		name := string(w.Step)
		switch {
		case w.Step == Left && !hasRight && w.long():
			does = []string{"tap: step # acts when the foot comes up", "hold: arm"}
		case w.Step == Left:
			does = []string{"press: step"}
		case w.Step == Right && w.long():
			does, fades = []string{"press: arm", "hold: fade"}, true
		case w.Step == Right:
			does = []string{"press: arm"}
		default:
			does = moreOrders[min(more, len(moreOrders)-1)]
			more++
			name = ""
		}
		lines = append(lines, "  - control: "+w.Words(), fmt.Sprintf("    channel: %d", w.Channel))
		if name != "" {
			lines = append(lines, "    name: "+name)
		}
		if w.Latching {
			lines = append(lines, "    latching: yes")
		}
		if w.Inverted && !w.Latching {
			lines = append(lines, "    inverted: yes")
		}
		for _, d := range does {
			if strings.HasPrefix(d, "hold") && !w.long() {
				continue
			}
			lines = append(lines, "    "+d)
		}
	}
	return lines, fades
}

// drums is General MIDI's channel for them, from 0.
const drums = 9

// BedChannels are two channels, from 0, on which nothing of the player's arrives: 2 and
// 3 if they can be.
func (f Found) BedChannels() (warm, air uint8) {
	var taken [16]bool
	taken[0], taken[drums] = true, true
	take := func(channel int) {
		if channel >= 1 && channel <= 16 {
			taken[channel-1] = true
		}
	}
	if f.Keys != nil {
		take(f.Keys.Channel)
		for _, ch := range f.Keys.Channels {
			take(ch)
		}
	}
	for _, w := range f.Feet {
		take(w.Channel)
	}
	if f.Pedal != nil {
		take(f.Pedal.Channel)
	}
	free := []uint8{1, 2}
	i := 0
	for ch := range uint8(16) {
		if !taken[ch] && i < 2 {
			free[i] = ch
			i++
		}
	}
	return free[0], free[1]
}

// Plays reports whether something of the player's arrives on one of some channels, from
// 0.
func (f Found) Plays(channels ...uint8) bool {
	on := func(channel int) bool { return channel > 0 && slices.Contains(channels, uint8(channel-1)) }
	return f.Keys != nil && (on(f.Keys.Channel) || slices.ContainsFunc(f.Keys.Channels, on)) ||
		slices.ContainsFunc(f.Feet, func(w Switch) bool { return on(w.Channel) }) || f.Pedal != nil && on(f.Pedal.Channel)
}
