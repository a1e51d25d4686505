package main

import (
	"os"
	"testing"
)

func TestSchemasArePrinted(t *testing.T) {
	for _, args := range [][]string{{}, {"gathering"}, {"rig"}, {"progressions"}, {"feels"}} {
		kind := "gathering"
		if len(args) > 0 {
			kind = args[0]
		}
		want, err := os.ReadFile("../../configs/schema-" + kind + ".json")
		if r := bedd(t, append([]string{"plan", "schema"}, args...)...); err != nil || r.code != 0 || r.stdout != string(want) {
			t.Errorf("%v: exit %d, %d bytes of %d, %s", args, r.code, len(r.stdout), len(want), r.stderr)
		}
	}
	if r := bedd(t, "plan", "schema", "song"); r.code != 2 || r.stderr != "bedd: there is no schema \"song\": use one of feels, gathering, progressions, rig\n" {
		t.Errorf("exit %d, %q", r.code, r.stderr)
	}
}
