package page

import (
	"math"
	"reflect"
	"time"

	"bedd/internal/glance"
)

// eye tells models apart as a reader of the page would: by whole seconds and hundredths.
type eye struct {
	last glance.Model
	at   time.Time // when it was news; zero before the first
}

// news gives a model as it is seen, and whether it is to be shown: where it looks like
// the last it is not, but for a sign of life.
func (e *eye) news(m glance.Model, now time.Time) (seen glance.Model, show bool) {
	m.Elapsed, m.OnThis, m.FootAt = math.Floor(m.Elapsed), math.Floor(m.OnThis), math.Floor(m.FootAt)
	m.Intensity = math.Round(100*m.Intensity) / 100
	if !e.at.IsZero() && now.Sub(e.at) < aliveTime && reflect.DeepEqual(m, e.last) {
		return m, false
	}
	e.last, e.at = m, now
	return m, true
}
