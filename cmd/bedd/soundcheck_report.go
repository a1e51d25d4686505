package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/midiio"
	"bedd/internal/soundcheck"
	"bedd/internal/wholefile"

	"github.com/spf13/cobra"
)

type deskFlags struct {
	rig     string
	title   string
	html    string
	plugged []string
	fader   string
	ports   bool
	midi    midiFlags
	kept    kept
	json    bool
}

func newDeskReport() *cobra.Command {
	var f deskFlags
	cmd := &cobra.Command{
		Use:   "report",
		Short: "A page for the desk: what is plugged where, channels, programs, levels",
		Long: `report writes one page of HTML, to print and leave at the mixing desk: what is plugged
where, channels and programs, what the steps have found (--keep FILE, the same as theirs),
how to set the level by a tone, room to note the faders, and what to take care of. --ports
adds the MIDI devices that play would take, by itself or with the same flags. What you say
with --plug and --fader, and the ports, are kept in that file too.`,
		Example: `  bedd soundcheck report --html desk.html
  bedd soundcheck report --keep check.json --rig my-rig.yaml --title "Winter Lights" \
      --plug "piano: DI 1, stage left" --plug "bed: DI 2" --plug "lectern microphone: channel 5" \
      --fader "voice 0, piano -8, bed -15" --html desk.html`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.rig, "rig", "default", "a rig file, or one of "+strings.Join(gathering.RigNames(), ", "))
	flags.StringVar(&f.title, "title", "", "what the page is for (default the rig's name)")
	flags.StringVar(&f.html, "html", "", "write the page to this `file`")
	flags.StringArrayVar(&f.plugged, "plug", nil, "what is plugged where, as \"bed: DI 2\"; may be given again")
	flags.StringVar(&f.fader, "fader", "", "where the faders stand, as agreed")
	flags.BoolVar(&f.ports, "ports", false, "list the MIDI devices that play would take")
	f.midi.flags(cmd)
	f.kept.flags(cmd)
	flags.BoolVar(&f.json, "json", false, "print what the steps have found, as JSON")
	return cmd
}

func (f *deskFlags) run(cmd *cobra.Command) error {
	if f.html == "" && !f.json {
		return badInput{errors.New("name the page with --html FILE")}
	}
	rig, err := gathering.OpenRig(f.rig)
	if err != nil {
		return badInput{err}
	}
	if err := checkOutputs("", output{"--html", f.html}, output{"--keep", f.kept.path}); err != nil {
		return err
	}
	record, err := f.kept.check()
	if err != nil {
		return err
	}
	if record.Rig != "" && record.Rig != rig.Name {
		return badInput{fmt.Errorf("%s is of the rig %s, not of %s: name the right one with --rig", f.kept.path, record.Rig, rig.Name)}
	}
	var plugged []soundcheck.PluggedEntry
	for _, p := range f.plugged {
		what, where, ok := strings.Cut(p, ":")
		if what, where = strings.TrimSpace(what), strings.TrimSpace(where); !ok || what == "" || where == "" {
			return badInput{fmt.Errorf("--plug %q is not what and where with a colon between, as in \"bed: DI 2\"", p)}
		}
		plugged = append(plugged, soundcheck.PluggedEntry{What: what, Where: where})
	}
	var devices []soundcheck.PluggedEntry
	if f.ports || f.midi.wants() {
		f.midi.take(rig.Ports, cmd.Flags().Changed)
		wishes, err := f.midi.wishes()
		if err != nil {
			return err
		}
		system, choice, err := f.midi.choosePorts(wishes)
		if err != nil {
			return err
		}
		system.Close()
		devices = pluggedDevices(choice)
	}
	add := func(r *soundcheck.Record) {
		if devices != nil {
			r.MIDI = devices
		}
		if plugged != nil {
			r.Plugged = plugged
		}
		if f.fader != "" {
			r.Fader = f.fader
		}
	}
	add(&record)
	if plugged != nil || devices != nil || f.fader != "" {
		if err := f.kept.save(rig, add); err != nil {
			return err
		}
	}
	if f.title == "" {
		f.title = rig.Name
	}
	if f.html != "" {
		day := record.When
		if day.IsZero() {
			day = time.Now()
		}
		page := soundcheck.Desk{Title: f.title, Day: day, Rig: rig, Record: record}
		if err := wholefile.Write(f.html, func(file *os.File) error { return page.WriteHTML(file) }); err != nil {
			return err
		}
	}
	if f.json {
		e := json.NewEncoder(cmd.OutOrStdout())
		e.SetIndent("", "  ")
		return e.Encode(record)
	}
	return nil
}

// pluggedDevices lists the MIDI devices that are taken; there may be none.
func pluggedDevices(c midiio.Choice) []soundcheck.PluggedEntry {
	devices := []soundcheck.PluggedEntry{}
	for _, v := range midiio.Chosen(c.Ins) {
		what := map[midiio.Role]string{midiio.KeysRole: "keys", midiio.FeetRole: "feet and pedal"}[v.Role]
		if what == "" {
			what = "keys, feet and pedal"
		}
		devices = append(devices, soundcheck.PluggedEntry{What: what, Where: "MIDI from " + v.Port.Name + " to bedd"})
	}
	for _, v := range midiio.Chosen(c.Outs) {
		what := map[midiio.Part]string{midiio.PianoPart: "piano", midiio.BedPart: "bed"}[v.Parts]
		if what == "" {
			what = "piano and bed"
		}
		devices = append(devices, soundcheck.PluggedEntry{What: what, Where: "MIDI from bedd to " + v.Port.Name})
	}
	return devices
}
