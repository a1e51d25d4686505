//go:build !cgo

package sound

// OpenInput returns ErrBuild.
func OpenInput(rate, frames int, take func([]float32), gone func()) (*Device, error) {
	if err := checkDevice(rate, frames, take); err != nil {
		return nil, err
	}
	return nil, ErrBuild
}
