package main

import (
	"cmp"
	"os"
	"slices"
	"syscall"

	"bedd/internal/midiio"
	"bedd/internal/sound"
)

const (
	rate     = 48000
	minutes  = 10
	division = 480 // ticks a quarter note, which takes half a second where no tempo is set
	second   = 2 * division
)

// writeEvening writes ten minutes of bed and piano: six pad voices, of which two
// move every eight seconds, and three piano notes in two seconds under the damper
// pedal.
func writeEvening(path string) error {
	var events []midiio.Event
	at := func(tick int64, msg ...byte) {
		events = append(events, midiio.Event{Tick: tick, Data: msg})
	}
	at(0, 0xC1, 89)
	at(0, 0xB1, 7, 90)
	const end = minutes * 60 * second
	held := []byte{36, 55, 60, 64, 67, 71}
	moved := []byte{41, 57, 60, 64, 67, 69}
	for _, key := range held {
		at(0, 0x91, key, 80)
	}
	for tick := int64(8 * second); tick < end; tick += 8 * second {
		for i, key := range held {
			if key != moved[i] {
				at(tick, 0x91, moved[i], 80)
				at(tick+10, 0x81, key, 0)
			}
		}
		held, moved = moved, held
	}
	for n, tick := 0, int64(0); tick < end; n, tick = n+1, tick+second*2/3 {
		if n%6 == 0 {
			at(tick, 0xB0, 64, 0)
			at(tick+20, 0xB0, 64, 127)
		}
		key := []byte{60, 67, 72, 64, 76, 69, 74}[n%7]
		at(tick, 0x90, key, byte(50+n%5*8))
		at(tick+second/3, 0x80, key, 0)
	}
	for _, key := range held {
		at(end, 0x81, key, 0)
	}
	at(end, 0xB0, 64, 0)
	slices.SortStableFunc(events, func(a, b midiio.Event) int { return cmp.Compare(a.Tick, b.Tick) })
	return midiio.WriteFile(path, midiio.OutFile{
		Division: division,
		Tracks:   []midiio.OutTrack{{Name: "evening", Events: events, End: end}},
	})
}

// render plays a MIDI file with bedd's sound, the loudness meter and all, as bedd
// render does.
func render(midi, wav string) error {
	file, err := midiio.ReadFile(midi)
	if err != nil {
		return err
	}
	var events []sound.Event
	tempo := file.Tempo()
	for _, e := range file.Events {
		if e.Data[0] < 0xF0 {
			data := append(slices.Clone(e.Data), 0)
			frame := int64(tempo.Time(e.Tick).Seconds()*rate + 0.5)
			events = append(events, sound.Event{Frame: frame, Status: data[0], Data1: data[1], Data2: data[2]})
		}
	}
	synth, err := sound.New(sound.Config{Rate: rate, Seed: 1})
	if err != nil {
		return err
	}
	meter, err := sound.NewLoudness(rate)
	if err != nil {
		return err
	}
	out, err := os.Create(wav)
	if err != nil {
		return err
	}
	defer out.Close()
	w, err := sound.NewWAV(out, rate, 16)
	if err != nil {
		return err
	}
	sink := func(block []float32) error {
		meter.Add(block)
		return w.Write(block)
	}
	if err := synth.RenderTo(events, 3*rate, sink, nil); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	return out.Close()
}

// maxMemory gives the most memory that a process held, in bytes.
func maxMemory(state *os.ProcessState) int64 {
	used, ok := state.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	return int64(used.Maxrss) << 10 // Linux counts in KiB
}
