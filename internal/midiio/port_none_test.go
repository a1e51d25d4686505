//go:build !cgo

package midiio

import "testing"

func TestOpenSystemSaysWhatIsMissing(t *testing.T) {
	if s, err := OpenSystem(); s != nil || err != ErrBuild {
		t.Errorf("got %v, %v, want %v", s, err, ErrBuild)
	}
}
