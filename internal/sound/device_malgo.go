//go:build cgo

package sound

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"unsafe"

	"github.com/gen2brain/malgo"
)

// Device is an open sound card that asks for blocks until it is closed.
type Device struct {
	context *malgo.AllocatedContext
	device  *malgo.Device
	name    string
}

// OpenDevice opens the system's default output in stereo at rate Hz with
// blocks of about the given number of frames, and has fill write them. fill
// runs on the device's own thread, must not wait, and may be asked for other
// block lengths. gone is called when the device stops, whether by itself or by
// Close. It returns ErrNoDevice when nothing answers.
func OpenDevice(rate, frames int, fill func([]float32), gone func()) (*Device, error) {
	if err := checkDevice(rate, frames, fill); err != nil {
		return nil, err
	}
	for _, backend := range backends("p") {
		if d := openBackend(backend, rate, frames, fill, gone); d != nil {
			return d, nil
		}
	}
	return nil, ErrNoDevice
}

// Name gives the name the system shows for the device.
func (d *Device) Name() string { return d.name }

// Close stops the device; fill is not called any more when it returns.
func (d *Device) Close() {
	d.device.Uninit()
	closeContext(d.context)
}

// openBackend tries one of the system's audio interfaces; nil when it has no
// output.
func openBackend(backend malgo.Backend, rate, frames int, fill func([]float32), gone func()) *Device {
	quiet := func(string) {} // its complaints would land on the player's screen
	context, err := malgo.InitContext([]malgo.Backend{backend}, malgo.ContextConfig{}, quiet)
	if err != nil {
		return nil
	}
	name, ok := defaultName(context, malgo.Playback)
	if !ok {
		closeContext(context)
		return nil
	}
	config := malgo.DefaultDeviceConfig(malgo.Playback)
	config.SampleRate = uint32(rate)
	config.PeriodSizeInFrames = uint32(frames)
	config.PerformanceProfile = malgo.LowLatency
	config.NoClip = 1 // the synth's limiter keeps below full scale
	config.Playback.Format = malgo.FormatF32
	config.Playback.Channels = 2
	return start(context, name, config, malgo.DeviceCallbacks{
		Data: func(out, _ []byte, _ uint32) {
			if len(out) > 0 {
				fill(unsafe.Slice((*float32)(unsafe.Pointer(&out[0])), len(out)/4))
			}
		},
		Stop: gone,
	})
}

// start starts a device; nil when it does not, and then the context is closed.
func start(context *malgo.AllocatedContext, name string, config malgo.DeviceConfig, calls malgo.DeviceCallbacks) *Device {
	device, err := malgo.InitDevice(context.Context, config, calls)
	if err != nil {
		closeContext(context)
		return nil
	}
	d := &Device{context: context, device: device, name: name}
	if err := device.Start(); err != nil {
		d.Close()
		return nil
	}
	return d
}

// defaultName names the device of a kind that an unspecified one will be.
func defaultName(context *malgo.AllocatedContext, kind malgo.DeviceType) (string, bool) {
	devices, err := context.Devices(kind)
	if err != nil || len(devices) == 0 {
		return "", false
	}
	for _, d := range devices {
		if d.IsDefault != 0 {
			return strings.TrimSpace(d.Name()), true
		}
	}
	return strings.TrimSpace(devices[0].Name()), true
}

func closeContext(context *malgo.AllocatedContext) {
	_ = context.Uninit() // nothing is left to do about a failure
	context.Free()
}

// backends lists the audio interfaces worth trying, best first, for what ALSA calls p
// (playback) or c (capture). The null interface is never among them: it would look like
// a card and be silent.
//
// On Linux each is listed only if it can be there, because ALSA's library
// writes to the terminal when there is no card.
func backends(way string) []malgo.Backend {
	switch runtime.GOOS {
	case "darwin":
		return []malgo.Backend{malgo.BackendCoreaudio}
	case "windows":
		return []malgo.Backend{malgo.BackendWasapi, malgo.BackendDsound, malgo.BackendWinmm}
	case "linux":
		var found []malgo.Backend
		if pulseServer() {
			found = append(found, malgo.BackendPulseaudio)
		}
		if cards, _ := filepath.Glob("/dev/snd/pcmC*" + way); len(cards) > 0 {
			found = append(found, malgo.BackendAlsa)
		}
		return found
	default: // the BSDs
		return []malgo.Backend{malgo.BackendSndio, malgo.BackendAudio4, malgo.BackendOss}
	}
}

// pulseServer reports whether a PulseAudio server, or PipeWire in its place,
// can be asked.
func pulseServer() bool {
	if os.Getenv("PULSE_SERVER") != "" {
		return true
	}
	sockets := []string{"/run/pulse/native", "/var/run/pulse/native"}
	if dir := os.Getenv("PULSE_RUNTIME_PATH"); dir != "" {
		sockets = append(sockets, filepath.Join(dir, "native"))
	}
	if dir := os.Getenv("XDG_RUNTIME_DIR"); dir != "" {
		sockets = append(sockets, filepath.Join(dir, "pulse", "native"))
	}
	if dir, err := os.UserConfigDir(); err == nil { // where there is no XDG_RUNTIME_DIR
		found, _ := filepath.Glob(filepath.Join(dir, "pulse", "*-runtime", "native"))
		sockets = append(sockets, found...)
	}
	for _, s := range sockets {
		if info, err := os.Stat(s); err == nil && info.Mode()&os.ModeSocket != 0 {
			return true
		}
	}
	return false
}
