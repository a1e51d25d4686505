package page

import (
	"slices"
	"strings"
	"sync"
)

// tail keeps the beginning of what a process writes when it fails.
type tail struct {
	mu   sync.Mutex
	text []byte
}

const longestTail = 4096 // bytes

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.text = append(t.text, p[:min(len(p), longestTail-len(t.text))]...)
	return len(p), nil
}

// String gives the line that says why, in brackets, or nothing.
func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	all := strings.Split(string(t.text), "\n")
	i := slices.IndexFunc(all, func(line string) bool { return strings.TrimSpace(line) != "" })
	if i < 0 {
		return ""
	}
	return " (" + strings.TrimSpace(all[i]) + ")"
}
