package midiio

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Part is what an output carries.
type Part uint8

// The parts. Others than these are their unions.
const (
	PianoPart Part = 1 << iota
	BedPart
	AllParts = PianoPart | BedPart
)

// flag is the command line's word for an output that carries the part.
func (p Part) flag() string {
	switch p {
	case PianoPart:
		return "--out-piano"
	case BedPart:
		return "--out-bed"
	}
	return Out.flag()
}

// Role is what an input is played with.
type Role uint8

// The roles. Others than these are their unions.
const (
	KeysRole Role = 1 << iota // the piano: what it sends is never a foot's
	FeetRole                  // feet and pedal: nothing of it goes thru
	AnyRole  = KeysRole | FeetRole
)

// flag is the command line's word for an input of the role.
func (r Role) flag() string {
	switch r {
	case KeysRole:
		return "--in-keys"
	case FeetRole:
		return "--in-feet"
	}
	return In.flag()
}

// Outputs is a set of outputs by their order, 0…MaxOutputs-1.
type Outputs uint64

// MaxOutputs is how many outputs can be taken at once.
const MaxOutputs = 64

// Has reports whether output i is in the set.
func (o Outputs) Has(i int) bool { return o>>i&1 != 0 }

// ThruWish is how the piano's way is to be settled.
type ThruWish uint8

// The wishes for thru.
const (
	ThruAuto ThruWish = iota // not back to the device that it comes from
	ThruOn                   // to every output that carries the piano
	ThruOff                  // nowhere
)

// InWish asks for one input.
type InWish struct {
	Pattern string // as in Match
	Role    Role
}

// OutWish asks for one output.
type OutWish struct {
	Pattern string // as in Match
	Parts   Part
}

// Wishes is what is asked for; the zero value leaves it all to bedd.
type Wishes struct {
	Ins  []InWish
	Outs []OutWish
	Thru ThruWish
}

// Verdict is whether bedd takes a port, and why.
type Verdict struct {
	Port   PortInfo
	Chosen bool
	Parts  Part    // of a chosen output: what it carries
	Role   Role    // of a chosen input: what it is played with
	Thru   bool    // of a chosen input: its messages go straight on, to outputs or to the built-in sound
	Outs   Outputs // of a chosen input: the chosen outputs that they go to
	Why    string  // for people, without a full stop
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

// ErrNoBed says that every output was asked for the piano alone.
var ErrNoBed = errors.New("no output carries the bed: name one with --out-bed, or use --out in place of --out-piano")

// Choose decides which ports to take. It fails as Match does for each pattern,
// and with ErrNoBed. Where none is given it takes every device's input, and of
// the devices' outputs one, those without keys first; it may find nothing. It
// never takes a port of bedd's own, and loop-through ports and other programs'
// only when they are named.
//
// An input gets no thru to an output of the same device, unless thru is wished
// on: its own keys already sound.
func Choose(ins, outs []PortInfo, wishes Wishes) (Choice, error) {
	c := Choice{Ins: verdicts(ins), Outs: verdicts(outs)}
	for _, wish := range wishes.Ins {
		v, err := takeNamed(In, c.Ins, wish.Pattern, wish.Role.flag())
		if err != nil {
			return Choice{}, err
		}
		v.Role |= wish.Role
	}
	parts := Part(0)
	for _, wish := range wishes.Outs {
		v, err := takeNamed(Out, c.Outs, wish.Pattern, wish.Parts.flag())
		if err != nil {
			return Choice{}, err
		}
		v.Parts |= wish.Parts
		parts |= wish.Parts
	}
	switch {
	case len(wishes.Outs) > MaxOutputs:
		return Choice{}, fmt.Errorf("%d outputs are more than %d", len(wishes.Outs), MaxOutputs)
	case parts == PianoPart:
		return Choice{}, ErrNoBed
	}
	if len(wishes.Ins) == 0 {
		for i := range c.Ins {
			if v := &c.Ins[i]; v.Port.Hardware() {
				v.Chosen, v.Role, v.Why = true, AnyRole, "a device to play on"
			}
		}
	}
	if len(wishes.Outs) == 0 {
		takeOut(c.Ins, c.Outs)
	}
	if wishes.Thru == ThruOff {
		for i := range c.Outs {
			c.Outs[i].Parts &^= PianoPart
		}
	}
	taken := Chosen(c.Outs)
	for i := range c.Ins {
		if c.Ins[i].Chosen {
			c.Ins[i].goThru(taken, wishes.Thru)
		}
	}
	return c, nil
}

// goThru settles where a chosen input's messages go, and says so where it is
// not simply everywhere.
func (v *Verdict) goThru(outs []Verdict, wish ThruWish) {
	if v.Role == FeetRole {
		v.Why += "; for feet alone, so nothing of it goes thru"
		return
	}
	piano, own := false, 0
	for i, o := range outs {
		if o.Parts&PianoPart == 0 {
			continue
		}
		piano = true
		if wish == ThruAuto && sameDevice(v.Port, o.Port) {
			own++
			continue
		}
		v.Outs |= 1 << i
	}
	v.Thru = v.Outs != 0 || len(outs) == 0
	switch {
	case wish == ThruOff:
		v.Thru = false
		v.Why += "; thru is off, as asked"
	case len(outs) > 0 && !piano:
		v.Why += "; no output carries the piano, so thru is off"
	case own > 0 && v.Outs == 0:
		v.Why += "; the sound is the same device's, so thru is off: its own keys already sound (if they don't: --thru on)"
	case own > 0:
		v.Why += "; thru goes to the other outputs only: its own keys already sound"
	}
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
			list[i].Why = "others were named"
		}
	}
	return list
}

// takeNamed takes the port that a pattern means and a flag asks for; it may have
// been taken before.
func takeNamed(way Way, list []Verdict, pattern, flag string) (*Verdict, error) {
	ports := make([]PortInfo, len(list))
	for i, v := range list {
		ports[i] = v.Port
	}
	found, err := match(way, ports, pattern, flag)
	if err != nil {
		return nil, err
	}
	v := &list[slices.IndexFunc(list, func(v Verdict) bool { return v.Port == found })]
	why := fmt.Sprintf("named with %s %q", flag, pattern)
	switch {
	case !v.Chosen:
		v.Chosen, v.Why = true, why
	case !strings.Contains(v.Why, flag+" "):
		v.Why += fmt.Sprintf(" and %s %q", flag, pattern)
	}
	return v, nil
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
	v.Chosen, v.Parts = true, AllParts
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
