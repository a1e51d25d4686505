//go:build unix

package guard

import (
	"testing"

	"pgregory.net/rapid"
)

// listener counts what sounds at the other side.
type listener struct {
	on    map[[2]byte]int
	pedal map[[2]byte]byte
}

func (l *listener) hear(msg []byte) {
	key := [2]byte{msg[0] & 15, msg[1]}
	switch {
	case msg[0]&0xF0 == 0x90 && msg[2] > 0:
		l.on[key]++
	case msg[0]&0xE0 == 0x80:
		l.on[key] = max(l.on[key]-1, 0)
	case msg[0]&0xF0 == 0xB0:
		l.pedal[key] = msg[2]
	}
}

// Whenever bedd dies, between any two of its steps: the endings leave nothing
// sounding and no pedal down.
func TestEndingsLeaveNothing(t *testing.T) {
	b, f, err := NewBoard(2, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	other, err := OpenBoard(f, 2, 0) // as the guard sees it
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	rapid.Check(t, func(t *rapid.T) {
		clear(b.mem)
		heard := [2]listener{}
		for i := range heard {
			heard[i] = listener{map[[2]byte]int{}, map[[2]byte]byte{}}
		}
		for range rapid.IntRange(0, 80).Draw(t, "messages") {
			out := rapid.IntRange(0, 1).Draw(t, "output")
			msg := rapid.SampledFrom([][]byte{{0x90, 60, 9}, {0x90, 60, 9}, {0x90, 60, 0}, {0x80, 60, 1}, {0x9F, 127, 1}, {0x8F, 127, 1},
				{0xB0, 64, 127}, {0xB0, 64, 0}, {0xB3, 69, 1}, {0xB3, 69, 0}, {0xB0, 7, 100}, {0xC0, 4}, {0xF0, 1, 0xF7}, {0xF8}}).Draw(t, "message")
			b.Page(out).Before(msg)
			if rapid.IntRange(0, 30).Draw(t, "dies") == 0 {
				break
			}
			heard[out].hear(append(append([]byte{}, msg...), 0, 0))
			if rapid.IntRange(0, 30).Draw(t, "dies") == 0 {
				break
			}
			b.Page(out).After(msg)
		}
		for i := range heard {
			for _, msg := range other.Page(i).Endings() {
				heard[i].hear(msg)
			}
			for key, n := range heard[i].on {
				if n > 0 {
					t.Fatalf("output %d: channel %d note %d sounds %d times", i, key[0]+1, key[1], n)
				}
			}
			for key, v := range heard[i].pedal {
				if v > 0 && (key[1] == 64 || key[1] == 66 || key[1] == 69) {
					t.Fatalf("output %d: channel %d pedal %d is down", i, key[0]+1, key[1])
				}
			}
		}
	})
}

func TestPageAllocatesNothing(t *testing.T) {
	b, f, err := NewBoard(1, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	defer b.Close()
	page, msgs := b.Page(0), [][]byte{{0x90, 60, 9}, {0xB0, 64, 127}, {0x80, 60, 9}, {0xF0, 1, 0xF7}}
	if n := testing.AllocsPerRun(100, func() {
		for _, msg := range msgs {
			page.Before(msg)
			page.After(msg)
		}
	}); n != 0 {
		t.Errorf("%v allocations, want 0", n)
	}
}

func BenchmarkPage(b *testing.B) {
	board, f, err := NewBoard(1, 0)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	page, on, off := board.Page(0), []byte{0x90, 60, 9}, []byte{0x80, 60, 9}
	for b.Loop() {
		page.Before(on)
		page.After(on)
		page.Before(off)
		page.After(off)
	}
}
