// Prints, for chord symbols made of roots and suffixes, the pitch classes that
// two independent libraries read: symbol, tonal's, chord-symbol's, each as
// numbers above C, or "-" where the library does not accept the symbol.
// Run by scripts/anchors/expect, which gives the folder of the packages.
import { createRequire } from 'node:module'

const require = createRequire(process.argv[2] + '/')
const { Chord, Note } = require('tonal')
// Its main file does not load under Node.
const parse = require('chord-symbol/lib/chord-symbol.js').chordParserFactory({ notationSystems: ['english'] })

// What charts contain, by kind. A group is joined with each of its endings.
const groups = [
	// triads
	['', ''], ['maj', 'M', 'ma', 'Maj', 'major'], ['m', 'min', 'mi', '-', 'minor', 'MI', 'MIN'],
	['dim', '°', 'o', 'º', 'mb5', 'm(b5)', 'DIM'], ['aug', '+', '(#5)', '+5', 'AUG'], ['5', '(b5)', 'm#5', 'm(#5)', '-5'],
	['no3', '(no3)', 'omit3', '(omit3)', 'no5', '(no5)', '(omit5)', 'mno5', 'm(no5)'],
	// sixths
	['6', 'M6', 'maj6', 'm6', 'min6', '-6', 'mi6'], ['69', '6/9', '6(9)', '6add9', '6(add9)', 'm69', 'm6/9', '-6/9', 'maj6/9'],
	['6sus4', '6sus2', '6#11', '6(#11)', '6/9#11', '69#11', '6no5', '6no3', 'm6add11', 'mb6', 'm(b6)', 'm6(b5)'],
	// sevenths
	['7', 'dom7', '(7)', 'maj7', 'M7', 'ma7', 'Maj7', 'MAJ7', 'MA7', 'Δ', 'Δ7', '∆', '△7', '^7', '^', '(maj7)', 'major7'],
	['m7', 'min7', 'mi7', '-7', 'MIN7', 'MI7', 'minor7', 'mMaj7', 'mM7', 'mmaj7', 'm(maj7)', 'm(M7)', 'mΔ', 'mΔ7', '-Δ7', '-maj7', 'm/maj7', 'm/M7', 'min(maj7)', 'miMA7', '-^7'],
	['m7b5', 'm7(b5)', 'min7b5', 'mi7(b5)', '-7b5', 'm7♭5', 'ø', 'ø7', 'Ø', 'Ø7', 'm7-5', '-7(b5)'],
	['dim7', '°7', 'o7', 'º7', 'dimM7', 'dim(maj7)', '°M7', 'oM7', '°(maj7)', 'dimmaj7'],
	['7b5', '7(b5)', '7-5', '7#5', '7(#5)', '7+5', '7+', '+7', 'aug7', '7♯5', '7aug', 'maj7b5', 'maj7(b5)', 'M7b5', 'maj7#5', 'maj7(#5)', 'M7#5', '+M7', '+maj7', 'augmaj7', 'aug(maj7)', 'Δ7#5', 'Δ#5', 'maj7+5', '7b5#5', 'm7#5', 'm7(#5)'],
	['7no3', '7(no3)', '7no5', '7(no5)', '7omit5', 'maj7no3', 'maj7(no5)', 'm7no5', '7(omit3)'],
	// ninths
	['9', 'dom9', 'maj9', 'M9', 'ma9', 'Δ9', '^9', 'm9', 'min9', 'mi9', '-9', 'mMaj9', 'mM9', 'm(maj9)', 'm9(maj7)', '-Δ9'],
	['7(9)', '7add9', 'maj7(9)', 'maj7add9', 'm7add9', 'm7(9)', '7/9', '9(13)', '9/13'],
	['9b5', '9(b5)', '9#5', '9(#5)', '9+', '+9', 'aug9', 'm9b5', 'm9(b5)', 'ø9', 'maj9#5', 'maj9(#5)', 'maj9b5', 'm9#5', '9no5', '9(no3)'],
	['7b9', '7(b9)', '7-9', '7♭9', '7#9', '7(#9)', '7+9', '7♯9', '7(b9,#9)', '7b9#9', '7(b9#9)', 'm7b9', 'm7(b9)', 'maj7#9', 'maj7b9', '7alt', 'alt', '7(alt)', '7ALT'],
	// elevenths
	['11', 'm11', 'min11', 'mi11', '-11', 'maj11', 'M11', 'm11b5', 'ø11', 'mMaj11', '11b9', '11(b9)'],
	['7(11)', '7add11', '7add4', 'm7add11', 'm7(11)', 'm7add4', 'maj7add11', 'm7(add11)', 'm7/11', '9add11'],
	['7#11', '7(#11)', '7♯11', '7+11', '9#11', '9(#11)', 'maj7#11', 'maj7(#11)', 'M7#11', 'Δ#11', 'Δ7#11', 'maj9#11', 'maj9(#11)', 'm7#11', 'maj#11', 'maj7#4', '7#4'],
	// thirteenths
	['13', 'dom13', 'maj13', 'M13', 'ma13', 'Δ13', 'm13', 'min13', 'mi13', '-13', 'mMaj13', '13no5'],
	['7(13)', '7add13', '7add6', 'maj7add13', 'maj7(13)', 'm7add13', 'm7(13)', '7/13', '7/6'],
	['13#11', '13(#11)', '13b9', '13(b9)', '13#9', '13(#9)', '13b5', '13b9#11', '13(b9,#11)', '13#9#11', 'maj13#11', 'maj13(#11)', 'm13b5'],
	['7b13', '7(b13)', '7♭13', '7-13', '9b13', '9(b13)', '7addb13', '7b6', '7(b9,b13)', '7b9b13', '7(b9b13)', '7(b9)(b13)', '7(b9/b13)', '7#9b13', '7(#9,b13)', '7#11b13', '9#11b13', '7b9#11b13', 'm7b13', 'mb13', 'maj7b13'],
	['7#5b9', '7(#5,b9)', '7b9#5', '7#5#9', '7(#5#9)', '7#9#5', '7b5b9', '7b5(b9)', '7b9b5', '7(b5,b9)', '7b5#9', '7#9b5', '7b9#11', '7(b9,#11)', '7#9#11', '7(#9,#11)', '9#5#11', '7#5b9#11'],
	// additions
	['2', 'add2', '(add2)', 'add9', '(add9)', '(9)', '(2)', 'ADD9', 'madd9', 'm(add9)', 'madd2', 'm(add2)', '-add9', 'minadd9', 'Madd9', 'majadd9', 'm2', 'addb9', '(addb9)', 'add#9', '(#9)', '(b9)', 'm(b9)'],
	['add4', '(add4)', 'add11', '(add11)', 'madd4', 'madd11', 'm(add11)', 'm(add4)', 'add#11', '(#11)', '(add#11)', 'add#4', '4', 'add6', 'add13', '(add13)', 'addb13', 'madd13', 'add9add11', 'add9(add11)', 'add9no3', '2no3', 'add9no5', 'dim(add9)', 'aug(add9)', '+add9', '+add#9', '6add11', '5add9', 'add7'],
	// suspensions
	['sus', 'sus4', '(sus4)', 'sus2', '(sus2)', '(sus)', 'SUS', 'SUS4', 'sus24', 'sus2sus4', 'sus42', 'sus4sus2', 'sus2/4', 'sus4add9', 'sus4(add9)', 'sus4(9)', 'sus2add11', 'sus9', 'sus7', 'sus13'],
	['7sus4', '7sus', '7(sus4)', '7sus2', '7(sus2)', 'maj7sus4', 'maj7sus2', 'M7sus4', 'M7sus2', 'm7sus4', 'm7sus', '9sus4', '9sus', '9(sus4)', 'maj9sus4', 'M9sus4', '13sus4', '13sus', '13(sus4)', '13sus2', '9sus2', '11sus', 'msus4', 'msus2'],
	['7sus4b9', '7b9sus4', '7b9sus', '7sus4(b9)', '7sus(b9)', '13sus4b9', '13b9sus4', '7sus4b9b13', '7b9b13sus4', '7sus4add13', '7sus4#5', '7#5sus4', 'M7#5sus4', '9sus4b13', 'aug(sus4)', 'dim7add9', '°7(b13)', 'ø(b13)', 'øb13', 'dim(b13)', 'm7b5(b9)', 'm7b5add11', 'ø(11)', 'dim9', '°9', 'dim11'],
]
const basses = ['', 'm', '7', 'maj7', 'm7', 'm7b5', 'dim7', 'sus4', '6/9', '6', 'add9', '7sus4', '9', '7b9', '7(b9)', '13', '7#9', 'aug', 'maj7#11', '7(b9,#11)', 'mMaj7']

