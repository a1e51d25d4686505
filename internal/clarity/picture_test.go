package clarity

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func drawn(p Picture) (string, error) {
	var b bytes.Buffer
	err := p.WriteSVG(&b)
	return b.String(), err
}

// Whatever the levels and names, the drawing is one well-formed document without a
// number that is none, and the sketch fits a terminal of 80 columns.
func TestPicturesOfAnything(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		level := rapid.OneOf(rapid.Float64Range(-200, 200), rapid.Just(math.Inf(-1)))
		p := Picture{Title: rapid.String().Draw(rt, "title"), VoiceIs: "the voice", BedIs: "the bed & more <air>", Room: Silence()}
		for i := range Bands {
			p.Voice[i], p.Bed[i] = level.Draw(rt, "voice"), level.Draw(rt, "bed")
		}
		svg, err := drawn(p)
		if err != nil {
			rt.Fatal(err)
		}
		if strings.Contains(svg, "NaN") || strings.Contains(svg, "!") && !strings.Contains(p.Title, "!") {
			rt.Fatalf("the drawing has a number that is none:\n%s", svg)
		}
		for d := xml.NewDecoder(strings.NewReader(svg)); ; {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				rt.Fatal(err)
			}
		}
		for _, line := range strings.Split(p.Sketch(), "\n") {
			if utf8.RuneCountInString(line) > 80 || strings.Contains(line, "%!") {
				rt.Fatalf("%q", line)
			}
		}
	})
}

// The sketch shows what is so: a voice that is louder in a band stands higher.
func TestSketchShowsTheLevels(t *testing.T) {
	p := Picture{Voice: StandardSpeech(Normal), Bed: Silence(), Room: Silence(), VoiceIs: "voice", BedIs: "bed"}
	p.Bed[2] = 20
	voice, bed := 0, 0
	for _, line := range strings.Split(p.Sketch(), "\n") {
		cells := []rune(line + strings.Repeat(" ", 80))
		if cells[6+3*2] == '█' {
			voice++
		}
		if cells[6+3*2+1] == '▒' {
			bed++
		}
	}
	// 34.75 dB is drawn up to 35 and 20 up to 20, from −15 in steps of 5.
	if voice != 11 || bed != 8 {
		t.Errorf("at 250 Hz the voice has %d cells and the bed %d, want 11 and 8\n%s", voice, bed, p.Sketch())
	}
}

// What the picture says of the words is the index.
func TestPictureTellsTheIndex(t *testing.T) {
	p := Picture{Voice: StandardSpeech(Normal), Bed: StandardSpeech(Normal).Plus(-5), Room: Silence(), VoiceIs: "voice", BedIs: "bed"}
	svg, err := drawn(p)
	if err != nil || !strings.Contains(svg, "0.64 of 1") { // 0.63634 by the worked figures
		t.Errorf("%v\n%s", err, svg)
	}
}
