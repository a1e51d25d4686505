package session

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
)

var (
	events = flag.Int("events", 20_000, "random events for TestInvariantsOnRandomNights")
	seed   = flag.Uint64("seed", 0, "of TestInvariantsOnRandomNights' first night; 0 takes any")
)

// aNight is how many events one has: several hundred chords, and a few losses
// of each port.
const aNight = 2500

// Whatever happens, in random rigs: players at several inputs, feet that bounce,
// the pedal, orders, resets, all notes off, ports that go and come back. The bed
// keeps its invariants (I1, I2, I7), each input's messages come through at once and
// unchanged, at each port that they are for, and nothing else does (I4, I5), every
// strike has its end (I3), what sounds is what bed and player want to sound, a port
// that stays hears nothing of the others' losses, a core that is late does the same
// as one that is punctual (I8), and the queues hold it all (I9).
func TestInvariantsOnRandomNights(t *testing.T) {
	first := *seed
	if first == 0 {
		first = rand.Uint64() >> 32
	}
	nights := (*events + aNight - 1) / aNight
	t.Logf("%d events in %d nights, seed %d", nights*aNight, nights, first)
	var next atomic.Int64
	var tell sync.Once
	var players sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		players.Go(func() {
			for i := next.Add(1) - 1; i < int64(nights); i = next.Add(1) - 1 {
				e := newNight(t, first+uint64(i), aNight)
				faults, came, _ := e.check()
				if len(faults) > 0 {
					next.Store(int64(nights)) // one is enough
					tell.Do(func() { t.Error(e.story(faults, came)) })
				}
			}
		})
	}
	players.Wait()
}

// check plays a night; of every fourth the core's lateness must not change what
// the bed does.
func (e *night) check() (faults []string, came int, sum uint64) {
	faults, came, sum = e.play(false, honest)
	if len(faults) > 0 || e.rig.Share || e.seed%4 > 0 {
		return faults, came, sum
	}
	faults, came, punctual := e.play(true, honest)
	if len(faults) == 0 && punctual != sum {
		faults = []string{"a punctual core makes the bed do something else than a late one (I8)"}
	}
	return faults, came, sum
}

// story tells of a fault by the least that leads to it.
func (e *night) story(faults []string, came int) string {
	least := *e
	least.happenings = slices.Clone(e.happenings[:came])
	for tries, size := 400, (len(least.happenings)+1)/2; size > 0 && tries > 0; {
		removed := false
		for from := 0; from < len(least.happenings) && tries > 0; tries-- {
			less := least
			to := min(from+size, len(least.happenings))
			less.happenings = slices.Concat(least.happenings[:from], least.happenings[to:])
			found, came, _ := less.check()
			if len(found) == 0 {
				from = to
				continue
			}
			less.happenings = less.happenings[:came]
			least, faults, removed = less, found, true
		}
		if !removed {
			size /= 2
		}
	}
	var b strings.Builder
	fmt.Fprintf(&b, "seed %d: %s\nto play it again: go test ./internal/session -run TestInvariantsOnRandomNights -events 1 -seed %d\n%v\n",
		e.seed, strings.Join(faults, "\n"), e.seed, &least)
	for _, h := range least.happenings {
		fmt.Fprintln(&b, h)
	}
	return b.String()
}
