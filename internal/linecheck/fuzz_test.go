package linecheck

import (
	"testing"
	"time"
)

// Whatever arrives and whatever the player says, the walk goes on: it never fails, ends
// every note that it began, and what it keeps makes text.
func FuzzWalk(f *testing.F) {
	f.Add([]byte{0x90, 60, 80, 0x80, 60, 64, 0xFF, 0xF8, 1, 2, 3})
	f.Add([]byte{0xB0, 80, 127, 0xFE, 20, 0xB0, 80, 0, 0xFE, 90, 0xB0, 80, 127, 0xFE, 20, 0xB0, 80, 0, 0xFE, 200, 0xFD, 4, 0xFD, 1})
	f.Add([]byte{0xFD, 4, 0xFD, 4, 0xFD, 4, 0xFD, 4, 0xFD, 4, 0xFD, 4, 0xFD, 1, 0xFE, 90, 0xFD, 1, 0xFD, 1, 0xFD, 2, 0xFD, 3, 0xFD, 5})
	f.Add([]byte{0xE0, 1, 2, 0xD0, 3, 0xC0, 4, 0xA0, 5, 6, 0xFC, 0, 0xFC, 1})
	f.Fuzz(func(t *testing.T, data []byte) {
		c := New(boardAndKeys, Found{}, Steps...)
		now := time.Duration(0)
		on := map[[3]byte]int{}
		act := func() {
			for _, a := range c.Acts() {
				if a.Kind != Send {
					continue
				}
				key := [3]byte{byte(a.Out), a.Msg[0] & 15, a.Msg[1]}
				switch a.Msg[0] & 0xF0 {
				case 0x90:
					on[key]++
				case 0x80:
					delete(on, key)
				}
			}
		}
		for len(data) > 1 {
			switch data[0] {
			case 0xFE: // time passes, up to 25 s
				now += time.Duration(data[1]) * 100 * time.Millisecond
				c.Advance(now)
			case 0xFD:
				c.Answer(now, Answer(data[1]))
			case 0xFC:
				c.Moved(now, data[1]&2 == 0, int(data[1]&1), data[1]&4 == 0)
			default:
				now += 3 * time.Millisecond
				c.Hear(now, int(data[1]&1), data[:min(len(data), 3)])
				c.Hear(now, int(data[1]&1), data[:2])
			}
			data = data[2:]
			act()
			if p := c.Prompt(); !p.Over && (len([]rune(p.Big)) > 9 || p.Big == "" || len(p.Say) == 0 || len(p.Choices) < 2) {
				t.Fatalf("the prompt %+v", p)
			}
		}
		c.Stop()
		act()
		if len(on) > 0 {
			t.Errorf("%v sound on", on)
		}
		if c.Found().Rig("any") == "" {
			t.Error("no rig")
		}
	})
}
