package soundcheck

// Cautions are what a sound check says wherever it makes or asks for sound. Your own
// country's and house's rules go first.
var Cautions = []string{
	"Local rules and the people who are responsible for the house go first.",
	"Before the first sound: faders and headphone volume down, then up slowly. A loose plug, a wrong fader or feedback is sudden and loud: nobody with an ear at a loudspeaker, headphones off while cables are plugged.",
	"Hearing: 85 dB(A) for eight hours a day is the limit that NIOSH recommends, and each 3 dB more halve the time. Through headphones WHO and ITU (H.870) allow 80 dB(A) for 40 hours a week, children less. Ringing ears are a sign to stop.",
	"Cables: along walls, taped or covered where people walk, never across a door; pedals where nobody treads by mistake.",
	"Mains wiring, anything hung overhead and anything damaged are for qualified people. Never lift an earth to stop a hum.",
}

// Holds says when the figures of a check stop being true, and what they never tell.
var Holds = []string{
	"The figures are relative to the voice at the desk. They hold while microphone, gain, equaliser and faders stay as they were: once the desk moves, check again.",
	"One microphone is not the room: what a listener hears under a balcony, beside a loudspeaker or through an echo is not in them.",
	"The index is for listeners of normal hearing, a steady sound and known words at a known level. It does not tell who is tired, elderly or listening in a second language: for them less bed is better.",
}
