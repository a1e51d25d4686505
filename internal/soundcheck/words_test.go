package soundcheck

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/session"
	"bedd/internal/sound"

	"pgregory.net/rapid"
)

func plainMoment(t testing.TB) bed.Moment {
	t.Helper()
	m, err := gathering.Plain(pitch.Key{}, "1 4", "6m 2m", harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// The rows are what a session does: at every intensity that a bed is brought in with,
// and steps on, its density and register are those of the row that has the intensity.
func TestRowsAreWhatTheBedDoes(t *testing.T) {
	for _, name := range []string{"default", "no-pedal"} {
		rig, err := gathering.OpenRig(name)
		if err != nil {
			t.Fatal(err)
		}
		rows := spans(&rig.Bed)
		m := plainMoment(t)
		lifted := rig.Bed.Voicing.High
		for x := 0.005; x < 1; x += 0.033 {
			m.Intensity = x
			s, err := session.New(rig, []bed.Moment{m}, new(session.Take))
			if err != nil {
				t.Fatal(err)
			}
			var row *Row
			for i := range rows {
				if x >= rows[i].From && x <= rows[i].To {
					row = &rows[i]
				}
			}
			if row == nil {
				t.Fatalf("%s: no row has intensity %v", name, x)
			}
			s.Ask(0, gathering.Order{Command: bed.BringIn})
			top := uint8(0)
			for i := range 4 {
				s.Ask(time.Duration(5*i+5)*time.Second, gathering.Order{Command: bed.Next})
				v := s.View()
				if v.Density != row.Voices {
					t.Errorf("%s: at intensity %v the bed has %d voices, the row %d", name, x, v.Density, row.Voices)
				}
				for n := uint8(127); n > 0; n-- {
					if p := v.Voicing.Pitches(); p.Has(n) {
						top = max(top, n)
						break
					}
				}
			}
			if top > lifted && !row.Lifted {
				t.Errorf("%s: at intensity %v the top note is %d, over the range, in a row that has not risen", name, x, top)
			}
		}
	}
}

// invented makes a bed of rows whose sound is made up.
func invented(rt *rapid.T, c bed.Config) Bedding {
	b := Bedding{Config: c, Law: true}
	for _, r := range spans(&c) {
		r.LevelDB = c.Balance.DB(r.To)
		r.Name = fmt.Sprint(r.Voices)
		r.LUFS = rapid.Float64Range(-45, -15).Draw(rt, "LUFS")
		for range rapid.IntRange(1, 2).Draw(rt, "chords") {
			var l clarity.Levels
			for i := range l {
				l[i] = rapid.Float64Range(-90, -40).Draw(rt, "level")
			}
			r.Chords = append(r.Chords, Chord{"C", Heard{Levels: l}})
		}
		b.Rows = append(b.Rows, r)
	}
	return b
}

// The ceiling is the highest under which every row stays where it should, at every
// intensity that the ceiling lets be: by looking at them one by one.
func TestCeilingIsTheHighestThatFits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := bed.DefaultConfig()
		c.Balance.Floor = rapid.SampledFrom([]float64{-14, -20, math.Inf(-1)}).Draw(rt, "floor")
		c.Feel.Room = rapid.SampledFrom([]float64{0, 0, 0.8}).Draw(rt, "room")
		b := invented(rt, c)
		v := StandardVoice(clarity.Normal, 62)
		w, err := Judge(v, clarity.Silence(), b, Wish{rapid.Float64Range(0.4, 0.95).Draw(rt, "target"), rapid.Float64Range(0, 20).Draw(rt, "under")})
		if err != nil {
			rt.Fatal(err)
		}
		w.Below(rapid.Float64Range(-10, 30).Draw(rt, "below"))
		fits := func(ceiling, louder float64) bool {
			balance := c.Balance
			balance.Ceiling = ceiling
			for x := 0.0; x <= balance.Most(); x += 0.005 {
				for _, p := range w.Places {
					margin := b.margin()
					past := margin
					if p.Row.Lifted {
						past = 2 * bed.LiftMargin
					}
					if x < p.Row.From-past || x > p.Row.To+margin {
						continue
					}
					level := x
					if c.Feel.Room > 0 {
						level = balance.Most()
					}
					for _, chord := range p.Row.Chords {
						gain := *w.Fader + louder + balance.DB(level) - p.Row.LevelDB
						if clarity.Index(v.Levels, chord.Heard.Levels.Plus(v.FullSPL+gain)) < w.Wish.Target-1e-9 || p.Row.LUFS+gain > v.LUFS-w.Wish.Under+1e-6 {
							return false
						}
					}
				}
			}
			return true
		}
		got, err := w.Ceiling()
		if err != nil {
			if !errors.Is(err, ErrNoCeiling) || fits(max(c.Balance.Floor+3, -33), 0.2) {
				rt.Fatalf("%v", err)
			}
			return
		}
		if !fits(got, 0) {
			rt.Fatalf("under a ceiling of %v dB the bed is too loud", got)
		}
		if got < 0 && fits(got+ceilingStep+0.2, 0.2) { // the slow way looks at fewer intensities
			rt.Fatalf("a ceiling of %v dB would do too, not %v", got+ceilingStep, got)
		}
	})
}

