package page

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// gate is a listener that lets in no more connections than it should, nor faster:
// those beyond wait in the system's queue, or are closed.
type gate struct {
	net.Listener
	done  chan struct{}
	close sync.Once
	pace  bucket // for the goroutine that accepts

	mu    sync.Mutex
	open  int
	peers map[netip.Addr]int
}

func newGate(listener net.Listener) *gate {
	return &gate{Listener: listener, done: make(chan struct{}), peers: map[netip.Addr]int{}, pace: bucket{rate: connsRate, burst: connsBurst}}
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
		peer := peerOf(conn.RemoteAddr())
		if !g.enter(peer) {
			conn.Close()
			continue
		}
		// What waits on its way to a slow reader is old when it gets there.
		if tcp, ok := conn.(*net.TCPConn); ok {
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
		return tcp.AddrPort().Addr().Unmap()
	}
	return netip.Addr{}
}
