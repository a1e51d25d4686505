package midiio

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Random streams of everything on a line that is too slow for them, and alarms
// that are late.
func TestPacerOnRandomStreams(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lateness := rapid.SampledFrom([]time.Duration{0, 100 * us, 1500 * us}).Draw(t, "late")
		l := newPacing(rapid.SampledFrom([]float64{DINBaud * 0.99, DINBaud, DINBaud * 1.01}).Draw(t, "baud"), func() time.Duration { return lateness })
		w := newPaceWatch(t, l)
		busy := rapid.IntRange(1, 8).Draw(t, "gap in ms")
		for range rapid.IntRange(1, 300).Draw(t, "messages") {
			l.until(l.now + time.Duration(rapid.IntRange(0, 1000*busy).Draw(t, "gap"))*us)
			w.step()
		}
		l.until(l.now + 10*time.Second)
		w.end()
	})
}

// paceWatch makes up a stream and checks what comes out.
type paceWatch struct {
	*rapid.T
	l      *pacing
	seen   int                       // of what came out
	down   map[[2]byte]time.Duration // the bed's notes and since when, as it means them
	zeros  int                       // how often the last of them has ended
	on     map[[2]byte]bool          // as they are
	levels map[[2]byte][]levelAt     // as they were meant
	level  map[[2]byte]byte          // as they are
	ends   map[[2]byte][]int         // by note: how often that had been when its ends were asked for that have not come
	orders [][]byte                  // of the ledger, not come out
	player []arrival                 // the player's, as sent
}

type levelAt struct {
	at    time.Duration
	value byte
}

func newPaceWatch(t *rapid.T, l *pacing) *paceWatch {
	return &paceWatch{T: t, l: l, down: map[[2]byte]time.Duration{}, on: map[[2]byte]bool{}, levels: map[[2]byte][]levelAt{},
		level: map[[2]byte]byte{}, ends: map[[2]byte][]int{}}
}

func (w *paceWatch) step() {
	channel := byte(rapid.IntRange(1, 2).Draw(w.T, "channel"))
	key := [2]byte{channel, byte(rapid.IntRange(40, 47).Draw(w.T, "key"))}
	switch what := rapid.IntRange(0, 19).Draw(w.T, "what"); {
	case what < 7: // a note of the bed's
		if _, down := w.down[key]; down {
			delete(w.down, key)
			w.ends[key] = append(w.ends[key], w.zeros)
			if len(w.down) == 0 {
				w.zeros++
			}
			void := w.l.Load().Overtaken
			w.send(Bed, off(key[0], key[1]))
			if w.l.Load().Overtaken > void { // its strike had not gone out
				w.ends[key] = w.ends[key][:len(w.ends[key])-1]
			}
		} else {
			w.down[key] = w.l.now
			w.send(Bed, on(key[0], key[1], 60))
		}
	case what < 10:
		v := byte(rapid.IntRange(0, 127).Draw(w.T, "level"))
		control11 := [2]byte{channel, 11}
		w.levels[control11] = append(w.levels[control11], levelAt{w.l.now, v})
		w.send(Bed, control(channel, 11, v))
	case what == 10:
		m := rapid.SampledFrom([][]byte{{0xC0 | channel, 89}, control(channel, 7, 90), control(channel, allNotesOff, 0)}).Draw(w.T, "order")
		w.orders = append(w.orders, m)
		w.send(Ledger, m)
	default:
		ch := byte(rapid.IntRange(8, 9).Draw(w.T, "player's channel"))
		v := byte(rapid.IntRange(0, 127).Draw(w.T, "value"))
		m := rapid.SampledFrom([][]byte{on(ch, 60, 80), off(ch, 60), on(ch, 61, 80), control(ch, 1, v), control(ch, damper, v), {0xD0 | ch, v},
			{0xE0 | ch, v, v}, {0xC0 | ch, v}, control(ch, dataMSB, v), {0xFA}, {0xFF}, {0xF0, 0x7E, 0x7F, 9, 1, 0xF7}}).Draw(w.T, "player's")
		w.player = append(w.player, arrival{w.l.now, Player, m})
		w.send(Player, m)
	}
}

func (w *paceWatch) send(from Source, msg []byte) {
	w.check() // what came meanwhile
	w.l.send(from, msg)
	w.check()
	if w.l.bed.n > maxPaced || w.l.values.n > maxPaced {
		w.Fatal("a queue has no bound")
	}
	if _, isValue := valueOf(msg); from == Player && !isValue {
		if last := w.l.got[len(w.l.got)-1]; last.at != w.l.now || string(last.msg) != string(msg) {
			w.Fatalf("% X of the player's waits", msg)
		}
	}
}

// check looks at what has come out since.
func (w *paceWatch) check() {
	for ; w.seen < len(w.l.got); w.seen++ {
		a := w.l.got[w.seen]
		if a.msg[0]&15 >= 8 || a.msg[0] >= sysexStart {
			continue
		}
		if len(w.orders) > 0 && string(a.msg) == string(w.orders[0]) {
			w.orders = w.orders[1:]
			continue
		}
		key := [2]byte{a.msg[0] & 15, a.msg[1]}
		switch isOn, isOff := noteEdge(a.msg); {
		case isOn && w.on[key]:
			w.Fatalf("note %v is struck twice", key)
		case isOn:
			w.on[key] = true
			w.checkLevel([2]byte{key[0], 11}, a.at)
		case isOff && !w.on[key]:
			w.Fatalf("note %v ends twice", key)
		case isOff:
			delete(w.on, key)
			if len(w.on) == 0 && w.ends[key][0] == w.zeros && len(w.down) > 0 {
				w.Fatalf("a hole: note %v ended, though since then others were to sound: %v", key, w.l.got)
			}
			w.ends[key] = w.ends[key][1:]
		default:
			w.level[key] = a.msg[2]
		}
	}
}

