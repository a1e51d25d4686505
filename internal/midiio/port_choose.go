package midiio

import (
	"fmt"
	"strings"
)

// Verdict is whether bedd takes a port, and why.
type Verdict struct {
	Port   PortInfo
	Chosen bool
	Thru   bool   // of a chosen input: its messages go straight to the outputs
	Why    string // for people, without a full stop
}

// Choice is what bedd takes of the ports that are there, in their order.
type Choice struct {
	Ins, Outs []Verdict
}

// Chosen are the verdicts on the ports taken.
func Chosen(verdicts []Verdict) []Verdict {
	var chosen []Verdict
	for _, v := range verdicts {
		if v.Chosen {
			chosen = append(chosen, v)
		}
	}
	return chosen
}

// Choose decides which ports to take. wantIns and wantOuts are patterns as in
// Match, each for one port, and it fails as Match does. Where none is given it
// takes every device's input, and of the devices' outputs one, those without
// keys first; it may find nothing. It never takes a port of bedd's own, and
// loop-through ports and other programs' only when they are named.
//
// An input of a device whose output is taken too gets no thru: its own keys
// already sound.
func Choose(ins, outs []PortInfo, wantIns, wantOuts []string) (Choice, error) {
	c := Choice{Ins: verdicts(ins), Outs: verdicts(outs)}
	if err := takeNamed(In, c.Ins, wantIns); err != nil {
		return Choice{}, err
	}
	if err := takeNamed(Out, c.Outs, wantOuts); err != nil {
		return Choice{}, err
	}
	if len(wantIns) == 0 {
		for i := range c.Ins {
			if v := &c.Ins[i]; v.Port.Hardware() {
				v.Chosen, v.Why = true, "a device to play on"
			}
		}
	}
	if len(wantOuts) == 0 {
		takeOut(c.Ins, c.Outs)
	}
	for i := range c.Ins {
		v := &c.Ins[i]
		v.Thru = v.Chosen
		for _, o := range Chosen(c.Outs) {
			if v.Chosen && sameDevice(v.Port, o.Port) {
				v.Thru = false
				v.Why += "; the sound is the same device's, so thru is off: its own keys already sound"
				break
			}
		}
	}
	return c, nil
}

// verdicts says for each port why it is not taken unless something else is said.
func verdicts(ports []PortInfo) []Verdict {
	list := make([]Verdict, len(ports))
	for i, p := range ports {
		list[i].Port = p
		switch {
		case p.Ours:
			list[i].Why = "bedd's own"
		case p.LoopThrough:
			list[i].Why = "gives back what it gets, so it has to be named with " + p.Way.flag()
		case p.Program:
			list[i].Why = "another program's, so it has to be named with " + p.Way.flag()
		default:
			list[i].Why = "others were named with " + p.Way.flag()
		}
	}
	return list
}

func takeNamed(way Way, list []Verdict, patterns []string) error {
	ports := make([]PortInfo, len(list))
	for i, v := range list {
		ports[i] = v.Port
	}
	for _, pattern := range patterns {
		found, err := Match(way, ports, pattern)
		if err != nil {
			return err
		}
		for i := range list {
			if v := &list[i]; v.Port == found && !v.Chosen {
				v.Chosen, v.Why = true, fmt.Sprintf("named with %s %q", way.flag(), pattern)
			}
		}
	}
	return nil
}

// takeOut takes one of the devices' outputs: one of a device that has no keys
// taken, else one that isn't the first keys', else the first.
func takeOut(ins, outs []Verdict) {
	keys := Chosen(ins)
	best, bestRank := -1, 0
	for i, o := range outs {
		if !o.Port.Hardware() {
			continue
		}
		rank := 3
		for k, in := range keys {
			if sameDevice(in.Port, o.Port) {
				rank = min(rank, 2)
				if k == 0 {
					rank = 1
				}
			}
		}
		if rank > bestRank {
			best, bestRank = i, rank
		}
	}
	if best < 0 {
		return
	}
	others := 0
	for i := range outs {
		if v := &outs[i]; v.Port.Hardware() && i != best {
			v.Why = fmt.Sprintf("%q comes first; to take this one, name it with --out", outs[best].Port.Name)
			others++
		}
	}
	v := &outs[best]
	v.Chosen = true
	switch {
	case others == 0:
		v.Why = "the only device to send to"
	case bestRank == 3:
		v.Why = "the first device that is not played on"
	case bestRank == 2:
		v.Why = "the first device besides the first keys"
	default:
		v.Why = "the first output of the only device"
	}
}

// sameDevice reports whether an input and an output are one device's. On Linux a
// device is a client of the sequencer and the address starts with its number, so
// that two devices of one name are told apart.
func sameDevice(in, out PortInfo) bool {
	a, _, numbered := strings.Cut(in.Address, ":")
	b, _, _ := strings.Cut(out.Address, ":")
	return in.Device() == out.Device() && (!numbered || a == b)
}
