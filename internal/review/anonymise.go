package review

import (
	"bufio"
	"errors"
	"fmt"
	"io"

	"bedd/internal/gathering"
	"bedd/internal/journal"
)

// Anonymise writes a journal once more for a bug report, without what tells whose it
// is: the plan's words (title, what moments are for, cues, songs), names of the rig
// and the ports, comments of the rig, options, cues and notices, the wall clock. It replays
// just the same. What cannot be read is told by a gap. Fields of the header and
// kinds of record that this bedd does not know are left out, since they may have
// words.
func Anonymise(to io.Writer, path string) error {
	r, err := journal.Open(path)
	if err != nil {
		return err
	}
	defer r.Close()
	return anonymise(to, r)
}

func anonymise(to io.Writer, r *journal.Reader) error {
	h := r.Header()
	bare, err := gathering.Nameless(h.Rig.Name, []byte(h.Rig.Text))
	if err != nil {
		return err
	}
	line, err := journal.AppendHeader(nil, nameless(h, string(bare)))
	if err != nil {
		return err
	}
	w := bufio.NewWriter(to)
	w.Write(line)
	var rec journal.Record
	for {
		err := r.Next(&rec)
		if errors.Is(err, io.EOF) {
			return w.Flush()
		}
		if err != nil {
			return err
		}
		switch rec.Kind {
		case journal.Gap:
			fmt.Fprintf(w, `{"t":%d,"k":"gap","calls":%d,"thru":%d,"other":%d}`+"\n", rec.At, rec.Lost.Calls, rec.Lost.Thru, rec.Lost.Other+rec.Lost.Damaged)
		case journal.Called, journal.Played, journal.Prepared, journal.Reset, journal.Rose, journal.Finished, journal.Stands,
			journal.Moved, journal.Flood, journal.Under, journal.Late, journal.Busy, journal.Task, journal.Closed:
			w.Write(r.Raw())
			w.WriteByte('\n')
		}
	}
}

// nameless gives a header without words, with such a rig. It is made anew of what a
// replay needs, so that nothing else comes along.
func nameless(h journal.Header, rig string) journal.Header {
	bare := journal.Header{Program: h.Program, Rig: journal.Text{Name: "nameless", Text: rig}, Stillness: h.Stillness, Setup: h.Setup, First: h.First, Tasks: h.Tasks}
	for _, m := range h.Moments {
		m.For, m.Cue, m.Song = "", "", ""
		bare.Moments = append(bare.Moments, m)
	}
	for _, s := range h.Songs {
		s.Title = ""
		bare.Songs = append(bare.Songs, s)
	}
	for i, p := range h.Ports {
		way := "in"
		if p.Way != way {
			way = "out"
		}
		bare.Ports = append(bare.Ports, journal.Port{Way: way, Name: fmt.Sprintf("port %d", i+1)})
	}
	if h.Resume != nil {
		bare.Resume = &journal.Resume{Session: "an earlier session", State: h.Resume.State}
	}
	return bare
}
