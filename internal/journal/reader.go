package journal

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/valyala/fastjson"
)

// What a reader takes: longer lines are passed over, so that a hostile file costs
// little memory.
const (
	maxHeader = 8 << 20 // bytes: a rig and a plan of a mebibyte each, quoted
	maxLine   = 1 << 18 // bytes: a call with more actions than a bed has notes
	maxPorts  = 1 << 10
)

// Fault says what is wrong with a journal as a whole, and where.
type Fault struct {
	Path string
	Line int // 0 where it is no line's
	What string
}

func (f *Fault) Error() string {
	if f.Line == 0 {
		return f.Path + ": " + f.What
	}
	return fmt.Sprintf("%s:%d: %s", f.Path, f.Line, f.What)
}

// Reader reads a journal, record by record, in the memory of a line.
type Reader struct {
	path   string
	file   io.Closer // nil where there is none
	in     *bufio.Reader
	head   Header
	parser fastjson.Parser
	long   []byte // a line that is longer than the buffer

	line    int
	read    int64 // bytes of whole lines
	damaged int   // lines that cannot be read since the last that can
	torn    int64 // bytes after the last line that can be read
	pending bool  // a line waits behind a gap
	kept    []byte
	place   int // its number
	done    bool
	raw     []byte

	chord Chord
	seen  Seen
}

// Open opens the journal in a file. An error is of type *[Fault] where the file is
// no journal.
func Open(path string) (*Reader, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r, err := NewReader(path, f)
	if err != nil {
		f.Close()
		return nil, err
	}
	r.file = f
	return r, nil
}

// NewReader reads a journal; path is for its errors, which are of type *[Fault]
// where it is none.
func NewReader(path string, in io.Reader) (*Reader, error) {
	r := &Reader{path: path, in: bufio.NewReaderSize(in, 1<<16)}
	line, err := r.next(maxHeader)
	switch {
	case errors.Is(err, io.EOF):
		return nil, &Fault{path, 1, "it ends before its first record: nothing of the session is left"}
	case err != nil:
		return nil, err
	}
	if r.head, err = r.header(line); err != nil {
		return nil, err
	}
	return r, nil
}

// Close closes the file.
func (r *Reader) Close() error {
	if r.file == nil {
		return nil
	}
	return r.file.Close()
}

// Header gives the first record.
func (r *Reader) Header() Header { return r.head }

// Offset counts the bytes that have been read.
func (r *Reader) Offset() int64 { return r.read }

// Torn counts the bytes after the last line that can be read, once Next has given
// io.EOF: what was on its way when the power went.
func (r *Reader) Torn() int64 { return r.torn }

// Raw is the line that Next has read last, without its end, good until the call
// after; nil for a gap that stands for lines that cannot be read.
func (r *Reader) Raw() []byte { return r.raw }

// header reads the first line.
func (r *Reader) header(line []byte) (Header, error) {
	var h header
	if line == nil || json.Unmarshal(line, &h) != nil || h.Kind != headerKind {
		return Header{}, &Fault{r.path, 1, "this is no journal of bedd's: its first line is not a header"}
	}
	switch {
	case h.Version != Version:
		return Header{}, &Fault{r.path, 1, fmt.Sprintf("the journal is of version %d, and this bedd reads version %d: use the bedd that wrote it (%q)", h.Version, Version, h.Program)}
	case len(h.Moments) == 0:
		return Header{}, &Fault{r.path, 1, "the journal has no moments"}
	case h.First < 0 || h.First >= len(h.Moments):
		return Header{}, &Fault{r.path, 1, fmt.Sprintf("first moment %d is out of range 0…%d", h.First, len(h.Moments)-1)}
	case len(h.Ports) > maxPorts:
		return Header{}, &Fault{r.path, 1, fmt.Sprintf("%d ports are more than %d", len(h.Ports), maxPorts)}
	}
	if h.Resume != nil {
		v, err := r.parser.ParseBytes(h.Resume.State)
		if err != nil {
			return Header{}, &Fault{r.path, 1, "where it went on from cannot be read"}
		}
		s, ok := readState(v)
		if !ok {
			return Header{}, &Fault{r.path, 1, "where it went on from cannot be read"}
		}
		h.Header.Resume = &Resume{h.Resume.Session, &s}
	}
	return h.Header, nil
}

// next gives the next line without its end, nil for one that is too long, good
// until the call after, or io.EOF where no whole line is left.
func (r *Reader) next(most int) ([]byte, error) {
	line, err := r.in.ReadSlice('\n')
	r.long = r.long[:0]
	size := int64(len(line))
	for errors.Is(err, bufio.ErrBufferFull) {
		if len(r.long) <= most {
			r.long = append(r.long, line...)
		}
		line, err = r.in.ReadSlice('\n')
		size += int64(len(line))
	}
	switch {
	case errors.Is(err, io.EOF):
		r.torn += size
		return nil, io.EOF
	case err != nil:
		return nil, fmt.Errorf("%s: %w", r.path, err)
	}
	r.line++
	r.read += size
	if len(r.long) > 0 {
		r.long = append(r.long, line...)
		line = r.long
	}
	if len(line) > most {
		return nil, nil
	}
	return line[:len(line)-1], nil
}

// Next reads the next record into rec, which keeps nothing from before; its slices
// and pointers are good until the call after. Lines that cannot be read are told by
// a Gap before the next that can, and left out at the end. It gives io.EOF at the
// end.
func (r *Reader) Next(rec *Record) error {
	if r.pending {
		r.pending = false
		if r.parse(r.kept, rec) {
			rec.Line, r.raw = r.place, r.kept
			return nil
		}
	}
	for !r.done {
		before := r.read
		line, err := r.next(maxLine)
		if err != nil {
			r.done = errors.Is(err, io.EOF)
			return err
		}
		if !r.parse(line, rec) {
			r.damaged++
			r.torn += r.read - before
			continue
		}
		rec.Line, r.raw = r.line, line
		if r.damaged > 0 {
			r.raw = nil
			r.pending, r.place, r.kept = true, r.line, append(r.kept[:0], line...)
			*rec = Record{Kind: Gap, At: rec.At, Lost: &Lost{Damaged: uint64(r.damaged)}, Actions: rec.Actions[:0]}
			r.damaged, r.torn = 0, 0
		}
		return nil
	}
	return io.EOF
}

// maxTime is the longest session that is read: a damaged file can claim years.
const maxTime = 1000 * time.Hour
