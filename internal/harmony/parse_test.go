package harmony

import (
	"strings"
	"testing"

	"bedd/internal/pitch"
)

// goodChords has symbols with the semitones they sound above C, slash bass
// included, and the one symbol the chord is written with. Standard chord
// construction, common practice, no single source. Two independent libraries,
// tonal 6.4.3 and chord-symbol 4.0.0, sound the same for all that they read,
// but for these. chord-symbol: Cm13 with an eleventh, C7(13) and Cm7(11) with a
// ninth, C6(9) and C(9) with a seventh, C5add9 without its ninth, Cm(b13) and
// C7addb13 without a fifth, Abb5 as Ab(b5). tonal: C7b9b13 with a fifth.
var goodChords = []struct {
	text      string
	semitones []pitch.Class
	symbol    string
}{
	// triads
	{"C", set(0, 4, 7), "C"},
	{"Cmaj", set(0, 4, 7), "C"},
	{"Cmajor", set(0, 4, 7), "C"},
	{"CM", set(0, 4, 7), "C"},
	{"Cma", set(0, 4, 7), "C"},
	{"Cm", set(0, 3, 7), "Cm"},
	{"Cmin", set(0, 3, 7), "Cm"},
	{"Cmi", set(0, 3, 7), "Cm"},
	{"Cminor", set(0, 3, 7), "Cm"},
	{"C-", set(0, 3, 7), "Cm"},
	{"C−", set(0, 3, 7), "Cm"},
	{"Cdim", set(0, 3, 6), "Cdim"},
	{"C°", set(0, 3, 6), "Cdim"},
	{"Cº", set(0, 3, 6), "Cdim"},
	{"Co", set(0, 3, 6), "Cdim"},
	{"Caug", set(0, 4, 8), "Caug"},
	{"C+", set(0, 4, 8), "Caug"},
	{"C(#5)", set(0, 4, 8), "Caug"},
	{"C(b5)", set(0, 4, 6), "C(b5)"},
	{"Cm(b5)", set(0, 3, 6), "Cdim"},
	{"Cm(#5)", set(0, 3, 8), "Cm(#5)"},
	{"C5", set(0, 7), "C5"},
	{"Cno3", set(0, 7), "C5"},
	{"C(no3)", set(0, 7), "C5"},
	{"Cmno3", set(0, 7), "C5"},
	{"Cno5", set(0, 4), "Cno5"},
	{"Cmno5", set(0, 3), "Cmno5"},
	{"Cno3no5", set(0), "Cno3no5"},
	// sixths
	{"C6", set(0, 4, 7, 9), "C6"},
	{"CM6", set(0, 4, 7, 9), "C6"},
	{"Cadd6", set(0, 4, 7, 9), "C6"},
	{"Cm6", set(0, 3, 7, 9), "Cm6"},
	{"C-6", set(0, 3, 7, 9), "Cm6"},
	{"C6/9", set(0, 2, 4, 7, 9), "C69"},
	{"C69", set(0, 2, 4, 7, 9), "C69"},
	{"C6(9)", set(0, 2, 4, 7, 9), "C69"},
	{"C6add9", set(0, 2, 4, 7, 9), "C69"},
	{"Cm6/9", set(0, 2, 3, 7, 9), "Cm69"},
	{"C6sus4", set(0, 5, 7, 9), "C6sus4"},
	{"C6#11", set(0, 4, 6, 7, 9), "C6#11"},
	// sevenths
	{"C7", set(0, 4, 7, 10), "C7"},
	{"Cdom7", set(0, 4, 7, 10), "C7"},
	{"C(7)", set(0, 4, 7, 10), "C7"},
	{"Cmaj7", set(0, 4, 7, 11), "Cmaj7"},
	{"CMaj7", set(0, 4, 7, 11), "Cmaj7"},
	{"CM7", set(0, 4, 7, 11), "Cmaj7"},
	{"Cma7", set(0, 4, 7, 11), "Cmaj7"},
	{"CΔ", set(0, 4, 7, 11), "Cmaj7"},
	{"CΔ7", set(0, 4, 7, 11), "Cmaj7"},
	{"C∆7", set(0, 4, 7, 11), "Cmaj7"},
	{"C△", set(0, 4, 7, 11), "Cmaj7"},
	{"C(maj7)", set(0, 4, 7, 11), "Cmaj7"},
	{"Cm7", set(0, 3, 7, 10), "Cm7"},
	{"Cmin7", set(0, 3, 7, 10), "Cm7"},
	{"Cmi7", set(0, 3, 7, 10), "Cm7"},
	{"C-7", set(0, 3, 7, 10), "Cm7"},
	{"CmMaj7", set(0, 3, 7, 11), "CmMaj7"},
	{"Cm(maj7)", set(0, 3, 7, 11), "CmMaj7"},
	{"Cmmaj7", set(0, 3, 7, 11), "CmMaj7"},
	{"CmM7", set(0, 3, 7, 11), "CmMaj7"},
	{"C-Δ7", set(0, 3, 7, 11), "CmMaj7"},
	{"Cm7b5", set(0, 3, 6, 10), "Cm7b5"},
	{"Cm7(b5)", set(0, 3, 6, 10), "Cm7b5"},
	{"Cm7♭5", set(0, 3, 6, 10), "Cm7b5"},
	{"Cø", set(0, 3, 6, 10), "Cm7b5"},
	{"Cø7", set(0, 3, 6, 10), "Cm7b5"},
	{"CØ7", set(0, 3, 6, 10), "Cm7b5"},
	{"Cdim7", set(0, 3, 6, 9), "Cdim7"},
	{"C°7", set(0, 3, 6, 9), "Cdim7"},
	{"Co7", set(0, 3, 6, 9), "Cdim7"},
	{"Cm6b5", set(0, 3, 6, 9), "Cdim7"},
	{"CdimMaj7", set(0, 3, 6, 11), "CdimMaj7"},
	{"Cdim(maj7)", set(0, 3, 6, 11), "CdimMaj7"},
	{"C7b5", set(0, 4, 6, 10), "C7b5"},
	{"C7(b5)", set(0, 4, 6, 10), "C7b5"},
	{"C7#5", set(0, 4, 8, 10), "C7#5"},
	{"Caug7", set(0, 4, 8, 10), "C7#5"},
	{"C+7", set(0, 4, 8, 10), "C7#5"},
	{"C7♯5", set(0, 4, 8, 10), "C7#5"},
	{"Cmaj7#5", set(0, 4, 8, 11), "Cmaj7#5"},
	{"Caugmaj7", set(0, 4, 8, 11), "Cmaj7#5"},
	{"C+M7", set(0, 4, 8, 11), "Cmaj7#5"},
	{"Cmaj7b5", set(0, 4, 6, 11), "Cmaj7b5"},
	{"C7b5#5", set(0, 4, 6, 8, 10), "C7b5#5"},
	{"C7no3", set(0, 7, 10), "C7no3"},
	{"C7no5", set(0, 4, 10), "C7no5"},
	{"C7(no5)", set(0, 4, 10), "C7no5"},
	// ninths and taller
	{"C9", set(0, 2, 4, 7, 10), "C9"},
	{"C7(9)", set(0, 2, 4, 7, 10), "C9"},
	{"C7add9", set(0, 2, 4, 7, 10), "C9"},
	{"Cmaj9", set(0, 2, 4, 7, 11), "Cmaj9"},
	{"CM9", set(0, 2, 4, 7, 11), "Cmaj9"},
	{"CΔ9", set(0, 2, 4, 7, 11), "Cmaj9"},
	{"Cm9", set(0, 2, 3, 7, 10), "Cm9"},
	{"CmMaj9", set(0, 2, 3, 7, 11), "CmMaj9"},
	{"C9b5", set(0, 2, 4, 6, 10), "C9b5"},
	{"C9#5", set(0, 2, 4, 8, 10), "C9#5"},
	{"C+9", set(0, 2, 4, 8, 10), "C9#5"},
	{"Cm9b5", set(0, 2, 3, 6, 10), "Cm9b5"},
	{"Cø9", set(0, 2, 3, 6, 10), "Cm9b5"},
	{"C11", set(0, 2, 5, 7, 10), "C11"},
	{"Cm11", set(0, 2, 3, 5, 7, 10), "Cm11"},
	{"C-11", set(0, 2, 3, 5, 7, 10), "Cm11"},
	{"Cm7(11)", set(0, 3, 5, 7, 10), "Cm7add11"},
	{"C7add11", set(0, 4, 5, 7, 10), "C7add11"},
	{"C13", set(0, 2, 4, 7, 9, 10), "C13"},
	{"Cmaj13", set(0, 2, 4, 7, 9, 11), "Cmaj13"},
	{"Cm13", set(0, 2, 3, 7, 9, 10), "Cm13"},
	{"C7(13)", set(0, 4, 7, 9, 10), "C7add13"},
	{"C7add6", set(0, 4, 7, 9, 10), "C7add13"},
	{"C9(13)", set(0, 2, 4, 7, 9, 10), "C13"},
	{"Cmaj9#11", set(0, 2, 4, 6, 7, 11), "Cmaj9#11"},
	{"Cmaj7#11", set(0, 4, 6, 7, 11), "Cmaj7#11"},
	{"C13#11", set(0, 2, 4, 6, 7, 9, 10), "C13#11"},
	// altered
	{"C7b9", set(0, 1, 4, 7, 10), "C7b9"},
	{"C7(b9)", set(0, 1, 4, 7, 10), "C7b9"},
	{"C7♭9", set(0, 1, 4, 7, 10), "C7b9"},
	{"C9b9", set(0, 1, 4, 7, 10), "C7b9"},
	{"C7#9", set(0, 3, 4, 7, 10), "C7#9"},
	{"C7(b9,#9)", set(0, 1, 3, 4, 7, 10), "C7b9#9"},
	{"C7b9#9", set(0, 1, 3, 4, 7, 10), "C7b9#9"},
	{"C7#11", set(0, 4, 6, 7, 10), "C7#11"},
	{"C9#11", set(0, 2, 4, 6, 7, 10), "C9#11"},
	{"C7b13", set(0, 4, 8, 10), "C7b13"},
	{"C7addb13", set(0, 4, 7, 8, 10), "C7addb13"},
	{"C7(b9, b13)", set(0, 1, 4, 8, 10), "C7b9b13"},
	{"C7(b9)(b13)", set(0, 1, 4, 8, 10), "C7b9b13"},
	{"C13b9", set(0, 1, 4, 7, 9, 10), "C13b9"},
	{"C7#5b9", set(0, 1, 4, 8, 10), "C7#5b9"},
	{"C7#5#9", set(0, 3, 4, 8, 10), "C7#5#9"},
	{"C7#5b13", set(0, 4, 8, 10), "C7#5"},
	{"C(b9)", set(0, 1, 4, 7), "C(b9)"},
	{"Cm(b9)", set(0, 1, 3, 7), "Cm(b9)"},
	{"C(#11)", set(0, 4, 6, 7), "C(#11)"},
	{"Cm(b6)", set(0, 3, 7, 8), "Cm(b13)"},
	{"C7alt", set(0, 3, 4, 8, 10), "C7#5#9"},
	{"Calt", set(0, 3, 4, 8, 10), "C7#5#9"},
	{"C7(ALT)", set(0, 3, 4, 8, 10), "C7#5#9"},
	{"C7b6", set(0, 4, 7, 8, 10), "C7addb13"},
	{"C7-5", set(0, 4, 6, 10), "C7b5"},
	{"C7−9", set(0, 1, 4, 7, 10), "C7b9"},
	{"C7+9", set(0, 3, 4, 7, 10), "C7#9"},
	{"C13+11", set(0, 2, 4, 6, 7, 9, 10), "C13#11"},
	{"C7(+5,-9)", set(0, 1, 4, 8, 10), "C7#5b9"},
	{"C7b9add9", set(0, 1, 2, 4, 7, 10), "C7b9add9"},
	// as older, handwritten and other charts have them
	{"C+5", set(0, 4, 8), "Caug"},
	{"C7+", set(0, 4, 8, 10), "C7#5"},
	{"Cmaj7+", set(0, 4, 8, 11), "Cmaj7#5"},
	{"C7aug", set(0, 4, 8, 10), "C7#5"},
	{"C^", set(0, 4, 7, 11), "Cmaj7"},
	{"C-^9", set(0, 2, 3, 7, 11), "CmMaj9"},
	{"Cm/maj7", set(0, 3, 7, 11), "CmMaj7"},
	{"Cm/M7/Eb", set(0, 3, 7, 11), "CmMaj7/Eb"},
	{"Cm9(maj7)", set(0, 2, 3, 7, 11), "CmMaj9"},
	{"Cm(maj9)", set(0, 2, 3, 7, 11), "CmMaj9"},
	{"Cm6(maj7)", set(0, 3, 7, 9, 11), "CmMaj7add13"},
	{"CMI7", set(0, 3, 7, 10), "Cm7"},
	{"CMA7", set(0, 4, 7, 11), "Cmaj7"},
	{"CmMA7", set(0, 3, 7, 11), "CmMaj7"},
	{"CSUS4", set(0, 5, 7), "Csus4"},
	{"CADD9", set(0, 2, 4, 7), "Cadd9"},
	{"CMADD9", set(0, 2, 4, 7), "Cadd9"},
	{"CDIM7", set(0, 3, 6, 9), "Cdim7"},
	{"C7/9", set(0, 2, 4, 7, 10), "C9"},
	{"C7/b9/E", set(0, 1, 4, 7, 10), "C7b9/E"},
	{"C9/13", set(0, 2, 4, 7, 9, 10), "C13"},
	{"C7(b9/b13)", set(0, 1, 4, 8, 10), "C7b9b13"},
	{"Comit3", set(0, 7), "C5"},
	{"C7(omit5)", set(0, 4, 10), "C7no5"},
	{"Csus42", set(0, 2, 5, 7), "Csus2sus4"},
	{"Cm2", set(0, 2, 3, 7), "Cmadd9"},
	{"C(2)", set(0, 2, 4, 7), "Cadd9"},
	// added
	{"Cadd9", set(0, 2, 4, 7), "Cadd9"},
	{"C(add9)", set(0, 2, 4, 7), "Cadd9"},
	{"Cadd2", set(0, 2, 4, 7), "Cadd9"},
	{"C2", set(0, 2, 4, 7), "Cadd9"},
	{"C(9)", set(0, 2, 4, 7), "Cadd9"},
	{"Cmadd9", set(0, 2, 3, 7), "Cmadd9"},
	{"CMadd9", set(0, 2, 4, 7), "Cadd9"},
	{"Cadd11", set(0, 4, 5, 7), "Cadd11"},
	{"Cadd4", set(0, 4, 5, 7), "Cadd11"},
	{"Cmadd11", set(0, 3, 5, 7), "Cmadd11"},
	{"Cadd13", set(0, 4, 7, 9), "Cadd13"},
	{"Cadd#11", set(0, 4, 6, 7), "C(#11)"},
	{"Cadd9no3", set(0, 2, 7), "C5add9"},
	{"Cadd9add11", set(0, 2, 4, 5, 7), "Cadd9add11"},
	// suspended
	{"Csus2", set(0, 2, 7), "Csus2"},
	{"Csus4", set(0, 5, 7), "Csus4"},
	{"Csus", set(0, 5, 7), "Csus4"},
	{"C(sus4)", set(0, 5, 7), "Csus4"},
	{"Csus24", set(0, 2, 5, 7), "Csus2sus4"},
	{"Csus2sus4", set(0, 2, 5, 7), "Csus2sus4"},
	{"Csus4add9", set(0, 2, 5, 7), "Csus4add9"},
	{"C7sus4", set(0, 5, 7, 10), "C7sus4"},
	{"C7sus", set(0, 5, 7, 10), "C7sus4"},
	{"Csus7", set(0, 5, 7, 10), "C7sus4"},
	{"C7sus2", set(0, 2, 7, 10), "C7sus2"},
	{"Cmaj7sus4", set(0, 5, 7, 11), "Cmaj7sus4"},
	{"C9sus4", set(0, 2, 5, 7, 10), "C9sus4"},
	{"C9sus", set(0, 2, 5, 7, 10), "C9sus4"},
	{"Csus9", set(0, 2, 5, 7, 10), "C9sus4"},
	{"C13sus4", set(0, 2, 5, 7, 9, 10), "C13sus4"},
	{"C7sus4b9", set(0, 1, 5, 7, 10), "C7sus4b9"},
	{"C7b9sus4", set(0, 1, 5, 7, 10), "C7sus4b9"},
	{"Cm7sus4", set(0, 5, 7, 10), "C7sus4"},
	// other basses
	{"C/C", set(0, 4, 7), "C"},
	{"C/E", set(0, 4, 7), "C/E"},
	{"C/G", set(0, 4, 7), "C/G"},
	{"C/D", set(0, 2, 4, 7), "C/D"},
	{"C/Bb", set(0, 4, 7, 10), "C/Bb"},
	{"C/F♯", set(0, 4, 6, 7), "C/F#"},
	{"Cm7/Eb", set(0, 3, 7, 10), "Cm7/Eb"},
	{"C6/9/E", set(0, 2, 4, 7, 9), "C69/E"},
	{"C7(b9)/E", set(0, 1, 4, 7, 10), "C7b9/E"},
	{"C/B#", set(0, 4, 7), "C/B#"},
	// other roots, in classes above C
	{"F#m7b5", set(6, 9, 0, 4), "F#m7b5"}, // F# A C E, as tonal spells it
	{"Cmaj7/E", set(0, 4, 7, 11), "Cmaj7/E"},
	{"Bb7sus4", set(10, 3, 5, 8), "Bb7sus4"}, // 0 5 7 10 above Bb, as chord-symbol reads it
	{"Dbadd9", set(1, 5, 8, 3), "Dbadd9"},    // 0 4 7 14 above Db, as chord-symbol reads it
	{"E♭m", set(3, 6, 10), "Ebm"},
	{"Bb", set(10, 2, 5), "Bb"},
	{"Bbb", set(9, 1, 4), "Bbb"},
	{"B7", set(11, 3, 6, 9), "B7"},
	{"Abb5", set(7, 2), "Abb5"}, // a bare fifth on Abb
	{"Cb9", set(11, 1, 3, 6, 9), "Cb9"},
	{"C#9", set(1, 3, 5, 8, 11), "C#9"},
	{"C#b5", set(1, 5, 7), "C#(b5)"},
	{"Fx°7", set(7, 10, 1, 4), "F##dim7"},
	{"G/B", set(7, 11, 2), "G/B"},
	{"D/F#", set(2, 6, 9), "D/F#"},
}

