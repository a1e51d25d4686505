package guard

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"bedd/internal/midiio"
)

var (
	// ErrAlone says that a guard was started by hand.
	ErrAlone = errors.New("a guard does nothing by itself: bedd play starts it")
	// ErrSystem says that there is no guard on this system.
	ErrSystem = errors.New("not on this system: when bedd is killed, notes may hang")
)

// Duty is what a guard has to do when its bedd dies.
type Duty struct {
	Outs   []midiio.PortInfo // by page of the board
	Ins    []midiio.PortInfo // by mark of the board
	Routes []Route           // the piano's ways
	Lock   string            // the lock's file, to be removed at the end
	Record string            // the record of bedd's connections
}

// Route is a way of the piano's: an input and an output by their places in the
// duty.
type Route struct{ In, Out int }

// farewell is what bedd says before it ends by itself.
const farewell = "well"

// Tell writes a duty where a guard reads it.
func (d Duty) Tell(w io.Writer) error { return json.NewEncoder(w).Encode(d) }

// Dismiss says that bedd ends by itself, with nothing left to do.
func Dismiss(w io.Writer) error {
	_, err := fmt.Fprintln(w, farewell)
	return err
}

// Await reads the duty, has ready called with it, and waits until bedd has ended.
// It reports whether bedd died.
func Await(r io.Reader, ready func(Duty)) (d Duty, died bool, err error) {
	lines := bufio.NewReader(r)
	first, err := lines.ReadBytes('\n')
	if err != nil {
		return d, false, fmt.Errorf("guard: no duty: %w", err)
	}
	if err := json.Unmarshal(first, &d); err != nil {
		return d, false, fmt.Errorf("guard: %w", err)
	}
	ready(d)
	word, err := lines.ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return d, true, fmt.Errorf("guard: %w", err)
	}
	return d, word != farewell+"\n", nil
}

// Outputs are the ports that a guard holds open, so that it loses no time when
// it is needed.
type Outputs struct {
	system midiio.System
	infos  []midiio.PortInfo
	ports  []midiio.OutPort // nil where the port was not there
}

// OpenOutputs opens those of some ports that are there.
func OpenOutputs(system midiio.System, infos []midiio.PortInfo) *Outputs {
	o := &Outputs{system, infos, make([]midiio.OutPort, len(infos))}
	for i := range infos {
		o.ports[i], _ = o.open(i)
	}
	return o
}

// open opens a port by its name, at its address if it can be: it may have been
// plugged in again.
func (o *Outputs) open(i int) (midiio.OutPort, error) {
	info, err := find(o.system.Outs, o.infos[i])
	if err != nil {
		return nil, err
	}
	return o.system.OpenOut(info)
}

// find finds a port by its name, at its address if it can be.
func find(list func() ([]midiio.PortInfo, error), info midiio.PortInfo) (midiio.PortInfo, error) {
	ports, err := list()
	if err != nil {
		return midiio.PortInfo{}, err
	}
	best, found := midiio.PortInfo{}, false
	for _, p := range ports {
		if p.Name == info.Name && !p.Ours && (!found || p.Address == info.Address) {
			best, found = p, true
		}
	}
	if !found {
		return midiio.PortInfo{}, midiio.ErrGone
	}
	return best, nil
}

// How long the guard waits for programs that have no room: as long as bedd itself
// does at its end.
const (
	endTries = 200
	endEvery = 2 * time.Millisecond
)

// End ends on every output what its page says still sounds. A port that is not
// there is left out and told, and so is one that takes nothing for too long.
func (o *Outputs) End(b *Board) error {
	var troubles []error
	waiting := make([][][]byte, len(o.infos)) // by output
	for i, info := range o.infos {
		msgs := b.Page(i).Endings()
		if len(msgs) == 0 {
			continue
		}
		var err error
		if o.ports[i] == nil || !o.ports[i].Alive() {
			o.ports[i], err = o.open(i)
		}
		if err != nil {
			troubles = append(troubles, fmt.Errorf("%s: %w", info.Name, err))
			continue
		}
		waiting[i] = msgs
	}
	for try := 0; !o.send(waiting) && try < endTries; try++ {
		time.Sleep(endEvery)
	}
	for i, info := range o.infos {
		if waiting[i] == nil {
			continue
		}
		if n := len(waiting[i]); n > 0 {
			troubles = append(troubles, fmt.Errorf("%s: %d messages were left out: %w", info.Name, n, midiio.ErrSlow))
		}
		if err := o.ports[i].Close(); err != nil { // what waits for a slow device goes out first
			troubles = append(troubles, fmt.Errorf("%s: %w", info.Name, err))
		}
	}
	return errors.Join(troubles...)
}

// send sends as many of the messages as there is room for, takes them out, and
// reports whether that is all.
func (o *Outputs) send(waiting [][][]byte) bool {
	all := true
	for i := range waiting {
		for len(waiting[i]) > 0 {
			if _, err := o.ports[i].Send(waiting[i][0]); errors.Is(err, midiio.ErrSlow) {
				all = false
				break
			}
			waiting[i] = waiting[i][1:]
		}
	}
	return all
}
