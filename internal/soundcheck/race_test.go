//go:build race

package soundcheck

const raced = true
