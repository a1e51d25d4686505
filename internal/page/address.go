package page

import (
	"fmt"
	"net"
	"net/netip"
	"strconv"
	"strings"
)

// DefaultAddress is this machine alone. The port is one that nobody can register
// (RFC 6335, 6: 49152…65535), above those that Linux gives to programs by itself;
// on a phone's keys 2333 spells bedd.
const DefaultAddress = "127.0.0.1:62333"

// ParseAddress reads where to serve the page: ADDRESS:PORT, the address in numbers
// or localhost, or nothing for all of this machine's addresses.
func ParseAddress(s string) (string, error) {
	rest, short := strings.CutPrefix(s, ":")
	if short {
		s = "0.0.0.0:" + rest
	}
	if port, ok := strings.CutPrefix(s, "localhost:"); ok {
		s = "127.0.0.1:" + port
	}
	a, err := netip.ParseAddrPort(s)
	if err != nil {
		return "", fmt.Errorf("--page %q is no address: write it as ADDRESS:PORT in numbers, as in %s, or 0.0.0.0:62333 for the whole network", s, DefaultAddress)
	}
	if a.Addr().IsMulticast() || a.Port() == 0 {
		return "", fmt.Errorf("--page %q cannot be served: use an address of this machine and a port 1…65535", s)
	}
	return a.String(), nil
}

// urls are what to type into a browser to see a page that is served at an address.
func urls(local netip.AddrPort) []string {
	if !local.Addr().IsUnspecified() {
		return []string{link(local)}
	}
	var out []string
	for _, a := range machineAddresses() {
		out = append(out, link(netip.AddrPortFrom(a, local.Port())))
	}
	if len(out) == 0 {
		out = append(out, link(netip.AddrPortFrom(netip.MustParseAddr("127.0.0.1"), local.Port())))
	}
	return out
}

func link(a netip.AddrPort) string { return "http://" + a.String() + "/" }

func portOf(a netip.AddrPort) string { return strconv.Itoa(int(a.Port())) }

// machineAddresses are those by which others reach this machine: of IPv4, which is
// easier to type, where there is any.
func machineAddresses() []netip.Addr {
	all, _ := net.InterfaceAddrs()
	var out, six []netip.Addr
	for _, a := range all {
		if p, err := netip.ParsePrefix(a.String()); err == nil && !p.Addr().IsLoopback() && !p.Addr().IsLinkLocalUnicast() {
			if a := p.Addr().Unmap(); a.Is4() {
				out = append(out, a)
			} else {
				six = append(six, a)
			}
		}
	}
	if len(out) == 0 {
		return six
	}
	return out
}
