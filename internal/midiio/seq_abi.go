//go:build linux

package midiio

import "unsafe"

// What the kernel's sequencer device takes and gives: sizes, places and numbers
// from its public header include/uapi/sound/asequencer.h as Linux 6.1.187 has it
// (sequencer protocol 1.0.3). The layouts have been the same since protocol 1.0.0;
// TestSeqLayout compares them with the header of the machine it runs on.

// seqAddr is the address of a port.
type seqAddr struct{ client, port uint8 }

// The system's own client, its ports, and the addresses with a meaning.
const (
	seqSystemClient  = 0
	seqTimerPort     = 0
	seqAnnouncePort  = 1
	seqSubscribers   = 254 // as a destination: every port that is connected
	seqDirect        = 253 // as a queue: none, delivered at once
	seqProtocolMajor = 1
)

// Kinds of events.
const (
	seqNoteOn          = 6
	seqNoteOff         = 7
	seqKeyPressure     = 8
	seqController      = 10
	seqProgram         = 11
	seqChannelPressure = 12
	seqPitchBend       = 13
	seqControl14       = 14
	seqNRPN            = 15
	seqRPN             = 16
	seqSongPosition    = 20
	seqSongSelect      = 21
	seqQuarterFrame    = 22
	seqStart           = 30
	seqContinue        = 31
	seqStop            = 32
	seqTimingClock     = 36
	seqTuneRequest     = 40
	seqReset           = 41
	seqActiveSensing   = 42
	seqClientStart     = 60
	seqClientExit      = 61
	seqClientChange    = 62
	seqPortStart       = 63
	seqPortExit        = 64
	seqPortChange      = 65
	seqSubscribed      = 66
	seqUnsubscribed    = 67
	seqSysEx           = 130
	seqKernelError     = 150
)

// Flags of an event.
const (
	seqStampReal      = 1 << 0
	seqLengthVariable = 1 << 2
	seqLengthMask     = 3 << 2
	seqLengthBits     = 0x3FFF_FFFF // of a variable length; the others are the kernel's
)

// What a port may be used for, what it is, and how it is treated.
const (
	seqCanRead       = 1 << 0
	seqCanWrite      = 1 << 1
	seqMaySubscribe  = 1 << 5 // to read
	seqMayBeSent     = 1 << 6 // a subscription to write
	seqNoExport      = 1 << 7
	seqTypeMIDI      = 1 << 1
	seqTypeSoftware  = 1 << 17
	seqTypeProgram   = 1 << 20
	seqGivenPort     = 1 << 0
	seqStampsArrival = 1 << 1
	seqStampsReal    = 1 << 2
	seqFilterBounce  = 1 << 2 // of a client: tell it of what could not be delivered
	seqQueryReaders  = 0      // of a query: who takes a port's messages
)

// Places in an event, which is seqEventSize bytes long. A variable one's data
// follow it, in a read filled up to a multiple of that size.
const (
	seqEventSize  = 28
	seqAtType     = 0
	seqAtFlags    = 1
	seqAtQueue    = 3
	seqAtSeconds  = 4
	seqAtNanos    = 8
	seqAtSource   = 12
	seqAtDest     = 14
	seqAtData     = 16
	seqAtChannel  = seqAtData
	seqAtNote     = seqAtData + 1
	seqAtVelocity = seqAtData + 2
	seqAtParam    = seqAtData + 4
	seqAtValue    = seqAtData + 8
	seqAtLength   = seqAtData
	seqAtErrno    = seqAtData + 2 // why a delivery failed
)

type seqClientInfo struct {
	client          int32
	kind            int32
	name            [64]byte
	filter          uint32
	multicastFilter [8]byte
	eventFilter     [32]byte
	ports           int32
	lost            int32
	card            int32
	pid             int32
	midiVersion     uint32
	_               [52]byte
}

type seqClientPool struct {
	client     int32
	outputPool int32
	inputPool  int32
	outputRoom int32
	outputFree int32
	inputFree  int32
	_          [64]byte
}

type seqPortInfo struct {
	addr         seqAddr
	name         [64]byte
	capability   uint32
	kind         uint32
	midiChannels int32
	midiVoices   int32
	synthVoices  int32
	readUse      int32
	writeUse     int32
	_            uintptr
	flags        uint32
	timeQueue    uint8
	_            [59]byte
}

