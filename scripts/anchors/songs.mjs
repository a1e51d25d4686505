// Writes invented songs in 24 keys: as compressed MusicXML by musicxml-io, as MIDI
// files without a key signature by midi-writer-js, as ABC for abcmidi and as
// LilyPond for python3-ly; keys.tsv says what is in them, kinds.tsv what chords are
// in kinds.musicxml. Run by scripts/anchors/songs, which gives the folder of the
// packages and where the songs go.
import { createRequire } from 'node:module'
import { writeFileSync } from 'node:fs'

const require = createRequire(process.argv[2] + '/')
const to = process.argv[3] + '/'
const { Note } = require('tonal')
const { parseAbc, serialize, serializeCompressed, addRehearsalMark } = require('musicxml-io')
const MidiWriter = require('midi-writer-js')

const majors = 'C Db D Eb E F F# G Ab A Bb B'.split(' ')
const minors = 'C C# D Eb E F F# G G# A Bb B'.split(' ')
const steps = {
	major: ['1P', '2M', '3M', '4P', '5P', '6M', '7M'],
	minor: ['1P', '2M', '3m', '4P', '5P', '6m', '7m'],
}

// A tune is eight bars of 4/4: [degree, octaves up, eighths, raised], 0 a rest. Its
// chords are one a bar: [degree, suffix]. The first phrase ends with the first rest.
const tunes = {
	major: [
		{
			tempo: 84,
			chords: [[1, ''], [6, 'm'], [4, ''], [5, ''], [1, ''], [4, ''], [5, '7'], [1, '']],
			notes: [[3, 0, 2], [2, 0, 2], [1, 0, 4], [6, -1, 2], [1, 0, 2], [3, 0, 2], [0, 0, 2], [4, 0, 4], [6, 0, 4], [5, 0, 8],
				[3, 0, 2], [4, 0, 2], [5, 0, 4], [6, 0, 4], [4, 0, 4], [2, 0, 2], [4, 0, 2], [7, -1, 4], [1, 0, 8]],
		},
		{
			tempo: 66,
			chords: [[1, ''], [5, ''], [2, 'm'], [4, ''], [6, 'm'], [2, 'm7'], [5, ''], [1, '']],
			notes: [[5, -1, 1], [1, 0, 3], [2, 0, 2], [3, 0, 2], [5, 0, 2], [2, 0, 4], [0, 0, 2], [4, 0, 4], [2, 0, 4], [6, 0, 2], [4, 0, 6],
				[3, 0, 4], [1, 0, 4], [2, 0, 4], [1, 0, 4], [7, -1, 4], [2, 0, 4], [1, 0, 8]],
		},
	],
	minor: [
		{
			tempo: 72,
			chords: [[1, 'm'], [6, ''], [4, 'm'], [5, ''], [1, 'm'], [3, ''], [5, '7'], [1, 'm']],
			notes: [[1, 0, 2], [3, 0, 2], [5, 0, 4], [6, 0, 4], [1, 1, 2], [0, 0, 2], [1, 1, 2], [6, 0, 2], [4, 0, 4], [5, 0, 4], [7, 0, 4, 1],
				[1, 1, 4], [5, 0, 4], [3, 0, 2], [5, 0, 2], [7, 0, 4], [2, 0, 4], [7, -1, 4, 1], [1, 0, 8]],
		},
		{
			tempo: 96,
			chords: [[1, 'm'], [4, 'm'], [1, 'm'], [7, ''], [3, ''], [4, 'm'], [5, ''], [1, 'm']],
			notes: [[5, 0, 3], [4, 0, 1], [3, 0, 2], [1, 0, 2], [4, 0, 2], [6, 0, 2], [0, 0, 4], [5, 0, 4], [3, 0, 4], [2, 0, 4], [7, -1, 4],
				[3, 0, 4], [5, 0, 4], [6, 0, 2], [4, 0, 6], [5, 0, 4], [7, 0, 4, 1], [1, 1, 8]],
		},
	],
}

const scaleNote = (tonic, mode, degree, raised) => {
	const name = Note.transpose(tonic, steps[mode][degree - 1])
	return raised ? Note.transpose(name, '1A') : name
}

// A note by name and octave: the tonic is the one in the octave from middle C.
const pitched = (tonic, mode, [degree, octave, , raised]) => {
	const at = Note.transpose(tonic + '4', steps[mode][degree - 1])
	const name = raised ? Note.transpose(at, '1A') : at
	return Note.pitchClass(name) + (Note.octave(name) + octave)
}

const abcNote = (name) => {
	const { letter, acc, oct } = Note.get(name)
	const sign = acc === '' ? '=' : acc.replaceAll('#', '^').replaceAll('b', '_')
	return sign + (oct >= 5 ? letter.toLowerCase() + "'".repeat(oct - 5) : letter + ','.repeat(4 - oct))
}

const lyNote = (name) => {
	const { letter, acc, oct } = Note.get(name)
	return letter.toLowerCase() + acc.replaceAll('#', 'is').replaceAll('b', 'es') + (oct >= 3 ? "'".repeat(oct - 3) : ','.repeat(3 - oct))
}
const lyLengths = { 1: '8', 2: '4', 3: '4.', 4: '2', 6: '2.', 8: '1' }

