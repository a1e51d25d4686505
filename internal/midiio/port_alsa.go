package midiio

import (
	"fmt"
	"strconv"
	"strings"
)

// The names under which bedd appears in the system. With the rtmidi driver each of
// its ports is a client of its own on Linux, and those that others may connect to
// have names that tools find with their first try.
const (
	ourName    = "bedd"
	linkClient = ourName + " link" // connected by bedd to a device
)

// ours reports whether a program of that name is bedd.
func ours(name string) bool {
	return name == ourName || strings.HasPrefix(name, ourName+" ")
}

// firstProgram is the least client number of the ALSA sequencer that belongs to
// a program; those below are the kernel's and the sound cards' (from the Linux
// kernel's sources, seq_clientmgr).
const firstProgram = 128

// clientPort is a port of the ALSA sequencer.
type clientPort struct {
	client, port int
	clientName   string
	portName     string
	readable     bool // others may take its messages
	writable     bool // others may send to it
	peers        []string
}

func (p *clientPort) address() string { return fmt.Sprintf("%d:%d", p.client, p.port) }

// parseClients reads /proc/asound/seq/clients, where the kernel tells of the
// sequencer's ports and of who is connected to whom:
//
//	Client  16 : "Virtual Raw MIDI 0-0" [Kernel]
//	  Port   0 : "VirMIDI 0-0" (RWeX)
//	    Connecting To: 128:0[real:0], 129:0
//
// Lines of other kinds are passed over. The system's own client 0 is left out.
func parseClients(text string) []clientPort {
	var ports []clientPort
	client, clientName := 0, ""
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if number, name, _, ok := quoted(line, "Client"); ok {
			client, clientName = number, name
			continue
		}
		if client == 0 {
			continue
		}
		if number, name, rest, ok := quoted(line, "Port"); ok {
			p := clientPort{client: client, port: number, clientName: clientName, portName: name}
			if len(rest) >= 3 && rest[0] == '(' {
				p.readable, p.writable = rest[1] == 'R', rest[2] == 'W'
			}
			ports = append(ports, p)
			continue
		}
		head, list, ok := strings.Cut(line, ": ")
		if ok && len(ports) > 0 && (head == "Connecting To" || head == "Connected From") {
			p := &ports[len(ports)-1]
			for peer := range strings.SplitSeq(list, ", ") {
				address, _, _ := strings.Cut(peer, "[")
				p.peers = append(p.peers, address)
			}
		}
	}
	return ports
}

// quoted reads a line such as `Port   0 : "VirMIDI 0-0" (RWeX)`. The name may
// have quotes inside.
func quoted(line, word string) (number int, name, rest string, ok bool) {
	after, ok := strings.CutPrefix(line, word+" ")
	if !ok {
		return 0, "", "", false
	}
	digits, after, ok := strings.Cut(after, ` : "`)
	if !ok {
		return 0, "", "", false
	}
	number, err := strconv.Atoi(strings.TrimSpace(digits))
	end := strings.LastIndexByte(after, '"')
	if err != nil || number < 0 || end < 0 {
		return 0, "", "", false
	}
	return number, after[:end], strings.TrimSpace(after[end+1:]), true
}

// portsOf are the ports of one direction, as others may use them.
func portsOf(way Way, all []clientPort) []PortInfo {
	var list []PortInfo
	for i := range all {
		p := &all[i]
		if way == In && !p.readable || way == Out && !p.writable {
			continue
		}
		list = append(list, describe("linux", way, len(list), fmt.Sprintf("%s:%s %s", p.clientName, p.portName, p.address())))
	}
	return list
}

// linked reports whether the port that bedd gave a name of its own is connected
// to an address.
func linked(all []clientPort, ownName, address string) bool {
	for i := range all {
		if p := &all[i]; p.clientName == linkClient && p.portName == ownName {
			for _, peer := range p.peers {
				if peer == address {
					return true
				}
			}
		}
	}
	return false
}

// describe says what a port is from the name that the driver has for it. On
// Linux that is client, port and address: "Keys:Keys MIDI 1 24:0". On Windows
// the driver puts the place in the list at the end; there and on macOS that is
// the address.
func describe(goos string, way Way, number int, full string) PortInfo {
	p := PortInfo{Way: way, Number: number, Name: full, Address: fmt.Sprintf("#%d", number+1)}
	switch goos {
	case "linux":
		space := strings.LastIndexByte(full, ' ')
		client, _, ok := strings.Cut(full[space+1:], ":")
		n, err := strconv.Atoi(client)
		if space < 0 || !ok || err != nil {
			break
		}
		p.Name, p.Address = full[:space], full[space+1:]
		p.Ours = ours(p.Device()) && n >= firstProgram
		p.LoopThrough = p.Device() == "Midi Through"
		p.Program = n >= firstProgram && !p.Ours
	case "windows":
		p.Name = strings.TrimSuffix(full, fmt.Sprintf(" %d", number))
		p.Program = strings.HasPrefix(p.Name, "Microsoft GS Wavetable") // from memory
		p.LoopThrough = strings.HasPrefix(p.Name, "loopMIDI")           // from memory
	case "darwin":
		p.Ours = ours(full)
		p.LoopThrough = strings.HasPrefix(full, "IAC Driver") || strings.HasPrefix(full, "IAC Bus") // from memory
	}
	return p
}
