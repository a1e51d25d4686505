package score

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"bedd/internal/pitch"
)

// oneBar is a score of one part with these elements in its only bar.
func oneBar(inside string) string {
	return `<?xml version="1.0" encoding="UTF-8"?><score-partwise version="4.0"><work><work-title>Tar</work-title></work>` +
		`<part-list><score-part id="P1"><part-name>Voice</part-name></score-part></part-list><part id="P1"><measure number="1">` +
		`<attributes><divisions>1</divisions><key><fifths>0</fifths><mode>major</mode></key></attributes>` + inside + `</measure></part></score-partwise>`
}

func harmonyOf(root, kind, more string) string {
	return `<harmony><root><root-step>` + root + `</root-step></root><kind>` + kind + `</kind>` + more + `</harmony>`
}

// The tones of each kind as MusicXML 4.0's data type kind-value describes them, in
// semitones above the root ("dominant-13th" is an 11th chord and a major 13th …). A
// thirteenth chord leaves its eleventh out here, an eleventh chord of the dominant
// its third: trade practice, no source.
var kindTones = map[string][]int{
	"major": {0, 4, 7}, "minor": {0, 3, 7}, "augmented": {0, 4, 8}, "diminished": {0, 3, 6},
	"dominant": {0, 4, 7, 10}, "major-seventh": {0, 4, 7, 11}, "minor-seventh": {0, 3, 7, 10},
	"diminished-seventh": {0, 3, 6, 9}, "augmented-seventh": {0, 4, 8, 10}, "half-diminished": {0, 3, 6, 10},
	"major-minor": {0, 3, 7, 11}, "major-sixth": {0, 4, 7, 9}, "minor-sixth": {0, 3, 7, 9},
	"dominant-ninth": {0, 2, 4, 7, 10}, "major-ninth": {0, 2, 4, 7, 11}, "minor-ninth": {0, 2, 3, 7, 10},
	"dominant-11th": {0, 2, 4, 5, 7, 10}, "major-11th": {0, 2, 4, 5, 7, 11}, "minor-11th": {0, 2, 3, 5, 7, 10},
	"dominant-13th": {0, 2, 4, 5, 7, 9, 10}, "major-13th": {0, 2, 4, 5, 7, 9, 11}, "minor-13th": {0, 2, 3, 5, 7, 9, 10},
	"suspended-second": {0, 2, 7}, "suspended-fourth": {0, 5, 7}, "power": {0, 7},
}

func TestEveryKindHasItsTones(t *testing.T) {
	if len(kindTones) != len(kinds) {
		t.Errorf("%d kinds, want %d", len(kinds), len(kindTones))
	}
	for kind, tones := range kindTones {
		s, err := Read("x.xml", []byte(oneBar(harmonyOf("C", kind, ""))), &pitch.Key{})
		if err != nil || len(s.Sections) != 1 || len(s.Remarks) > 0 {
			t.Errorf("%s: %+v, %v", kind, s, err)
			continue
		}
		var want pitch.Set
		for _, n := range tones {
			want = want.Add(pitch.Class(n))
		}
		got := s.Sections[0].Chords[0].Classes()
		unsaid := pitch.SetOf()
		switch {
		case strings.HasSuffix(kind, "13th"):
			unsaid = pitch.SetOf(5)
		case kind == "dominant-11th" || kind == "major-11th":
			unsaid = pitch.SetOf(4)
		}
		if got.Union(unsaid) != want.Union(unsaid) {
			t.Errorf("%s sounds %v, want %v", kind, got, want)
		}
	}
}

