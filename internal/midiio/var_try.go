package midiio

import (
	"os"
	"strings"
)

var latOpt = os.Getenv("LATV")

func latHas(s string) bool { return strings.Contains(latOpt, s) }
