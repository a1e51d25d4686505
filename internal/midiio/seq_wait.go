//go:build linux

package midiio

import (
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"unsafe"

	"golang.org/x/sys/unix"
)

// A goroutine that reads without the scheduler's knowing is woken by the kernel
// itself, as a program in C is. By the poller or by an ordinary blocking call a note
// goes through the scheduler's search for work, or rouses its monitor thread: a
// quarter of a note's way, or as much again.
//
// Two things make that safe. The runtime asks a goroutine to pause, for its garbage
// collector above all, by a signal, and repeats it until the goroutine does; the
// kernel would go on with the read after the signal, unless told to end it. And who
// sits in such a read keeps one of the scheduler's processors, so there is one more
// of them as long as somebody does.

// A goroutine that such a one rouses would have to be taken off its processor by
// another thread, which would first have to be woken for that. A bell is rung
// instead: by it the kernel wakes the thread that waits for the poller.

// rouser is a System whose receivers had better not put a value into a channel
// themselves.
type rouser interface {
	rouser(c chan<- struct{}) (rouse func())
}

// bell wakes a goroutine by way of the poller.
type bell struct {
	file *os.File
	one  uint64

	mu sync.Mutex
	fd int // or none when it is closed
}

const none = -1

func newBell() (*bell, error) {
	fd, err := unix.Eventfd(0, unix.EFD_CLOEXEC|unix.EFD_NONBLOCK)
	if err != nil {
		return nil, err
	}
	return &bell{fd: fd, file: os.NewFile(uintptr(fd), "bell"), one: 1}, nil
}

// ring never waits: a bell that has not been heard yet goes on ringing.
func (b *bell) ring() {
	b.mu.Lock()
	defer b.mu.Unlock()
	_, _, _ = unix.RawSyscall(unix.SYS_WRITE, uintptr(b.fd), uintptr(unsafe.Pointer(&b.one)), unsafe.Sizeof(b.one))
}

// pass puts a value into c whenever the bell rings, until it is closed.
func (b *bell) pass(c chan<- struct{}) {
	var rings [8]byte
	for {
		if _, err := b.file.Read(rings[:]); err != nil {
			return
		}
		notify(c)
	}
}

// close ends pass. Ringing has no effect afterwards.
func (b *bell) close() {
	b.mu.Lock()
	b.fd = none
	b.mu.Unlock()
	_ = b.file.Close()
}

// pauseSignal is what Go's runtime asks a goroutine to pause with (runtime, sigPreempt).
const pauseSignal = unix.SIGURG

// signalAction is the kernel's struct sigaction (linux/signal_types.h) as far as it
// is the same on the machines of plainActions, with room for the rest.
type signalAction struct {
	handler, flags uintptr
	rest           [8]uintptr
}

const (
	restartsCalls  = 0x10000000 // SA_RESTART in asm-generic/signal-defs.h
	signalMaskSize = 8          // bytes, where there are 64 signals
)

var plainActions = []string{"amd64", "arm64", "386", "arm", "riscv64"}

var processors sync.Mutex // taken while their number changes

// mayReadDirectly prepares the process for one more read that the scheduler doesn't
// know of, and reports whether that is safe here. Where it is, doneReadingDirectly
// must follow.
func mayReadDirectly() bool {
	if !pausesEndCalls() {
		return false
	}
	addProcessors(1)
	return true
}

func doneReadingDirectly() { addProcessors(-1) }

func addProcessors(n int) {
	processors.Lock()
	defer processors.Unlock()
	runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + n)
}

// pausesEndCalls sees to it that the runtime's signal ends a call that waits.
func pausesEndCalls() bool {
	if !slices.Contains(plainActions, runtime.GOARCH) || strings.Contains(os.Getenv("GODEBUG"), "asyncpreemptoff=1") {
		return false
	}
	action, ok := pauseAction(nil)
	if !ok || action.handler == 0 { // the runtime's handler isn't there
		return false
	}
	action.flags &^= restartsCalls
	if _, ok := pauseAction(&action); !ok {
		return false
	}
	action, ok = pauseAction(nil)
	return ok && action.flags&restartsCalls == 0
}

// pauseAction gives what becomes of the runtime's signal, and changes it unless
// change is nil.
func pauseAction(change *signalAction) (was signalAction, ok bool) {
	_, _, errno := unix.RawSyscall6(unix.SYS_RT_SIGACTION, uintptr(pauseSignal),
		uintptr(unsafe.Pointer(change)), uintptr(unsafe.Pointer(&was)), signalMaskSize, 0, 0)
	return was, errno == 0
}
