package review

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"time"

	"bedd/internal/gathering"
	"bedd/internal/journal"
)

// Anonymise writes a journal once more for a bug report, without what tells whose it
// is: the plan's words (title, what moments are for, cues, songs), names of the rig
// and the ports, comments of the rig, cues and notices, the wall clock. It replays
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
			journal.Moved, journal.Flood, journal.Under, journal.Late, journal.Busy, journal.Closed:
			w.Write(r.Raw())
			w.WriteByte('\n')
		}
	}
}

// nameless gives a header without words, with such a rig.
func nameless(h journal.Header, rig string) journal.Header {
	h.Rig, h.Title, h.Began = journal.Text{Name: "nameless", Text: rig}, "", time.Time{}
	moments := make([]journal.Moment, len(h.Moments))
	for i, m := range h.Moments {
		m.For, m.Cue, m.Song = "", "", ""
		moments[i] = m
	}
	songs := make([]journal.Song, len(h.Songs))
	for i, s := range h.Songs {
		s.Title = ""
		songs[i] = s
	}
	h.Songs = songs
	ports := make([]journal.Port, len(h.Ports))
	for i, p := range h.Ports {
		way := "in"
		if p.Way != way {
			way = "out"
		}
		ports[i] = journal.Port{Way: way, Name: fmt.Sprintf("port %d", i+1)}
	}
	h.Moments, h.Ports = moments, ports
	if h.Resume != nil {
		h.Resume = &journal.Resume{Session: "an earlier session", State: h.Resume.State}
	}
	return h
}
