package soundcheck

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"bedd/internal/bed"
	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/wholefile"

	"pgregory.net/rapid"
)

// found is what a check of an invented bed finds, the fader known.
func found(rt *rapid.T) (Words, *WordsRecord) {
	b := invented(rt, bed.DefaultConfig())
	w, err := Judge(StandardVoice(clarity.Normal, 62), clarity.StandardSpeech(clarity.Normal).Plus(-40), b, Wish{0.7, 10})
	if err != nil {
		rt.Fatal(err)
	}
	w.Below(rapid.Float64Range(0, 30).Draw(rt, "below"))
	m, err := Mend(w, gathering.DefaultRig(), func(gathering.Rig) (Words, error) { return w, nil })
	if err != nil && !errors.Is(err, ErrNoCeiling) {
		rt.Fatal(err)
	}
	r, err := w.Record(&m)
	if err != nil {
		rt.Fatal(err)
	}
	return w, r
}

// What is kept is read back as it was, and all of it is numbers that JSON knows.
func TestRecordsAreReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		_, words := found(rt)
		in := Record{Version: version, Rig: "Saltmere", Words: words, Fader: "bed −15", Plugged: []PluggedEntry{{"bed", "DI 2"}}}
		var b bytes.Buffer
		if err := in.Write(&b); err != nil {
			rt.Fatal(err)
		}
		out, err := ReadRecord(bytes.NewReader(b.Bytes()))
		if err != nil || !reflect.DeepEqual(in, out) {
			rt.Fatalf("%v: wrote\n%+v\nread\n%+v", err, in, out)
		}
	})
}

// The figures of a record fit each other, by hand.
func TestRecordsAddUp(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w, r := found(rt)
		loudest := math.Inf(-1)
		for _, b := range r.Beds {
			loudest = max(loudest, b.LUFS)
		}
		now := w.Voice.LUFS - loudest - *w.Fader
		if math.Abs(*r.UnderNow-now) > 0.02 || math.Abs(r.Under-now-*r.Over) > 0.03 {
			rt.Fatalf("now %v LU under, should be %v, too loud by %v", *r.UnderNow, r.Under, *r.Over)
		}
		for _, b := range r.Beds {
			// As far as the whole bed must come down, no row is nearer than it should be.
			if *b.UnderNow+*r.Over < b.Under-0.03 {
				rt.Fatalf("%s would be %v LU under, and should be %v", b.Name, *b.UnderNow+*r.Over, b.Under)
			}
		}
	})
}

func TestForeignFilesAreRefused(t *testing.T) {
	for want, text := range map[string]string{
		"not what a sound check keeps: ":                                           "name: Saltmere",
		"not what a sound check keeps: json: unknown field":                        `{"version": 1, "rigs": 2}`,
		"not what this sound check keeps: version 1 is read, and nothing after it": `{"version": 2}`,
		"not what this sound check keeps: version 1":                               `{"version": 1} {}`,
		"too long to be what a sound check keeps":                                  `{"version": 1}` + strings.Repeat(" ", mostRecord),
	} {
		if _, err := ReadRecord(strings.NewReader(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%v, want %s", err, want)
		}
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "check.json")
	if r, err := Load(path); err != nil || r.Version != version || r.Words != nil {
		t.Errorf("without a file: %+v, %v", r, err)
	}
	if err := os.WriteFile(path, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(path); err == nil || !strings.HasPrefix(err.Error(), path+": ") {
		t.Errorf("%v", err)
	}
	if err := (Record{Rig: "a"}).Save(path); err != nil {
		t.Fatal(err)
	}
	if r, err := Load(path); err != nil || r.Rig != "a" {
		t.Errorf("saved and read: %+v, %v", r, err)
	}
	if err := wholefile.Check(path); err != nil {
		t.Error(err)
	}
}

func FuzzReadRecord(f *testing.F) {
	f.Add([]byte(`{"version":1,"rig":"Saltmere","words":{"voice":{"source":"talk.wav","spl_db":62,"levels_db_spl":[1,2]},"beds":[{"name":"3 voices","lufs":-30}]}}`))
	f.Add([]byte(`{"version":1,"levels":{"piano":null,"bed":[{"under_piano_lu":null}]},"plugged":[{}]}`))
	f.Add([]byte(`{"version":1e9}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := ReadRecord(bytes.NewReader(data))
		if err != nil {
			return
		}
		// Whatever is read makes a page, and is written again.
		page := Desk{Title: "x", Rig: fuzzRig, Record: r}
		if err := page.WriteHTML(new(bytes.Buffer)); err != nil {
			t.Fatal(err)
		}
		if _, err := json.Marshal(r); err != nil {
			t.Fatal(err)
		}
	})
}

var fuzzRig = gathering.DefaultRig()

// A voice that came through the input goes into the rig beside what mends the bed, and
// switches nothing on; one out of a file does not, nor where the fader is not known.
func TestTheVoiceOfTheInputGoesIntoTheRig(t *testing.T) {
	rig, moments := winterLights(t)
	rows := spans(&rig.Bed)
	for i := range rows {
		rows[i].LUFS = -22
		rows[i].Chords = []Chord{{moments[0].Home[0].Symbol(), Heard{Levels: clarity.StandardSpeech(clarity.Normal).Plus(-82)}}}
	}
	remedy := Remedy{Ceiling: -4, Settings: []gathering.Setting{ceilingSetting(-4)}}
	for _, c := range []struct {
		input  bool
		lufs   float64
		remedy *Remedy
		want   string
		voice  float64
	}{
		{true, -21.34, &remedy, "level: ceiling: -4dB, listening: voice: -21.3LUFS", -21.3},
		{true, -21.34, &Remedy{}, "listening: voice: -21.3LUFS", -21.3},
		{true, -21.34, nil, "", 0},
		{true, 0.4, &remedy, "level: ceiling: -4dB", 0},
		{true, math.Inf(-1), &remedy, "level: ceiling: -4dB", 0},
		{false, -21.34, &remedy, "level: ceiling: -4dB", 0},
	} {
		v := RecordedVoice("the sound card's input", Heard{Levels: clarity.StandardSpeech(clarity.Normal).Plus(-88), LUFS: c.lufs, Seconds: 34}, 62)
		v.Input = c.input
		w, err := Judge(v, clarity.Silence(), Bedding{Rows: rows, Config: rig.Bed, Law: true}, Wish{0.9, 10})
		if err != nil {
			t.Fatal(err)
		}
		r, err := w.Record(c.remedy)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, s := range r.Lines() {
			got = append(got, s.Section+": "+s.Field+": "+s.Value)
		}
		if strings.Join(got, ", ") != c.want || len(r.Remedies())+len(r.Listening()) != len(got) || (len(r.Listening()) == 1) != (c.voice < 0) {
			t.Errorf("%+v: %q", c, got)
		}
		text, err := gathering.EditRig("r.yaml", []byte("keys: {a: step, b: fade}\n"), r.Lines()...)
		if err != nil {
			t.Fatal(err)
		}
		if is, err := gathering.ReadRig("r.yaml", text); err != nil || is.Cleared().Voice != c.voice || is.Listening.On {
			t.Errorf("%+v: the rig says %+v, %v", c, is.Listening, err)
		}
	}
}
