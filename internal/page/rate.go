package page

import (
	"math"
	"net/netip"
	"sync"
	"time"
)

// bucket holds tokens: so many at most, so many more a second. It starts full.
type bucket struct {
	rate, burst float64
	spent       float64
	at          time.Time
}

// take takes a token, or gives how long the next one takes to come. A clock that
// goes back brings none.
func (b *bucket) take(now time.Time) (wait time.Duration) {
	if gone := now.Sub(b.at).Seconds(); gone > 0 {
		b.spent = max(0, b.spent-gone*b.rate)
		b.at = now
	}
	if lacks := b.spent + 1 - b.burst; lacks > 0 {
		return max(time.Duration(lacks/b.rate*float64(time.Second)), 1)
	}
	b.spent++
	return 0
}

// maxPeers is how many addresses are kept apart; beyond it the one that has asked for
// least is forgotten for a new one.
const maxPeers = 256

// rates gives a bucket to each address.
type rates struct {
	now         func() time.Time
	rate, burst float64
	mu          sync.Mutex
	peers       map[netip.Addr]*bucket
}

func (r *rates) allow(peer netip.Addr) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.now()
	b := r.peers[peer]
	if b == nil {
		if len(r.peers) >= maxPeers {
			r.forget(now)
		}
		if r.peers == nil {
			r.peers = map[netip.Addr]*bucket{}
		}
		b = &bucket{rate: r.rate, burst: r.burst}
		r.peers[peer] = b
	}
	return b.take(now) == 0
}

// forget drops the addresses whose buckets are full again, or else the one whose bucket
// is the fullest.
func (r *rates) forget(now time.Time) {
	var fullest netip.Addr
	least := math.Inf(1)
	for peer, b := range r.peers {
		spent := b.spent - now.Sub(b.at).Seconds()*b.rate
		if spent <= 0 {
			delete(r.peers, peer)
		}
		if spent < least {
			fullest, least = peer, spent
		}
	}
	delete(r.peers, fullest) // once more, where it has gone already
}
