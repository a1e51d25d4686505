package gathering

import (
	"reflect"
	"testing"
)

func TestRigNamesPorts(t *testing.T) {
	const start = "keys: {a: step, b: fade}\n"
	rig, err := ReadRig("r.yaml", []byte(start+`ports:
  in-keys: [Stage]
  in-feet: [Board MIDI 1, " Pedal "]
  out: Module
  thru: off
`))
	want := Ports{InKeys: []string{"Stage"}, InFeet: []string{"Board MIDI 1", "Pedal"}, Out: []string{"Module"}, Thru: "off"}
	if err != nil || !reflect.DeepEqual(rig.Ports, want) {
		t.Errorf("%+v, %v; want %+v", rig.Ports, err, want)
	}
	for text, want := range map[string]string{
		"ports: {in: ['']}":            "r.yaml:2: in needs a part of a port's name: bedd ports lists them",
		"ports: {in: {a: b}}":          "r.yaml:2: in is a list with a dash before each item, not fields",
		"ports: {through: on}":         "r.yaml:2: unknown field \"through\": use one of in, in-keys, in-feet, out, out-piano, out-bed, thru",
		"ports: {thru: perhaps}":       "r.yaml:2: thru \"perhaps\" is not known: use one of auto, on, off",
		"ports:\n  out-bed:\n   - [a]": "r.yaml:4: out-bed is one value, not a list",
	} {
		if _, err := ReadRig("r.yaml", []byte(start+text)); err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", text, err, want)
		}
	}
	if rig, err = ReadRig("r.yaml", []byte(start)); err != nil || !reflect.DeepEqual(rig.Ports, Ports{Thru: "auto"}) {
		t.Errorf("a rig that says nothing of ports has %+v, %v", rig.Ports, err)
	}
}
