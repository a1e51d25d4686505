//go:build race

package listening_test

const raced = true
