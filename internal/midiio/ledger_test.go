package midiio

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// On open channels all messages of the player's arrive, unchanged and in order,
// whatever the bed does meanwhile.
func TestWireThruIsFaithful(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, s := newRig()
		var want []string
		for range rapid.IntRange(0, 60).Draw(t, "messages") {
			if rapid.Bool().Draw(t, "bed's") {
				w.Bed(0, rapid.SampledFrom([][]byte{on(1, 60, 1), off(1, 60), on(0, 60, 1), on(2, 60, 1)}).Draw(t, "bed"))
				continue
			}
			msg := drawMessage(t)
			if msg[0] < 0xF0 && rig.Channels[msg[0]&15] != Open || msg[0] == metaEvent {
				continue
			}
			want = append(want, string(msg))
			if w.Player(0, msg) {
				t.Fatalf("% X is refused", msg)
			}
		}
		var got []string
		for _, h := range s.heard {
			if h.from == Player {
				got = append(got, h.msg)
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("heard %X\nwant  %X", got, want)
		}
	})
}

// holders is the naive model of who holds a note on a bed's channel.
type holders struct {
	keys, bed int
	ringing   bool
}

// Random hands, feet and beds: after each step the synth sounds exactly what
// somebody holds, every on has its off from the same source, and the ledger
// counts what the synth counts.
func TestWireAgainstModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, s := newRig()
		open := map[byte]int{}                           // strikes of the player's own channel
		held := [3]map[byte]*holders{1: {}, 2: {}}       // of the bed's channels
		foot, lost, refused := false, false, uint64(0)   // of the shared channel; of the port; of the player
		frozen := 0                                      // what sounded when the port was lost
		key := rapid.SampledFrom([]byte{0, 60, 61, 127}) // few, so that they meet
		channel := rapid.SampledFrom([]byte{0, 1, 2, 2}) // the shared one more often
		holding := func(ch, key byte) *holders {
			if held[ch][key] == nil {
				held[ch][key] = &holders{}
			}
			return held[ch][key]
		}
		empty := func() {
			open, held = map[byte]int{}, [3]map[byte]*holders{1: {}, 2: {}}
		}
		bedEnds := func() {
			for _, h := range [...]map[byte]*holders{held[1], held[2]} {
				for _, h := range h {
					h.bed = 0
				}
			}
		}
		t.Repeat(map[string]func(*rapid.T){
			"player strikes": func(t *rapid.T) {
				ch, key := channel.Draw(t, "channel"), key.Draw(t, "key")
				before := len(s.heard)
				w.Player(0, on(ch, key, 99))
				switch {
				case ch == 1:
					refused++
				case lost:
				case ch == 0:
					open[key] = min(open[key]+1, maxStrikes)
				default:
					h := holding(ch, key)
					h.keys = min(h.keys+1, maxStrikes)
				}
				if ch != 1 && !lost {
					last := s.heard[len(s.heard)-1]
					if last.from != Player || last.msg != string(on(ch, key, 99)) || len(s.heard)-before > 2 {
						t.Fatalf("a strike is heard as %v", s.heard[before:])
					}
				}
			},
			"player lets go": func(t *rapid.T) {
				ch, key := channel.Draw(t, "channel"), key.Draw(t, "key")
				msg := rapid.SampledFrom([][]byte{off(ch, key), on(ch, key, 0)}).Draw(t, "off")
				w.Player(0, msg)
				switch {
				case ch == 1:
					refused++
				case lost:
				case ch == 0:
					open[key] = max(open[key]-1, 0)
				default:
					if h := holding(ch, key); h.keys > 0 {
						h.keys--
						h.ringing = h.ringing || h.keys == 0 && foot
					}
				}
			},
			"player's damper": func(t *rapid.T) {
				ch, value := channel.Draw(t, "channel"), rapid.ByteRange(0, 127).Draw(t, "value")
				w.Player(0, control(ch, 64, value))
				switch ch {
				case 1:
					refused++
				case 2:
					if foot = value >= 64; !foot && !lost {
						for _, h := range held[2] {
							h.ringing = false
						}
					}
				}
			},
			"player's mode message": func(t *rapid.T) {
				number := rapid.SampledFrom([]byte{120, 121, 123, 127}).Draw(t, "number")
				w.Player(0, control(2, number, 0))
				refused++
			},
			"bed strikes": func(t *rapid.T) {
				ch, key := rapid.SampledFrom([]byte{1, 2}).Draw(t, "channel"), key.Draw(t, "key")
				before, sounds := len(s.heard), s.strikes[ch][key] > 0
				w.Bed(0, on(ch, key, 70))
				h := holding(ch, key)
				h.bed = min(h.bed+1, maxStrikes)
				if sounds && len(s.heard) != before {
					t.Fatalf("the bed strikes a note that sounds: %v", s.heard[before:])
				}
			},
			"bed lets go": func(t *rapid.T) {
				ch, key := rapid.SampledFrom([]byte{1, 2}).Draw(t, "channel"), key.Draw(t, "key")
				w.Bed(0, off(ch, key))
				h := holding(ch, key)
				h.bed = max(h.bed-1, 0)
			},
			"port goes": func(t *rapid.T) {
				w.Lost()
				if !lost {
					lost, frozen = true, s.sounding()
				}
			},
			"port returns": func(t *rapid.T) {
				before := len(s.heard)
				w.Returned(0)
				if !lost {
					return
				}
				lost = false
				open = map[byte]int{}
				for _, held := range held[1:] {
					for _, h := range held {
						h.keys, h.ringing = 0, false
					}
				}
				defer w.Resume(0) // the bed's again
				for i, h := range s.heard[before:] {
					if isOff := h.msg[0]&0xF0 == 0x80; isOff != (i < frozen) {
						t.Fatalf("on return %v, want the %d offs owed first", s.heard[before:], frozen)
					}
				}
			},
			"all notes off": func(t *rapid.T) {
				w.AllNotesOff(0)
				bedEnds()
				if foot = false; !lost {
					empty()
					if s.damper != [16]byte{} {
						t.Fatalf("dampers left at %v", s.damper)
					}
				}
			},
			"finish": func(t *rapid.T) {
				bedEnds()
				if w.Finish(0); !lost {
					foot = false
					empty()
					if s.damper != [16]byte{} {
						t.Fatalf("dampers left at %v", s.damper)
					}
				}
			},
			"": func(t *rapid.T) {
				if got, want := w.Sounding(), s.sounding(); got != want {
					t.Fatalf("the ledger counts %d, the synth %d", got, want)
				}
				if w.Refused() != refused || w.Gone() != lost {
					t.Fatalf("refused %d, lost %v; want %d, %v", w.Refused(), w.Gone(), refused, lost)
				}
				for ch := range s.strikes[:3] {
					for key, strikes := range s.strikes[ch] {
						p, b := s.bySource[Player][ch][key], s.bySource[Bed][ch][key]
						if p < 0 || b < 0 || ch > 0 && p+b > 1 {
							t.Fatalf("note %d on channel %d sounds %d and %d times", key, ch+1, p, b)
						}
						if lost {
							continue
						}
						want := open[byte(key)]
						if ch > 0 {
							want = 0
							if h := held[ch][byte(key)]; h != nil && (h.keys > 0 || h.bed > 0 || h.ringing) {
								want = 1
							}
						}
						if strikes != want {
							t.Fatalf("note %d on channel %d sounds %d times, want %d", key, ch+1, strikes, want)
						}
					}
				}
			},
		})
		w.Returned(0)
		w.Finish(0)
		if s.sounding() != 0 || w.Sounding() != 0 || s.damper != [16]byte{} {
			t.Fatalf("at the end %d notes sound, the ledger counts %d, dampers are %v", s.sounding(), w.Sounding(), s.damper)
		}
	})
}

