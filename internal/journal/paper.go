package journal

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"syscall"
	"time"

	"bedd/internal/bed"
)

// paper is what a writer writes on: a file that may not be there, may be full or
// may go, and what waits for it.
type paper struct {
	header  Header
	create  func() (disk, error)
	prune   func(keep string) error
	tell    func(news string)
	opened  func(path string)
	failing func(bool)

	disk    disk // nil while there is none
	out     []byte
	begun   bool // out has had the header
	lost    Lost
	lostAt  time.Duration
	missed  *bed.State // the last that is missing since then, or nil
	stoodAt time.Duration
	written int64 // bytes, waiting ones included
	short   bool  // the journal is as long as it may be
	dirty   bool  // not yet synced
	synced  time.Duration
	trouble error
	tried   time.Duration
	looked  time.Duration // whether the file is in its place
}

// begin puts the first line before all others.
func (p *paper) begin() {
	if p.begun {
		return
	}
	p.begun = true
	out, err := AppendHeader(p.out, p.header)
	if err != nil { // what a rig and a plan have can be written
		panic(err)
	}
	p.out, p.written = out, int64(len(out))
}

// add takes a batch.
func (p *paper) add(b *batch) {
	p.begin()
	before := len(p.out)
	for i := range b.records {
		w := &b.records[i]
		if p.short && w.kind != Stands || len(p.out) > keptBytes {
			p.miss(b, w)
			continue
		}
		p.tellLost()
		p.out = b.appendRecord(p.out, w)
	}
	if b.lost != (Lost{}) {
		if p.lost == (Lost{}) {
			p.lostAt = b.lostAt
		}
		p.lost.add(b.lost)
	}
	p.written += int64(len(p.out) - before)
	if p.written > MaxBytes && !p.short {
		p.short = true
		p.tell("the journal is as long as it may be: from here on it only keeps where the bed is")
	}
}

// tellLost says that records are missing, and where the bed stood after them.
func (p *paper) tellLost() {
	if p.lost == (Lost{}) || p.short {
		return
	}
	p.out = appendGap(p.out, p.lostAt, p.lost)
	if p.missed != nil {
		p.out = end(appendState(append(begin(p.out, p.stoodAt, Stands), ','), p.missed))
	}
	p.lost, p.missed = Lost{}, nil
}

// miss counts a record of a batch that is not written.
func (p *paper) miss(b *batch, w *waiting) {
	if p.lost == (Lost{}) {
		p.lostAt = w.at
	}
	switch w.kind {
	case Stands:
		state := b.states[w.state] // the batch is used again
		p.missed, p.stoodAt = &state, w.at
		p.lost.Other++
	case Called, Prepared, Reset, Rose, Finished:
		p.lost.Calls++
	case Played:
		p.lost.Thru++
	default:
		p.lost.Other++
	}
}

func (l *Lost) add(m Lost) {
	l.Calls, l.Thru, l.Other = l.Calls+m.Calls, l.Thru+m.Thru, l.Other+m.Other
}

// put writes what waits, at a time of the writer's; soon means on the disk too.
func (p *paper) put(now time.Duration, soon bool) {
	if p.trouble != nil && now-p.tried < tryEvery && !soon {
		return
	}
	if err := p.try(now, soon); err != nil {
		p.tried = now
		p.failing(true)
		if p.trouble == nil || p.trouble.Error() != err.Error() {
			p.tell("the journal is not being written: " + plain(err) + "; the bed goes on")
		}
		p.trouble = err
		return
	}
	if p.trouble != nil {
		p.trouble = nil
		p.failing(false)
		if p.lost == (Lost{}) {
			p.tell("the journal is being written again, nothing is missing")
		} else {
			p.tell("the journal is being written again, with a gap")
		}
	}
	p.tellLost() // the next turn writes it, though the bed be at rest
}

func (p *paper) try(now time.Duration, soon bool) error {
	if p.disk != nil && (soon || now-p.looked >= syncEvery) {
		p.looked = now
		if p.disk.Gone() {
			if err := p.moveOn(); err != nil {
				return err
			}
		}
	}
	if len(p.out) == 0 && !p.dirty {
		return nil
	}
	if p.disk == nil {
		d, err := p.create()
		if err != nil {
			return err
		}
		p.disk = d
		p.opened(d.Name())
		if err := p.prune(d.Name()); err != nil {
			p.tell("old journals stay: " + plain(err))
		}
	}
	for len(p.out) > 0 {
		n, err := p.disk.Write(p.out)
		p.out = p.out[:copy(p.out, p.out[n:])] // the rest of a torn line follows it
		p.dirty = p.dirty || n > 0
		if err != nil {
			return err
		}
	}
	if p.dirty && (soon || now-p.synced >= syncEvery) {
		if err := p.disk.Sync(); err != nil {
			return err
		}
		p.dirty, p.synced = false, now
	}
	return nil
}

// moveOn begins another file with what the one has that is no longer in its place:
// an open file has its bytes until it is closed.
func (p *paper) moveOn() error {
	d, err := p.create()
	if err != nil {
		return err
	}
	old, can := p.disk.(io.ReaderAt)
	if !can {
		d.Close()
		return errors.New("the file is gone")
	}
	if _, err := io.Copy(d, io.NewSectionReader(old, 0, 1<<62)); err != nil {
		d.Close()
		os.Remove(d.Name())
		return err
	}
	p.disk.Close()
	p.disk, p.dirty = d, true
	p.opened(d.Name())
	p.tell("the journal had been moved away: it goes on in " + d.Name())
	return nil
}

// close ends the file with a last line.
func (p *paper) close(last []byte) {
	p.begin()
	if p.lost != (Lost{}) {
		p.out = appendGap(p.out, p.lostAt, p.lost)
	}
	p.out = append(p.out, last...)
	p.put(p.tried+tryEvery, true)
	if p.disk != nil {
		if err := p.disk.Close(); err != nil && p.trouble == nil {
			p.trouble = err
		}
	}
}

// failed says what is missing at the end.
func (p *paper) failed() error {
	if p.trouble != nil {
		return fmt.Errorf("the journal is not whole: %s", plain(p.trouble))
	}
	return nil
}

// plain words what a disk says for people.
func plain(err error) string {
	where := ""
	var path *fs.PathError
	if errors.As(err, &path) {
		where, err = path.Path+": ", path.Err
	}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return where + "the disk is full"
	case errors.Is(err, syscall.EROFS):
		return where + "the disk may only be read"
	case errors.Is(err, fs.ErrPermission):
		return where + "no permission to write there"
	}
	return where + err.Error()
}

// written adds an object as the standard library writes it.
func written(out []byte, key string, v any) []byte {
	data, err := json.Marshal(v)
	if err != nil { // the types are ours
		return out
	}
	return append(append(append(append(out, `,"`...), key...), `":`...), data...)
}
