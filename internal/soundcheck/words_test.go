package soundcheck

import (
	"errors"
	"math"
	"testing"
	"time"

	"bedd/internal/bed"
	"bedd/internal/clarity"
	"bedd/internal/gathering"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/session"
)

func plainMoment(t testing.TB) bed.Moment {
	t.Helper()
	m, err := gathering.Plain(pitch.Key{}, "1 4", "6m 2m", harmony.FromTonic)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// What was mended holds while a foot goes all the way and back, through every density
// and register, over chords that change: in every second of it.
func TestAMendedRigHoldsUnderTheFoot(t *testing.T) {
	renders(t)
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