// checkLevel checks that no note is struck under a level above all that was meant
// for it, from when it was asked for until now.
func (w *paceWatch) checkLevel(control [2]byte, at time.Duration) {
	heard, meant := w.level[control], 0
	for i, l := range w.levels[control] {
		if i+1 == len(w.levels[control]) || w.levels[control][i+1].at >= at-500*time.Millisecond {
			meant = max(meant, int(l.value))
		}
	}
	if int(heard) > meant {
		w.Fatalf("a note is struck under level %d, meant are %d at most", heard, meant)
	}
}

func (w *paceWatch) end() {
	w.check()
	if len(w.orders) > 0 {
		w.Fatalf("%d messages in order never came, or not in order: % X", len(w.orders), w.orders)
	}
	for key := range w.down {
		if !w.on[key] {
			w.Fatalf("note %v never came", key)
		}
	}
	if len(w.on) != len(w.down) {
		w.Fatalf("%d notes sound, %d are meant", len(w.on), len(w.down))
	}
	for control, l := range w.levels {
		if want := l[len(l)-1].value; w.level[control] != want {
			w.Fatalf("the last level of %v is %d, want %d", control, w.level[control], want)
		}
	}
	if limit := 3 * time.Millisecond; w.l.aged == 0 && (w.l.worst.forOthers > limit || w.l.worst.more > limit) {
		w.Fatalf("a message of the player's waits %v for the bed, %v more than without it", w.l.worst.forOthers, w.l.worst.more)
	}
	w.checkPlayer()
}

// checkPlayer checks that at each message of the player's that is no value the
// receiver has heard of every control on its channel, or on all if it is for all,
// what the player had last said, and in the end too.
func (w *paceWatch) checkPlayer() {
	states := func(list []arrival) (out []string) {
		said := map[controlNumber]string{}
		state := func(ch byte) string {
			text := ""
			for c := range numControls {
				if v := said[controlNumber(int(ch)*numControls+c)]; v != "" {
					text += " " + v
				}
			}
			return text
		}
		for _, a := range list {
			if a.msg[0]&15 < 8 && a.msg[0] < sysexStart {
				continue
			}
			if n, ok := valueOf(a.msg); ok && a.msg[0] < sysexStart {
				said[n] = fmt.Sprintf("%X", a.msg)
				continue
			}
			out = append(out, fmt.Sprintf("%X", a.msg))
			switch {
			case a.msg[0] < sysexStart:
				out[len(out)-1] += " under" + state(a.msg[0]&15)
			case a.msg[0] == sysexStart || a.msg[0] == 0xFF:
				out[len(out)-1] += " under" + state(8) + " and" + state(9)
			}
		}
		return append(out, state(8), state(9))
	}
	if got, want := states(w.l.got), states(w.player); !slices.Equal(got, want) {
		w.Fatalf("the player's come as\n%q\nwant\n%q", got, want)
	}
}

// pacedSink is a wire's way through a pacer.
type pacedSink struct{ p *Pacer }

func (s pacedSink) Write(at time.Duration, from Source, msg []byte) bool {
	s.p.Advance(at)
	s.p.Send(at, from, msg)
	return true
}

// On one sound that the player and the bed share: a key is never struck while it
// sounds, nor ended when it doesn't, and a strike of the player's is always heard.
func TestSharedKeysStayInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := time.Duration(0)
		sounds := map[byte]bool{}
		var p *Pacer
		p = NewPacer(DINBaud, func(msg []byte) {
			p.Sent(now, len(msg))
			switch on, off := noteEdge(msg); {
			case on && sounds[msg[1]], off && !sounds[msg[1]]:
				t.Fatalf("% X, and of the key it is %v that it sounds", msg, sounds[msg[1]])
			case on, off:
				sounds[msg[1]] = on
			}
		})
		w := NewWire(WireConfig{Channels: [16]Use{Shared}}, pacedSink{p})
		var keys, bed [128]bool
		for range rapid.IntRange(1, 150).Draw(t, "messages") {
			now += time.Duration(rapid.IntRange(0, 2000).Draw(t, "gap")) * us
			key := byte(rapid.IntRange(60, 67).Draw(t, "key"))
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0, 1, 2, 3:
				if keys[key] = !keys[key]; keys[key] {
					w.Player(now, on(0, key, 80))
				} else {
					w.Player(now, off(0, key))
				}
				if keys[key] && !sounds[key] {
					t.Fatalf("the player's note %d is not heard", key)
				}
			case 4, 5, 6, 7:
				if bed[key] = !bed[key]; bed[key] {
					w.Bed(now, on(0, key, 60))
				} else {
					w.Bed(now, off(0, key))
				}
			case 8:
				w.Player(now, control(0, damper, 127*(key&1)))
			case 9:
				if key == 60 {
					w.AllNotesOff(now)
					keys, bed = [128]bool{}, [128]bool{}
				}
			}
		}
		w.Close(now)
		p.Flush()
		for key, is := range sounds {
			if is {
				t.Fatalf("note %d sounds in the end", key)
			}
		}
	})
}
