package score

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"unicode/utf16"
	"unicode/utf8"

	"bedd/internal/pitch"
)

// maxEntries is more than a compressed score has.
const maxEntries = 1000

// readCompressed reads compressed MusicXML.
func readCompressed(data []byte, key *pitch.Key) (Song, error) {
	score, err := unpack(data)
	if err != nil {
		return Song{}, err
	}
	return readMusicXML(score, key)
}

// unpack gives the score in a zip file whose META-INF/container.xml names it
// (MusicXML 4.0, Compressed MXL files).
func unpack(data []byte) ([]byte, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("not a whole zip file: %w", err)
	}
	if len(z.File) > maxEntries {
		return nil, fmt.Errorf("a zip file with %d entries is no score: at most %d are read", len(z.File), maxEntries)
	}
	index, err := entry(z, "META-INF/container.xml")
	if err != nil {
		return nil, err
	}
	var container struct {
		Files []struct {
			Path string `xml:"full-path,attr"`
			Type string `xml:"media-type,attr"`
		} `xml:"rootfiles>rootfile"`
	}
	if err := xml.Unmarshal(index, &container); err != nil {
		return nil, fmt.Errorf("META-INF/container.xml: %w", plainXMLError(err))
	}
	for _, f := range container.Files {
		if f.Type == "" || f.Type == "application/vnd.recordare.musicxml+xml" {
			return entry(z, f.Path)
		}
	}
	return nil, errors.New("META-INF/container.xml names no score")
}

// entry unpacks one file, whose length in the index may lie.
func entry(z *zip.Reader, path string) ([]byte, error) {
	for _, f := range z.File {
		if f.Name != path {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", clean(path), err)
		}
		defer r.Close()
		data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
		switch {
		case err != nil:
			return nil, fmt.Errorf("%s: %w", clean(path), err)
		case len(data) > maxBytes:
			return nil, fmt.Errorf("%s: larger than %d bytes, the most that is unpacked", clean(path), maxBytes)
		}
		return data, nil
	}
	return nil, fmt.Errorf("a zip file without %s: compressed MusicXML has one", clean(path))
}

// toUTF8 turns UTF-16 with its byte order mark into UTF-8.
func toUTF8(data []byte) ([]byte, error) {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")):
		order = binary.LittleEndian
	case bytes.HasPrefix(data, []byte("\xfe\xff")):
		order = binary.BigEndian
	default:
		return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), nil
	}
	if len(data)%2 != 0 {
		return nil, errors.New("the text is UTF-16, but ends in the middle of a character")
	}
	units := make([]uint16, 0, len(data)/2-1)
	for i := 2; i < len(data); i += 2 {
		units = append(units, order.Uint16(data[i:]))
	}
	return []byte(string(utf16.Decode(units))), nil
}

// charset reads the encodings that scores come in besides UTF-8.
func charset(label string, input io.Reader) (io.Reader, error) {
	switch string(bytes.ToLower([]byte(label))) {
	case "utf-16", "utf-16le", "utf-16be", "utf8", "us-ascii", "ascii":
		return input, nil // it is UTF-8 by now
	case "iso-8859-1", "latin1", "windows-1252":
		return &latin1{from: input}, nil
	}
	return nil, strangeEncoding(clean(label))
}

// strangeEncoding is the name of an encoding that is not read.
type strangeEncoding string

func (e strangeEncoding) Error() string {
	return fmt.Sprintf("the text's encoding %q is not read: save it as UTF-8", string(e))
}

// latin1 gives the UTF-8 of ISO 8859-1, whose bytes are the first code points.
type latin1 struct {
	from io.Reader
	rest []byte
}

func (l *latin1) Read(p []byte) (int, error) {
	if len(l.rest) == 0 {
		var raw [512]byte
		n, err := l.from.Read(raw[:])
		if n == 0 {
			return 0, err
		}
		l.rest = l.rest[:0]
		for _, b := range raw[:n] {
			l.rest = utf8.AppendRune(l.rest, rune(b))
		}
	}
	n := copy(p, l.rest)
	l.rest = l.rest[n:]
	return n, nil
}