func TestDegreesAndBasses(t *testing.T) {
	d := func(value, alter int, kind string) string {
		return fmt.Sprintf(`<degree><degree-value>%d</degree-value><degree-alter>%d</degree-alter><degree-type>%s</degree-type></degree>`, value, alter, kind)
	}
	for _, c := range []struct{ harmony, want string }{
		{harmonyOf("C", "major", d(9, 0, "add")), "Cadd9"},
		{harmonyOf("C", "dominant", d(9, -1, "add")), "C7b9"},
		{harmonyOf("C", "dominant", d(5, -1, "alter")), "C7b5"},
		{harmonyOf("C", "dominant", d(5, 1, "alter")+d(9, 1, "add")), "C7#5#9"},
		{harmonyOf("C", "dominant", d(11, 1, "add")), "C7#11"},
		{harmonyOf("C", "minor", d(7, 1, "add")), "Cm(maj7)"},
		{harmonyOf("C", "major", d(4, 0, "add")), "Cadd11"},
		{harmonyOf("C", "major", `<bass><bass-step>B</bass-step><bass-alter>-1</bass-alter></bass>`), "C/Bb"},
		{harmonyOf("C", "major", `<bass><bass-step>C</bass-step></bass>`), "C"},
		{`<harmony><root><root-step>F</root-step><root-alter>1</root-alter></root><kind text="m7">minor-seventh</kind></harmony>`, "F#m7"},
		{`<harmony><root><root-step>C</root-step></root><kind text="N.C.">none</kind></harmony>` + harmonyOf("D", "minor", ""), "Dm"},
	} {
		s, err := Read("x.xml", []byte(oneBar(c.harmony)), &pitch.Key{})
		if err != nil || len(s.Remarks) > 0 || symbols(s.all()) != mustChord(t, c.want).Symbol() {
			t.Errorf("%s: got %s, %q, %v, want %s", c.harmony, symbols(s.all()), s.Remarks, err, c.want)
		}
	}
}

func TestChordsThatAreNotReadAreTold(t *testing.T) {
	for _, c := range []struct{ harmony, want string }{
		{harmonyOf("C", "Tristan", ""), `a chord is left out: one on C of kind "Tristan"`},
		{harmonyOf("H", "major", ""), `a chord is left out: one on a note that there is not, "H"`},
		{`<harmony><function>IV</function><kind>major</kind></harmony>`, `a chord is left out: one without a root (kind "major")`},
		{harmonyOf("C", "major", `<degree><degree-value>99</degree-value><degree-alter>0</degree-alter><degree-type>add</degree-type></degree>`), `a chord is left out: C with degree 99 altered by 0`},
	} {
		s, err := Read("x.xml", []byte(oneBar(c.harmony+harmonyOf("G", "major", ""))), nil)
		if err != nil || !slices.Equal(s.Remarks, []string{c.want}) || symbols(s.all()) != "G" {
			t.Errorf("%s: got %q, %s, %v", c.harmony, s.Remarks, symbols(s.all()), err)
		}
	}
}

func noteOf(step string, octave, duration int, more string) string {
	return fmt.Sprintf(`<note><pitch><step>%s</step><octave>%d</octave></pitch><duration>%d</duration>%s</note>`, step, octave, duration, more)
}

const rest = `<note><rest/><duration>1</duration></note>`

func TestFirstPhrase(t *testing.T) {
	for _, c := range []struct {
		name, notes string
		want        []int
	}{
		{"up to the rest", noteOf("E", 4, 1, "") + noteOf("F", 4, 1, "") + noteOf("G", 4, 1, "") + noteOf("A", 4, 1, "") + rest + noteOf("C", 5, 1, ""), []int{64, 65, 67, 69}},
		{"a rest after two notes does not end it", noteOf("E", 4, 1, "") + noteOf("F", 4, 1, "") + rest + noteOf("G", 4, 1, "") + noteOf("A", 4, 1, ""), []int{64, 65, 67, 69}},
		{"tied notes are one", noteOf("E", 4, 1, `<tie type="start"/>`) + noteOf("E", 4, 1, `<tie type="stop"/>`) + noteOf("F", 4, 1, ""), []int{64, 65}},
		{"the upper note of a chord", noteOf("C", 4, 1, "") + `<note><chord/><pitch><step>G</step><octave>4</octave></pitch><duration>1</duration></note>` + noteOf("F", 4, 1, ""), []int{67, 65}},
		{"grace and cue notes do not count", `<note><grace/><pitch><step>B</step><octave>5</octave></pitch></note>` + noteOf("C", 4, 1, "") + noteOf("D", 4, 1, "") + `<note><cue/><pitch><step>B</step><octave>5</octave></pitch><duration>1</duration></note>`, []int{60, 62}},
		{"the second staff does not count", noteOf("E", 4, 2, `<staff>1</staff>`) + noteOf("F", 4, 2, `<staff>1</staff>`) + `<backup><duration>4</duration></backup>` + noteOf("C", 3, 4, `<staff>2</staff>`), []int{64, 65}},
		{"one note is no phrase", noteOf("E", 4, 1, ""), nil},
		{"an altered note", noteOf("E", 4, 1, "") + `<note><pitch><step>B</step><alter>-1</alter><octave>3</octave></pitch><duration>1</duration></note>`, []int{64, 58}},
	} {
		s, err := Read("x.xml", []byte(oneBar(c.notes)), nil)
		if err != nil || !slices.Equal(s.Figure, c.want) {
			t.Errorf("%s: got %v, %v, want %v", c.name, s.Figure, err, c.want)
		}
	}
}

