package soundcheck

import (
	"errors"
	"math"
	"testing"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/sound"
)

// Piano and bed by themselves: louder strikes are louder, the bed grows from heel to toe,
// stays under its ceiling, and each loudness is that of the sound.
func TestLevelsGrowUnderTheCeiling(t *testing.T) {
	renders(t)
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
	renders(t)
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
