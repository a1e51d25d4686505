//go:build cgo

package sound

import (
	"unsafe"

	"github.com/gen2brain/malgo"
)

// OpenInput opens the system's default input at rate Hz, in stereo (one channel comes
// on both sides), and gives take what comes, interleaved. take runs on the device's own
// thread and must not wait; its block is good during the call only. gone is called when
// the device stops, whether by itself or by Close. It returns ErrNoInput when nothing
// answers.
func OpenInput(rate, frames int, take func([]float32), gone func()) (*Device, error) {
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
	return nil, ErrNoInput
}
