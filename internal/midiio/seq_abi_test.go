//go:build linux

package midiio

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"unsafe"
)

// What the kernel's header says, as a C compiler has it, against what we have:
// sizes, places, the numbers of requests, and every constant.
func TestSeqLayout(t *testing.T) {
	var (
		client  seqClientInfo
		pool    seqClientPool
		port    seqPortInfo
		queue   seqQueueInfo
		status  seqQueueStatus
		timer   seqQueueTimer
		connect seqSubscription
		query   seqQuerySubs
	)
	facts := []struct {
		inC  string
		ours uintptr
	}{
		{"SNDRV_SEQ_IOCTL_PVERSION", seqProtocol},
		{"SNDRV_SEQ_IOCTL_CLIENT_ID", seqClientID},
		{"SNDRV_SEQ_IOCTL_GET_CLIENT_INFO", seqGetClient},
		{"SNDRV_SEQ_IOCTL_SET_CLIENT_INFO", seqSetClient},
		{"SNDRV_SEQ_IOCTL_CREATE_PORT", seqCreatePort},
		{"SNDRV_SEQ_IOCTL_DELETE_PORT", seqDeletePort},
		{"SNDRV_SEQ_IOCTL_GET_PORT_INFO", seqGetPort},
		{"SNDRV_SEQ_IOCTL_SET_PORT_INFO", seqSetPort},
		{"SNDRV_SEQ_IOCTL_SUBSCRIBE_PORT", seqSubscribe},
		{"SNDRV_SEQ_IOCTL_UNSUBSCRIBE_PORT", seqUnsubscribe},
		{"SNDRV_SEQ_IOCTL_CREATE_QUEUE", seqCreateQueue},
		{"SNDRV_SEQ_IOCTL_GET_QUEUE_STATUS", seqGetQueueStatus},
		{"SNDRV_SEQ_IOCTL_GET_QUEUE_TIMER", seqGetQueueTimer},
		{"SNDRV_SEQ_IOCTL_SET_QUEUE_TIMER", seqSetQueueTimer},
		{"SNDRV_SEQ_IOCTL_GET_CLIENT_POOL", seqGetPool},
		{"SNDRV_SEQ_IOCTL_SET_CLIENT_POOL", seqSetPool},
		{"SNDRV_SEQ_IOCTL_QUERY_SUBS", seqQueryReadersOf},
		{"SNDRV_SEQ_IOCTL_GET_SUBSCRIPTION", seqGetConnection},
		{"SNDRV_SEQ_IOCTL_QUERY_NEXT_CLIENT", seqNextClient},
		{"SNDRV_SEQ_IOCTL_QUERY_NEXT_PORT", seqNextPort},

		{"sizeof(struct snd_seq_event)", seqEventSize},
		{"offsetof(struct snd_seq_event, type)", seqAtType},
		{"offsetof(struct snd_seq_event, flags)", seqAtFlags},
		{"offsetof(struct snd_seq_event, queue)", seqAtQueue},
		{"offsetof(struct snd_seq_event, time.time.tv_sec)", seqAtSeconds},
		{"offsetof(struct snd_seq_event, time.time.tv_nsec)", seqAtNanos},
		{"offsetof(struct snd_seq_event, source)", seqAtSource},
		{"offsetof(struct snd_seq_event, dest)", seqAtDest},
		{"offsetof(struct snd_seq_event, data)", seqAtData},
		{"offsetof(struct snd_seq_event, data.note.channel)", seqAtChannel},
		{"offsetof(struct snd_seq_event, data.control.channel)", seqAtChannel},
		{"offsetof(struct snd_seq_event, data.note.note)", seqAtNote},
		{"offsetof(struct snd_seq_event, data.note.velocity)", seqAtVelocity},
		{"offsetof(struct snd_seq_event, data.control.param)", seqAtParam},
		{"offsetof(struct snd_seq_event, data.control.value)", seqAtValue},
		{"offsetof(struct snd_seq_event, data.ext.len)", seqAtLength},
		{"offsetof(struct snd_seq_event, data.queue.queue)", seqAtData},
		{"offsetof(struct snd_seq_event, data.addr)", seqAtData},
		{"offsetof(struct snd_seq_event, data.connect.sender)", seqAtData},
		{"offsetof(struct snd_seq_event, data.quote.value)", seqAtErrno},
		{"offsetof(struct snd_seq_addr, client)", unsafe.Offsetof(seqAddr{}.client)},
		{"offsetof(struct snd_seq_addr, port)", unsafe.Offsetof(seqAddr{}.port)},

		{"offsetof(struct snd_seq_client_info, client)", unsafe.Offsetof(client.client)},
		{"offsetof(struct snd_seq_client_info, type)", unsafe.Offsetof(client.kind)},
		{"offsetof(struct snd_seq_client_info, name)", unsafe.Offsetof(client.name)},
		{"offsetof(struct snd_seq_client_info, filter)", unsafe.Offsetof(client.filter)},
		{"offsetof(struct snd_seq_client_info, multicast_filter)", unsafe.Offsetof(client.multicastFilter)},
		{"offsetof(struct snd_seq_client_info, event_filter)", unsafe.Offsetof(client.eventFilter)},
		{"offsetof(struct snd_seq_client_info, num_ports)", unsafe.Offsetof(client.ports)},
		{"offsetof(struct snd_seq_client_info, event_lost)", unsafe.Offsetof(client.lost)},
		{"offsetof(struct snd_seq_client_info, card)", unsafe.Offsetof(client.card)},
		{"offsetof(struct snd_seq_client_info, pid)", unsafe.Offsetof(client.pid)},
		{"offsetof(struct snd_seq_client_pool, client)", unsafe.Offsetof(pool.client)},
		{"offsetof(struct snd_seq_client_pool, output_pool)", unsafe.Offsetof(pool.outputPool)},
		{"offsetof(struct snd_seq_client_pool, input_pool)", unsafe.Offsetof(pool.inputPool)},
		{"offsetof(struct snd_seq_client_pool, output_room)", unsafe.Offsetof(pool.outputRoom)},
		{"offsetof(struct snd_seq_client_pool, output_free)", unsafe.Offsetof(pool.outputFree)},
		{"offsetof(struct snd_seq_client_pool, input_free)", unsafe.Offsetof(pool.inputFree)},
		{"offsetof(struct snd_seq_port_info, addr)", unsafe.Offsetof(port.addr)},
		{"offsetof(struct snd_seq_port_info, name)", unsafe.Offsetof(port.name)},
		{"offsetof(struct snd_seq_port_info, capability)", unsafe.Offsetof(port.capability)},
		{"offsetof(struct snd_seq_port_info, type)", unsafe.Offsetof(port.kind)},
		{"offsetof(struct snd_seq_port_info, midi_channels)", unsafe.Offsetof(port.midiChannels)},
		{"offsetof(struct snd_seq_port_info, midi_voices)", unsafe.Offsetof(port.midiVoices)},
		{"offsetof(struct snd_seq_port_info, synth_voices)", unsafe.Offsetof(port.synthVoices)},
		{"offsetof(struct snd_seq_port_info, read_use)", unsafe.Offsetof(port.readUse)},
		{"offsetof(struct snd_seq_port_info, write_use)", unsafe.Offsetof(port.writeUse)},
		{"offsetof(struct snd_seq_port_info, flags)", unsafe.Offsetof(port.flags)},
		{"offsetof(struct snd_seq_port_info, time_queue)", unsafe.Offsetof(port.timeQueue)},
		{"offsetof(struct snd_seq_queue_info, queue)", unsafe.Offsetof(queue.queue)},
		{"offsetof(struct snd_seq_queue_info, owner)", unsafe.Offsetof(queue.owner)},
		{"offsetof(struct snd_seq_queue_info, name)", unsafe.Offsetof(queue.name)},
		{"offsetof(struct snd_seq_queue_info, flags)", unsafe.Offsetof(queue.flags)},
		{"offsetof(struct snd_seq_queue_status, queue)", unsafe.Offsetof(status.queue)},
		{"offsetof(struct snd_seq_queue_status, events)", unsafe.Offsetof(status.events)},
		{"offsetof(struct snd_seq_queue_status, tick)", unsafe.Offsetof(status.tick)},
		{"offsetof(struct snd_seq_queue_status, time.tv_sec)", unsafe.Offsetof(status.seconds)},
		{"offsetof(struct snd_seq_queue_status, time.tv_nsec)", unsafe.Offsetof(status.nanos)},
		{"offsetof(struct snd_seq_queue_status, running)", unsafe.Offsetof(status.running)},
		{"offsetof(struct snd_seq_queue_status, flags)", unsafe.Offsetof(status.flags)},
		{"offsetof(struct snd_seq_queue_timer, queue)", unsafe.Offsetof(timer.queue)},
		{"offsetof(struct snd_seq_queue_timer, type)", unsafe.Offsetof(timer.kind)},
		{"offsetof(struct snd_seq_queue_timer, u.alsa.id)", unsafe.Offsetof(timer.timer)},
		{"offsetof(struct snd_seq_queue_timer, u.alsa.resolution)", unsafe.Offsetof(timer.resolution)},
		{"offsetof(struct snd_seq_port_subscribe, sender)", unsafe.Offsetof(connect.sender)},
		{"offsetof(struct snd_seq_port_subscribe, dest)", unsafe.Offsetof(connect.dest)},
		{"offsetof(struct snd_seq_port_subscribe, voices)", unsafe.Offsetof(connect.voices)},
		{"offsetof(struct snd_seq_port_subscribe, flags)", unsafe.Offsetof(connect.flags)},
		{"offsetof(struct snd_seq_port_subscribe, queue)", unsafe.Offsetof(connect.queue)},
		{"offsetof(struct snd_seq_query_subs, root)", unsafe.Offsetof(query.root)},
		{"offsetof(struct snd_seq_query_subs, type)", unsafe.Offsetof(query.kind)},
		{"offsetof(struct snd_seq_query_subs, index)", unsafe.Offsetof(query.index)},
		{"offsetof(struct snd_seq_query_subs, num_subs)", unsafe.Offsetof(query.count)},
		{"offsetof(struct snd_seq_query_subs, addr)", unsafe.Offsetof(query.addr)},
		{"offsetof(struct snd_seq_query_subs, queue)", unsafe.Offsetof(query.queue)},
		{"offsetof(struct snd_seq_query_subs, flags)", unsafe.Offsetof(query.flags)},

		{"SNDRV_SEQ_CLIENT_SYSTEM", seqSystemClient},
		{"SNDRV_SEQ_PORT_SYSTEM_TIMER", seqTimerPort},
		{"SNDRV_SEQ_PORT_SYSTEM_ANNOUNCE", seqAnnouncePort},
		{"SNDRV_SEQ_ADDRESS_SUBSCRIBERS", seqSubscribers},
		{"SNDRV_SEQ_QUEUE_DIRECT", seqDirect},
		{"SNDRV_PROTOCOL_MAJOR(SNDRV_SEQ_VERSION)", seqProtocolMajor},
		{"SNDRV_SEQ_TIME_STAMP_REAL", seqStampReal},
		{"SNDRV_SEQ_EVENT_LENGTH_VARIABLE", seqLengthVariable},
		{"SNDRV_SEQ_EVENT_LENGTH_MASK", seqLengthMask},
		{"SNDRV_SEQ_PORT_CAP_READ", seqCanRead},
		{"SNDRV_SEQ_PORT_CAP_WRITE", seqCanWrite},
		{"SNDRV_SEQ_PORT_CAP_SUBS_READ", seqMaySubscribe},
		{"SNDRV_SEQ_PORT_CAP_SUBS_WRITE", seqMayBeSent},
		{"SNDRV_SEQ_PORT_CAP_NO_EXPORT", seqNoExport},
		{"SNDRV_SEQ_PORT_TYPE_MIDI_GENERIC", seqTypeMIDI},
		{"SNDRV_SEQ_PORT_TYPE_SOFTWARE", seqTypeSoftware},
		{"SNDRV_SEQ_PORT_TYPE_APPLICATION", seqTypeProgram},
		{"SNDRV_SEQ_PORT_FLG_GIVEN_PORT", seqGivenPort},
		{"SNDRV_SEQ_PORT_FLG_TIMESTAMP", seqStampsArrival},
		{"SNDRV_SEQ_PORT_FLG_TIME_REAL", seqStampsReal},
		{"SNDRV_SEQ_FILTER_BOUNCE", seqFilterBounce},
		{"SNDRV_SEQ_QUERY_SUBS_READ", seqQueryReaders},

		{"SNDRV_SEQ_EVENT_NOTEON", seqNoteOn},
		{"SNDRV_SEQ_EVENT_NOTEOFF", seqNoteOff},
		{"SNDRV_SEQ_EVENT_KEYPRESS", seqKeyPressure},
		{"SNDRV_SEQ_EVENT_CONTROLLER", seqController},
		{"SNDRV_SEQ_EVENT_PGMCHANGE", seqProgram},
		{"SNDRV_SEQ_EVENT_CHANPRESS", seqChannelPressure},
		{"SNDRV_SEQ_EVENT_PITCHBEND", seqPitchBend},
		{"SNDRV_SEQ_EVENT_CONTROL14", seqControl14},
		{"SNDRV_SEQ_EVENT_NONREGPARAM", seqNRPN},
		{"SNDRV_SEQ_EVENT_REGPARAM", seqRPN},
		{"SNDRV_SEQ_EVENT_SONGPOS", seqSongPosition},
		{"SNDRV_SEQ_EVENT_SONGSEL", seqSongSelect},
		{"SNDRV_SEQ_EVENT_QFRAME", seqQuarterFrame},
		{"SNDRV_SEQ_EVENT_START", seqStart},
		{"SNDRV_SEQ_EVENT_CONTINUE", seqContinue},
		{"SNDRV_SEQ_EVENT_STOP", seqStop},
		{"SNDRV_SEQ_EVENT_CLOCK", seqTimingClock},
		{"SNDRV_SEQ_EVENT_TUNE_REQUEST", seqTuneRequest},
		{"SNDRV_SEQ_EVENT_RESET", seqReset},
		{"SNDRV_SEQ_EVENT_SENSING", seqActiveSensing},
		{"SNDRV_SEQ_EVENT_CLIENT_START", seqClientStart},
		{"SNDRV_SEQ_EVENT_CLIENT_EXIT", seqClientExit},
		{"SNDRV_SEQ_EVENT_CLIENT_CHANGE", seqClientChange},
		{"SNDRV_SEQ_EVENT_PORT_START", seqPortStart},
		{"SNDRV_SEQ_EVENT_PORT_EXIT", seqPortExit},
		{"SNDRV_SEQ_EVENT_PORT_CHANGE", seqPortChange},
		{"SNDRV_SEQ_EVENT_PORT_SUBSCRIBED", seqSubscribed},
		{"SNDRV_SEQ_EVENT_PORT_UNSUBSCRIBED", seqUnsubscribed},
		{"SNDRV_SEQ_EVENT_SYSEX", seqSysEx},
		{"SNDRV_SEQ_EVENT_KERNEL_ERROR", seqKernelError},
	}
	cc, err := exec.LookPath("cc")
	if err != nil {
		t.Skip("needs a C compiler: ", err)
	}
	dir := t.TempDir()
	build := func(body string) (program string, err error) {
		program = filepath.Join(dir, "layout")
		source := program + ".c"
		text := "#include <stddef.h>\n#include <stdio.h>\n#include <sys/ioctl.h>\n#include <sound/asequencer.h>\nint main(void) {\n" + body + "return 0; }\n"
		if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(cc, "-o", program, source).CombinedOutput(); err != nil {
			return "", fmt.Errorf("%w\n%s", err, out)
		}
		return program, nil
	}
	if _, err := build(""); err != nil {
		t.Skip("needs the kernel's header sound/asequencer.h: ", err)
	}
	var body strings.Builder
	for _, f := range facts {
		fmt.Fprintf(&body, "printf(\"%%lu\\n\", (unsigned long)(%s));\n", f.inC)
	}
	program, err := build(body.String())
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Fields(string(out))
	if len(lines) != len(facts) {
		t.Fatalf("%d lines for %d facts", len(lines), len(facts))
	}
	for i, f := range facts {
		if ours := fmt.Sprint(f.ours); lines[i] != ours {
			t.Errorf("%s is %s in C and %s here", f.inC, lines[i], ours)
		}
	}
}