const abcHead = (title, tempo, key) => `X:1\nT:${title}\nM:4/4\nL:1/8\nQ:1/4=${tempo}\nK:${key}\n`

const titles = ['Herring Moon', 'The Long Slipway', 'Tar and Candles', 'Kittiwake']
const rows = []
const keys = [...majors.map((t) => [t, 'major']), ...minors.map((t) => [t, 'minor'])]
for (const [i, [tonic, mode]] of keys.entries()) {
	const tune = tunes[mode][i % 2]
	const key = tonic + (mode === 'minor' ? 'm' : '')
	const title = titles[i % titles.length]
	const number = String(i).padStart(2, '0')
	const chords = tune.chords.map(([degree, suffix]) => scaleNote(tonic, mode, degree) + suffix)
	let at = 0
	let abc = abcHead(title, tune.tempo, key)
	let ly = ''
	for (const n of tune.notes) {
		if (at % 8 === 0) abc += (at > 0 ? '|' : '') + `"${chords[at / 8]}"`
		const name = n[0] === 0 ? '' : pitched(tonic, mode, n)
		abc += (name ? abcNote(name) : 'z') + n[2]
		ly += ' ' + (name ? lyNote(name) : 'r') + lyLengths[n[2]]
		at += n[2]
	}
	writeFileSync(`${to}${number}.abc`, abc + '|]\n')
	writeFileSync(`${to}${number}.mxl`, serializeCompressed(parseAbc(abc + '|]\n')))
	if (i % 12 === 2 || i % 12 === 9) {
		const lyKey = lyNote(tonic + '3').replace(/'/g, '')
		writeFileSync(`${to}${number}.ly`, `\\version "2.22.0"\n\\header { title = "${title}" }\n{ \\key ${lyKey} \\${mode} \\time 4/4 \\tempo 4=${tune.tempo}${ly} }\n`)
	}

	const melody = new MidiWriter.Track()
	const harmony = new MidiWriter.Track()
	melody.addTrackName('Melody')
	melody.setTempo(tune.tempo)
	let wait = []
	for (const n of tune.notes) {
		const long = 'T' + n[2] * 64
		if (n[0] === 0) {
			wait.push(long)
			continue
		}
		melody.addEvent(new MidiWriter.NoteEvent({ pitch: [pitched(tonic, mode, n)], duration: long, wait, velocity: 80 }))
		wait = []
	}
	for (const [degree, suffix] of tune.chords) {
		const root = scaleNote(tonic, mode, degree) + '3'
		const third = Note.transpose(root, suffix.startsWith('m') ? '3m' : '3M')
		const tones = [root, third, Note.transpose(root, '5P')]
		if (suffix.endsWith('7')) tones.push(Note.transpose(root, '7m'))
		harmony.addEvent(new MidiWriter.NoteEvent({ pitch: tones, duration: '1', channel: 2, velocity: 60 }))
	}
	writeFileSync(`${to}${number}-js.mid`, new MidiWriter.Writer([melody, harmony]).buildFile())

	const figure = []
	for (const n of tune.notes) {
		if (n[0] === 0) break
		figure.push(Note.midi(pitched(tonic, mode, n)))
	}
	rows.push([number, key, title, tune.tempo, chords.join(' '), figure.join(' ')])
}
const version = (p) => `${p} ${require(p + '/package.json').version}`
writeFileSync(to + 'keys.tsv', '# song, key, title, tempo, chords, first phrase, by scripts/anchors/songs with ' + version('tonal') + ' (npm, MIT)\n' + rows.map((r) => r.join('\t')).join('\n') + '\n')

// The kinds of chords that musicxml-io knows in ABC.
const kinds = ['C', 'Cm', 'C7', 'Cmaj7', 'Cm7', 'Cdim', 'Cdim7', 'Caug', 'Csus2', 'Csus4', 'C6', 'Cm6', 'C9', 'Cm9',
	'C/E', 'Am/G', 'Bb', 'F#m7', 'Ab/C', 'Eb6', 'Dbmaj7', 'G#dim7', 'D7/F#']
let abc = abcHead('Kinds of chords', 90, 'C')
for (const [i, k] of kinds.entries()) abc += `"${k}"C8` + (i % 8 === 7 ? '|\n' : '|')
const score = parseAbc(abc)
writeFileSync(to + 'kinds.musicxml', serialize(addRehearsalMark ? marked(score) : score).replace(/ id="i[^"]*"/g, ''))
writeFileSync(to + 'kinds.tsv', '# the chords of kinds.musicxml\n' + kinds.join('\n') + '\n')

function marked(score) {
	let done = score
	for (const [measureIndex, text] of [[0, 'Verse'], [8, 'Chorus'], [16, 'Bridge']]) {
		const result = addRehearsalMark(done, { partIndex: 0, measureIndex, text, position: 0 })
		done = result.data ?? done
	}
	return done
}
