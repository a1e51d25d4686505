// Prints every message of a standard MIDI file, as npm's midi-file reads it: track,
// tick, bytes in base64. Meta events are left out.
// Arguments: the folder of the packages, the file.
import { createRequire } from "node:module";
import { readFileSync } from "node:fs";

const [folder, file] = process.argv.slice(2);
const { parseMidi } = createRequire(folder + "/")("midi-file");

const bytes = (e) => {
	const c = e.channel;
	switch (e.type) {
	case "noteOn": return [0x90 | c, e.noteNumber, e.velocity];
	case "noteOff": return [(e.byte9 ? 0x90 : 0x80) | c, e.noteNumber, e.velocity];
	case "noteAftertouch": return [0xa0 | c, e.noteNumber, e.amount];
	case "controller": return [0xb0 | c, e.controllerType, e.value];
	case "programChange": return [0xc0 | c, e.programNumber];
	case "channelAftertouch": return [0xd0 | c, e.amount];
	case "pitchBend": return [0xe0 | c, (e.value + 8192) & 127, (e.value + 8192) >> 7];
	case "sysEx": return [0xf0, ...e.data];
	case "endSysEx": return [...e.data];
	}
	throw new Error("an event of type " + e.type);
};

const rows = [];
for (const track of parseMidi(readFileSync(file)).tracks) {
	const name = track.find((e) => e.type === "trackName")?.text ?? "";
	let tick = 0;
	for (const e of track) {
		tick += e.deltaTime;
		if (!e.meta) rows.push({ track: name, tick, data: Buffer.from(bytes(e)).toString("base64") });
	}
}
console.log(JSON.stringify(rows));
