package soundcheck

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"time"

	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/linecheck"
	"bedd/internal/wholefile"
)

// Record is what a sound check has found so far; each step adds its part. Levels are in
// the units of the fields' names.
type Record struct {
	Version int              `json:"version"`
	When    time.Time        `json:"when"` // of the latest part
	Rig     string           `json:"rig"`
	Gear    *linecheck.Found `json:"gear,omitempty"`
	Cable   *Cable           `json:"cable,omitempty"`
	Trip    *Trip            `json:"trip,omitempty"`
	Words   *WordsRecord     `json:"words,omitempty"`
	Levels  *LevelsRecord    `json:"levels,omitempty"`
	Fader   string           `json:"fader,omitempty"`   // where the desk's faders stand, in its own words
	Plugged []PluggedEntry   `json:"plugged,omitempty"` // what is plugged where
	MIDI    []PluggedEntry   `json:"midi,omitempty"`    // the same of bedd's MIDI devices
}

// PluggedEntry is one cable.
type PluggedEntry struct {
	What  string `json:"what"`
	Where string `json:"where"`
}

// WordsRecord is what becomes of a voice over a bed, in numbers for a file.
type WordsRecord struct {
	Voice       VoiceRecord     `json:"voice"`
	Room        *clarity.Levels `json:"room_db_spl,omitempty"` // spectrum levels at the listener
	Target      float64         `json:"target"`
	LeastUnder  float64         `json:"least_under_lu"`
	Alone       float64         `json:"index_alone"`
	FaderKnown  bool            `json:"fader_known"`
	Beds        []BedRecord     `json:"beds"`
	Loudest     string          `json:"loudest"`
	UnderNow    *float64        `json:"under_now_lu,omitempty"` // the loudest under the voice, as the fader stands
	Under       float64         `json:"under_lu"`               // where it should be at least
	Over        *float64        `json:"too_loud_db,omitempty"`  // by which the bed is too loud as the fader stands
	Ceiling     *float64        `json:"ceiling_db,omitempty"`   // that the rig should keep to
	Settings    []SettingRecord `json:"settings,omitempty"`     // what the rig should say
	LowPassHz   float64         `json:"low_pass_hz,omitempty"`  // on the bed's channel of the desk
	LowPassMore float64         `json:"low_pass_more_db,omitempty"`
	Notes       []string        `json:"notes,omitempty"`  // what is to be doubted
	Worst       clarity.Levels  `json:"worst_bed_db_spl"` // of the picture: the worst chord where it should be at most
}

// VoiceRecord is the voice of a check.
type VoiceRecord struct {
	Source  string         `json:"source"`
	SPL     float64        `json:"spl_db"`
	LUFS    *float64       `json:"lufs,omitempty"` // of a recording
	Seconds float64        `json:"seconds,omitempty"`
	Levels  clarity.Levels `json:"levels_db_spl"`
}

// BedRecord is a bed at one density, in one register.
type BedRecord struct {
	Name     string   `json:"name"`
	Voices   int      `json:"voices,omitempty"`
	Risen    bool     `json:"risen,omitempty"`
	From     float64  `json:"intensity_from"`
	To       float64  `json:"intensity_to"`
	LUFS     float64  `json:"lufs"`
	Chord    string   `json:"worst_chord"`
	UnderNow *float64 `json:"under_now_lu,omitempty"`
	IndexNow *float64 `json:"index_now,omitempty"`
	Drops    *float64 `json:"drops_at_under_lu,omitempty"` // not at all where it is left out
	Under    float64  `json:"under_lu"`
	ByIndex  bool     `json:"by_index"`
}

// SettingRecord is a line of a rig.
type SettingRecord struct {
	Section string `json:"section"`
	Field   string `json:"field"`
	Value   string `json:"value"`
}

func hundredths(x float64) float64 { return math.Round(x*100) / 100 }

func maybe(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	x = hundredths(x)
	return &x
}

// lowPassHz is the corner of the low-pass that is offered to the desk: two octaves over
// middle C, above most of a bed's notes and under what tells consonants apart. By ear.
const lowPassHz = 1000

// silentDB stands for silence in a file, which knows no −Inf.
const silentDB = -200

func finite(l clarity.Levels) clarity.Levels {
	for i := range l {
		l[i] = hundredths(max(l[i], silentDB))
	}
	return l
}

