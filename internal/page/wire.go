package page

import (
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"sync"

	"bedd/internal/glance"
)

// What a bedd and the process that serves its page tell each other, as lines of JSON.

// toPage is what a page's process is told: first of all to open, then the others.
type toPage struct {
	Open  *opening      `json:"open,omitempty"`
	Model *glance.Model `json:"model,omitempty"`
	Taken bool          `json:"taken,omitempty"` // the last order; the next may come
}

type opening struct {
	Address string `json:"address"`
	Control bool   `json:"control"`
}

// fromPage is what it says: first of all that it has opened, with the first code, or
// why not.
type fromPage struct {
	Opened string `json:"opened,omitempty"` // the address
	Failed string `json:"failed,omitempty"`
	Code   string `json:"code,omitempty"`
	Say    string `json:"say,omitempty"`
	Order  string `json:"order,omitempty"` // as a rig writes it
}

// longestLine is far above what a model takes, some 3 kB.
const longestLine = 1 << 20

// teller writes lines, from any goroutine.
type teller struct {
	mu sync.Mutex
	to *json.Encoder
}

func newTeller(w io.Writer) *teller { return &teller{to: json.NewEncoder(w)} }

// send fails where nobody reads any more. It panics where v cannot be written.
func (t *teller) send(v any) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	err := t.to.Encode(v)
	var number *json.UnsupportedValueError
	if errors.As(err, &number) {
		panic(err)
	}
	return err
}

// lines reads lines.
type lines[T any] struct{ from *bufio.Scanner }

func newLines[T any](r io.Reader) *lines[T] {
	l := &lines[T]{bufio.NewScanner(r)}
	l.from.Buffer(make([]byte, 4096), longestLine)
	return l
}

// next fails at the end, and where a line is no line of ours.
func (l *lines[T]) next() (v T, err error) {
	if !l.from.Scan() {
		return v, errors.Join(io.EOF, l.from.Err())
	}
	err = json.Unmarshal(l.from.Bytes(), &v)
	return v, err
}
