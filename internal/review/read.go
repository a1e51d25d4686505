package review

import (
	"errors"
	"fmt"
	"io"
	"os"

	"bedd/internal/journal"
)

// Read reads the journal in a file. Progress is told how many of its bytes are read
// from time to time; it may be nil. A journal that breaks off is read as far as it
// goes, and [Session.Notes] says so. What the file keeps of a session is bounded by
// the journal's own limits; the memory is that of the session.
func Read(path string, progress func(done, total int64)) (*Session, error) {
	r, err := journal.Open(path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	last, err := journal.ReadLast(path)
	if err != nil {
		return nil, err
	}
	total := int64(0)
	if info, err := os.Stat(path); err == nil {
		total = info.Size()
	}
	s, err := read(last.Name, r, last.Live, func(done int64) {
		if progress != nil {
			progress(min(done, total), total)
		}
	})
	if progress != nil {
		progress(total, total)
	}
	return s, err
}

// toldEvery is after how many records progress is told.
const toldEvery = 1 << 12

func read(name string, r *journal.Reader, live bool, progress func(done int64)) (*Session, error) {
	h := r.Header()
	g := newGatherer(name, &h)
	g.live = live
	var rec journal.Record
	for n := 0; ; n++ {
		err := r.Next(&rec)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		g.take(&rec)
		if n%toldEvery == 0 {
			progress(r.Offset())
		}
	}
	s := g.end()
	if n := r.Torn(); n > 0 && !live {
		s.Notes = append(s.Notes, fmt.Sprintf("its last %d bytes cannot be read and are left out", n))
	}
	return s, nil
}
