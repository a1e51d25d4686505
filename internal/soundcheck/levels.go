package soundcheck

import (
	"fmt"
	"math"
	"sort"
	"time"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/session"
	"bedd/internal/sound"
)

// LevelsRecord is how loud the built-in piano and a rig's bed are beside each other.
type LevelsRecord struct {
	Piano   []LevelRecord `json:"piano"` // soft, usual, loud
	Bed     []LevelRecord `json:"bed"`   // from heel to toe, under the rig's ceiling
	Ceiling float64       `json:"ceiling_db"`

	LeastUnder *float64 `json:"least_under_piano_lu,omitempty"` // what the bed at the toe is to be under the piano
	Advised    *float64 `json:"advised_ceiling_db,omitempty"`   // what that takes
}

// Settings gives what the rig should say, none where it need not change.
func (l LevelsRecord) Settings() []gathering.Setting {
	if l.Advised == nil || *l.Advised == l.Ceiling {
		return nil
	}
	return []gathering.Setting{ceilingSetting(*l.Advised)}
}

// LevelRecord is one thing that was sounded.
type LevelRecord struct {
	Name      string   `json:"name"`
	Intensity *float64 `json:"intensity,omitempty"`
	LUFS      float64  `json:"lufs"`
	PeakDB    float64  `json:"true_peak_dbtp"`
	Under     *float64 `json:"under_piano_lu,omitempty"` // the piano as usual
}

// usual is the piano's velocity that a bed is compared with.
const usual = 64

// Levels sounds the piano and the bed of a rig by themselves, the bed at some
// intensities from heel to toe, and measures them by BS.1770. Render sounds them with
// the rig's sounds set up.
func Levels(rig gathering.Rig, moment bed.Moment, render Renderer) (LevelsRecord, error) {
	out := LevelsRecord{Ceiling: rig.Bed.Balance.Ceiling}
	if rig.Share {
		return out, ErrShared
	}
	piano := 0.0
	for _, p := range []struct {
		name     string
		velocity uint8
	}{{"soft", 40}, {"usual", usual}, {"loud", 96}} {
		meter, err := sound.NewLoudness(renderRate)
		if err != nil {
			return out, err
		}
		var events []sound.Event
		for _, n := range phrase(p.velocity) {
			events = append(events, sound.Event{Frame: frame(n.at), Status: n.status | rig.Player.Channel, Data1: n.key, Data2: n.velocity})
		}
		if err := render(events, renderRate, func(block []float32) error { meter.Add(block); return nil }); err != nil {
			return out, err
		}
		if p.velocity == usual {
			piano = meter.Integrated()
		}
		out.Piano = append(out.Piano, LevelRecord{Name: "piano, " + p.name, LUFS: hundredths(meter.Integrated()), PeakDB: hundredths(meter.PeakDB())})
	}
	rig.Bed.BringIn = quickest
	for i, name := range []string{"heel", "a quarter", "half", "three quarters", "toe"} {
		x := float64(i) / 4
		_, lufs, peak, err := sounded(rig, []bed.Moment{moment}, x, render)
		if err != nil {
			return out, err
		}
		if math.IsInf(lufs, -1) { // heel down is silence
			continue
		}
		under := hundredths(piano - lufs)
		out.Bed = append(out.Bed, LevelRecord{Name: "bed, " + name, Intensity: &x, LUFS: hundredths(lufs), PeakDB: hundredths(peak), Under: &under})
	}
	if len(out.Bed) == 0 {
		return out, fmt.Errorf("the bed of the rig %s sounds nothing", rig.Name)
	}
	return out, nil
}

// struck is a message of the piano's.
type struck struct {
	at       time.Duration
	status   uint8
	key      uint8
	velocity uint8
}

// phraseTime is how long the phrase lasts.
const phraseTime = 8 * time.Second

// phrase is a quiet phrase of our own to set levels by: broken chords of C, F, A minor
// and D minor under a few notes of a line, all at one velocity. It begins and ends notes
// in order of time.
func phrase(velocity uint8) (out []struck) {
	const each = phraseTime / 4
	for i, chord := range [][]uint8{{48, 55, 64, 72}, {41, 57, 65, 72}, {45, 52, 60, 76}, {50, 57, 65, 74}} {
		begin := time.Duration(i) * each
		for k, key := range chord {
			out = append(out, struck{begin + time.Duration(k)*each/4, 0x90, key, velocity})
		}
		for _, key := range chord {
			out = append(out, struck{begin + each - 20*time.Millisecond, 0x80, key, 0})
		}
	}
	return out
}

// What is heard by ear: the piano alone, then the bed rising under it from heel to toe.
const (
	earPhrases = 5
	earStep    = 2 * time.Second
)

// ByEar gives what to listen to: the piano alone for 8 s, then the bed under it, which
// rises every two seconds as far as the rig lets it, some 40 s in all.
func ByEar(rig gathering.Rig, moment bed.Moment) ([]sound.Event, error) {
	moment.Intensity = 0
	take := new(session.Take)
	s, err := session.New(rig, []bed.Moment{moment}, take)
	if err != nil {
		return nil, err
	}
	next := phraseTime
	for i := range earPhrases {
		for _, n := range phrase(usual) {
			n.at += time.Duration(i) * phraseTime
			for ; i > 0 && next <= n.at; next += earStep {
				do := bed.LevelUp
				if next == phraseTime {
					do = bed.BringIn
				}
				s.Ask(next, gathering.Order{Command: do})
			}
			s.Message(n.at, []byte{n.status | rig.Player.Channel, n.key, n.velocity})
		}
	}
	s.End(earPhrases * phraseTime)
	return eventsOf(take), nil
}

// CeilingUnderPiano finds the highest ceiling, never above the rig's own, under which the
// bed at the toe stays some LU under the piano as usual, as Levels has measured it. It
// returns ErrNoCeiling where there is none.
func CeilingUnderPiano(rig gathering.Rig, moment bed.Moment, l LevelsRecord, under float64, render Renderer) (db float64, err error) {
	most := l.Piano[1].LUFS - under
	rig.Bed.BringIn = quickest
	ceilings := []float64{}
	for c, lowest := rig.Bed.Balance.Ceiling, lowestCeiling(rig.Bed.Balance); c >= lowest; c = nextCeiling(c) {
		ceilings = append(ceilings, c)
	}
	if rig.Bed.NoLevel { // a ceiling that sends no levels is no ceiling
		ceilings = ceilings[:min(1, len(ceilings))]
	}
	at := sort.Search(len(ceilings), func(i int) bool { // the lower, the softer
		rig.Bed.Balance.Ceiling = ceilings[i]
		_, lufs, _, e := sounded(rig, []bed.Moment{moment}, 1, render)
		if e != nil {
			err = e
		}
		return lufs <= most
	})
	if err == nil && at == len(ceilings) {
		err = ErrNoCeiling
	}
	if err != nil {
		return 0, err
	}
	return ceilings[at], nil
}
