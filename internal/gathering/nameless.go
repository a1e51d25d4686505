package gathering

import (
	"fmt"
	"reflect"
	"slices"

	"go.yaml.in/yaml/v3"
)

// Nameless gives the text of a rig without its comments and the names in it: a rig
// that plays the same and does not tell whose it is. An error is of type *[FileError]
// where the text has faults.
func Nameless(name string, data []byte) ([]byte, error) {
	want, err := ReadRig(name, data)
	if err != nil {
		return nil, err
	}
	var document yaml.Node
	if err := yaml.Unmarshal(data, &document); err != nil {
		return nil, err
	}
	withoutNames(&document)
	bare, err := yaml.Marshal(&document)
	if err != nil {
		return nil, err
	}
	got, err := ReadRig("rig"+extension, bare)
	if err != nil {
		return nil, err
	}
	for _, rig := range []*Rig{&want, &got} {
		rig.Name, rig.Feet = "", slices.Clone(rig.Feet)
		for i := range rig.Feet {
			rig.Feet[i].Name = ""
		}
	}
	if !reflect.DeepEqual(got, want) {
		return nil, fmt.Errorf("%s does not read the same without its names", name)
	}
	return bare, nil
}

// withoutNames takes comments and the field name out of a document.
func withoutNames(n *yaml.Node) {
	n.HeadComment, n.LineComment, n.FootComment = "", "", ""
	if n.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(n.Content); {
			if n.Content[i].Value == "name" {
				n.Content = slices.Delete(n.Content, i, i+2)
				continue
			}
			i += 2
		}
	}
	for _, c := range n.Content {
		withoutNames(c)
	}
}
