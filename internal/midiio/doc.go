// Package midiio is everything that touches MIDI bytes: ports, thru, feet,
// ledger, files.
//
// Inside the package channels are 0…15 and note, controller and program
// numbers 0…127, as they are on the wire. A message is a byte slice that holds
// one whole message with its status byte. Times are durations since the
// session started, handed in by the caller.
package midiio
