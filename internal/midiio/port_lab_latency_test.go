//go:build cgo && linux

package midiio
