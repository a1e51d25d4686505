package practice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"bedd/internal/pitch"
)

var speaker = Exercise{
	Name: "speaker", Title: "follow the speaker",
	About: "Somebody speaks, now quieter, now more urgent. Follow with the pedal, or with how strongly you play: never ahead, a breath behind.",
	Levels: []string{
		"one slow rise and fall, shown in advance",
		"two of them",
		"what is to come is no longer shown",
		"turns that come sooner",
		"the hands hold the shared notes too",
	},
	Takes: 65 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Hands: level >= 5, Shows: Shows{Notes: level < 5, Next: level < 3}, Home: pick(twos, k, random)}
		slow, turns := 15.0, 3
		if level >= 2 {
			turns = 5
		}
		if level >= 4 {
			slow, turns = 9, 7
		}
		t.Curve = speech(turns, slow, random)
		t.Intensity = t.Curve[0].Intensity
		t.stepping(10*time.Second, int((t.Curve[len(t.Curve)-1].At+4*time.Second)/(10*time.Second)))
		return t
	},
	judge: judgeSpeaker,
}

// What is said on an evening that we made up, quietly and urgently.
var (
	quiet = []string{
		"the nets hang still tonight", "look how dark the water is", "stay with that for a while", "we need not hurry", "nobody has to say a word",
	}
	urgent = []string{
		"and then every lamp along the quay was lit", "so we went out, all of us", "who will carry the light if not we", "they saw it from far beyond the bar", "come in, there is room",
	}
)

// speech is a curve with so many turns, each so many seconds after the last or somewhat
// more, beginning quietly.
func speech(turns int, slow float64, random *rand.Rand) []Point {
	low, high := seconds(0.15, 0.25, random).Seconds(), 0.0
	list := []Point{{0, low, quiet[random.IntN(len(quiet))]}, {4 * time.Second, low, ""}}
	at := 4 * time.Second
	for i := range turns {
		at += seconds(slow, slow+4, random)
		if i%2 == 0 {
			high = 0.65 + 0.3*random.Float64()
			list = append(list, Point{at, math.Round(100*high) / 100, urgent[random.IntN(len(urgent))]})
		} else {
			low = 0.1 + 0.25*random.Float64()
			list = append(list, Point{at, math.Round(100*low) / 100, quiet[random.IntN(len(quiet))]})
		}
	}
	return append(list, Point{at + 6*time.Second, list[len(list)-1].Intensity, ""})
}

// How following is measured.
const (
	sampled             = 250 * time.Millisecond
	leadsMost, lagsMost = -3 * time.Second, 10 * time.Second // are looked for
	noFollow, follows   = 0.3, 0.9                           // correlation; by ear
	goodLag, badLag     = 3.0, 9.0                           // seconds
	goodLead, badLead   = 0.75, 3.0
	goodRange, badRange = 0.5, 0.1 // of the speaker's own
)

// following is how one curve follows another.
type following struct {
	correlation float64
	lag         time.Duration
	scope       float64 // the range of the one by that of the other
}

// follow gives the lag at which the correlation of what was done with what was said is
// the highest (Pearson's, over what both have at that lag).
func follow(said, done []float64) (f following) {
	f.correlation = -1
	for lag := leadsMost / sampled; lag <= lagsMost/sampled; lag++ {
		var x, y []float64
		for i := range said {
			if k := i + int(lag); k >= 0 && k < len(done) {
				x, y = append(x, said[i]), append(y, done[k])
			}
		}
		r, ok := pearson(x, y)
		if ok && (r > f.correlation+1e-9) {
			f.correlation, f.lag = r, time.Duration(lag)*sampled
		}
	}
	f.scope = share(span(done), span(said))
	return f
}

// pearson is the correlation coefficient of two lists, not ok where one does not move.
func pearson(x, y []float64) (r float64, ok bool) {
	if len(x) < 2 {
		return 0, false
	}
	mx, my := mean(x), mean(y)
	var xy, xx, yy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		xy, xx, yy = xy+dx*dy, xx+dx*dx, yy+dy*dy
	}
	if xx < 1e-9 || yy < 1e-9 {
		return 0, false
	}
	return xy / math.Sqrt(xx*yy), true
}

// span is the range of a list without its outermost twentieths.
func span(list []float64) float64 {
	if len(list) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(list))
	return sorted[(len(sorted)-1)*19/20] - sorted[len(sorted)/20]
}

// dynamics samples how intense the bed was.
func (t Take) dynamics() (list []float64) {
	i, now := 0, 0.0
	for at := time.Duration(0); at < t.Lasted; at += sampled {
		for ; i < len(t.Heard) && t.Heard[i].At <= at; i++ {
			now = t.Heard[i].Intensity
		}
		list = append(list, now)
	}
	return list
}

func judgeSpeaker(s set, t Take) Result {
	h := handsOf(s, t)
	var said []float64
	for at := time.Duration(0); at < t.Lasted; at += sampled {
		said = append(said, s.Voice(at))
	}
	f := follow(said, t.dynamics())
	var all score
	n := fmt.Sprintf("%.2f", max(f.correlation, 0))
	all.add(4.5, "going with the speaker", n, "going with the speaker by "+n+" of 1", 1-falls(f.correlation, noFollow, follows),
		"Listen for where the voice goes, and go there too: more when it rises, less when it falls.")
	lag := f.lag.Seconds()
	words := fmt.Sprintf("%.1f s behind", lag)
	mark := falls(lag, goodLag, badLag)
	if lag < 0 {
		words = fmt.Sprintf("%.1f s ahead", -lag)
		mark = falls(-lag, goodLead, badLead)
	}
	if f.correlation < noFollow {
		words, mark = "not to be told", 0
	}
	all.add(2, "behind the speaker", words, words+" of the speaker", mark, "A breath behind is right, no more: answer sooner, but never lead.")
	n = fmt.Sprintf("%.0f %%", 100*f.scope)
	all.add(2, "how far you went", n, n+" of the speaker's range", 1-falls(f.scope, badRange, goodRange),
		"Dare more: from hardly there to all of it.")
	h.addIfPlayed(&all, s.Hands, 3)
	presence := 1.0
	if len(t.Chords) == 0 {
		presence = 0
	}
	return all.result(presence, "You went where the voice went, a breath behind it.")
}