// A clarinet in B flat: what is written in D sounds in C.
func TestTransposingPart(t *testing.T) {
	text := `<score-partwise><part-list/><part id="P1"><measure><attributes><divisions>1</divisions><key><fifths>2</fifths><mode>major</mode></key>` +
		`<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>` +
		harmonyOf("D", "major", "") + noteOf("D", 4, 1, "") + noteOf("E", 4, 1, "") + harmonyOf("G", "dominant", "") + `</measure></part></score-partwise>`
	s, err := Read("x.xml", []byte(text), nil)
	if err != nil || s.Key != mustKey(t, "C") || symbols(s.all()) != "C F7" || !slices.Equal(s.Figure, []int{60, 62}) {
		t.Errorf("got %v, %s, %v, %v", s.Key, symbols(s.all()), s.Figure, err)
	}
}

func TestScoreByTime(t *testing.T) {
	text := `<score-timewise><part-list><score-part id="A"/><score-part id="B"/></part-list>` +
		`<measure><part id="A"><attributes><divisions>2</divisions><key><fifths>-3</fifths><mode>minor</mode></key></attributes>` + harmonyOf("C", "minor", "") + noteOf("C", 5, 8, "") + `</part>` +
		`<part id="B">` + noteOf("C", 3, 4, "") + `</part></measure>` +
		`<measure><part id="A">` + harmonyOf("F", "minor", "") + noteOf("F", 5, 8, "") + `</part><part id="B">` + noteOf("F", 3, 4, "") + `</part></measure></score-timewise>`
	s, err := Read("x.xml", []byte(text), nil)
	if err != nil || s.Key != mustKey(t, "Cm") || symbols(s.all()) != "Cm Fm" || !slices.Equal(s.Figure, []int{72, 77}) {
		t.Errorf("got %v, %s, %v, %v", s.Key, symbols(s.all()), s.Figure, err)
	}
}

func TestSignatures(t *testing.T) {
	bar := func(key, rest string) string {
		return strings.Replace(oneBar(rest), `<key><fifths>0</fifths><mode>major</mode></key>`, key, 1)
	}
	am := harmonyOf("A", "minor", "") + harmonyOf("D", "minor", "") + harmonyOf("E", "dominant", "") + harmonyOf("A", "minor", "")
	for _, c := range []struct{ name, text, key, remark string }{
		{"a mode that is neither", bar(`<key><fifths>0</fifths><mode>dorian</mode></key>`, harmonyOf("D", "minor", "")+harmonyOf("G", "major", "")), "Dm", "the mode is dorian: a plan knows major and minor"},
		{"no mode, minor chords", bar(`<key><fifths>0</fifths></key>`, am), "Am", ""},
		{"major by mistake", bar(`<key><fifths>0</fifths><mode>major</mode></key>`, am), "C", "the signature says C, but it sounds more like Am: write key: Am if so"},
		{"a signature that is none", bar(`<key><key-step>F</key-step><key-alter>1</key-alter></key>`, am), "Am", ""},
		{"seven flats", bar(`<key><fifths>-7</fifths><mode>major</mode></key>`, harmonyOf("C", "major", "")), "Cb", ""},
		{"another on the way", bar(`<key><fifths>1</fifths><mode>major</mode></key>`, harmonyOf("G", "major", "")+`<attributes><key><fifths>2</fifths></key></attributes>`+harmonyOf("G", "major", "")), "G", "the signature changes on the way: this is the key it begins in"},
	} {
		s, err := Read("x.xml", []byte(c.text), nil)
		var remarks []string
		if c.remark != "" {
			remarks = []string{c.remark}
		}
		if err != nil || s.Key != mustKey(t, c.key) || !slices.Equal(s.Remarks, remarks) {
			t.Errorf("%s: got %v, %q, %v", c.name, s.Key, s.Remarks, err)
		}
	}
}

