package soundcheck

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/linecheck"
	"bedd/internal/wholefile"
)

// WriteRig puts what was found into a rig file: all of it into a new one, what some steps
// found into one that is there, whose other settings and comments stay; what was there is
// kept beside it, and kept is its name. Nothing is written that is no rig. It gives the
// rig.
func WriteRig(path string, found linecheck.Found, steps ...linecheck.Step) (rig gathering.Rig, kept string, err error) {
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	old, err := os.ReadFile(path)
	var text []byte
	switch {
	case errors.Is(err, fs.ErrNotExist):
		text = []byte(found.Rig(name))
	case err != nil:
		return rig, "", err
	default:
		if text, err = mended(path, old, found, steps); err != nil {
			return rig, "", err
		}
	}
	if rig, err = gathering.ReadRig(path, text); err != nil {
		return rig, "", fmt.Errorf("what was found makes no rig:\n%w", err)
	}
	if string(old) == string(text) {
		return rig, "", nil
	}
	if kept, err = wholefile.Keep(path); err != nil {
		return rig, "", err
	}
	return rig, kept, wholefile.Write(path, func(f *os.File) error {
		_, err := f.Write(text)
		return err
	})
}

// mended is an old rig file with what was found in it.
func mended(path string, old []byte, found linecheck.Found, steps []linecheck.Step) ([]byte, error) {
	rig, err := gathering.ReadRig(path, old)
	if err != nil {
		return nil, err
	}
	var sections []gathering.RigSection
	for _, s := range found.Sections(steps...) {
		switch s.Name {
		case "sounds": // as far as they must change, below
		case "player": // keeps its other settings
			channel := gathering.Setting{Section: "player", Field: "channel", Value: strconv.Itoa(found.Keys.Channel)}
			if old, err = gathering.EditRig(path, old, channel); err != nil {
				return nil, err
			}
		default:
			sections = append(sections, gathering.RigSection{Name: s.Name, Text: s.Text})
		}
	}
	if warm, air := found.BedChannels(); !rig.Share && found.Plays(rig.Layers[bed.Warm].Channel, rig.Layers[bed.Air].Channel) {
		rig.Layers[bed.Warm].Channel, rig.Layers[bed.Air].Channel = warm, air
		text := "sounds:\n"
		for l, name := range []string{"warm", "air"} {
			layer := rig.Layers[l]
			text += fmt.Sprintf("  %s: {channel: %d, program: %d, volume: %d", name, layer.Channel+1, layer.Program+1, layer.Volume)
			if layer.BankSet {
				text += fmt.Sprintf(", bank: %d/%d", layer.Bank[0], layer.Bank[1])
			}
			text += "}\n"
		}
		sections = append(sections, gathering.RigSection{Name: "sounds", Text: text})
	}
	return gathering.ReplaceSections(path, old, sections...)
}

// Devices lists the MIDI devices that were found, for the page at the desk.
func Devices(found linecheck.Found) (list []PluggedEntry) {
	add := func(what, where string) { list = append(list, PluggedEntry{what, where}) }
	keys := ""
	if k := found.Keys; k != nil {
		keys = k.Input
		add("keys", "MIDI from "+keys+" to bedd")
	}
	var feet []string
	for _, w := range found.Feet {
		feet = append(feet, w.Input)
	}
	if found.Pedal != nil {
		feet = append(feet, found.Pedal.Input)
	}
	slices.Sort(feet)
	for _, in := range slices.Compact(feet) {
		add("feet and pedal", "MIDI from "+in+" to bedd")
	}
	if found.Synth != "" {
		what := "piano and bed"
		if found.Thru == "off" {
			what = "bed"
		}
		add(what, "MIDI from bedd to "+found.Synth)
	}
	return list
}