func set(classes ...pitch.Class) []pitch.Class { return classes }

const accepted = "(accepted: m, maj7, dim, aug, 5, 6, 7, 9, 11, 13, sus2, sus4, b5, #11, add9, no3, /bass and their like)"

var badChords = []struct{ text, want string }{
	{"", `unknown chord "": no root at character 1 (no note name: write a capital letter A to G, then b or # where needed)`},
	{"H7", `unknown chord "H7": no root at character 1 ('H' does not start a note name: write a capital letter A to G, then b or # where needed)`},
	{"c", `unknown chord "c": no root at character 1 ('c' does not start a note name: write a capital letter A to G, then b or # where needed)`},
	{" C", `unknown chord " C": no root at character 1 (' ' does not start a note name: write a capital letter A to G, then b or # where needed)`},
	{"Cbbb", `unknown chord "Cbbb": no root at character 1 ("Cbbb" has more than two accidentals: write at most bb or ##)`},
	{"Cxyz", `unknown chord "Cxyz": "xyz" after "C" is not understood at character 2 ` + accepted},
	{"C♭7zz", `unknown chord "C♭7zz": "zz" after "C♭7" is not understood at character 4 ` + accepted},
	{"Cm7 ", `unknown chord "Cm7 ": " " after "Cm7" is not understood at character 4 ` + accepted},
	{"C8", `unknown chord "C8": "8" after "C" is not understood at character 2 ` + accepted},
	{"Cm5", `unknown chord "Cm5": "5" after "Cm" is not understood at character 3 ` + accepted},
	{"Cdim9", `unknown chord "Cdim9": "9" after "Cdim" is not understood at character 5 ` + accepted},
	{"Cdom", `unknown chord "Cdom": "dom" after "C" is not understood at character 2 ` + accepted},
	{"CmM", `unknown chord "CmM": "mM" after "C" is not understood at character 2 ` + accepted},
	{"Cmm", `unknown chord "Cmm": "m" after "Cm" is not understood at character 3 ` + accepted},
	{"C7maj7", `unknown chord "C7maj7": "maj7" after "C7" is not understood at character 3 ` + accepted},
	{"C9alt", `unknown chord "C9alt": "alt" after "C9" is not understood at character 3 ` + accepted},
	{"C-alt", `unknown chord "C-alt": "alt" after "C-" is not understood at character 3 ` + accepted},
	{"C4", `unknown chord "C4": "4" after "C" is not understood at character 2 ` + accepted},
	{"C-5", `unknown chord "C-5": "5" after "C-" is not understood at character 3 ` + accepted},
	{"C-2", `unknown chord "C-2": "2" after "C-" is not understood at character 3 ` + accepted},
	{"C7-11", `unknown chord "C7-11": "-11" after "C7" is not understood at character 3 ` + accepted},
	{"C7(b9/E", `unknown chord "C7(b9/E": "(" is not closed at character 3 (alterations and additions may stand in parentheses, as in C7(b9,#11))`},
	{"C7(b9/E)", `unknown chord "C7(b9/E)": "E)" after "C7(b9/" is not understood at character 7 ` + accepted},
	{"C7/9/", `unknown chord "C7/9/": no bass after the slash at character 6 (after the slash write the name of the bass, as in C/E)`},
	{"C7/7", `unknown chord "C7/7": no bass after the slash at character 4 (after the slash write the name of the bass, as in C/E)`},
	{"Comit7", `unknown chord "Comit7": "omit7" after "C" is not understood at character 2 ` + accepted},
	{"N.C.", `unknown chord "N.C.": "N.C." is no chord at character 1 (a bed always holds one: leave this out and fade the bed there)`},
	{"nc", `unknown chord "nc": "nc" is no chord at character 1 (a bed always holds one: leave this out and fade the bed there)`},
	// Characters are counted as the eye sees them, one to an accidental.
	{"B𝄫7♭5zz", `unknown chord "B𝄫7♭5zz": "zz" after "B𝄫7♭5" is not understood at character 6 ` + accepted},
	{"E♭(\ufe0e", "unknown chord \"E♭(\ufe0e\": \"(\" is not closed at character 3 (alterations and additions may stand in parentheses, as in C7(b9,#11))"},
	{"CΔ9♯11/x", `unknown chord "CΔ9♯11/x": no bass after the slash at character 8 (after the slash write the name of the bass, as in C/E)`},
	{"Cadd", `unknown chord "Cadd": "add" after "C" is not understood at character 2 ` + accepted},
	{"Cadd5", `unknown chord "Cadd5": "add5" after "C" is not understood at character 2 ` + accepted},
	{"C7b7", `unknown chord "C7b7": "b7" after "C7" is not understood at character 3 ` + accepted},
	{"C7#13", `unknown chord "C7#13": "#13" after "C7" is not understood at character 3 ` + accepted},
	{"Cno7", `unknown chord "Cno7": "no7" after "C" is not understood at character 2 ` + accepted},
	{"Csus3", `unknown chord "Csus3": "3" after "Csus" is not understood at character 5 ` + accepted},
	{"C()", `unknown chord "C()": ")" after "C(" is not understood at character 3 ` + accepted},
	{"C7(b9))", `unknown chord "C7(b9))": ")" after "C7(b9)" is not understood at character 7 ` + accepted},
	{"C7((b9))", `unknown chord "C7((b9))": "(b9))" after "C7(" is not understood at character 4 ` + accepted},
	{"C7(b9", `unknown chord "C7(b9": "(" is not closed at character 3 (alterations and additions may stand in parentheses, as in C7(b9,#11))`},
	{"C7(b9 F", `unknown chord "C7(b9 F": "(" is not closed at character 3 (alterations and additions may stand in parentheses, as in C7(b9,#11))`},
	{"C/", `unknown chord "C/": no bass after the slash at character 3 (after the slash write the name of the bass, as in C/E)`},
	{"C/3", `unknown chord "C/3": no bass after the slash at character 3 (after the slash write the name of the bass, as in C/E)`},
	{"C/e", `unknown chord "C/e": no bass after the slash at character 3 (after the slash write the name of the bass, as in C/E)`},
	{"C/Em", `unknown chord "C/Em": "m" after "C/E" is not understood at character 4 ` + accepted},
	{"C/E/G", `unknown chord "C/E/G": "/G" after "C/E" is not understood at character 4 ` + accepted},
	{"C\xff", `unknown chord "C\xff": "\xff" after "C" is not understood at character 2 ` + accepted},
	{"C" + strings.Repeat("z", 60), `unknown chord "C` + strings.Repeat("z", 39) + `…": "` + strings.Repeat("z", 40) + `…" after "C" is not understood at character 2 ` + accepted},
}

