package journal

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"time"
)

// Anonymise writes a journal once more without what tells whose it is: the plan's
// words (title, what moments are for, cues, songs), names of ports, cues and notices,
// the wall clock. It replays just the same. rig gives the rig's text without names.
// What cannot be read is told by a gap. Kinds that this version does not know are
// left out, and so are fields of the header that it does not know: they may have
// words.
func Anonymise(to io.Writer, r *Reader, rig func(Text) (Text, error)) error {
	h := r.Header()
	bare, err := rig(h.Rig)
	if err != nil {
		return err
	}
	h.Rig, h.Title, h.Began = bare, "", time.Time{}
	moments := make([]Moment, len(h.Moments))
	for i, m := range h.Moments {
		m.For, m.Cue, m.Song = "", "", ""
		moments[i] = m
	}
	h.Moments = moments
	ports := make([]Port, len(h.Ports))
	for i, p := range h.Ports {
		way := "in"
		if p.Way != way {
			way = "out"
		}
		ports[i] = Port{Way: way, Name: fmt.Sprintf("port %d", i+1)}
	}
	h.Ports = ports
	if h.Resume != nil {
		h.Resume = &Resume{Session: "an earlier session", State: h.Resume.State}
	}
	w := bufio.NewWriter(to)
	line, err := appendHeader(nil, h)
	if err != nil {
		return err
	}
	w.Write(line)
	var rec Record
	damaged := uint64(0)
	for {
		line, err := r.next(maxLine)
		if errors.Is(err, io.EOF) {
			return w.Flush()
		}
		if err != nil {
			return err
		}
		if !r.parse(line, &rec) {
			damaged++
			continue
		}
		if damaged > 0 {
			w.Write(appendGap(nil, rec.At, Lost{Other: damaged}))
			damaged = 0
		}
		if wordless(rec.Kind) {
			w.Write(line)
			w.WriteByte('\n')
		}
	}
}

// wordless reports whether a record of some kind has no words but the format's.
func wordless(k Kind) bool {
	switch k {
	case Called, Played, Prepared, Reset, Rose, Finished, Stands, Moved, Flood, Under, Late, Busy, Gap, Closed:
		return true
	}
	return false
}