type seqQueueInfo struct {
	queue  int32
	owner  int32
	locked uint8 // the lowest bit
	name   [64]byte
	flags  uint32
	_      [60]byte
}

type seqQueueStatus struct {
	queue   int32
	events  int32
	tick    uint32
	seconds uint32
	nanos   uint32
	running int32
	flags   int32
	_       [64]byte
}

type seqQueueTimer struct {
	queue      int32
	kind       int32
	timer      [5]int32
	resolution uint32 // in Hz
	_          [64]byte
}

type seqSubscription struct {
	sender, dest seqAddr
	voices       uint32
	flags        uint32
	queue        uint8
	_            [3]byte
	_            [64]byte
}

type seqQuerySubs struct {
	root  seqAddr
	kind  int32
	index int32
	count int32
	addr  seqAddr
	queue uint8
	flags uint32
	_     [64]byte
}

// Requests to the device, numbered as most processors have it; those that number
// otherwise (MIPS, PowerPC) are not supported.
var (
	seqProtocol       = seqRequest(seqReads, 0x00, unsafe.Sizeof(int32(0)))
	seqClientID       = seqRequest(seqReads, 0x01, unsafe.Sizeof(int32(0)))
	seqGetClient      = seqRequest(seqReads|seqWrites, 0x10, unsafe.Sizeof(seqClientInfo{}))
	seqSetClient      = seqRequest(seqWrites, 0x11, unsafe.Sizeof(seqClientInfo{}))
	seqCreatePort     = seqRequest(seqReads|seqWrites, 0x20, unsafe.Sizeof(seqPortInfo{}))
	seqDeletePort     = seqRequest(seqWrites, 0x21, unsafe.Sizeof(seqPortInfo{}))
	seqGetPort        = seqRequest(seqReads|seqWrites, 0x22, unsafe.Sizeof(seqPortInfo{}))
	seqSetPort        = seqRequest(seqWrites, 0x23, unsafe.Sizeof(seqPortInfo{}))
	seqSubscribe      = seqRequest(seqWrites, 0x30, unsafe.Sizeof(seqSubscription{}))
	seqUnsubscribe    = seqRequest(seqWrites, 0x31, unsafe.Sizeof(seqSubscription{}))
	seqCreateQueue    = seqRequest(seqReads|seqWrites, 0x32, unsafe.Sizeof(seqQueueInfo{}))
	seqGetQueueStatus = seqRequest(seqReads|seqWrites, 0x40, unsafe.Sizeof(seqQueueStatus{}))
	seqGetQueueTimer  = seqRequest(seqReads|seqWrites, 0x45, unsafe.Sizeof(seqQueueTimer{}))
	seqSetQueueTimer  = seqRequest(seqWrites, 0x46, unsafe.Sizeof(seqQueueTimer{}))
	seqGetPool        = seqRequest(seqReads|seqWrites, 0x4B, unsafe.Sizeof(seqClientPool{}))
	seqSetPool        = seqRequest(seqWrites, 0x4C, unsafe.Sizeof(seqClientPool{}))
	seqQueryReadersOf = seqRequest(seqReads|seqWrites, 0x4F, unsafe.Sizeof(seqQuerySubs{}))
	seqGetConnection  = seqRequest(seqReads|seqWrites, 0x50, unsafe.Sizeof(seqSubscription{}))
	seqNextClient     = seqRequest(seqReads|seqWrites, 0x51, unsafe.Sizeof(seqClientInfo{}))
	seqNextPort       = seqRequest(seqReads|seqWrites, 0x52, unsafe.Sizeof(seqPortInfo{}))
)

const (
	seqWrites = 1 << 30
	seqReads  = 2 << 30
)

func seqRequest(direction, number, size uintptr) uintptr {
	return direction | size<<16 | 'S'<<8 | number
}

// seqText is a name as the kernel keeps it: ended by a zero, cut to fit.
func seqText(name string) (field [64]byte) {
	copy(field[:len(field)-1], name)
	return field
}

func seqString(field [64]byte) string {
	for i, b := range field {
		if b == 0 {
			return string(field[:i])
		}
	}
	return string(field[:])
}
