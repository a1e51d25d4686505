// Command anchors measures bedd's voicing search against @tonaljs/voicing with
// @tonaljs/voice-leading: the same progressions, chord tones, number of voices,
// range and start, and movement as the only price. It prints a table and fails
// when bedd moves more anywhere or is less than 50 times faster a chord.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
)

func main() {
	packages := flag.String("packages", "", "folder with the npm packages, as scripts/anchors/packages prints it")
	flag.Parse()
	if err := run(*packages); err != nil {
		fmt.Fprintln(os.Stderr, "anchors:", err)
		os.Exit(1)
	}
}

func run(packages string) error {
	var faults []error
	fmt.Println(heading)
	for _, s := range sets() {
		theirs, err := askThem(packages, s)
		if err != nil {
			return err
		}
		ours, err := askUs(s)
		if err != nil {
			return err
		}
		row, err := compare(s, ours, theirs)
		if err != nil {
			return err
		}
		fmt.Println(row)
		faults = append(faults, row.verdict())
	}
	return errors.Join(faults...)
}
