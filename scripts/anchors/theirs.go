package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os/exec"
)

// askThem runs the library on the set, in Node.
func askThem(packages string, s set) (answer, error) {
	input, err := json.Marshal(s)
	if err != nil {
		return answer{}, err
	}
	var output, complaint bytes.Buffer
	node := exec.Command("node", "voicings.mjs", packages)
	node.Stdin, node.Stdout, node.Stderr = bytes.NewReader(input), &output, &complaint
	if err := node.Run(); err != nil {
		return answer{}, fmt.Errorf("node voicings.mjs: %w\n%s", err, complaint.String())
	}
	var a answer
	if err := json.Unmarshal(output.Bytes(), &a); err != nil {
		return answer{}, fmt.Errorf("node voicings.mjs wrote no answer: %w", err)
	}
	return a, nil
}
