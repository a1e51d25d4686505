package midiio

import (
	"fmt"
	"strings"
)

// Match finds the port that a pattern means: a port of exactly that name or
// address, or the only one with the pattern in its name, upper and lower case
// alike. Ports of bedd's own don't count. It fails with ErrNoPort when none fits
// and with ErrSeveral when several do, and its texts name those to choose from.
func Match(way Way, ports []PortInfo, pattern string) (PortInfo, error) {
	return match(way, ports, pattern, way.flag())
}

// match is Match, with the flag by which a port is named.
func match(way Way, ports []PortInfo, pattern, flag string) (PortInfo, error) {
	var others, parts, exact []PortInfo
	for _, p := range ports {
		if p.Ours {
			continue
		}
		others = append(others, p)
		switch {
		case p.Address == pattern || p.String() == pattern:
			return p, nil
		case strings.EqualFold(p.Name, pattern):
			exact = append(exact, p)
		case pattern != "" && strings.Contains(strings.ToLower(p.Name), strings.ToLower(pattern)):
			parts = append(parts, p)
		}
	}
	if len(exact) > 0 {
		parts = exact
	}
	switch {
	case len(parts) == 1:
		return parts[0], nil
	case len(others) == 0:
		return PortInfo{}, matchError{fmt.Sprintf("no MIDI %v matches %q: there is none at all; plug one in", way, pattern), ErrNoPort}
	case len(parts) == 0:
		return PortInfo{}, matchError{fmt.Sprintf("no MIDI %v matches %q: found %s; name one with %s", way, pattern, names(others), flag), ErrNoPort}
	case oneName(parts):
		return PortInfo{}, matchError{fmt.Sprintf("%d MIDI %vs are called %q: name one by its address with %s: %s", len(parts), way, parts[0].Name, flag, addresses(parts)), ErrSeveral}
	}
	return PortInfo{}, matchError{fmt.Sprintf("%d MIDI %vs match %q: %s; name one with %s", len(parts), way, pattern, names(parts), flag), ErrSeveral}
}

// matchError words a failed match and remembers its kind.
type matchError struct {
	text string
	kind error
}

func (e matchError) Error() string { return e.text }
func (e matchError) Unwrap() error { return e.kind }

func oneName(ports []PortInfo) bool {
	for _, p := range ports {
		if p.Name != ports[0].Name {
			return false
		}
	}
	return true
}

func names(ports []PortInfo) string {
	list := make([]string, len(ports))
	for i, p := range ports {
		list[i] = fmt.Sprintf("%q", p.Name)
	}
	return strings.Join(list, ", ")
}

func addresses(ports []PortInfo) string {
	list := make([]string, len(ports))
	for i, p := range ports {
		list[i] = p.Address
	}
	return strings.Join(list, ", ")
}
