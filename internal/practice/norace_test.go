//go:build !race

package practice_test

const raced = false
