//go:build cgo

package midiio

import (
	"fmt"
	"os"
	"runtime"
	"sync"
	"sync/atomic"

	"gitlab.com/gomidi/midi/v2/drivers/rtmididrv/imported/rtmidi"
)

func openRtMidi() (System, error) {
	if err := probe(); err != nil {
		return nil, err
	}
	return &rtmidiSystem{}, nil
}

// rtmidiSystem reaches ports through RtMidi's own binding, one floor below the
// library's driver. There the callback is set before the port opens, so that
// nothing is missed; a SysEx has no buffer to burst; the client can be called
// bedd; and what failed to open can be freed.
type rtmidiSystem struct {
	mu sync.Mutex // opens one port at a time
}

// opened counts the ports that the process has opened, for their names.
var opened atomic.Uint32

// queueLength is of a queue in the driver that is never used, since all inputs
// have a callback; 100 is the driver's own default.
const queueLength = 100

// tries is how often a port is opened before the failure is believed: a list that
// changes while it is read hides ports and puts others in their places.
const tries = 3

// Changed is nil: the driver tells nobody.
func (s *rtmidiSystem) Changed() <-chan struct{} { return nil }

// Connect and Disconnect fail: the driver has no such thing.
func (s *rtmidiSystem) Connect(Connection) error    { return ErrNoConnect }
func (s *rtmidiSystem) Disconnect(Connection) error { return ErrNoConnect }
func (s *rtmidiSystem) Connected(Connection) bool   { return false }

// Close does nothing: no input can be closed at any time.
func (s *rtmidiSystem) Close() error { return nil }

func (s *rtmidiSystem) Ins() ([]PortInfo, error)  { return s.list(In) }
func (s *rtmidiSystem) Outs() ([]PortInfo, error) { return s.list(Out) }

