package journal

import "os"

// What is kept of old sessions: as many as these, and no more than so many bytes
// of them. More than three years of a service a week.
const (
	KeptSessions = 200
	KeptBytes    = 1 << 30
)

// Prune removes the oldest journals of a folder until no more than so many, of no
// more bytes together, are left. Those that a bedd is writing, and the one named,
// stay and count; other files are not touched. It gives what it has removed.
func Prune(dir, keep string, sessions int, bytes int64) (removed []string, err error) {
	list, err := Sessions(dir)
	if err != nil {
		return nil, err
	}
	total := int64(0)
	for _, s := range list {
		total += s.Size
	}
	left := len(list)
	for _, s := range list {
		if left <= sessions && total <= bytes {
			break
		}
		if s.Live || s.Path == keep {
			continue
		}
		if err := os.Remove(s.Path); err != nil {
			return removed, err
		}
		removed = append(removed, s.Name)
		left, total = left-1, total-s.Size
	}
	return removed, nil
}
