package gathering

import (
	"errors"
	"slices"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"

	"go.yaml.in/yaml/v3"
)

// ReadRig reads a rig; the name is for its errors, which are of type
// *[FileError]. What the file leaves out is as in the default rig, but for
// switches and keys: a rig has only those it lists. Numbers are as players know
// them: channels 1…16, programs 1…128, controllers and notes 0…127, notes also
// by name with C4 as 60, times with their unit, levels 0…1.
func ReadRig(name string, data []byte) (Rig, error) {
	rig := blank()
	r := &reader{breath: usualBreath}
	if root := r.document(data, "a rig lists switches: or keys:"); root != nil {
		r.rig(root, &rig)
	}
	if err := fileError(name, r.faults); err != nil {
		return Rig{}, err
	}
	if rig.Name == "" {
		rig.Name = strings.TrimPrefix(baseName(name), rigPrefix)
	}
	return rig, nil
}

func (r *reader) rig(root *yaml.Node, rig *Rig) {
	var feet feetReader
	r.ahead(root, "breath", r.span("breath", time.Second, longestBreath, &r.breath))
	mustFeel(defaultFeel, r.breath, &rig.Bed)
	rig.Bed.Walk, rig.Bed.Thin = r.breath, 2*r.breath
	said := r.mapping(root, "a rig", append([]field{
		{"name", r.text("name", &rig.Name)},
		{"ports", r.ports(&rig.Ports)},
		{"player", r.player(rig)},
		{"transpose", r.transpose(rig)},
		{"pedal", r.pedal(rig)},
		{"hold", r.span("hold", 100*time.Millisecond, maxHold, &rig.Hold)},
		{"switches", func(n *yaml.Node) { feet.switches(r, n, rig) }},
		{"keys", r.keys(rig)},
		{"arms", r.arms(&rig.Bed.Arms)},
		{"share", r.flag("share", &rig.Share)},
		{"setup", r.flag("setup", &rig.Setup)},
		{"sensing", r.flag("sensing", &rig.Sensing)},
		{"separate", r.flag("separate", &rig.Separate)},
		{"sounds", r.sounds(rig)},
		{"voicing", r.voicing(&rig.Bed.Voicing)},
		{"follow", r.follow(&rig.Bed)},
		{"landing", r.landing(&rig.Bed)},
		{"listening", r.listening(&rig.Listening)},
		{"breath", func(*yaml.Node) {}}, // was read ahead
		{"feel", r.feel(&rig.Bed)},
	}, r.feelFields(&rig.Bed)...)...)
	if said == nil {
		return
	}
	r.channels(said, rig)
	r.reach(said, rig)
	if len(r.faults) == 0 {
		r.askBed(said, rig.Bed)
	}
}

// maxTranspose is as far as an instrument's own transposition goes.
const maxTranspose = 24

func (r *reader) transpose(rig *Rig) func(*yaml.Node) {
	return func(n *yaml.Node) {
		r.mapping(n, "transpose",
			field{"in", r.whole("transposition in", -maxTranspose, maxTranspose, func(v int) { rig.In = v })},
			field{"out", r.whole("transposition out", -maxTranspose, maxTranspose, func(v int) { rig.Out = v })},
		)
	}
}

func (r *reader) arms(to *[]bed.Command) func(*yaml.Node) {
	return func(n *yaml.Node) {
		*to = nil
		var names []string
		for _, c := range bed.Armable() {
			names = append(names, c.String())
		}
		for _, item := range r.list(n, "arms", len(names)) {
			s, ok := r.scalar(item, "an item of arms")
			if !ok {
				continue
			}
			c, known := bed.ParseCommand(s)
			switch {
			case known && !slices.Contains(bed.Armable(), c):
				r.fault(item.Line, "%q cannot be armed: use one of %s", s, strings.Join(names, ", "))
			case !known:
				r.fault(item.Line, "unknown command %q: %s", clip(s), advice(s, names))
			case slices.Contains(*to, c):
				r.fault(item.Line, "%q is armed twice", s)
			default:
				*to = append(*to, c)
			}
		}
	}
}

// reach checks that the player can begin and end a bed.
func (r *reader) reach(said fields, rig *Rig) {
	var asked [bed.NumCommands]bool
	for _, f := range rig.Feet {
		asked[f.Press.Command], asked[f.Tap.Command], asked[f.Hold.Command] = true, true, true
	}
	for _, o := range rig.Keys {
		asked[o.Command] = true
	}
	if len(rig.Feet) == 0 && len(rig.Keys) == 0 {
		if said.line("switches") == 0 && said.line("keys") == 0 {
			r.fault(1, "this rig gives the player nothing to press: list switches: or keys:")
		} else if len(r.faults) == 0 {
			r.fault(max(said.line("switches"), said.line("keys")), "this rig gives the player nothing to press: its lists are empty")
		}
		return
	}
	if asked[bed.Arm] && asked[bed.Step] {
		for _, c := range rig.Bed.Arms {
			asked[c] = true
		}
	}
	if asked[bed.Arm] && len(rig.Bed.Arms) == 0 && len(r.faults) == 0 {
		r.fault(max(said.line("arms"), 1), "arm has nothing to go round: list commands under arms:")
	}
	if len(r.faults) > 0 {
		return // a command that was misspelt may be the one that is missed
	}
	if !asked[bed.Step] && !asked[bed.BringIn] {
		r.fault(1, "nothing in this rig brings the bed in: use step or bring-in")
	}
	if !asked[bed.FadeOut] && !asked[bed.OutNow] && !asked[bed.AllNotesOff] {
		r.fault(1, "nothing in this rig ends the bed: use fade, out-now or all-notes-off, or list fade under arms:")
	}
}

// askBed notes what the bed itself refuses, which no line alone tells.
func (r *reader) askBed(said fields, c bed.Config) {
	key := pitch.Key{}
	c.Moments = []bed.Moment{{Key: key, Home: []harmony.Chord{harmony.Diatonic(key, 1), harmony.Diatonic(key, 4)}}}
	_, err := bed.New(c)
	if narrow := new(voicing.RangeError); errors.As(err, &narrow) {
		err = narrow // without the moment, which is not the player's
	}
	if err != nil {
		r.fault(max(said.line("voicing"), 1), "%v", err)
	}
}
