//go:build !cgo || !(linux || darwin)

package sound

func openPlayer(path string, rate int) (player, error) { return nil, ErrFontBuild }
