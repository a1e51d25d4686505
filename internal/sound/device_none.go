//go:build !cgo

package sound

// Device is an open sound card; this build has none.
type Device struct{}

// OpenDevice returns ErrBuild.
func OpenDevice(rate, frames int, fill func([]float32), gone func()) (*Device, error) {
	if err := checkDevice(rate, frames, fill); err != nil {
		return nil, err
	}
	return nil, ErrBuild
}

// Name gives the name the system shows for the device.
func (*Device) Name() string { return "" }

// Close stops the device.
func (*Device) Close() {}
