package session

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/bed/bedtest"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/midiio"
	"bedd/internal/midiio/readback"
	"bedd/internal/pitch"
)

const demoFile = "../../testdata/winter-lights.mid"

func openRig(t testing.TB, name string) gathering.Rig {
	t.Helper()
	rig, err := gathering.OpenRig(name)
	if err != nil {
		t.Fatal(err)
	}
	return rig
}

func demoMoments(t testing.TB) []bed.Moment {
	t.Helper()
	library, err := gathering.OpenLibrary("")
	if err != nil {
		t.Fatal(err)
	}
	g, err := gathering.OpenGathering("winter-lights", library)
	if err != nil {
		t.Fatal(err)
	}
	return g.BedMoments()
}

// written performs a file offline, writes what comes out and reads it back
// with an independent library.
func written(t *testing.T, rig gathering.Rig, moments []bed.Moment, f *midiio.File) (readback.File, *Take) {
	t.Helper()
	take, _, _, err := Perform(rig, moments, f, nil)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "out.mid")
	if err := midiio.WriteFile(path, take.File(ClockOf(f), moments[0].Key)); err != nil {
		t.Fatal(err)
	}
	return readback.Read(t, path), take
}

// watchFile feeds the bed's tracks of a file, as mido reads it, to the watcher.
func watchFile(t *testing.T, c bed.Config, f readback.File, tempo midiio.TempoMap, end int64) {
	t.Helper()
	w := bedtest.NewWatcher(c)
	type line struct {
		tick int64
		do   func(time.Duration)
	}
	var lines []line
	add := func(tick int64, do func(time.Duration)) { lines = append(lines, line{tick, do}) }
	for _, e := range f.Tracks[0].Events {
		kind, data, ok := e.Meta()
		if !ok || kind != midiio.Marker {
			continue
		}
		text := string(data)
		add(e.Tick, func(at time.Duration) {
			a := bed.Action{At: at, Kind: bed.EnterChord}
			if rest, did := strings.CutPrefix(text, "do "); did {
				a.Kind = bed.Did
				a.Command, _ = bed.ParseCommand(rest)
			}
			w.See(a)
		})
	}
	for l, track := range f.Tracks[3:5] {
		for _, e := range track.Events {
			if e.Data[0] == 0xFF {
				continue
			}
			if e.Data[0]&0x0F != byte(1+l) || len(e.Data) != 3 {
				t.Errorf("track %q has % X at tick %d", track.Name, e.Data, e.Tick)
			}
			a := bed.Action{Layer: bed.Layer(l), Note: e.Data[1], Velocity: e.Data[2]}
			switch e.Data[0] & 0xF0 {
			case 0x90:
				a.Kind = bed.StrikeNote
			case 0x80:
				a.Kind = bed.ReleaseNote
			default:
				kind, known := controls[e.Data[1]]
				if !known {
					t.Errorf("track %q has % X at tick %d", track.Name, e.Data, e.Tick)
				}
				a.Kind, a.Value = kind, e.Data[2]
			}
			add(e.Tick, func(at time.Duration) {
				a.At = at
				w.See(a)
			})
		}
	}
	add(end, w.InputEnded)
	sort.SliceStable(lines, func(i, j int) bool { return lines[i].tick < lines[j].tick })
	for _, l := range lines {
		l.do(tempo.Time(l.tick))
	}
	w.Finish()
	for _, fault := range w.Faults() {
		t.Error(fault)
	}
}

func names(f readback.File) (out []string) {
	for _, track := range f.Tracks {
		out = append(out, track.Name)
	}
	return out
}

func markers(f readback.File) (out []string) {
	for _, e := range f.Tracks[0].Events {
		if kind, data, ok := e.Meta(); ok && kind == midiio.Marker {
			out = append(out, string(data))
		}
	}
	return out
}

