package gathering

import (
	"maps"
	"slices"
	"strings"

	"bedd/internal/bed"

	"go.yaml.in/yaml/v3"
)

// Layer is one of the bed's sounds.
type Layer struct {
	Channel uint8 // 0…15
	Program uint8 // 0…127, as on the wire
	BankSet bool  // whether Bank is sent before the program
	Bank    [2]uint8
	Volume  uint8 // controller 7
}

func (r *reader) sounds(rig *Rig) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "sounds",
			field{"warm", r.layer(&rig.Layers[bed.Warm], "warm")},
			field{"air", r.layer(&rig.Layers[bed.Air], "air")},
		)
	}
}

func (r *reader) layer(l *Layer, name string) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "the sound "+name,
			field{"channel", r.printed(name+" channel", 16, &l.Channel)},
			field{"program", r.printed(name+" program", 128, &l.Program)},
			field{"bank", r.bank(name+" bank", l)},
			field{"volume", r.byteFrom(name+" volume", 0, 127, &l.Volume)},
		)
	}
}

// bank reads the two numbers of a bank, as in 121/3; one alone is the first.
func (r *reader) bank(what string, l *Layer) func(*yaml.Node) {
	return func(n *yaml.Node) {
		s, ok := r.scalar(n, what)
		if !ok {
			return
		}
		high, low, both := strings.Cut(s, "/")
		if !both {
			low = "0"
		}
		msb, ok1 := r.number(n.Line, what, high, 0, 127)
		lsb, ok2 := r.number(n.Line, what, low, 0, 127)
		if ok1 && ok2 {
			l.BankSet, l.Bank = true, [2]uint8{uint8(msb), uint8(lsb)}
		}
	}
}

// channels settles who plays where.
func (r *reader) channels(said fields, rig *Rig) {
	warm, air := &rig.Layers[bed.Warm], &rig.Layers[bed.Air]
	if rig.Share {
		if len(rig.Player.Aside) > 0 {
			r.fault(said.line("player"), "with share: the bed has no channel of its own, so nothing has to go aside")
		}
		if said.has("sounds") {
			r.fault(said.line("sounds"), "with share: the bed plays the player's own sound: leave sounds: out")
		}
		if said.has("setup") && rig.Setup {
			r.fault(said.line("setup"), "with share: nothing is set up, since it would change the player's own sound")
		}
		rig.Setup = false
		warm.Channel, air.Channel = rig.Player.Channel, rig.Player.Channel
		return
	}
	line := max(said.line("sounds"), said.line("player"), 1)
	for l, layer := range rig.Layers {
		if layer.Channel == rig.Player.Channel {
			r.fault(line, "%v is on channel %d, which is the player's: choose another, or share: yes for a synth with one sound", bed.Layer(l), layer.Channel+1)
		}
	}
	if warm.Channel == air.Channel {
		r.fault(line, "warm and air are both on channel %d", warm.Channel+1)
	}
	beds := func(ch uint8) bool { return ch == warm.Channel || ch == air.Channel }
	for _, from := range slices.Sorted(maps.Keys(rig.Player.Aside)) {
		to := rig.Player.Aside[from]
		switch {
		case !beds(from):
			r.fault(said.line("player"), "channel %d is not the bed's, so nothing has to go aside from it", from+1)
		case beds(to):
			r.fault(said.line("player"), "channel %d is the bed's too: nothing can go aside to it", to+1)
		}
	}
}
