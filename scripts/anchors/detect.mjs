// Prints the names that tonal detects for every set of two and more notes over C:
// the pitch classes, then the names in its order, best first.
// Run by scripts/anchors/expect, which gives the folder of the packages.
import { createRequire } from 'node:module'

const require = createRequire(process.argv[2] + '/')
const { Chord } = require('tonal')
const { version } = require('tonal/package.json')

const names = 'C Db D Eb E F F# G Ab A Bb B'.split(' ')
console.log(`# pitch classes sounding over C, the names that tonal ${version} (npm, MIT) detects, best first`)
for (let set = 1; set < 1 << 12; set += 2) {
	const classes = names.map((_, i) => i).filter((i) => (set >> i) & 1)
	const found = Chord.detect(classes.map((i) => names[i]))
	if (found.length > 0) console.log([classes.join(' '), ...found].join('\t'))
}
