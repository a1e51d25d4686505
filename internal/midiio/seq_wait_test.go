//go:build linux

package midiio

import (
	"encoding/binary"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"golang.org/x/sys/unix"
)

// directPair is a client that is read directly, and what feeds it.
func directPair(t *testing.T) (c *seqClient, device int) {
	t.Helper()
	if !slices.Contains(plainActions, runtime.GOARCH) {
		t.Skip("not on " + runtime.GOARCH)
	}
	pair, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_SEQPACKET|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		t.Fatal(err)
	}
	if !mayReadDirectly() {
		t.Fatal("it is not safe here")
	}
	if c, err = newDirectClient(pair[0]); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = unix.Close(pair[1]) })
	return c, pair[1]
}

// The garbage collector stops all goroutines several times a round. Were the read
// not ended for it, the first round would last until something arrives, which here
// is never.
func TestDirectReadLetsTheCollectorWork(t *testing.T) {
	c, _ := directPair(t)
	var readers sync.WaitGroup
	readers.Go(func() { _, _ = c.read(make([]byte, seqEventSize)) })
	var rounds runtime.MemStats
	runtime.ReadMemStats(&rounds)
	before := rounds.NumGC
	for range 200 {
		runtime.GC()
	}
	runtime.ReadMemStats(&rounds)
	if got := rounds.NumGC - before; got < 200 {
		t.Errorf("%d rounds of 200", got)
	}
	c.close()
	readers.Wait()
	c.release()
}

func TestDirectReadGivesAllInOrderWhileTheCollectorWorks(t *testing.T) {
	const events = 20_000
	c, device := directPair(t)
	var busy sync.WaitGroup
	var over atomic.Bool
	busy.Go(func() {
		for !over.Load() {
			runtime.GC()
		}
	})
	busy.Go(func() {
		var event [seqEventSize]byte
		for i := range uint32(events) {
			binary.NativeEndian.PutUint32(event[:], i)
			if _, err := unix.Write(device, event[:]); err != nil {
				t.Error(err)
				return
			}
		}
	})
	buf := make([]byte, seqEventSize)
	for want := range uint32(events) {
		read, err := c.read(buf)
		if err != nil || len(read) != seqEventSize {
			t.Fatal(len(read), err)
		}
		if got := binary.NativeEndian.Uint32(read); got != want {
			t.Fatalf("%d instead of %d", got, want)
		}
	}
	over.Store(true)
	busy.Wait()
	c.close()
	if _, err := c.read(buf); err == nil {
		t.Error("it reads on after its end")
	}
	c.release()
}

func TestDirectReadersKeepAProcessorEach(t *testing.T) {
	before := runtime.GOMAXPROCS(0)
	a, _ := directPair(t)
	b, _ := directPair(t)
	if got := runtime.GOMAXPROCS(0); got != before+2 {
		t.Errorf("%d processors for two readers, %d without", got, before)
	}
	for _, c := range []*seqClient{a, b} {
		c.close()
		c.release()
	}
	if got := runtime.GOMAXPROCS(0); got != before {
		t.Errorf("%d processors afterwards, %d before", got, before)
	}
}

func TestNoDirectReadWhereTheRuntimeMayNotInterrupt(t *testing.T) {
	t.Setenv("GODEBUG", "gctrace=0,asyncpreemptoff=1")
	if mayReadDirectly() {
		doneReadingDirectly()
		t.Error("the collector would wait for the next event")
	}
}

func TestBell(t *testing.T) {
	b, err := newBell()
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		b.ring() // nobody hears it yet
	}
	heard := make(chan struct{}, 1)
	var passing sync.WaitGroup
	passing.Go(func() { b.pass(heard) })
	<-heard
	for range 100 {
		b.ring()
		<-heard
	}
	b.close()
	passing.Wait()
	b.ring() // of no effect
}
