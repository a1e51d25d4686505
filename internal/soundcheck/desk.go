package soundcheck

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
)

// Desk is a page for whoever mixes: what is plugged where, channels, programs, levels.
type Desk struct {
	Title  string
	Day    time.Time
	Rig    gathering.Rig
	Record Record
}

//go:embed desk.html
var deskPage string

var deskTemplate = template.Must(template.New("desk").Funcs(template.FuncMap{
	"db":       decimal,
	"under":    under,
	"cautions": func() []string { return Cautions },
	"holds":    func() []string { return Holds },
	"mul":      func(part float64) float64 { return 100 * part },
	"times":    exposureTimes,
}).Parse(deskPage))

// WriteHTML writes the page: one file that needs nothing else, for a screen and for one
// sheet of A4. Errors are the writer's.
func (d Desk) WriteHTML(w io.Writer) error {
	return deskTemplate.Execute(w, d)
}

// decimal writes a number of decibels for people.
func decimal(x any) string {
	v, ok := x.(float64)
	if p, is := x.(*float64); is && p != nil {
		v, ok = *p, true
	}
	if !ok {
		return "–"
	}
	return strings.Replace(fmt.Sprintf("%.1f", v), "-", "−", 1)
}

func under(lu any) string {
	switch v := lu.(type) {
	case float64:
		return UnderText(v, "LU")
	case *float64:
		if v != nil {
			return UnderText(*v, "LU")
		}
	}
	return "–"
}

// UnderText says how far something is under another, or over it.
func UnderText(by float64, unit string) string {
	if by < 0 {
		return fmt.Sprintf("%.1f %s over", -by, unit)
	}
	return fmt.Sprintf("%.1f %s under", by, unit)
}

// deskSound is a sound on a channel, as a desk page lists it.
type deskSound struct {
	Channel int
	What    string
	Program string
	Volume  string
}

// Sounds lists who plays on which channel.
func (d Desk) Sounds() []deskSound {
	r := d.Rig
	out := []deskSound{{int(r.Player.Channel) + 1, "piano: the player's keys", "as the keyboard or synth is set", "–"}}
	if r.Share {
		out[0].What += ", and the bed in the same sound"
		return out
	}
	for l, name := range []string{"bed, warm", "bed, air"} {
		if bed.Layer(l) == bed.Air && r.Bed.Balance.NoAir {
			continue
		}
		layer := r.Layers[l]
		s := deskSound{int(layer.Channel) + 1, name, "as the synth is set", "–"}
		if r.Setup {
			s.Program = ProgramName(layer.Program)
			if layer.BankSet {
				s.Program += fmt.Sprintf(", bank %d/%d", layer.Bank[0], layer.Bank[1])
			}
			s.Volume = fmt.Sprint(layer.Volume)
		}
		out = append(out, s)
	}
	return out
}

// Outputs says what comes out of bedd's own sound.
func (d Desk) Outputs() string {
	if d.Rig.Separate {
		return "bedd's own sound: the piano on the left output, the bed on the right, each in mono"
	}
	return "bedd's own sound, if it is used: piano and bed together, in stereo"
}

// Stops says how the player ends the bed, by feet, or else by keys.
func (d Desk) Stops() (out []string) {
	add := func(what string, c bed.Command) {
		if does, ends := map[bed.Command]string{
			bed.FadeOut: "fades out", bed.OutNow: "out at once", bed.AllNotesOff: "silence, every channel",
		}[c]; ends {
			out = append(out, what+": "+does)
		}
	}
	for _, f := range d.Rig.Feet {
		name := footName(f)
		add(name+" pressed", f.Press.Command)
		add(name+" let go", f.Tap.Command)
		add(name+" held", f.Hold.Command)
	}
	if len(out) == 0 {
		for _, key := range slices.Sorted(maps.Keys(d.Rig.Keys)) {
			add("key "+key, d.Rig.Keys[key].Command)
		}
	}
	return out
}

func footName(f gathering.Foot) string {
	if f.Name == "" {
		return f.Switch.Control.String()
	}
	return f.Name
}

// Picture is the drawing of voice and bed, as part of the page.
func (d Desk) Picture() (template.HTML, error) {
	if d.Record.Words == nil {
		return "", nil
	}
	var b strings.Builder
	err := d.Record.Words.Picture("Voice and bed, by frequency").WriteSVG(&b)
	return template.HTML(b.String()), err // it escapes all that it is given
}

// ProgramName names a General MIDI program, 0…127 as on the wire, by its printed number,
// and by its name where it is one of a bed's or a piano's (General MIDI 1).
func ProgramName(program uint8) string {
	name, known := map[uint8]string{
		0: "acoustic grand piano", 1: "bright acoustic piano", 2: "electric grand piano", 4: "electric piano 1", 5: "electric piano 2",
		48: "string ensemble 1", 49: "string ensemble 2", 50: "synth strings 1", 51: "synth strings 2",
		52: "choir aahs", 53: "voice oohs", 54: "synth voice",
		88: "pad 1, new age", 89: "pad 2, warm", 90: "pad 3, polysynth", 91: "pad 4, choir",
		92: "pad 5, bowed", 93: "pad 6, metallic", 94: "pad 7, halo", 95: "pad 8, sweep",
	}[program]
	if !known {
		return fmt.Sprint(int(program) + 1)
	}
	return fmt.Sprintf("%d, %s", int(program)+1, name)
}

// Feet lists what switches and pedal send.
func (d Desk) Feet() (out []PluggedEntry) {
	for _, f := range d.Rig.Feet {
		out = append(out, PluggedEntry{footName(f), f.Switch.Control.String()})
	}
	if d.Rig.Pedal.On {
		out = append(out, PluggedEntry{"pedal: how much", d.Rig.Pedal.Control.String()})
	}
	return out
}

// exposureTimes are rows of the published tables: a level, how long a day in the room,
// how long a week through headphones.
func exposureTimes() (rows [][3]string) {
	for _, level := range []float64{85, 88, 91, 94, 100} {
		rows = append(rows, [3]string{fmt.Sprintf("%.0f", level), Duration(NIOSHMinutes(level)), Duration(60 * WeeklyHours(level, AdultDose))})
	}
	return rows
}

// Duration writes minutes as people say them, to two digits or so.
func Duration(minutes float64) string {
	switch {
	case minutes >= 600:
		return fmt.Sprintf("%.0f h", minutes/60)
	case minutes >= 60:
		return strings.TrimSuffix(fmt.Sprintf("%.1f", minutes/60), ".0") + " h"
	case minutes >= 10:
		return fmt.Sprintf("%.0f min", minutes)
	case minutes >= 1:
		return strings.TrimSuffix(fmt.Sprintf("%.1f", minutes), ".0") + " min"
	}
	return fmt.Sprintf("%.0f s", 60*minutes)
}
