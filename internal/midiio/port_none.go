//go:build !cgo

package midiio

// OpenSystem gives the machine's MIDI ports. In this build it fails with
// ErrBuild.
func OpenSystem() (System, error) { return nil, ErrBuild }
