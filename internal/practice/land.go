package practice

import (
	"fmt"
	"math/rand/v2"
	"time"

	"bedd/internal/bed"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

var land = Exercise{
	Name: "land", Title: "land it",
	About: "The next song begins when the time is over. Arm the landing, and step so that the bed comes to the song's first chord just before.",
	Levels: []string{
		"in the same key; the way is shown",
		"to a neighbouring key",
		"the hands hold the shared notes too",
		"to a distant key",
		"the way is no longer shown",
	},
	Takes: 45 * time.Second,
	set: func(k pitch.Key, level int, random *rand.Rand) Task {
		t := Task{Intensity: 0.4, Hands: level >= 3, Limit: seconds(24, 34, random), Shows: Shows{Notes: level < 4, Next: level < 5}}
		t.Home = pick(twos, k, random)
		next := k
		switch {
		case level >= 4:
			next = k.Transpose([]int{1, 3, 4, 6, 8, 9, 11}[random.IntN(7)])
		case level >= 2:
			next = k.Transpose([]int{5, 7, 2, 10}[random.IntN(4)])
		}
		first := 1
		if next == k { // where the bed does not rest already
			first = []int{4, 6}[random.IntN(2)]
		}
		t.NextKey, t.NextChord = next.String(), harmony.Diatonic(next, first).Symbol()
		t.Steps = []Step{{0, bed.BringIn.String()}}
		t.Lasts = t.Limit + 4*time.Second
		return t
	},
	judge: judgeLand,
}

// How long before the song its first chord may be there, and how much later it is still
// taken for one. By ear.
const (
	earliest, tooEarly = 8.0, 18.0 // seconds before
	latest, tooLate    = 0.5, 4.0  // seconds after
	evenly, unevenly   = 2.0, 5.0  // the longest step of the way by the shortest
)

func judgeLand(s set, t Take) Result {
	h := handsOf(s, t)
	var way []Entry
	for _, c := range t.Chords {
		if c.Place == bed.Landing {
			way = append(way, c)
		}
	}
	there := len(way) > 0 && way[len(way)-1].Chord.SoundsLike(s.nextChord)
	var all score
	const advice = "Begin the landing in time: look how many chords the way has, and give each about four seconds."
	switch {
	case !there:
		all.add(5, "the song's first chord", "never", "the song's first chord was not reached", 0, "Arm the landing with the right foot, and step on until "+s.NextChord+" stands.")
	default:
		d := (way[len(way)-1].At - s.Limit).Seconds()
		words := fmt.Sprintf("%.1f s before the song", -d)
		if d > 0 {
			words = fmt.Sprintf("%.1f s after the song began", d)
		}
		all.add(5, "the song's first chord", words, "its first chord came "+words, min(falls(-d, earliest, tooEarly), falls(d, latest, tooLate)), advice)
	}
	if len(way) > 1 {
		short, long := time.Duration(1<<62), time.Duration(0)
		for i := 1; i < len(way); i++ {
			d := way[i].At - way[i-1].At
			short, long = min(short, d), max(long, d)
		}
		ratio := float64(long) / float64(max(short, tick))
		all.add(1.5, "even steps", fmt.Sprintf("%.1f : 1", ratio), fmt.Sprintf("the longest step of the way was %.1f times the shortest", ratio), falls(ratio, evenly, unevenly),
			"Step evenly: a chord that hurries gives the landing away.")
	}
	sounds := false
	for _, r := range t.Heard {
		if r.At <= s.Limit {
			sounds = r.Sounds
		}
	}
	on := map[bool]float64{true: 1}[sounds]
	all.add(1, "sounding when the song begins", [...]string{"no", "yes"}[int(on)], [...]string{"the bed had gone before the song began", "the bed sounds when the song begins"}[int(on)], on,
		"Stay until the song is there: no gap.")
	h.addIfPlayed(&all, s.Hands, 3)
	if len(way) == 0 {
		all.scale(0, 0)
	}
	presence := 1.0
	if len(t.Chords) == 0 {
		presence = 0
	}
	return all.result(presence, "You were there before the song was: it only had to begin.")
}
