// Voices a set of progressions with @tonaljs/voicing and @tonaljs/voice-leading:
// reads it as JSON, writes the voicings as note numbers and the time a chord.
// Run by the Go program beside it, which gives the folder of the packages.
import { createRequire } from 'node:module'
import { readFileSync } from 'node:fs'

const require = createRequire(process.argv[2] + '/')
const Voicing = require('@tonaljs/voicing')
const { topNoteDiff } = require('@tonaljs/voice-leading')
const { Note } = require('tonal')

const { low, high, dictionary, problems } = JSON.parse(readFileSync(0, 'utf8'))
const range = [Note.fromMidi(low), Note.fromMidi(high)]
const tasks = problems.map((p) => ({ chords: p.chords, start: p.start.map((n) => Note.fromMidi(n)) }))
const chords = tasks.reduce((n, t) => n + t.chords.length, 0)

const solve = (t) => Voicing.sequence(t.chords, range, dictionary, topNoteDiff, t.start)
const voicings = tasks.map((t) => solve(t).map((v) => v.map((n) => Note.midi(n))))

// The first rounds also warm the compiler up; the best counts.
let nanos = Infinity
for (let round = 0; round < 9; round++) {
	const begun = process.hrtime.bigint()
	let runs = 0
	do {
		for (const t of tasks) solve(t)
		runs++
	} while (process.hrtime.bigint() - begun < 300000000n)
	nanos = Math.min(nanos, Number(process.hrtime.bigint() - begun) / (runs * chords))
}
console.log(JSON.stringify({ voicings, nanos }))
