package sound

import (
	"errors"
	"testing"
	"time"
)

func TestDeviceSettingsAreChecked(t *testing.T) {
	fill := func([]float32) {}
	for _, c := range []struct {
		rate, frames int
		fill         func([]float32)
		want         string
	}{
		{100, 128, fill, "audio device at 100 Hz: 8000…192000 can be asked for"},
		{48000, 1, fill, "audio device with blocks of 1 frames: 16…8192 can be asked for"},
		{48000, 128, nil, "audio device without a function to fill its blocks"},
	} {
		if _, err := OpenDevice(c.rate, c.frames, c.fill, func() {}); err == nil || err.Error() != c.want {
			t.Errorf("OpenDevice(%d, %d) error = %v, want %q", c.rate, c.frames, err, c.want)
		}
	}
}

func TestDeviceErrorTexts(t *testing.T) {
	for err, want := range map[error]string{
		ErrNoDevice: "no sound card: bedd goes on without sound of its own",
		ErrBuild:    "this bedd was built without cgo: no audio devices; build it with CGO_ENABLED=1 and a C compiler",
	} {
		if err.Error() != want {
			t.Errorf("error text %q, want %q", err, want)
		}
	}
}

// On a machine with a card it asks for blocks; without one the answer is a
// known error.
func TestOpenDevice(t *testing.T) {
	filled := make(chan int, 1)
	device, err := OpenDevice(48000, 256, func(out []float32) {
		clear(out)
		select {
		case filled <- len(out):
		default:
		}
	}, func() {})
	if err != nil {
		if !errors.Is(err, ErrNoDevice) && !errors.Is(err, ErrBuild) {
			t.Errorf("error = %v, want ErrNoDevice or ErrBuild", err)
		}
		return
	}
	defer device.Close()
	select {
	case n := <-filled:
		if n == 0 || n%2 != 0 {
			t.Errorf("block of %d samples, want stereo", n)
		}
	case <-time.After(5 * time.Second):
		t.Error("an open device asked for no block within 5 s")
	}
	if device.Name() == "" {
		t.Error("the device has no name")
	}
}
