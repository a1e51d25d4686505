//go:build !cgo

package sound

// Inputs returns ErrBuild.
func Inputs() ([]string, error) { return nil, ErrBuild }

// OpenInput returns ErrBuild.
func OpenInput(rate, frames int, wanted string, take func([]float32), gone func()) (*Device, error) {
	if err := checkDevice(rate, frames, take); err != nil {
		return nil, err
	}
	return nil, ErrBuild
}
