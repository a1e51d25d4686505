// Package configs holds the rigs, the library of progressions, the demo gathering
// and the schemas of all of these, built into the program.
package configs

import "embed"

// FS has the files by their names: rig-default.yaml, progressions.yaml …
//
//go:embed *.yaml *.json
var FS embed.FS