// The demo's output, read back by python3-mido: I1 to I4, what the markers say,
// and a ledger that is empty at the end of the file.
func TestDemoFileReadBack(t *testing.T) {
	rig := openRig(t, "saltmere")
	in, err := midiio.ReadFile(demoFile)
	if err != nil {
		t.Fatal(err)
	}
	moments := demoMoments(t)
	f, _ := written(t, rig, moments, in)
	if want := []string{"conductor", "setup", "thru", "bed warm", "bed air"}; !slices.Equal(names(f), want) || f.Type != 1 || f.Division != in.Division {
		t.Errorf("type %d, division %d, tracks %q, want 1, %d, %q", f.Type, f.Division, names(f), in.Division, want)
	}
	watchFile(t, rig.Bed, f, in.Tempo(), in.Events[len(in.Events)-1].Tick)

	want := []string{
		"do bring-in", "chord Eb", "do fade", "do bring-in",
		"chord Ab", "chord Eb", "chord Ab",
		"do swap", "chord Cm", "chord Fm", "do stay on", "do stay off",
		"do capture", "chord Gm7", "chord Cm",
		"do follow on", "chord Ab", "chord Eb", "do follow off",
		"do land", "chord F7", "chord Bb", "do out-now",
		"do bring-in", "chord " + moments[1].Home[0].Symbol(),
	}
	if got := markers(f); !slices.Equal(got, want) {
		t.Errorf("markers\n%q, want\n%q", got, want)
	}

	// Thru is faithful: what mido reads in the performance, but for what the rig
	// gives to feet and pedal and what is on the bed's channels.
	var sent, passed []string
	for _, e := range readback.Read(t, demoFile).Tracks[1].Events {
		status := e.Data[0]
		ours := status == 0xFF || status == 0xB0 && (e.Data[1] == 11 || e.Data[1] >= 80 && e.Data[1] <= 85) ||
			status < 0xF0 && (status&15 == 1 || status&15 == 2)
		if !ours {
			sent = append(sent, fmt.Sprintf("%d %X", e.Tick, e.Data))
		}
	}
	for _, e := range f.Tracks[2].Events {
		if e.Data[0] != 0xFF {
			passed = append(passed, fmt.Sprintf("%d %X", e.Tick, e.Data))
		}
	}
	if !slices.Equal(sent, passed) {
		t.Errorf("thru differs: %d messages sent, %d passed\n%v\n%v", len(sent), len(passed), sent, passed)
	}

	on := map[[2]byte]int{}
	last := int64(0)
	for _, track := range f.Tracks {
		for _, e := range track.Events {
			key := [2]byte{e.Data[0] & 15, e.Data[1]}
			switch {
			case e.Data[0]&0xF0 == 0x90 && e.Data[2] > 0:
				on[key]++
			case e.Data[0]&0xF0 == 0x90 || e.Data[0]&0xF0 == 0x80:
				on[key]--
			}
			if e.Data[0] != 0xFF {
				last = max(last, e.Tick)
			}
		}
	}
	for key, n := range on {
		if n != 0 {
			t.Errorf("channel %d note %d has %d more ons than offs", key[0]+1, key[1], n)
		}
	}
	for _, track := range f.Tracks {
		if end := track.Events[len(track.Events)-1].Tick; end != last {
			t.Errorf("track %q ends at %d, the last message is at %d", track.Name, end, last)
		}
	}
}

