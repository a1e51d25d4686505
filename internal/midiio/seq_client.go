//go:build linux

package midiio

import (
	"errors"
	"fmt"
	"iter"
	"os"
	"sync/atomic"
	"syscall"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// seqClient is one client of the sequencer: an open device. One goroutine at a
// time reads; see seq_wait.go for how it waits. The other requests never wait for
// anybody, and spare the scheduler's bookkeeping.
type seqClient struct {
	id uint8
	fd int

	poll   *pollReader // nil for a client that is read directly
	ending atomic.Bool // ends reading directly
}

// pollReader reads where Go's runtime waits for all files.
type pollReader struct {
	file *os.File
	conn syscall.RawConn

	buf  []byte // of the read that waits
	got  int
	fail unix.Errno
	try  func(fd uintptr) (done bool)
}

// newSeqClient takes over an open device that doesn't block.
func newSeqClient(fd int) (*seqClient, error) {
	p := &pollReader{file: os.NewFile(uintptr(fd), sequencerPath)}
	var err error
	if p.conn, err = p.file.SyscallConn(); err != nil {
		return nil, err
	}
	p.try = p.tryRead
	return &seqClient{fd: fd, poll: p}, nil
}

// newDirectClient takes over an open device to read it directly.
func newDirectClient(fd int) (*seqClient, error) {
	if err := unix.SetNonblock(fd, false); err != nil {
		return nil, err
	}
	return &seqClient{fd: fd}, nil
}

// openSeqClient opens the device under a name. It fails with ErrNoSequencer,
// ErrPermission or ErrFull.
func openSeqClient(name string, filter uint32) (*seqClient, error) {
	return openClient(name, filter, newSeqClient)
}

// openDirectClient is openSeqClient for a client that is read directly, where that
// is safe.
func openDirectClient(name string, filter uint32) (*seqClient, error) {
	if !mayReadDirectly() {
		return openSeqClient(name, filter)
	}
	c, err := openClient(name, filter, newDirectClient)
	if err != nil {
		doneReadingDirectly()
	}
	return c, err
}

func openClient(name string, filter uint32, take func(fd int) (*seqClient, error)) (*seqClient, error) {
	fd, err := unix.Open(sequencerPath, unix.O_RDWR|unix.O_CLOEXEC|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, sequencerError(fmt.Errorf("open %s: %w", sequencerPath, err))
	}
	c := &seqClient{fd: fd}
	if err := c.introduce(name, filter); err != nil {
		_ = unix.Close(fd)
		return nil, fmt.Errorf("MIDI sequencer: %w", err)
	}
	taken, err := take(fd)
	if err != nil {
		_ = unix.Close(fd)
		return nil, err
	}
	taken.id = c.id
	return taken, nil
}

func (c *seqClient) introduce(name string, filter uint32) error {
	var protocol, id int32
	if err := c.ask(seqProtocol, unsafe.Pointer(&protocol)); err != nil {
		return err
	}
	if major := protocol >> 16; major != seqProtocolMajor {
		return fmt.Errorf("it speaks protocol %d.%d, not %d", major, protocol>>8&0xFF, seqProtocolMajor)
	}
	if err := c.ask(seqClientID, unsafe.Pointer(&id)); err != nil {
		return err
	}
	c.id = uint8(id)
	info := seqClientInfo{client: id}
	if err := c.ask(seqGetClient, unsafe.Pointer(&info)); err != nil {
		return err
	}
	info.name, info.filter = seqText(name), filter
	return c.ask(seqSetClient, unsafe.Pointer(&info))
}

// close ends a read that waits: a direct one within some 10 ms, since so long the
// runtime lets a goroutine run before it asks it to pause. release must follow.
func (c *seqClient) close() {
	if c.poll != nil {
		_ = c.poll.file.Close()
		return
	}
	c.ending.Store(true)
}

// release gives the device back when nobody reads or writes any more.
func (c *seqClient) release() {
	if c.poll == nil {
		_ = unix.Close(c.fd)
		doneReadingDirectly()
	}
}

// ask makes a request of the device.
func (c *seqClient) ask(request uintptr, about unsafe.Pointer) error {
	if errno := c.request(request, about); errno != 0 {
		return errno
	}
	return nil
}

// request is ask without an allocation when it fails.
func (c *seqClient) request(request uintptr, about unsafe.Pointer) unix.Errno {
	for {
		_, _, errno := unix.RawSyscall(unix.SYS_IOCTL, uintptr(c.fd), request, uintptr(about))
		if errno != unix.EINTR {
			return errno
		}
	}
}

// read waits for events and gives them. It fails with an unix.Errno, or when the
// client is closed.
func (c *seqClient) read(buf []byte) ([]byte, error) {
	if c.poll != nil {
		return c.poll.read(buf)
	}
	for !c.ending.Load() {
		n, errno := readOnce(c.fd, buf)
		switch errno {
		case 0:
			return buf[:n], nil
		case unix.EINTR:
		default:
			return nil, errno
		}
	}
	return nil, os.ErrClosed
}

func (p *pollReader) read(buf []byte) ([]byte, error) {
	p.buf = buf
	if err := p.conn.Read(p.try); err != nil {
		return nil, err
	}
	if p.fail != 0 {
		return nil, p.fail
	}
	return buf[:p.got], nil
}

// tryRead reads what there is and reports whether there was anything.
func (p *pollReader) tryRead(fd uintptr) (done bool) {
	for {
		n, errno := readOnce(int(fd), p.buf)
		if errno == unix.EINTR {
			continue
		}
		p.got, p.fail = n, errno
		return errno != unix.EAGAIN
	}
}

// readOnce reads without the scheduler's knowing. Where a call of it begins is where
// the goroutine pauses if the runtime has asked it to; so it must be one.
//
//go:noinline
func readOnce(fd int, buf []byte) (n int, errno unix.Errno) {
	got, _, errno := unix.RawSyscall(unix.SYS_READ, uintptr(fd), uintptr(unsafe.Pointer(&buf[0])), uintptr(len(buf)))
	return int(got), errno
}

// write hands over one event and doesn't wait: one for now is delivered during
// the call or not at all.
func (c *seqClient) write(event []byte) error {
	for {
		n, _, errno := unix.RawSyscall(unix.SYS_WRITE, uintptr(c.fd), uintptr(unsafe.Pointer(&event[0])), uintptr(len(event)))
		switch {
		case errno == unix.EINTR:
		case errno != 0:
			return errno
		case int(n) != len(event):
			return fmt.Errorf("%d of %d bytes were taken", n, len(event))
		default:
			return nil
		}
	}
}

// maxPool is the greatest number of places that Linux gives a client, each way
// (from its sources, seq_clientmgr).
const maxPool = 2000

// growPools takes as many places for events as the kernel gives.
func (c *seqClient) growPools() {
	for size := int32(maxPool); size > 0; size /= 2 {
		pool := seqClientPool{client: int32(c.id)}
		if c.ask(seqGetPool, unsafe.Pointer(&pool)) != nil || size <= pool.inputPool {
			return
		}
		pool.inputPool, pool.outputPool = size, size
		if c.ask(seqSetPool, unsafe.Pointer(&pool)) == nil {
			return
		}
	}
}

// room is how many events another client has room for; there is false when the
// client has gone.
func (c *seqClient) room(of uint8) (cells int, there bool) {
	pool := seqClientPool{client: int32(of)}
	if c.request(seqGetPool, unsafe.Pointer(&pool)) != 0 {
		return 0, false
	}
	return int(pool.inputFree), true
}

// createPort makes a port with a number of our choice. Unless queue is noQueue, what
// arrives is stamped with that queue's time.
func (c *seqClient) createPort(number uint8, name string, capability uint32, queue int) error {
	info := seqPortInfo{
		addr: seqAddr{c.id, number}, name: seqText(name), capability: capability,
		kind: seqTypeMIDI | seqTypeSoftware | seqTypeProgram, midiChannels: 16, flags: seqGivenPort,
	}
	if queue != noQueue {
		info.flags |= seqStampsArrival | seqStampsReal
		info.timeQueue = uint8(queue)
	}
	return c.ask(seqCreatePort, unsafe.Pointer(&info))
}

func (c *seqClient) deletePort(number uint8) {
	_ = c.ask(seqDeletePort, unsafe.Pointer(&seqPortInfo{addr: seqAddr{c.id, number}}))
}

// allow changes what a port of ours may be used for.
func (c *seqClient) allow(number uint8, capability uint32) error {
	info := seqPortInfo{addr: seqAddr{c.id, number}}
	if err := c.ask(seqGetPort, unsafe.Pointer(&info)); err != nil {
		return err
	}
	info.capability = capability
	return c.ask(seqSetPort, unsafe.Pointer(&info))
}

// connect makes one port's messages go to another.
func (c *seqClient) connect(from, to seqAddr) error {
	return c.ask(seqSubscribe, unsafe.Pointer(&seqSubscription{sender: from, dest: to}))
}

func (c *seqClient) disconnect(from, to seqAddr) error {
	return c.ask(seqUnsubscribe, unsafe.Pointer(&seqSubscription{sender: from, dest: to}))
}

// connected reports whether one port's messages go to another.
func (c *seqClient) connected(from, to seqAddr) bool {
	return c.ask(seqGetConnection, unsafe.Pointer(&seqSubscription{sender: from, dest: to})) == nil
}

// readers are the ports that a port's messages go to.
func (c *seqClient) readers(of seqAddr) (list []seqAddr) {
	for query := (seqQuerySubs{root: of, kind: seqQueryReaders}); ; query.index++ {
		if c.ask(seqQueryReadersOf, unsafe.Pointer(&query)) != nil {
			return list
		}
		list = append(list, query.addr)
	}
}

// clients are all clients that are there, the system's own included.
func (c *seqClient) clients() iter.Seq[seqClientInfo] {
	return func(yield func(seqClientInfo) bool) {
		for info := (seqClientInfo{client: -1}); c.ask(seqNextClient, unsafe.Pointer(&info)) == nil; {
			if !yield(info) {
				return
			}
		}
	}
}

// ports lists all ports of the sequencer but the system's own.
func (c *seqClient) ports() []clientPort {
	var list []clientPort
	for client := range c.clients() {
		if client.client == seqSystemClient {
			continue
		}
		port := seqPortInfo{addr: seqAddr{uint8(client.client), 255}} // the one after is 0
		for c.ask(seqNextPort, unsafe.Pointer(&port)) == nil {
			list = append(list, newClientPort(&client, &port))
		}
	}
	return list
}

// port is what there is at an address.
func (c *seqClient) port(addr seqAddr) (clientPort, bool) {
	client, port := seqClientInfo{client: int32(addr.client)}, seqPortInfo{addr: addr}
	if c.ask(seqGetClient, unsafe.Pointer(&client)) != nil || c.ask(seqGetPort, unsafe.Pointer(&port)) != nil {
		return clientPort{}, false
	}
	return newClientPort(&client, &port), true
}

func newClientPort(client *seqClientInfo, port *seqPortInfo) clientPort {
	may := func(what uint32) bool { return port.capability&what == what && port.capability&seqNoExport == 0 }
	return clientPort{
		client: int(port.addr.client), port: int(port.addr.port),
		clientName: seqString(client.name), portName: seqString(port.name),
		readable: may(seqCanRead | seqMaySubscribe), writable: may(seqCanWrite | seqMayBeSent),
	}
}

// seqTimerRate is how often in a second the kernel's timer moves a queue on. In
// between the kernel adds what its clock says, so that a slow timer takes nothing
// from the stamps.
const seqTimerRate = 10

// startClock starts a queue to take time from. Without one all ages are 0.
func (c *seqClient) startClock() *seqClock {
	queue, err := c.startQueue()
	if err != nil {
		queue = noQueue
	}
	return newSeqClock(queue, func() (time.Duration, bool) { return c.queueTime(queue) })
}

const noQueue = -1

// queueTime is the time of a queue.
func (c *seqClient) queueTime(queue int) (now time.Duration, ok bool) {
	status := seqQueueStatus{queue: int32(queue)}
	if queue == noQueue || c.request(seqGetQueueStatus, unsafe.Pointer(&status)) != 0 {
		return 0, false
	}
	return time.Duration(status.seconds)*time.Second + time.Duration(status.nanos), true
}

func (c *seqClient) startQueue() (number int, err error) {
	info := seqQueueInfo{owner: int32(c.id), locked: 1, name: seqText(ourName)}
	if err := c.ask(seqCreateQueue, unsafe.Pointer(&info)); err != nil {
		return 0, err
	}
	timer := seqQueueTimer{queue: info.queue}
	if c.ask(seqGetQueueTimer, unsafe.Pointer(&timer)) == nil {
		timer.resolution = seqTimerRate
		_ = c.ask(seqSetQueueTimer, unsafe.Pointer(&timer)) // else it is as fast as it is
	}
	var start [seqEventSize]byte
	start[seqAtType], start[seqAtQueue] = seqStart, seqDirect
	start[seqAtDest], start[seqAtDest+1] = seqSystemClient, seqTimerPort
	start[seqAtData] = byte(info.queue)
	return int(info.queue), c.write(start[:])
}

// isFull reports whether an error means that there was no room.
func isFull(err error) bool {
	return errors.Is(err, unix.EAGAIN) || errors.Is(err, unix.ENOMEM) || errors.Is(err, unix.ENOSPC)
}
