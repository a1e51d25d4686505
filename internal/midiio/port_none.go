//go:build !cgo

package midiio

func openRtMidi() (System, error) { return nil, ErrBuild }