// The recommended level is where the slow way finds it too, the fader's place does not
// change it, and a louder bed is never allowed more.
func TestRecommendationHoldsForAnyBed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := invented(rt, bed.DefaultConfig())
		wish := Wish{rapid.Float64Range(0.4, 0.95).Draw(rt, "target"), rapid.Float64Range(0, 20).Draw(rt, "under")}
		v := StandardVoice(clarity.Effort(rapid.IntRange(0, 2).Draw(rt, "effort")), 65)
		w, err := Judge(v, clarity.Silence(), b, wish)
		if err != nil {
			rt.Fatal(err)
		}
		w.Below(w.Under())
		if over := w.Over(); math.Abs(over) > 1e-6 {
			rt.Fatalf("where it should be it is %v dB too loud", over)
		}
		for _, p := range w.Places {
			if h := w.Hear(p, *w.Fader); h.Index < wish.Target-1e-9 {
				rt.Fatalf("%s: index %v under the target %v", p.Row.Name, h.Index, wish.Target)
			}
			if p.Under < wish.Under {
				rt.Fatalf("%s may be %v LU under the voice, wished are %v", p.Row.Name, p.Under, wish.Under)
			}
		}
		louder := b
		louder.Rows = append([]Row(nil), b.Rows...)
		i := rapid.IntRange(0, len(b.Rows)-1).Draw(rt, "row")
		louder.Rows[i].LUFS += 3
		for k, c := range louder.Rows[i].Chords {
			louder.Rows[i].Chords = append([]Chord(nil), louder.Rows[i].Chords...)
			c.Heard.Levels = c.Heard.Levels.Plus(3)
			louder.Rows[i].Chords[k] = c
		}
		w2, err := Judge(v, clarity.Silence(), louder, wish)
		if err != nil || w2.Gain() > w.Gain()+1e-6 {
			rt.Fatalf("a bed that is louder in one row may be turned up by %v, before by %v; %v", w2.Gain(), w.Gain(), err)
		}
	})
}

