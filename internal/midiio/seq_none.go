//go:build !linux

package midiio

func openALSA() (System, error) { return nil, ErrNotLinux }
