package page

import (
	"net/netip"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestBucketsKeepTheirRate: in no stretch of time more than the burst and what has
// come since, and after a wait that it names there is a token.
func TestBucketsKeepTheirRate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := bucket{rate: rapid.Float64Range(1, 100).Draw(t, "rate"), burst: float64(rapid.IntRange(1, 20).Draw(t, "burst"))}
		now := time.Unix(1000, 0)
		var taken []time.Time
		for range rapid.IntRange(1, 200).Draw(t, "tries") {
			now = now.Add(time.Duration(rapid.Int64Range(0, int64(100*time.Millisecond)).Draw(t, "gap")))
			wait := b.take(now)
			if wait > 0 {
				now = now.Add(wait + time.Microsecond)
				if b.take(now) != 0 {
					t.Fatalf("nothing after a wait of %v", wait)
				}
			}
			taken = append(taken, now)
		}
		for i := range taken {
			for j := i; j < len(taken); j++ {
				if got, most := float64(j-i+1), b.burst+b.rate*taken[j].Sub(taken[i]).Seconds(); got > most+1e-6 {
					t.Fatalf("%v in %v, at most %v", got, taken[j].Sub(taken[i]), most)
				}
			}
		}
	})
}

func TestAClockThatGoesBackBringsNoTokens(t *testing.T) {
	now := time.Unix(1000, 0)
	b := bucket{rate: 10, burst: 2}
	b.take(now)
	b.take(now)
	if b.take(now.Add(-time.Hour)) == 0 || b.take(now) == 0 {
		t.Error("a third token")
	}
}

// TestRatesForgetOnlyTheQuiet: an address that asks too often gets no fresh bucket
// by the coming of others.
func TestRatesForgetOnlyTheQuiet(t *testing.T) {
	now := time.Unix(1000, 0)
	r := rates{now: func() time.Time { return now }, rate: requestsRate, burst: requestsBurst}
	peer := func(i int) netip.Addr { return netip.AddrFrom4([4]byte{10, 0, byte(i >> 8), byte(i)}) }
	for range requestsBurst {
		if !r.allow(peer(0)) {
			t.Fatal("refused within the burst")
		}
	}
	for i := 1; i < maxPeers; i++ {
		if !r.allow(peer(i)) {
			t.Fatalf("address %d is refused", i)
		}
	}
	for i := maxPeers; i < 3*maxPeers; i++ {
		if !r.allow(peer(i)) {
			t.Fatalf("address %d is kept out by the others", i)
		}
	}
	if r.allow(peer(0)) || len(r.peers) != maxPeers {
		t.Errorf("too many requests are let in, or %d addresses kept, want %d", len(r.peers), maxPeers)
	}
	now = now.Add(time.Second)
	if !r.allow(peer(3*maxPeers)) || len(r.peers) != 2 {
		t.Errorf("%d addresses are kept, want the busy one and the new one", len(r.peers))
	}
	for range requestsRate {
		if !r.allow(peer(0)) {
			t.Fatal("a second brings fewer than it should")
		}
	}
	if r.allow(peer(0)) {
		t.Error("a second brings more than it should")
	}
}