// Record gives words as a file has them, and what mends them, if the fader is known.
func (w *Words) Record(m *Remedy) (*WordsRecord, error) {
	r := &WordsRecord{
		Voice:  VoiceRecord{Source: w.Voice.Source, SPL: hundredths(w.Voice.Levels.Overall()), Levels: finite(w.Voice.Levels)},
		Target: w.Wish.Target, LeastUnder: w.Wish.Under, Alone: hundredths(w.Alone), FaderKnown: w.Fader != nil,
		Loudest: w.Loudest().Row.Name, Under: hundredths(w.Under()),
	}
	if h := w.Voice.Heard; h != nil {
		r.Voice.LUFS, r.Voice.Seconds = maybe(h.LUFS), hundredths(h.Seconds)
		r.Notes = h.notes("the recording of the voice")
	}
	if !w.bed.Law {
		r.Notes = append(r.Notes, w.Places[0].Row.Chords[0].Heard.notes("the recording of the bed")...)
	}
	if w.Room != clarity.Silence() {
		room := finite(w.Room)
		r.Room = &room
	}
	least := w.Places[0]
	for _, p := range w.Places {
		b := BedRecord{
			Name: p.Row.Name, Voices: p.Row.Voices, Risen: p.Row.Lifted, From: hundredths(p.Row.From), To: hundredths(p.Row.To),
			LUFS: hundredths(p.LUFS), Chord: p.Worst, Drops: maybe(p.Drops), Under: hundredths(p.Under), ByIndex: p.ByIndex,
		}
		if w.Fader != nil {
			b.UnderNow = maybe(w.Voice.LUFS - p.LUFS - *w.Fader)
			b.IndexNow = maybe(w.Hear(p, *w.Fader).Index)
		}
		if p.Gain < least.Gain {
			least = p
		}
		r.Beds = append(r.Beds, b)
	}
	r.Worst = finite(w.Bed(least, w.Gain()))
	if least.ByIndex {
		more, err := w.LowPass(least, lowPassHz)
		if err != nil {
			return nil, err
		}
		if more >= worth {
			r.LowPassHz, r.LowPassMore = lowPassHz, hundredths(more)
		}
	}
	if w.Fader != nil {
		r.UnderNow, r.Over = maybe(w.Voice.LUFS-w.Loudest().LUFS-*w.Fader), maybe(w.Over())
	}
	if m != nil {
		r.Ceiling = maybe(m.Ceiling)
		for _, s := range m.Settings {
			r.Settings = append(r.Settings, SettingRecord{s.Section, s.Field, s.Value})
		}
		if s, ok := w.Voice.setting(); ok {
			r.Settings = append(r.Settings, SettingRecord{s.Section, s.Field, s.Value})
		}
	}
	return r, nil
}

// Picture shows the voice and the bed at the most that it should be.
func (r *WordsRecord) Picture(title string) clarity.Picture {
	p := clarity.Picture{Title: title, Voice: r.Voice.Levels, Bed: r.Worst, Room: clarity.Silence(),
		VoiceIs: "the voice", BedIs: "the bed, at most"}
	if r.Room != nil {
		p.Room = *r.Room
	}
	return p
}

const (
	version    = 1
	mostRecord = 1 << 20 // bytes
)

// ReadRecord reads what a sound check has kept. It refuses what it does not know.
func ReadRecord(r io.Reader) (Record, error) {
	data, err := io.ReadAll(io.LimitReader(r, mostRecord+1))
	if err != nil {
		return Record{}, err
	}
	if len(data) > mostRecord {
		return Record{}, errors.New("too long to be what a sound check keeps")
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var out Record
	if err := d.Decode(&out); err != nil {
		return Record{}, fmt.Errorf("not what a sound check keeps: %w", err)
	}
	if d.More() || out.Version != version {
		return Record{}, fmt.Errorf("not what this sound check keeps: version %d is read, and nothing after it", version)
	}
	return out, nil
}

// Load reads the record in a file, or an empty one where there is none.
func Load(path string) (Record, error) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Record{Version: version}, nil
	}
	if err != nil {
		return Record{}, err
	}
	defer file.Close()
	r, err := ReadRecord(file)
	if err != nil {
		return Record{}, fmt.Errorf("%s: %w", path, err)
	}
	return r, nil
}

// Write writes a record.
func (r Record) Write(w io.Writer) error {
	r.Version = version
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

// Save puts a record in a file, whole.
func (r Record) Save(path string) error {
	return wholefile.Write(path, func(file *os.File) error { return r.Write(file) })
}

// TooLoud reports whether the bed is too loud as the fader stands.
func (r *WordsRecord) TooLoud() bool { return r.Over != nil && *r.Over > 0 }

// Remedies gives what keeps the bed down, and Listening what lets listening know the
// voice; together they are the settings.
func (r *WordsRecord) Remedies() []SettingRecord { return r.settings(false) }

// Listening is the other part: see [WordsRecord.Remedies].
func (r *WordsRecord) Listening() []SettingRecord { return r.settings(true) }

func (r *WordsRecord) settings(listening bool) (part []SettingRecord) {
	for _, s := range r.Settings {
		if (s.Section == listeningSection) == listening {
			part = append(part, s)
		}
	}
	return part
}

// Lines gives the settings as a rig's, for [gathering.EditRig].
func (r *WordsRecord) Lines() (lines []gathering.Setting) {
	for _, s := range r.Settings {
		lines = append(lines, gathering.Setting{Section: s.Section, Field: s.Field, Value: s.Value, Why: "from the sound check"})
	}
	return lines
}
