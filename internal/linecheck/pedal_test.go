package linecheck

import (
	"testing"
	"time"
)

// A foot so even that the lower seven bits are always 0 or 127: they are still there.
func TestEvenFootOnAFinePedal(t *testing.T) {
	var c Check
	for i := range 65 {
		v, at := (i*16383+32)/64, time.Duration(i)*10*ms
		c.ear.hear(at, 0, []byte{0xB0, 11, byte(v >> 7)})
		c.ear.hear(at, 0, []byte{0xB0, 43, byte(v & 127)})
	}
	upper := c.ear.trails[0]
	low := lower(&c, upper)
	if low == nil || low.values > 2 {
		t.Fatalf("the lower bits: %+v", low)
	}
	c.ear.trails[1].samples = c.ear.trails[1].samples[:4]
	if lower(&c, upper) != nil {
		t.Error("four presses of another switch are taken for lower bits")
	}
}
