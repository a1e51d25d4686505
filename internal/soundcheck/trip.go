package soundcheck

import (
	"fmt"
	"slices"
	"time"
)

// Trip is how long messages take from an output back to an input, in milliseconds.
type Trip struct {
	Out     string  `json:"out"`
	In      string  `json:"in"`
	Sent    int     `json:"sent"`
	Back    int     `json:"back"`
	Least   float64 `json:"least_ms"`
	Median  float64 `json:"median_ms"`
	P90     float64 `json:"p90_ms"`
	P99     float64 `json:"p99_ms"`
	Most    float64 `json:"most_ms"`
	Jitter  float64 `json:"jitter_ms"` // from the median to the 99th percentile
	Swapped int     `json:"out_of_order"`
}

// Tripmeter times messages by what is in them: a controller that the standard leaves
// undefined (MIDI 1.0: 3), which no synth listens to, on channel 16, with values that
// count. Not safe for several goroutines.
type Tripmeter struct {
	sent    []time.Duration
	back    []time.Duration // −1 until it is
	newest  int
	swapped int
	status  []byte
}

const (
	tripStatus     = 0xBF
	tripController = 3
)

// Message gives the next message, sent at a time, good until the next call.
func (t *Tripmeter) Message(at time.Duration) []byte {
	t.status = append(t.status[:0], tripStatus, tripController, byte(len(t.sent)%128))
	t.sent, t.back = append(t.sent, at), append(t.back, -1)
	return t.status
}

// Returned takes one message that arrived at a time. What was not sent is passed over.
func (t *Tripmeter) Returned(at time.Duration, msg []byte) {
	if len(msg) != 3 || msg[0] != tripStatus || msg[1] != tripController {
		return
	}
	// The latest of that number that is not back: it has been at most 127 since.
	for i := len(t.sent) - 1; i >= max(0, len(t.sent)-128); i-- {
		if byte(i%128) == msg[2] {
			if t.back[i] < 0 {
				t.back[i] = max(at-t.sent[i], 0)
				if i < t.newest {
					t.swapped++
				}
				t.newest = max(t.newest, i)
			}
			return
		}
	}
}

// Trip sums up. It fails when nothing came back.
func (t *Tripmeter) Trip(out, in string) (Trip, error) {
	var all []time.Duration
	for _, b := range t.back {
		if b >= 0 {
			all = append(all, b)
		}
	}
	trip := Trip{Out: out, In: in, Sent: len(t.sent), Back: len(all), Swapped: t.swapped}
	if len(all) == 0 {
		return trip, fmt.Errorf("nothing that was sent to %s has come back on %s: is the cable from its MIDI OUT to that MIDI IN?", out, in)
	}
	slices.Sort(all)
	// The nearest rank: the least value that so many percent do not exceed.
	rank := func(percent int) float64 { return inMS(all[max((len(all)*percent+99)/100-1, 0)]) }
	trip.Least, trip.Median, trip.P90, trip.P99, trip.Most = inMS(all[0]), rank(50), rank(90), rank(99), inMS(all[len(all)-1])
	trip.Jitter = hundredths(trip.P99 - trip.Median)
	return trip, nil
}