func TestTempo(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{`<direction><direction-type><metronome><beat-unit>half</beat-unit><per-minute>60</per-minute></metronome></direction-type><sound tempo="120"/></direction>`, 60},
		{`<direction><sound tempo="72.54"/></direction>`, 72.5},
		{`<sound tempo="90"/>`, 90},
		{`<attributes><time><beats>6</beats><beat-type>8</beat-type></time></attributes><sound tempo="90"/>`, 60},
		{`<sound tempo="5000"/>`, 0},
	} {
		s, err := Read("x.xml", []byte(oneBar(c.text+noteOf("C", 4, 1, ""))), nil)
		if err != nil || s.Tempo != c.want {
			t.Errorf("%s: %v, %v, want %v", c.text, s.Tempo, err, c.want)
		}
	}
}

func TestEncodings(t *testing.T) {
	text := strings.Replace(oneBar(noteOf("C", 4, 1, "")), "Tar", "Bö", 1)
	units := utf16.Encode([]rune(strings.Replace(text, "UTF-8", "UTF-16", 1)))
	big, little := []byte("\xfe\xff"), []byte("\xff\xfe")
	for _, u := range units {
		big, little = append(big, byte(u>>8), byte(u)), append(little, byte(u), byte(u>>8))
	}
	latin := []byte(strings.NewReplacer("UTF-8", "ISO-8859-1", "ö", "\xf6").Replace(text))
	for name, data := range map[string][]byte{"UTF-8": []byte(text), "with a mark": []byte("\ufeff" + text), "big": big, "little": little, "latin": latin} {
		if s, err := Read("x.xml", data, nil); err != nil || s.Title != "Bö" {
			t.Errorf("%s: %q, %v", name, s.Title, err)
		}
	}
}