// steps makes a performance of left and right presses, a second apart.
func steps(t *testing.T, presses string) *midiio.File {
	t.Helper()
	track := midiio.OutTrack{Name: "feet"}
	tick := int64(0)
	for _, p := range presses {
		number := byte(80)
		if p == 'r' {
			number = 81
		}
		track.Events = append(track.Events,
			midiio.Event{Tick: tick, Data: []byte{0xB0, number, 127}},
			midiio.Event{Tick: tick + 96, Data: []byte{0xB0, number, 0}})
		tick += 960 // a second at 120 quarter notes a minute
	}
	track.End = tick + 9600 // the last chord may settle
	track.Events = append(track.Events, midiio.Event{Tick: track.End, Data: []byte{0xB0, 1, 0}})
	var b bytes.Buffer
	if err := midiio.Write(&b, midiio.OutFile{Division: 480, Tracks: []midiio.OutTrack{track}}); err != nil {
		t.Fatal(err)
	}
	f, err := midiio.Read("steps", &b)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// upperAfterEachChord gives the upper notes when each chord has settled, and how
// many messages they got at its change.
func upperAfterEachChord(f readback.File) (sets [][]byte, messages []int) {
	var ticks []int64
	for _, e := range f.Tracks[0].Events {
		if kind, data, ok := e.Meta(); ok && kind == midiio.Marker && strings.HasPrefix(string(data), "chord") {
			ticks = append(ticks, e.Tick)
		}
	}
	for _, tick := range ticks {
		on := map[byte]bool{}
		count := 0
		for _, e := range f.Tracks[4].Events { // air has the upper notes only
			if e.Tick > tick+480 {
				break
			}
			switch e.Data[0] & 0xF0 {
			case 0x90:
				on[e.Data[1]] = true
			case 0x80:
				delete(on, e.Data[1])
			default:
				continue
			}
			if e.Tick >= tick {
				count++
			}
		}
		var notes []byte
		for n := range on {
			notes = append(notes, n)
		}
		slices.Sort(notes)
		sets, messages = append(sets, notes), append(messages, count)
	}
	return sets, messages
}

// Home 1–4 and away 6m–2m in all keys, the way round and every swap: at
// stillness 1 no upper note gets a message at a change and the set is C E G A,
// transposed; at the default at least two different pitch classes are held at
// each change. Emphasise shared notes, only the bass moves: common practice, no
// source.
func TestHomeAndAwayInAllKeys(t *testing.T) {
	// l: next; rl: swap. From 1 and from 4 away, from 6m and from 2m home, round.
	feet := "lll" + "rl" + "ll" + "rl" + "l" + "rl" + "l" + "rl" + "l"
	in := steps(t, feet)
	for semitones := range 12 {
		key := pitch.Key{}.Transpose(semitones)
		for _, stillness := range []float64{1, bed.DefaultConfig().Voicing.Stillness} {
			rig := gathering.DefaultRig()
			rig.Bed.Voicing.Stillness = stillness
			m, err := gathering.Plain(key, "1 4", "6m 2m", harmony.FromTonic)
			if err != nil {
				t.Fatal(err)
			}
			m.Intensity = 0.5
			f, _ := written(t, rig, []bed.Moment{m}, in)
			watchFile(t, rig.Bed, f, in.Tempo(), in.Events[len(in.Events)-1].Tick)
			sets, messages := upperAfterEachChord(f)
			if len(sets) != len(feet)-strings.Count(feet, "r") {
				t.Fatalf("%v: %d chords for %q", key, len(sets), feet)
			}
			for i, notes := range sets {
				classes := classesOf(notes)
				if stillness == 1 {
					if want := pitch.SetOf(0, 4, 7, 9).Transpose(semitones); classes != want {
						t.Errorf("%v stillness 1: chord %d has upper classes %v, want %v", key, i, classes, want)
					}
					if i > 0 && messages[i] > 0 {
						t.Errorf("%v stillness 1: the upper notes get %d messages at chord %d", key, messages[i], i)
					}
					continue
				}
				if i == 0 {
					continue
				}
				var held []byte
				for _, n := range notes {
					if slices.Contains(sets[i-1], n) {
						held = append(held, n)
					}
				}
				if classes.Len() < 3 || classesOf(held).Len() < 2 {
					t.Errorf("%v: from %v to %v holds only %v", key, sets[i-1], notes, held)
				}
			}
		}
	}
}

func classesOf(notes []byte) (s pitch.Set) {
	for _, n := range notes {
		s = s.Add(pitch.ClassOf(int(n)))
	}
	return s
}