func TestParseChord(t *testing.T) {
	for _, tt := range goodChords {
		c, err := ParseChord(tt.text)
		if err != nil {
			t.Error(err)
			continue
		}
		if got, want := c.Classes(), pitch.SetOf(tt.semitones...); got != want {
			t.Errorf("%s sounds %v, want %v", tt.text, got, want)
		}
		if got := c.Symbol(); got != tt.symbol {
			t.Errorf("%s is written %s, want %s", tt.text, got, tt.symbol)
		}
	}
	for _, tt := range badChords {
		if c, err := ParseChord(tt.text); err == nil || err.Error() != tt.want {
			t.Errorf("ParseChord(%q) = %v\n error %v\n want  %s", tt.text, c, err, tt.want)
		}
	}
}

func mustChord(t testing.TB, s string) Chord {
	t.Helper()
	c, err := ParseChord(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func FuzzParseChord(f *testing.F) {
	for _, tt := range goodChords {
		f.Add(tt.text)
	}
	for _, tt := range badChords {
		f.Add(tt.text)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseChord(s)
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\r") {
				t.Fatalf("ParseChord(%q): the error has more than one line: %v", s, err)
			}
			return
		}
		again, err := ParseChord(c.Symbol())
		if err != nil || again != c {
			t.Fatalf("%q is written %s, which reads as %v, %v", s, c.Symbol(), again, err)
		}
		if !c.quality.sound() {
			t.Fatalf("%q has two tones of one class: %v", s, c.Tones(nil))
		}
	})
}
