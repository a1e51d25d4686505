package gathering

import (
	"bytes"
	"errors"
)

// maxMended is how many broken lines are taken out of a file to read the rest.
const maxMended = 10

// SalvageGathering reads as much of a plan as is sound. What has a fault is left
// out, as little as may be: a value, of which the usual one takes the place; a
// line that is no YAML; a moment only where it cannot have a key or chords. A song
// whose key is not known stays in the order with NoKey set, and no landing leads
// there. The error, of type *[FileError], is what [ReadGathering] says of the
// file; it is nil when nothing was left out. Moments may be left empty.
func SalvageGathering(name string, data []byte, library Library) (Gathering, error) {
	var broken []Fault // of the syntax, which hide all others
	for range maxMended {
		p := newPlanReader(library)
		if root := p.document(data, planHint); root != nil {
			p.plan(root)
			return p.titled(name), fileError(name, append(broken, p.faults...))
		}
		broken = append(broken, p.faults...)
		if data = withoutLine(data, p.faults[0].Line); len(bytes.TrimSpace(data)) == 0 {
			break
		}
	}
	return newPlanReader(library).titled(name), fileError(name, broken)
}

// withoutLine empties a line, counted from 1, or where it is blank the last one
// before it that is not, so that the others keep their numbers.
func withoutLine(data []byte, line int) []byte {
	lines := bytes.SplitAfter(data, []byte("\n"))
	for line = min(line, len(lines)); line > 1 && len(bytes.TrimSpace(lines[line-1])) == 0; {
		line--
	}
	text := lines[line-1]
	lines[line-1] = text[len(bytes.TrimRight(text, "\r\n")):]
	return bytes.Join(lines, nil)
}

// SalvageOpen is [OpenGathering] for a stage: of a plan that has faults it gives
// what is sound, as [SalvageGathering] does, and what is wrong as left. The error
// says that there is no such plan.
func SalvageOpen(pathOrName string, library Library) (g Gathering, left *FileError, err error) {
	name, data, err := open(pathOrName, planPrefix, "gathering")
	if err != nil {
		return Gathering{}, nil, err
	}
	g, err = SalvageGathering(name, data, library)
	errors.As(err, &left)
	return g, left, nil
}
