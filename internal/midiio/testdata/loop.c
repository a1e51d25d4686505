/* What a program on libasound has to do to pass notes on. It connects itself to
 * the port whose client and number it is given, says "ready", and goes on until it
 * is killed.
 *
 *   loop events CLIENT PORT   the least: an event in, the same event out
 *   loop bytes CLIENT PORT    as a program that deals in MIDI bytes: it waits for
 *                             its descriptors, makes bytes of the event and an
 *                             event of the bytes
 */
#include <alsa/asoundlib.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(int result, const char *what)
{
	if (result < 0) {
		fprintf(stderr, "loop: %s: %s\n", what, snd_strerror(result));
		exit(1);
	}
}

static int is_note(const snd_seq_event_t *event)
{
	return event->type == SND_SEQ_EVENT_NOTEON || event->type == SND_SEQ_EVENT_NOTEOFF;
}

static void send(snd_seq_t *seq, int port, snd_seq_event_t *event)
{
	snd_seq_ev_set_source(event, port);
	snd_seq_ev_set_subs(event);
	snd_seq_ev_set_direct(event);
	must(snd_seq_event_output_direct(seq, event), "send");
}

static void pass_events(snd_seq_t *seq, int out)
{
	snd_seq_event_t *event;

	for (;;) {
		must(snd_seq_event_input(seq, &event), "receive");
		if (is_note(event))
			send(seq, out, event);
	}
}

static void pass_bytes(snd_seq_t *seq, int out)
{
	snd_midi_event_t *coder;
	snd_seq_event_t *event, again;
	struct pollfd wait[4];
	unsigned char bytes[16];
	long n;
	int fds, got;

	must(snd_seq_nonblock(seq, 1), "nonblock");
	must(snd_midi_event_new(256, &coder), "coder");
	snd_midi_event_no_status(coder, 1);
	fds = snd_seq_poll_descriptors(seq, wait, 4, POLLIN);
	for (;;) {
		must(poll(wait, fds, -1), "poll");
		while ((got = snd_seq_event_input(seq, &event)) >= 0) {
			if (!is_note(event))
				continue;
			n = snd_midi_event_decode(coder, bytes, sizeof bytes, event);
			must(n, "decode");
			snd_seq_ev_clear(&again);
			must(snd_midi_event_encode(coder, bytes, n, &again), "encode");
			send(seq, out, &again);
		}
		if (got != -EAGAIN)
			must(got, "receive");
	}
}

int main(int argc, char **argv)
{
	const unsigned type = SND_SEQ_PORT_TYPE_MIDI_GENERIC | SND_SEQ_PORT_TYPE_APPLICATION;
	snd_seq_t *seq;
	int out;

	if (argc != 4 || (strcmp(argv[1], "events") && strcmp(argv[1], "bytes"))) {
		fprintf(stderr, "usage: loop events|bytes CLIENT PORT\n");
		return 2;
	}
	must(snd_seq_open(&seq, "default", SND_SEQ_OPEN_DUPLEX, 0), "open");
	must(snd_seq_set_client_name(seq, argv[1]), "name");
	must(snd_seq_create_simple_port(seq, "in", SND_SEQ_PORT_CAP_WRITE | SND_SEQ_PORT_CAP_SUBS_WRITE, type), "input");
	out = snd_seq_create_simple_port(seq, "out", SND_SEQ_PORT_CAP_READ | SND_SEQ_PORT_CAP_SUBS_READ, type);
	must(out, "output");
	must(snd_seq_connect_to(seq, out, atoi(argv[2]), atoi(argv[3])), "connect");
	puts("ready");
	fflush(stdout);
	if (strcmp(argv[1], "bytes"))
		pass_events(seq, out);
	pass_bytes(seq, out);
}
