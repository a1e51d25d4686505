package midiio

import (
	"fmt"
	"strings"
	"testing"
)

// What a Linux 6.1 kernel said while bedd listened to 16:0 and played on 17:0,
// somebody's monitor was connected to 16:0 too, and a port had a name with
// quotes. The last client is as newer kernels write it (from the sources of
// Linux 6.5, seq_clientmgr).
const procClients = `Client info
  cur  clients : 8
  peak clients : 8
  max  clients : 192

Client   0 : "System" [Kernel Legacy]
  Port   0 : "Timer" (Rwe-)
  Port   1 : "Announce" (R-e-)
    Connecting To: 130:0
Client  14 : "Midi Through" [Kernel Legacy]
  Port   0 : "Midi Through Port-0" (RWe-)
Client  16 : "Virtual Raw MIDI 0-0" [Kernel Legacy]
  Port   0 : "VirMIDI 0-0" (RWeX)
    Connecting To: 129:0[r:0], 131:0
Client  17 : "Virtual Raw MIDI 0-1" [Kernel Legacy]
  Port   0 : "VirMIDI 0-1" (RWeX)
    Connected From: 128:0[r:0]
Client 128 : "bedd link" [User Legacy]
  Port   0 : "output 134.1" (R-e-)
    Connecting To: 17:0[r:0]
  Output pool :
    Pool size          : 500
    Cells in use       : 0
Client 129 : "bedd link" [User Legacy]
  Port   0 : "input 134.2" (-We-)
    Connected From: 16:0
  Input pool :
    Pool size          : 200
Client 131 : "The "good" monitor" [User Legacy]
  Port   0 : "in : "a"" (-We-)
    Connected From: 16:0
Client  20 : "Keys" [Kernel UMP MIDI1]
  UMP Endpoint: "Keys"
  UMP Block 0: "Group 1" [Active]
  Port   1 : "Group 1 (Keys)" (RWeX) [In/Out]
`

