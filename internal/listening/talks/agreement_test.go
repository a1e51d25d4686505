package talks

import (
	"math"
	"testing"
	"time"
)

// What is heard late, or of another size, against what is known of that.
func TestComparing(t *testing.T) {
	curve := Wanders(5)
	var talk Talk
	for at := time.Duration(0); at < 3*time.Minute; at += time.Second / 4 {
		talk.Truth = append(talk.Truth, Point{at, curve(at)})
	}
	heard := func(size float64, late time.Duration) (points []Point) {
		for at := 20 * time.Second; at < 3*time.Minute; at += 10 * time.Millisecond {
			points = append(points, Point{at, 0.4 + size*curve(at-late)})
		}
		return points
	}
	for _, late := range []time.Duration{0, 3 * time.Second, 5500 * time.Millisecond, -2 * time.Second} {
		a := talk.Compare(heard(0.3, late))
		if a.Lag != late || a.Best < 0.999 || (late == 0) != (a.Correlation > 0.999) {
			t.Errorf("%v late: %+v", late, a)
		}
		if b := talk.Compare(heard(-0.3, late)); math.Abs(b.Correlation+a.Correlation) > 1e-9 {
			t.Errorf("%v late and upside down: %+v", late, b)
		}
	}
	if a := talk.Compare(nil); !math.IsNaN(a.Correlation) {
		t.Errorf("nothing heard agrees by %v", a.Correlation)
	}
}