// A port that dies at any message and returns later leaves nothing hanging.
func TestWireSurvivesDyingPort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, s := newRig()
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			ch, key := rapid.ByteRange(0, 2).Draw(t, "channel"), rapid.ByteRange(60, 61).Draw(t, "key")
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0, 1:
				w.Player(0, on(ch, key, 9))
			case 2:
				w.Player(0, off(ch, key))
			case 3, 4:
				w.Bed(0, on(ch, key, 9))
			case 5:
				w.Bed(0, off(ch, key))
			case 6:
				w.Player(0, control(ch, 64, 127*key%2))
			case 7:
				s.dead = true
			case 8:
				s.dead = false
				w.Returned(0)
				w.Resume(0)
			case 9:
				w.AllNotesOff(0)
			}
		}
		s.dead = false
		w.Returned(0)
		w.Finish(0)
		if s.sounding() != 0 || w.Sounding() != 0 || s.damper != [16]byte{} {
			t.Fatalf("%d notes hang, the ledger counts %d, dampers are %v", s.sounding(), w.Sounding(), s.damper)
		}
	})
}

// A pedal whose going down was the last that the synth heard, though nobody knows
// that it did, is let go when the port returns, also where bedd sent it by itself.
func TestPedalOnWhichThePortWentIsLetGo(t *testing.T) {
	for _, number := range holdPedals {
		for name, again := range map[string]bool{"the player's": false, "on a return": true} {
			w, s := newRig()
			if again {
				w.Lost()
				w.Player(0, control(0, number, 127))
				s.dead = true
				w.Returned(0)
			} else {
				s.dead = true
				w.Player(0, control(0, number, 127))
			}
			w.Player(0, control(0, number, 0))
			s.dead = false
			s.take()
			w.Returned(0)
			want := fmt.Sprintf("ledger B0%02X00", number)
			if got := s.take(); got != want {
				t.Errorf("%s controller %d: it gets %q, want %q", name, number, got, want)
			}
		}
	}
}