// What was mended holds while a foot goes all the way and back, through every density
// and register, over chords that change: in every second of it.
func TestAMendedRigHoldsUnderTheFoot(t *testing.T) {
	rig, err := gathering.OpenRig("default")
	if err != nil {
		t.Fatal(err)
	}
	m := plainMoment(t)
	v := StandardVoice(clarity.Normal, 62)
	wish := Wish{0.93, 0}
	judge := func(rig gathering.Rig) (Words, error) {
		rows, err := Beds(rig, []bed.Moment{m}, rendererOf(t, rig, renderRate), nil)
		if err != nil {
			return Words{}, err
		}
		return Judge(v, clarity.Silence(), Bedding{Rows: rows, Config: rig.Bed, Law: true}, wish)
	}
	w, err := judge(rig)
	if err != nil {
		t.Fatal(err)
	}
	w.Below(w.Under() - 7)
	mended, err := Mend(w, rig, judge)
	if err != nil || len(mended.Settings) < 2 {
		t.Fatalf("7 dB too loud is mended by %v, %v", mended.Settings, err)
	}
	least := map[string]float64{}
	for name, rig := range map[string]gathering.Rig{"as it was": rig, "mended": mended.Rig} {
		take := new(session.Take)
		s, err := session.New(rig, []bed.Moment{m}, take)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 80 * 40 { // 80 s of a pedal that is read 40 times a second
			at := time.Duration(i) * 25 * time.Millisecond
			x := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/3200)
			s.Message(at, []byte{0xB0, 11, byte(127 * x)})
			if i%200 == 100 {
				s.Ask(at, gathering.Order{Command: []bed.Command{bed.BringIn, bed.Next, bed.Swap, bed.Next}[i/200%4]})
			}
		}
		s.Advance(80 * time.Second)
		least[name] = 1
		second := []float32{}
		err = rendererOf(t, rig, renderRate)(eventsOf(take), renderRate, func(block []float32) error {
			for second = append(second, block...); len(second) >= 2*renderRate; second = second[2*renderRate:] {
				ear, err := NewEar(renderRate)
				if err != nil {
					return err
				}
				ear.Add(second[:2*renderRate])
				least[name] = min(least[name], clarity.Index(v.Levels, ear.Heard().Levels.Plus(v.FullSPL+*w.Fader)))
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("least index in any second: %.3f as it was, %.3f mended by %v", least["as it was"], least["mended"], mended.Settings)
	if least["mended"] < wish.Target || least["as it was"] >= wish.Target {
		t.Errorf("the least index is %.3f as it was and %.3f mended, the target %v", least["as it was"], least["mended"], wish.Target)
	}
}

func TestUnclearVoices(t *testing.T) {
	b := Bedding{Config: bed.DefaultConfig(), Rows: []Row{RecordedBed("bed.wav", Heard{Levels: clarity.Silence().Plus(0), LUFS: -30})}}
	room := clarity.StandardSpeech(clarity.Normal).Plus(-3)
	w, err := Judge(StandardVoice(clarity.Normal, 62), room, b, Wish{0.75, 10})
	if !errors.Is(err, clarity.ErrUnclear) || w.Alone > 0.75 {
		t.Errorf("in a loud room: %v, index %v", err, w.Alone)
	}
}

// A recorded bed comes down by a ceiling as much as the ceiling does.
func TestCeilingOfARecordedBed(t *testing.T) {
	h := Heard{LUFS: -26, Levels: clarity.Silence()}
	c := bed.DefaultConfig()
	for _, own := range []float64{0, -2} {
		c.Balance.Ceiling = own
		v := StandardVoice(clarity.Normal, 62) // −23 LUFS
		w, err := Judge(v, clarity.Silence(), Bedding{Config: c, Rows: []Row{RecordedBed("bed.wav", h)}}, Wish{0.75, 10})
		if err != nil {
			t.Fatal(err)
		}
		w.AsRecorded() // 3 LU under, and 10 wished
		got, err := w.Ceiling()
		if want := own - 7; err != nil || got != want {
			t.Errorf("own ceiling %v: %v, %v, want %v", own, got, err, want)
		}
	}
}

// Steady sound that BS.1770 and the bands measure alike is as loud by the one as by the
// other: noise of the standard's shape is hard to make, a sine in a band is not.
func TestLoudnessOfBandsIsThatOfBS1770(t *testing.T) {
	for _, hz := range []float64{251.19, 1000, 3981.07} {
		ear, err := NewEar(48000)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 5 * 48000 {
			x := float32(0.1 * math.Sin(2*math.Pi*hz*float64(i)/48000))
			ear.Add([]float32{x, x})
		}
		h := ear.Heard()
		if got := loudness(h.Levels); math.Abs(got-h.LUFS) > 0.1 {
			t.Errorf("%v Hz: by bands %.2f, by the meter %.2f LUFS", hz, got, h.LUFS)
		}
	}
	if v := StandardVoice(clarity.Normal, 62); math.Abs(loudness(v.Levels.Plus(-v.FullSPL))-v.LUFS) > 1e-9 || math.Abs(v.Levels.Overall()-62) > 1e-9 {
		t.Errorf("the standard's voice: %+v", v)
	}
}

// A recording's gain, and its level, make no difference to the index.
func TestRecordingsAreRelative(t *testing.T) {
	h := Heard{Levels: clarity.StandardSpeech(clarity.Normal).Plus(-90), LUFS: -23}
	a, b := RecordedVoice("", h, 62), h
	b.Levels, b.LUFS = h.Levels.Plus(12), h.LUFS+12
	c := RecordedVoice("", b, 62)
	for i := range a.Levels {
		if math.Abs(a.Levels[i]-c.Levels[i]) > 1e-9 {
			t.Errorf("band %d: %v and %v", i, a.Levels[i], c.Levels[i])
		}
	}
}

func TestRecordingsThatCannotBeJudged(t *testing.T) {
	file := func(rate, seconds int, at func(i int) float64) []byte {
		m := new(seekable)
		w, err := sound.NewWAV(m, rate, 24)
		if err != nil {
			t.Fatal(err)
		}
		block := make([]float32, 2*rate*seconds)
		for i := range block {
			block[i] = float32(at(i / 2))
		}
		if err := errors.Join(w.Write(block), w.Close()); err != nil {
			t.Fatal(err)
		}
		return m.bytes
	}
	tone := func(i int) float64 { return 0.1 * math.Sin(float64(i)/9) }
	for want, data := range map[string][]byte{
		"nothing is heard in it: is the right input recorded, and its level up?":                      file(48000, 5, func(int) float64 { return 0 }),
		"only 1.8 s of it count, pauses left out: ten seconds or more are needed":                     file(48000, 2, tone),
		"a spectrum of speech needs 18000…192000 frames a second, not 8000: record at 44100 or 48000": file(8000, 5, tone),
		"not a WAV file: record or convert to WAV, uncompressed":                                      []byte("OggS"),
	} {
		if _, err := hear(bytes.NewReader(data)); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, err := HearFile("testdata/none.wav"); err == nil || !strings.Contains(err.Error(), "none.wav") {
		t.Errorf("a file that is not there: %v", err)
	}
}

// seekable is a file in memory.
type seekable struct {
	bytes []byte
	at    int
}

func (m *seekable) Write(p []byte) (int, error) {
	if need := m.at + len(p); need > len(m.bytes) {
		m.bytes = append(m.bytes, make([]byte, need-len(m.bytes))...)
	}
	copy(m.bytes[m.at:], p)
	m.at += len(p)
	return len(p), nil
}

func (m *seekable) Seek(offset int64, whence int) (int64, error) {
	if m.at = int(offset); whence == 2 {
		m.at = len(m.bytes)
	}
	return int64(m.at), nil
}

// Piano and bed by themselves: louder strikes are louder, the bed grows from heel to toe,
// stays under its ceiling, and each loudness is that of the sound.
func TestLevelsGrowUnderTheCeiling(t *testing.T) {
	rig, err := gathering.OpenRig("default")
	if err != nil {
		t.Fatal(err)
	}
	m := plainMoment(t)
	free, err := Levels(rig, m, rendererOf(t, rig, renderRate))
	if err != nil {
		t.Fatal(err)
	}
	rig.Bed.Balance.Ceiling = -6
	held, err := Levels(rig, m, rendererOf(t, rig, renderRate))
	if err != nil {
		t.Fatal(err)
	}
	for _, rows := range [][]LevelRecord{free.Piano, free.Bed} {
		for i := range rows[1:] {
			if rows[i+1].LUFS <= rows[i].LUFS || rows[i+1].PeakDB > sound.DefaultCeilingDB {
				t.Errorf("%v after %v", rows[i+1], rows[i])
			}
		}
	}
	for i := range free.Bed {
		if want := free.Piano[1].LUFS - free.Bed[i].LUFS; math.Abs(*free.Bed[i].Under-want) > 0.011 {
			t.Errorf("%s is %v LU under the piano, want %v", free.Bed[i].Name, *free.Bed[i].Under, want)
		}
	}
	toe, under := free.Bed[4].LUFS, held.Bed[4].LUFS
	if toe-under < 6 || math.Abs(held.Bed[3].LUFS-under) > 0.5 {
		t.Errorf("a ceiling of −6 dB leaves the toe at %v, of %v, three quarters at %v", under, toe, held.Bed[3].LUFS)
	}
	if len(free.Bed) != 5 || free.Bed[0].LUFS != held.Bed[0].LUFS {
		t.Errorf("the heel is %v and %v", free.Bed[0], held.Bed[0])
	}
}

// The ceiling that keeps the bed under the piano does so, and half a decibel more does
// not.
func TestCeilingUnderThePiano(t *testing.T) {
	rig, err := gathering.OpenRig("default")
	if err != nil {
		t.Fatal(err)
	}
	m, render := plainMoment(t), rendererOf(t, rig, renderRate)
	free, err := Levels(rig, m, render)
	if err != nil {
		t.Fatal(err)
	}
	toe := func(ceiling float64) float64 {
		held := rig
		held.Bed.Balance.Ceiling = ceiling
		l, err := Levels(held, m, render)
		if err != nil {
			t.Fatal(err)
		}
		return *l.Bed[len(l.Bed)-1].Under
	}
	const under = 2.0
	got, err := CeilingUnderPiano(rig, m, free, under, render)
	if err != nil || got >= 0 || toe(got) < under-0.01 || toe(got+ceilingStep) >= under {
		t.Errorf("a ceiling of %v dB, %v: the bed is %v LU under the piano, with half a decibel more %v", got, err, toe(got), toe(got+ceilingStep))
	}
	if got, err := CeilingUnderPiano(rig, m, free, -8, render); err != nil || got != 0 {
		t.Errorf("a bed that may be louder than the piano gets a ceiling of %v dB, %v", got, err)
	}
	if _, err := CeilingUnderPiano(rig, m, free, 25, render); !errors.Is(err, ErrNoCeiling) {
		t.Errorf("25 LU under: %v", err)
	}
}

// What is heard by ear begins with the piano alone, and the bed that follows grows.
func TestByEarBeginsWithThePiano(t *testing.T) {
	rig, err := gathering.OpenRig("default")
	if err != nil {
		t.Fatal(err)
	}
	events, err := ByEar(rig, plainMoment(t))
	if err != nil {
		t.Fatal(err)
	}
	first, last, loudest, on := int64(-1), int64(0), byte(0), map[[2]byte]int{}
	for _, e := range events {
		if e.Frame < last {
			t.Fatalf("an event at %d after one at %d", e.Frame, last)
		}
		last = e.Frame
		key := [2]byte{e.Status & 15, e.Data1}
		switch e.Status & 0xF0 {
		case 0x90:
			on[key]++
			if first < 0 && e.Status&15 == rig.Layers[bed.Warm].Channel {
				first = e.Frame
			}
		case 0x80:
			on[key]--
		case 0xB0:
			if e.Data1 == 11 && e.Status&15 == rig.Layers[bed.Warm].Channel {
				loudest = max(loudest, e.Data2)
			}
		}
	}
	if first < 8*renderRate || first > 9*renderRate || loudest < 115 || last > 50*renderRate {
		t.Errorf("the bed begins at %.1f s, its level reaches %d, all ends at %.1f s", float64(first)/renderRate, loudest, float64(last)/renderRate)
	}
	for key, n := range on {
		if n != 0 {
			t.Errorf("note %v is left on %d times", key, n)
		}
	}
}

func TestSharedSoundsAreRefused(t *testing.T) {
	rig, err := gathering.OpenRig("one-sound")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Beds(rig, []bed.Moment{plainMoment(t)}, nil, nil); !errors.Is(err, ErrShared) {
		t.Errorf("%v", err)
	}
	if _, err := Levels(rig, plainMoment(t), nil); !errors.Is(err, ErrShared) {
		t.Errorf("%v", err)
	}
}