// packed is a zip file with these entries.
func packed(t testing.TB, entries ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(entries); i += 2 {
		w, err := z.Create(entries[i])
		if err == nil {
			_, err = w.Write([]byte(entries[i+1]))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const container = `<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>`

func TestBadScoresAreExplained(t *testing.T) {
	bomb := strings.Repeat("\x00", maxBytes+1)
	var many []string
	for i := range maxEntries + 1 {
		many = append(many, fmt.Sprint(i), "")
	}
	lol := `<!DOCTYPE x [<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]><score-partwise><work><work-title>&b;</work-title></work></score-partwise>`
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"another kind of XML", []byte("<svg></svg>"), "x: this is XML, but no MusicXML: the root is neither score-partwise nor score-timewise"},
		{"cut short", []byte("<score-partwise>\n<part id='P1'>\n"), "x: line 3: not whole XML: unexpected EOF"},
		{"entities that multiply", []byte(lol), `x: line 1: not whole XML: invalid character entity &b;`},
		{"nothing in it", []byte(oneBar("")), "x: there is neither a note nor a chord in this score"},
		{"a strange encoding", []byte(`<?xml version="1.0" encoding="EBCDIC"?><score-partwise/>`), `x: line 1: the text's encoding "EBCDIC" is not read: save it as UTF-8`},
		{"UTF-16 cut in a character", []byte("\xff\xfe<\x00x"), "x: the text is UTF-16, but ends in the middle of a character"},
		{"a zip file that is none", []byte("PK\x03\x04 and so on"), "x: not a whole zip file: zip: not a valid zip file"},
		{"a zip file of something else", packed(t, "a", "b"), "x: a zip file without META-INF/container.xml: compressed MusicXML has one"},
		{"a container without a score", packed(t, "META-INF/container.xml", "<container/>"), "x: META-INF/container.xml names no score"},
		{"a score that is not there", packed(t, "META-INF/container.xml", container), "x: a zip file without s.xml: compressed MusicXML has one"},
		{"a zip bomb", packed(t, "META-INF/container.xml", container, "s.xml", bomb), "x: s.xml: larger than 16777216 bytes, the most that is unpacked"},
		{"a thousand entries", packed(t, many...), "x: a zip file with 1001 entries is no score: at most 1000 are read"},
		{"too large a file", []byte("<" + strings.Repeat(" ", maxBytes)), "x: larger than 16777216 bytes, the most that is read"},
	} {
		if _, err := Read("x", c.data, nil); err == nil || err.Error() != c.want {
			t.Errorf("%s: got %v\nwant %s", c.name, err, c.want)
		}
	}
}

// Nesting takes no stack that a file could exhaust.
func TestDeepNestingIsNotFollowed(t *testing.T) {
	for _, text := range []string{
		strings.Repeat("<a>", 2_000_000),
		`<score-partwise><part id="P1"><measure><note>` + strings.Repeat("<a>", 1_000_000),
		`<score-partwise><defaults>` + strings.Repeat("<a>", 1_000_000),
	} {
		if _, err := Read("x", []byte(text), nil); err == nil {
			t.Errorf("%.60q… was read", text)
		}
	}
}

func FuzzMusicXML(f *testing.F) {
	for _, inside := range []string{
		"", harmonyOf("C", "major", "") + noteOf("C", 4, 1, "") + noteOf("E", 4, 1, `<tie type="start"/>`) + noteOf("E", 4, 1, `<tie type="stop"/>`),
		`<direction><direction-type><rehearsal>Verse</rehearsal></direction-type></direction>` + harmonyOf("G", "dominant", `<offset>-3</offset>`),
		`<attributes><divisions>0.001</divisions><time><beats>99999</beats><beat-type>0</beat-type></time><transpose><chromatic>1e300</chromatic></transpose></attributes>` + noteOf("C", 99, 9, "") + noteOf("D", 4, 1000000, ""),
		`<backup><duration>99</duration></backup><forward><duration>1e308</duration></forward>` + noteOf("B", 4, 1, "<chord/>"),
	} {
		f.Add([]byte(oneBar(inside)))
	}
	f.Add([]byte(`<score-timewise><measure><part id="A"><note><pitch><step>C</step></pitch></note></part></measure></score-timewise>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("x", data, nil)
		checkSong(t, s, err)
	})
}

func FuzzCompressed(f *testing.F) {
	f.Add(packed(f, "META-INF/container.xml", container, "s.xml", oneBar(noteOf("C", 4, 1, ""))))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("x", append([]byte("PK\x03\x04"), data[min(4, len(data)):]...), nil)
		checkSong(t, s, err)
	})
}

// checkSong wants a song that a plan takes, or a reason.
func checkSong(t *testing.T, s Song, err error) {
	t.Helper()
	if err != nil {
		if text := err.Error(); !strings.HasPrefix(text, "x: ") || strings.Contains(text, "\n") {
			t.Fatalf("the error is %q", text)
		}
		return
	}
	if s.Title == "" || len([]rune(s.Title)) > maxTitle || s.KeyBy == "" || len(s.Sections) > maxSections {
		t.Fatalf("%+v", s)
	}
	if sig := s.Key.Signature(); sig < -12 || sig > 12 || s.Tempo != 0 && (s.Tempo < 20 || s.Tempo > 300) {
		t.Fatalf("in %v at %v", s.Key, s.Tempo)
	}
	if len(s.Figure) == 1 || len(s.Figure) > mostPhrase {
		t.Fatalf("figure %v", s.Figure)
	}
	for _, n := range s.Figure {
		if n < 0 || n > 127 {
			t.Fatalf("figure %v", s.Figure)
		}
	}
	for _, section := range s.Sections {
		if len(section.Chords) == 0 || len(section.Chords) > maxChords || section.Name == "" || xml.EscapeText(&bytes.Buffer{}, []byte(section.Name)) != nil {
			t.Fatalf("section %+v", section)
		}
	}
}