func (s *rtmidiSystem) list(way Way) ([]PortInfo, error) {
	if err := probe(); err != nil {
		return nil, err
	}
	if all, known := clients(); known {
		return portsOf(way, all), nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var list []PortInfo
	var err error
	quietly(func() { list, err = listByDriver(way) })
	return list, err
}

// lister is what an input and an output of the driver have in common.
type lister interface {
	PortCount() (int, error)
	PortName(int) (string, error)
	OpenPort(int, string) error
	OpenVirtualPort(string) error
	Close() error
	Destroy()
}

// free lets go of an object that was prepared and has opened nothing. The
// driver's Close would not, after an error, and its Destroy alone would leave the
// callback on its list.
func free(l lister) {
	if in, ok := l.(rtmidi.MIDIIn); ok {
		_ = in.CancelCallback()
	}
	l.Destroy()
}

func newLister(way Way, client string) (lister, error) {
	if way == Out {
		return rtmidi.NewMIDIOut(rtmidi.APIUnspecified, client)
	}
	return rtmidi.NewMIDIIn(rtmidi.APIUnspecified, client, queueLength)
}

func listByDriver(way Way) ([]PortInfo, error) {
	l, err := newLister(way, linkClient)
	if err != nil {
		return nil, whyNot()
	}
	defer l.Destroy()
	return listWith(l, way), nil
}

// listWith lists with an object that is there already. A port that goes while
// it is asked for its name is left out.
func listWith(l lister, way Way) []PortInfo {
	count, err := l.PortCount()
	if err != nil {
		return nil
	}
	var list []PortInfo
	for i := range count {
		if name, err := l.PortName(i); err == nil && name != "" {
			list = append(list, describe(runtime.GOOS, way, i, name))
		}
	}
	return list
}

func (s *rtmidiSystem) OpenIn(info PortInfo, receive Receiver) (InPort, error) {
	var trouble error
	for range tries {
		in := &rtmidiIn{}
		right, err := s.open(&in.rtmidiPort, info, func(l lister) error { return in.listen(l, receive) })
		if right {
			return in, nil
		}
		if err == nil {
			in.deaf.Store(true) // the wrong port, which may play: see rtmidiIn
			err = portError(info, ErrGone)
		}
		trouble = err
	}
	return nil, trouble
}

func (s *rtmidiSystem) OpenOut(info PortInfo) (OutPort, error) {
	var trouble error
	for range tries {
		out := &rtmidiOut{}
		right, err := s.open(&out.rtmidiPort, info, out.prepare)
		if right {
			return out, nil
		}
		if err == nil {
			_ = out.Close() // the wrong port
			err = portError(info, ErrGone)
		}
		trouble = err
	}
	return nil, trouble
}

// open opens the port and reports whether it is the right one. The driver opens
// by place in the list, so another port may be there by the time it does: the
// list is read just before and the connection checked afterwards.
func (s *rtmidiSystem) open(p *rtmidiPort, info PortInfo, prepare func(lister) error) (right bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := probe(); err != nil {
		return false, err
	}
	quietly(func() { right, err = s.openLoud(p, info, prepare) })
	return right, err
}

func (s *rtmidiSystem) openLoud(p *rtmidiPort, info PortInfo, prepare func(lister) error) (right bool, err error) {
	l, err := newLister(info.Way, linkClient)
	if err != nil {
		return false, whyNot()
	}
	if err := prepare(l); err != nil {
		free(l)
		return false, portError(info, ErrBusy)
	}
	*p = rtmidiPort{handle: l, system: s, info: info, ownName: newOwnName(info.Way)}
	number, there := place(listWith(l, info.Way), info)
	if !there {
		free(l)
		return false, portError(info, ErrGone)
	}
	if l.OpenPort(number, p.ownName) != nil {
		_, there = find(info)
		free(l)
		if !there {
			return false, portError(info, ErrGone)
		}
		return false, portError(info, ErrBusy)
	}
	if all, known := clients(); known {
		return linked(all, p.ownName, info.Address), nil
	}
	again, there := find(info)
	return there && again == number, nil
}

// find is the place of a port in a list read anew: an object of the driver's
// that has failed once fails for ever.
func find(info PortInfo) (int, bool) {
	list, err := listByDriver(info.Way)
	if err != nil {
		return 0, false
	}
	return place(list, info)
}

// place is where in the driver's list a port is.
func place(list []PortInfo, info PortInfo) (int, bool) {
	for _, p := range list {
		if p.Name == info.Name && p.Address == info.Address {
			return p.Number, true
		}
	}
	return 0, false
}

// newOwnName is a name for a port of ours by which it is found again in the
// system's list.
func newOwnName(way Way) string {
	return fmt.Sprintf("%v %d.%d", way, os.Getpid(), opened.Add(1))
}

func (s *rtmidiSystem) OpenVirtualIn(name string, receive Receiver) (InPort, error) {
	in := &rtmidiIn{}
	err := s.openVirtual(&in.rtmidiPort, In, name, func(l lister) error { return in.listen(l, receive) })
	if err != nil {
		return nil, err
	}
	return in, nil
}

func (s *rtmidiSystem) OpenVirtualOut(name string) (OutPort, error) {
	out := &rtmidiOut{}
	if err := s.openVirtual(&out.rtmidiPort, Out, name, out.prepare); err != nil {
		return nil, err
	}
	return out, nil
}

// virtualClient is the client of a port that others may connect to.
func virtualClient(way Way) string {
	if way == Out {
		return ourName + " out"
	}
	return ourName + " in"
}

func (s *rtmidiSystem) openVirtual(p *rtmidiPort, way Way, name string, prepare func(lister) error) error {
	if runtime.GOOS == "windows" {
		return ErrVirtual
	}
	if err := probe(); err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var err error
	quietly(func() { err = s.openVirtualLoud(p, way, name, prepare) })
	return err
}

func (s *rtmidiSystem) openVirtualLoud(p *rtmidiPort, way Way, name string, prepare func(lister) error) error {
	l, err := newLister(way, virtualClient(way))
	if err != nil {
		return whyNot()
	}
	*p = rtmidiPort{handle: l, system: s, info: PortInfo{Way: way, Name: name, Ours: true}}
	if prepare(l) != nil || l.OpenVirtualPort(name) != nil {
		free(l)
		return portError(p.info, ErrFull)
	}
	return nil
}