func TestParseClients(t *testing.T) {
	var list []string
	for _, p := range parseClients(procClients) {
		list = append(list, fmt.Sprintf("%d:%d %s|%s %v %v %v", p.client, p.port, p.clientName, p.portName, p.readable, p.writable, p.peers))
	}
	want := []string{
		"14:0 Midi Through|Midi Through Port-0 true true []",
		"16:0 Virtual Raw MIDI 0-0|VirMIDI 0-0 true true [129:0 131:0]",
		"17:0 Virtual Raw MIDI 0-1|VirMIDI 0-1 true true [128:0]",
		"128:0 bedd link|output 134.1 true false [17:0]",
		"129:0 bedd link|input 134.2 false true [16:0]",
		`131:0 The "good" monitor|in : "a" false true [16:0]`,
		"20:1 Keys|Group 1 (Keys) true true []",
	}
	if got := strings.Join(list, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
}

func TestPortsOf(t *testing.T) {
	all := parseClients(procClients)
	var list []string
	for _, p := range append(portsOf(In, all), portsOf(Out, all)...) {
		list = append(list, fmt.Sprintf("%v %d %s ours %v loop %v program %v", p.Way, p.Number, p, p.Ours, p.LoopThrough, p.Program))
	}
	want := []string{
		"input 0 Midi Through:Midi Through Port-0 14:0 ours false loop true program false",
		"input 1 Virtual Raw MIDI 0-0:VirMIDI 0-0 16:0 ours false loop false program false",
		"input 2 Virtual Raw MIDI 0-1:VirMIDI 0-1 17:0 ours false loop false program false",
		"input 3 bedd link:output 134.1 128:0 ours true loop false program false",
		"input 4 Keys:Group 1 (Keys) 20:1 ours false loop false program false",
		"output 0 Midi Through:Midi Through Port-0 14:0 ours false loop true program false",
		"output 1 Virtual Raw MIDI 0-0:VirMIDI 0-0 16:0 ours false loop false program false",
		"output 2 Virtual Raw MIDI 0-1:VirMIDI 0-1 17:0 ours false loop false program false",
		"output 3 bedd link:input 134.2 129:0 ours true loop false program false",
		`output 4 The "good" monitor:in : "a" 131:0 ours false loop false program true`,
		"output 5 Keys:Group 1 (Keys) 20:1 ours false loop false program false",
	}
	if got := strings.Join(list, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
}

func TestLinked(t *testing.T) {
	all := parseClients(procClients)
	for _, c := range []struct {
		own, address string
		want         bool
	}{
		{"output 134.1", "17:0", true},
		{"input 134.2", "16:0", true},
		{"output 134.1", "16:0", false}, // another device under its number
		{"output 134.9", "17:0", false}, // ours is gone
		{`in : "a"`, "16:0", false},     // not ours
	} {
		if got := linked(all, c.own, c.address); got != c.want {
			t.Errorf("%s to %s: %v, want %v", c.own, c.address, got, c.want)
		}
	}
}

func TestDescribe(t *testing.T) {
	for _, c := range []struct {
		goos, full, want string
	}{
		{"linux", "Keys 88:Keys 88 MIDI 1 24:0", "Keys 88:Keys 88 MIDI 1|24:0|Keys 88|hardware"},
		{"linux", "Midi Through:Midi Through Port-0 14:0", "Midi Through:Midi Through Port-0|14:0|Midi Through|loop"},
		{"linux", "RtMidi Input Client:RtMidi Input 129:0", "RtMidi Input Client:RtMidi Input|129:0|RtMidi Input Client|program"},
		{"linux", "bedd out:bedd 128:0", "bedd out:bedd|128:0|bedd out|ours"},
		{"linux", "bedd link:input 1.1 128:0", "bedd link:input 1.1|128:0|bedd link|ours"},
		{"linux", "beddings:out 128:0", "beddings:out|128:0|beddings|program"},
		{"linux", "bedd:bedd 24:0", "bedd:bedd|24:0|bedd|hardware"}, // a device of that name
		{"linux", "odd", "odd|#3|odd|hardware"},
		{"windows", "Keys 88 2", "Keys 88|#3|Keys 88|hardware"},
		{"windows", "Microsoft GS Wavetable Synth 2", "Microsoft GS Wavetable Synth|#3|Microsoft GS Wavetable Synth|program"},
		{"windows", "loopMIDI Port 2", "loopMIDI Port|#3|loopMIDI Port|loop"},
		{"darwin", "Keys 88", "Keys 88|#3|Keys 88|hardware"},
		{"darwin", "IAC Driver Bus 1", "IAC Driver Bus 1|#3|IAC Driver Bus 1|loop"},
		{"darwin", "bedd", "bedd|#3|bedd|ours"},
	} {
		p := describe(c.goos, In, 2, c.full)
		kind := "hardware"
		switch {
		case p.Ours:
			kind = "ours"
		case p.LoopThrough:
			kind = "loop"
		case p.Program:
			kind = "program"
		}
		if got := strings.Join([]string{p.Name, p.Address, p.Device(), kind}, "|"); got != c.want || p.Number != 2 || p.Hardware() != (kind == "hardware") {
			t.Errorf("%s: %q is %s, want %s", c.goos, c.full, got, c.want)
		}
	}
}

// Whatever the kernel may write: no panic, and what is listed can be found.
func FuzzParseClients(f *testing.F) {
	f.Add(procClients)
	for _, line := range []string{
		`Client  16 : "a`, `Client x : "a"`, "Client  1 : \"a\"\n  Port 0 : \"\"\n    Connecting To: ", "Port 0 : \"x\" (RW",
		"    Connected From: 1:0", "Client 1 : \"\" \n Port -1 : \"b\" (RWe)", "Client 1 : \"a\"\n Port 0 : \"b\" (",
	} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, text string) {
		all := parseClients(text)
		for _, way := range []Way{In, Out} {
			for i, p := range portsOf(way, all) {
				if p.Way != way || p.Number != i || p.Address == "" {
					t.Errorf("port %d: %+v", i, p)
				}
			}
		}
		for _, p := range all {
			if p.client <= 0 || p.port < 0 {
				t.Errorf("client %d, port %d", p.client, p.port)
			}
			for _, peer := range p.peers {
				if p.clientName == linkClient && !linked(all, p.portName, peer) {
					t.Errorf("%s is not linked to %q", p.portName, peer)
				}
			}
		}
	})
}
