//go:build race

package sound

const raced = true
