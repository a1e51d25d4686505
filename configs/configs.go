// Package configs holds the rigs, the library of progressions and the demo
// gathering, built into the program.
package configs

import "embed"

// FS has the files by their names: rig-default.yaml, progressions.yaml …
//
//go:embed *.yaml
var FS embed.FS
