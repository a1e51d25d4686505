// Prints, for the fifteen major and fifteen minor key signatures, what tonal
// makes of them: "scales" gives key, kind, scale; "degrees" gives key, kind, and
// for each degree its triad and its seventh chord, each with its tones spelled.
// Run by scripts/anchors/expect, which gives the folder of the packages.
import { createRequire } from 'node:module'

const require = createRequire(process.argv[2] + '/')
const what = process.argv[3]
const { Chord, Key } = require('tonal')

const majors = 'Cb Gb Db Ab Eb Bb F C G D A E B F# C#'.split(' ')
const minors = 'Ab Eb Bb F C G D A E B F# C# G# D# A#'.split(' ')

const rows = []
for (const tonic of majors) rows.push([tonic, 'major', Key.majorKey(tonic)])
for (const tonic of minors) {
	const key = Key.minorKey(tonic)
	for (const kind of ['natural', 'harmonic', 'melodic']) {
		if (what === 'degrees' && kind === 'melodic') continue
		rows.push([tonic + 'm', kind, key[kind]])
	}
}

const withTones = (symbol) => symbol + '=' + Chord.get(symbol).notes.join(' ')
const { version } = require('tonal/package.json')
if (what === 'scales') {
	console.log(`# key, kind, scale by tonal ${version} (npm, MIT)`)
	for (const [name, kind, key] of rows) console.log([name, kind, key.scale.join(' ')].join('\t'))
} else {
	console.log(`# key, kind, the triad and seventh chord of each degree with their tones by tonal ${version} (npm, MIT)`)
	for (const [name, kind, key] of rows) {
		const chords = key.triads.flatMap((triad, i) => [triad, key.chords[i]])
		console.log([name, kind, ...chords.map(withTones)].join('\t'))
	}
}
