package journal

import (
	"bytes"
	"errors"
	"io"
)

// taskMark is what follows the time in every line of a task's, as it is written.
var taskMark = []byte(`,"k":"` + string(Task) + `"`)

// Tasks reads of a practice's journal what it begins with, and the records of its tasks
// alone, which takes a fraction of the time that all of it takes. It fails as Open and
// Next do; where the first line can be read, what came before the fault is given too.
func Tasks(path string) (Header, []Record, error) {
	r, err := Open(path)
	if err != nil {
		return Header{}, nil, err
	}
	defer r.Close()
	var list []Record
	for len(r.Header().Tasks) > 0 {
		line, err := r.next(maxLine)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return r.Header(), list, err
		}
		var rec Record
		if afterTime := max(bytes.IndexByte(line, ','), 0); bytes.HasPrefix(line[afterTime:], taskMark) && r.parse(line, &rec) && rec.Kind == Task {
			list = append(list, rec)
		}
	}
	return r.Header(), list, nil
}
