package page

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// gate is a listener that lets in no more connections than it should, nor faster.
// One too many, or of an address that comes too often, is closed before anything is
// read of it, so that nobody waits behind it.
type gate struct {
	net.Listener
	done   chan struct{}
	close  sync.Once
	pace   bucket // of all; for the goroutine that accepts
	knocks rates  // of each address

	mu    sync.Mutex
	open  int
	peers map[netip.Addr]int
}

func newGate(listener net.Listener) *gate {
	return &gate{
		Listener: listener, done: make(chan struct{}), peers: map[netip.Addr]int{},
		pace:   bucket{rate: acceptRate, burst: acceptBurst},
		knocks: rates{now: time.Now, rate: connsRate, burst: connsBurst},
	}
}

// Accept waits for the next connection that may come in.
func (g *gate) Accept() (net.Conn, error) {
	for {
		for wait := g.pace.take(time.Now()); wait > 0; wait = g.pace.take(time.Now()) {
			select {
			case <-time.After(wait):
			case <-g.done:
				return nil, net.ErrClosed
			}
		}
		conn, err := g.Listener.Accept()
		if err != nil {
			return nil, err
		}
		tcp, _ := conn.(*net.TCPConn)
		peer := peerOf(conn.RemoteAddr())
		if !g.knocks.allow(peer) || !g.enter(peer) {
			if tcp != nil {
				_ = tcp.SetLinger(0) // reset: the system keeps nothing of it
			}
			conn.Close()
			continue
		}
		// What waits on its way to a slow reader is old when it gets there.
		if tcp != nil {
			_ = tcp.SetWriteBuffer(sendBuffer)
		}
		return &admitted{Conn: conn, leave: sync.OnceFunc(func() { g.leave(peer) })}, nil
	}
}

// Close ends the listener, and an Accept that waits.
func (g *gate) Close() error {
	g.close.Do(func() { close(g.done) })
	return g.Listener.Close()
}

func (g *gate) enter(peer netip.Addr) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.open >= maxConns || !peer.IsLoopback() && g.peers[peer] >= maxPerPeer {
		return false
	}
	g.open++
	g.peers[peer]++
	return true
}

func (g *gate) leave(peer netip.Addr) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.open--
	if g.peers[peer]--; g.peers[peer] == 0 {
		delete(g.peers, peer)
	}
}

// admitted is a connection that the gate counts until it is closed.
type admitted struct {
	net.Conn
	leave func()
}

func (a *admitted) Close() error {
	a.leave()
	return a.Conn.Close()
}

// peerOf gives the address of the other side; one without is the zero address.
func peerOf(a net.Addr) netip.Addr {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return asPeer(tcp.AddrPort().Addr())
	}
	return netip.Addr{}
}

// asPeer is what stands for whoever has an address: of IPv6 the first 64 bits, since
// every device has all the others of them to itself (RFC 4291, 2.5.1).
func asPeer(a netip.Addr) netip.Addr {
	a = a.Unmap().WithZone("")
	if a.Is6() && !a.IsLoopback() {
		prefix, _ := a.Prefix(64)
		return prefix.Addr()
	}
	return a
}
