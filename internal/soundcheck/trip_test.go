package soundcheck

import (
	"math"
	"slices"
	"testing"
	"time"

	"bedd/internal/gathering"

	"pgregory.net/rapid"
)

const ms = time.Millisecond

// Whatever comes back late, out of order or not at all, the figures are those of the
// definition: the nearest rank among all that came.
func TestTripIsWhatTheLoopTook(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(10, 400).Draw(t, "sent")
		type back struct {
			at  time.Duration
			msg []byte
		}
		var meter Tripmeter
		var under []back // way
		var took []time.Duration
		arrive := func(until time.Duration) {
			slices.SortStableFunc(under, func(a, b back) int { return int(a.at - b.at) })
			for len(under) > 0 && under[0].at <= until {
				meter.Returned(under[0].at, under[0].msg)
				meter.Returned(under[0].at, []byte{0x90, 60, 100}) // what else arrives
				under = under[1:]
			}
		}
		for i := range n {
			at := time.Duration(i) * 10 * ms
			arrive(at)
			msg := slices.Clone(meter.Message(at))
			if rapid.IntRange(0, 20).Draw(t, "lost") == 0 {
				continue
			}
			d := time.Duration(rapid.IntRange(0, 30000).Draw(t, "took")) * time.Microsecond
			took = append(took, d)
			under = append(under, back{at + d, msg})
		}
		arrive(time.Hour)
		trip, err := meter.Trip("out", "in")
		if len(took) == 0 {
			if err == nil {
				t.Fatal("nothing came back, and nobody says so")
			}
			return
		}
		slices.Sort(took)
		at := func(part float64) float64 {
			i := int(math.Ceil(part*float64(len(took)))) - 1
			return math.Round(took[max(i, 0)].Seconds()*1e5) / 100
		}
		if err != nil || trip.Sent != n || trip.Back != len(took) || !near(trip.Median, at(0.5)) || !near(trip.P90, at(0.9)) ||
			!near(trip.P99, at(0.99)) || !near(trip.Least, at(0)) || !near(trip.Most, at(1)) || !near(trip.Jitter, trip.P99-trip.Median) {
			t.Fatalf("%+v, %v of %d", trip, err, len(took))
		}
	})
}

func near(a, b float64) bool { return math.Abs(a-b) < 0.011 }

func TestTripTellsOfWrongOrder(t *testing.T) {
	var meter Tripmeter
	a, b := slices.Clone(meter.Message(0)), slices.Clone(meter.Message(10*ms))
	meter.Returned(11*ms, b)
	meter.Returned(12*ms, a)
	meter.Returned(13*ms, a) // a second time
	if trip, err := meter.Trip("o", "i"); err != nil || trip.Swapped != 1 || trip.Back != 2 || trip.Most != 12 {
		t.Errorf("%+v, %v", trip, err)
	}
}

// In no built-in rig does a key wait longer for the bed than bedd promises, and without
// levels and a second layer a cable is less busy.
func TestBusyCableKeepsTheBound(t *testing.T) {
	for _, name := range gathering.RigNames() {
		rig, err := gathering.OpenRig(name)
		if err != nil {
			t.Fatal(err)
		}
		c, err := BusyCable(rig, Trial(), DINCable)
		if err != nil {
			t.Fatal(err)
		}
		// Ten keys at once take 9.6 ms by themselves.
		if c.Baud != 31250 || c.ForBed > 3 || c.Bytes < 30 || c.Wait < 8 {
			t.Errorf("%s: %+v", name, c)
		}
	}
	rig := gathering.DefaultRig()
	full, err := BusyCable(rig, Trial(), DINCable)
	if err != nil {
		t.Fatal(err)
	}
	rig.Bed.NoLevel, rig.Bed.Balance.NoAir, rig.Bed.Voicing.NoBass = true, true, true
	rig.Bed.Brightness.Off = true
	less, err := BusyCable(rig, Trial(), DINCable)
	if err != nil || less.Bytes >= full.Bytes {
		t.Errorf("%+v, %v; all of it %+v", less, err, full)
	}
}
