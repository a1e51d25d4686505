package talks

import (
	"math"
	"time"
)

// Agreement is how well an intensity that was heard goes with the scripted one.
type Agreement struct {
	Correlation float64       // Pearson's, at no lag: −1…1
	Lag         time.Duration // by which what was heard goes best with the script, −30…30 s
	Best        float64       // Pearson's at that lag
}

// longestLag is as far as a lag is looked for.
const longestLag = 30 * time.Second

// Compare compares what was heard, in order of time, with the script, four times a
// second from the first to the last of it.
func (t Talk) Compare(heard []Point) Agreement {
	var values []float64
	first, next := -1, 0
	for i, p := range t.Truth {
		for next < len(heard) && heard[next].At <= p.At {
			next++
		}
		if next == 0 || next == len(heard) && p.At-heard[next-1].At > time.Second/4 {
			continue
		}
		if first < 0 {
			first = i
		}
		values = append(values, heard[next-1].Intensity)
	}
	if first < 0 {
		return Agreement{Correlation: math.NaN(), Best: math.NaN()}
	}
	at := func(steps int) float64 {
		x, y := values, t.Truth[first:first+len(values)]
		if steps >= 0 {
			x, y = x[min(steps, len(x)):], y[:max(len(y)-steps, 0)]
		} else {
			x, y = x[:max(len(x)+steps, 0)], y[min(-steps, len(y)):]
		}
		return pearson(x, y)
	}
	a := Agreement{Correlation: at(0), Best: math.Inf(-1)}
	for steps := range int(2*longestLag/(time.Second/4)) + 1 {
		steps -= int(longestLag / (time.Second / 4))
		if r := at(steps); r > a.Best {
			a.Best, a.Lag = r, time.Duration(steps)*time.Second/4
		}
	}
	return a
}

func pearson(x []float64, points []Point) float64 {
	y := make([]float64, len(points))
	for i, p := range points {
		y[i] = p.Intensity
	}
	mx, my := mean(x), mean(y)
	var xy, xx, yy float64
	for i := range x {
		xy += (x[i] - mx) * (y[i] - my)
		xx += (x[i] - mx) * (x[i] - mx)
		yy += (y[i] - my) * (y[i] - my)
	}
	return xy / math.Sqrt(xx*yy)
}

func mean(x []float64) (sum float64) {
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
