//go:build cgo

package sound

import (
	"fmt"
	"strings"
	"unsafe"

	"github.com/gen2brain/malgo"
)

// Inputs lists the sound inputs by name, the system's default first. It returns
// ErrNoInput where there is none.
func Inputs() (names []string, err error) {
	for _, backend := range backends("c") {
		context, err := malgo.InitContext([]malgo.Backend{backend}, malgo.ContextConfig{}, func(string) {})
		if err != nil {
			continue
		}
		devices, err := context.Devices(malgo.Capture)
		closeContext(context)
		if err != nil {
			continue
		}
		for _, d := range devices {
			name := strings.TrimSpace(d.Name())
			if silent(name) {
				continue
			}
			if d.IsDefault != 0 {
				names = append([]string{name}, names...)
			} else {
				names = append(names, name)
			}
		}
		if len(names) > 0 {
			return names, nil
		}
	}
	return nil, ErrNoInput
}

// silent reports whether an input is ALSA's null plugin, which is listed, and may even
// come first, but brings nothing. Its name is the library's description of it.
func silent(name string) bool { return strings.HasPrefix(name, "Discard all samples") }

// inputNamed finds the device of whose name wanted is a part, in whatever letters.
func inputNamed(context *malgo.AllocatedContext, wanted string) (malgo.DeviceInfo, bool) {
	devices, err := context.Devices(malgo.Capture)
	if err != nil {
		return malgo.DeviceInfo{}, false
	}
	for _, d := range devices {
		if strings.Contains(strings.ToLower(d.Name()), strings.ToLower(wanted)) {
			return d, true
		}
	}
	return malgo.DeviceInfo{}, false
}

// OpenInput opens a sound input at rate Hz, in stereo (one channel comes on both
// sides), and gives take what comes, interleaved: the one of whose name wanted is a
// part, or for "" the system's default. take runs on the device's own
// thread and must not wait; its block is good during the call only. gone is called when
// the device stops, whether by itself or by Close. It returns ErrNoInput when nothing
// answers.
func OpenInput(rate, frames int, wanted string, take func([]float32), gone func()) (*Device, error) {
	if err := checkDevice(rate, frames, take); err != nil {
		return nil, err
	}
	for _, backend := range backends("c") {
		context, err := malgo.InitContext([]malgo.Backend{backend}, malgo.ContextConfig{}, func(string) {})
		if err != nil {
			continue
		}
		name, ok := defaultName(context, malgo.Capture)
		if !ok {
			closeContext(context)
			continue
		}
		config := malgo.DefaultDeviceConfig(malgo.Capture)
		wanted := wanted
		if names, err := Inputs(); wanted == "" && silent(name) && err == nil {
			wanted = names[0]
		}
		if wanted != "" {
			found, ok := inputNamed(context, wanted)
			if !ok {
				closeContext(context)
				continue
			}
			name = strings.TrimSpace(found.Name())
			config.Capture.DeviceID = found.ID.Pointer()
		}
		config.SampleRate = uint32(rate)
		config.PeriodSizeInFrames = uint32(frames)
		config.Capture.Format = malgo.FormatF32
		config.Capture.Channels = 2
		if d := start(context, name, config, malgo.DeviceCallbacks{
			Data: func(_, in []byte, _ uint32) {
				if len(in) > 0 {
					take(unsafe.Slice((*float32)(unsafe.Pointer(&in[0])), len(in)/4))
				}
			},
			Stop: gone,
		}); d != nil {
			return d, nil
		}
	}
	if names, err := Inputs(); wanted != "" && err == nil {
		return nil, fmt.Errorf("no sound input matches %q: found %q", wanted, names)
	}
	return nil, ErrNoInput
}