const roots = ['Db', 'D', 'Eb', 'E', 'F', 'F#', 'Gb', 'G', 'Ab', 'A', 'Bb', 'B', 'C#', 'D#', 'G#', 'Cb', 'C♯', 'E♭', 'A#', 'E#', 'Fb', 'B#']
const over = ['E', 'G', 'Bb', 'D', 'F#', 'Ab', 'B', 'A', 'Eb', 'C#', 'F', 'Db', 'C', 'Gb']

const symbols = []
const add = (s) => { if (!symbols.includes(s)) symbols.push(s) }
const suffixes = [...new Set(groups.flat())]
suffixes.forEach((suffix, i) => {
	add('C' + suffix)
	for (let n = 0; n < 2; n++) add(roots[(2 * i + n) % roots.length] + suffix)
})
basses.forEach((suffix, i) => {
	for (let n = 0; n < 4; n++) {
		const root = ['C', ...roots][(4 * i + n) % (roots.length + 1)]
		add(root + suffix + '/' + over[(3 * i + n) % over.length])
	}
})
for (const root of ['C', ...roots]) for (const suffix of ['', 'm', '7', 'maj7', 'sus4', 'm7b5']) add(root + suffix)

const classOf = (name) => Note.chroma(name.replaceAll('♯', '#').replaceAll('♭', 'b'))
const list = (classes) => [...new Set(classes)].sort((a, b) => a - b).join(' ')

function byTonal(symbol) {
	const c = Chord.get(symbol)
	if (c.empty || !c.tonic) return '-'
	return list([...c.notes, ...(c.bass ? [c.bass] : [])].map(classOf))
}

function byChordSymbol(symbol) {
	const c = parse(symbol)
	if (c.error) return '-'
	const root = classOf(c.normalized.rootNote)
	const classes = c.normalized.semitones.map((s) => (s + root) % 12)
	if (c.normalized.bassNote) classes.push(classOf(c.normalized.bassNote))
	return list(classes)
}

const version = (name) => name + ' ' + require(name + '/package.json').version
console.log(`# symbol, pitch classes by ${version('tonal')}, by ${version('chord-symbol')} (MIT, npm); - is not accepted`)
for (const s of symbols) console.log([s, byTonal(s), byChordSymbol(s)].join('\t'))
