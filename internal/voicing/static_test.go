package voicing

import (
	"cmp"
	"errors"
	"math"
	"testing"

	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"pgregory.net/rapid"
)

// bruteStill is one chord with every voicing that keeps the rules with any
// colours, as bruteVoicings lists them.
type bruteStill struct {
	chord    harmony.Chord
	tones    tonality
	voicings []Voicing
}

// trouble words the definition anew: what the upper notes alone mislead about.
func (b *bruteStill) trouble(upper []uint8, key pitch.Key) (over []Voicing, t Trouble) {
	for _, v := range b.voicings {
		if string(v.Notes()) == string(upper) {
			over = append(over, v)
		}
	}
	if len(over) == 0 {
		return nil, BreaksRule
	}
	sounding := over[0].Classes().Add(b.chord.BassClass())
	heard, _ := harmony.Identify(sounding, b.chord.BassClass(), key)
	named, scale := b.identity().Minus(over[0].Classes()), pitch.Set(0)
	for _, n := range key.Scale() {
		scale = scale.Add(n.Class())
	}
	if named.Minus(scale) != 0 {
		return over, LacksBorrowed
	}
	if named != 0 && len(upper) > 2 && over[0].Classes().Len() < 3 {
		return over, Hollow
	}
	lacking := b.chord.Classes().Minus(sounding)
	if lacking == 0 || heard.Root.Class() == b.chord.Root.Class() {
		return over, Clear
	}
	telling := b.chord.Identity().Add(b.chord.Root.Class())
	for root := range pitch.Class(12) {
		for _, triad := range []pitch.Set{pitch.SetOf(0, 4, 7), pitch.SetOf(0, 3, 7)} {
			if root != b.chord.Root.Class() && sounding.Contains(triad.Transpose(int(root))) {
				return over, HeardAsOther
			}
		}
	}
	if sounding.Contains(telling) {
		return over, Clear
	}
	return over, HeardAsOther
}

func (b *bruteStill) identity() pitch.Set { return b.chord.Identity().Without(b.chord.BassClass()) }

func apart(a, b []uint8) (n int) {
	for _, x := range a {
		found := false
		for _, y := range b {
			found = found || x == y
		}
		if !found {
			n++
		}
	}
	return n
}

// tells reports whether v is clear and has an identity tone where there is any.
func (b *bruteStill) tells(v *Voicing, key pitch.Key) bool {
	_, trouble := b.trouble(v.Notes(), key)
	return trouble == Clear && (b.identity() == 0 || b.identity().Intersect(v.Classes()) != 0)
}

// murky reports whether no voicing of the chord tells it.
func (b *bruteStill) murky(key pitch.Key) bool {
	for i := range b.voicings {
		if b.tells(&b.voicings[i], key) {
			return false
		}
	}
	return true
}

// outer counts the semitones beyond a fourth from the top of upper to that of v,
// and the basses under upper from which both outer notes go to octaves of v's.
func outer(v Voicing, upper []uint8, basses []uint8) (n int) {
	top, next := int(upper[len(upper)-1]), int(v.Upper[v.N-1])
	n = max(0, next-top-5, top-next-5)
	for _, b := range basses {
		bass, nextBass := int(b), int(v.Bass)
		if b != NoBass && v.Bass != NoBass && (next-top)*(nextBass-bass) > 0 && (top-bass)%12 == 0 && (next-nextBass)%12 == 0 {
			n++
		}
	}
	return n
}

// nearest finds the departure from upper by trying every voicing; basses are those
// of the chords that stay.
func (b *bruteStill) nearest(e *Engine, upper, basses []uint8, key pitch.Key) (best Voicing, moved, faults, semitones int) {
	murky, cost := b.murky(key), 0.0
	moved = math.MaxInt
	for _, v := range b.voicings {
		if !murky && !b.tells(&v, key) {
			continue
		}
		if overs, _ := b.trouble(v.Notes(), key); v.Bass != leastOwn(e, overs, &b.tones).Bass {
			continue
		}
		m, o, s, c := apart(v.Notes(), upper), outer(v, upper, basses), bruteMovement(v.Notes(), upper), e.own(&v, &b.tones).Total
		if cmp.Or(cmp.Compare(m, moved), cmp.Compare(o, faults), cmp.Compare(s, semitones), cmp.Compare(c, cost-1e-9)) < 0 {
			best, moved, faults, semitones, cost = v, m, o, s, c
		}
	}
	return best, moved, faults, semitones
}

// leastOwn gives the first of some voicings that costs least.
func leastOwn(e *Engine, all []Voicing, t *tonality) (best Voicing) {
	least := math.Inf(1)
	for _, v := range all {
		if cost := e.own(&v, t).Total; cost < least {
			best, least = v, cost
		}
	}
	return best
}

func TestStaticSetEqualsBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		in.settings.Stillness, in.settings.Plain, in.settings.Colours = 1, false, MaxUpper
		in.settings.Voices = rapid.IntRange(2, 4).Draw(t, "static voices")
		in.settings.Thin, in.settings.Full = in.settings.Voices, in.settings.Voices
		in.settings.Weights = DefaultWeights()
		in.key = pitch.Key{}.Transpose(rapid.SampledFrom([]int{0, 5, 7}).Draw(t, "key"))
		e, err := New(in.settings)
		if err != nil {
			t.Fatal(err)
		}
		all, murky := make([]bruteStill, len(in.chords)), make([]bool, len(in.chords))
		for i, c := range in.chords {
			all[i] = bruteStill{c, tonalityOf(c, in.key, false), bruteVoicings(in.settings, c, in.key)}
			if len(all[i].voicings) == 0 {
				if e.fillStatic(in.chords, in.key) {
					t.Fatalf("%s has no voicing, but is settled", c.Symbol())
				}
				return
			}
			murky[i] = all[i].murky(in.key)
		}
		// Every choice of notes of the key's five, in the order of the package's words.
		five := pitch.SetOf(0, 2, 4, 7, 9).Transpose(int(in.key.Tonic.Class()))
		var best stillRate
		found := false
		for _, upper := range bruteSets(in.settings, five) {
			rate := stillRate{}
			troubles := make([]Trouble, len(all))
			overs := make([][]Voicing, len(all))
			for i := range all {
				overs[i], troubles[i] = all[i].trouble(upper, in.key)
				if murky[i] && troubles[i] != BreaksRule {
					troubles[i] = Clear
				}
			}
			classes := pitch.Set(0)
			for _, n := range upper {
				classes = classes.Add(class(n))
			}
			alike := make([]bool, len(all))
			for i := range all {
				for j := range all {
					alike[i] = alike[i] || !murky[i] && troubles[i] == Clear && troubles[j] == Clear &&
						all[i].identity() != 0 && all[i].identity().Intersect(classes) == 0 &&
						all[i].chord.BassClass() == all[j].chord.BassClass() && all[i].chord.Classes() != all[j].chord.Classes()
				}
			}
			var basses []uint8
			for i := range all {
				if troubles[i] == Clear && !alike[i] {
					basses = append(basses, leastOwn(e, overs[i], &all[i].tones).Bass)
				}
			}
			for i := range all {
				b := &all[i]
				var v Voicing
				if troubles[i] != Clear || alike[i] {
					var moved, faults, semitones int
					v, moved, faults, semitones = b.nearest(e, upper, basses, in.key)
					rate.moved += moved
					rate.outer += faults
					rate.semitones += semitones
				} else {
					v = leastOwn(e, overs[i], &b.tones)
				}
				missing := b.identity().Minus(v.Classes()).Len()
				if b.chord.Root.Class() == in.key.Tonic.Class() {
					missing *= 2
				}
				rate.identity += missing
				rate.bare += b.tones.bare.Minus(v.Classes()).Len()
				rate.cost += e.own(&v, &b.tones).Total
			}
			if !found || rate.compare(best) < 0 {
				best, found = rate, true
			}
		}
		if got := e.fillStatic(in.chords, in.key); got != found {
			t.Fatalf("a static set is found: %v, by brute force: %v", got, found)
		}
		got := e.still.rate
		if d := got.cost - best.cost; math.Abs(d) < 1e-6 {
			best.cost = got.cost
		}
		if found && got != best {
			t.Fatalf("the static set %v has %+v, brute force %+v", e.still.upper.Notes(), got, best)
		}
	})
}

// bruteSets lists every choice of notes of some classes that keeps the rules on
// spacing by itself.
func bruteSets(s Settings, classes pitch.Set) (all [][]uint8) {
	span := int(s.High-s.Low) + 1
	for bits := range 1 << span {
		var notes []uint8
		good := true
		for i := range span {
			if n := s.Low + uint8(i); bits>>i&1 != 0 {
				good = good && classes.Has(class(n))
				notes = append(notes, n)
			}
		}
		good = good && len(notes) == s.Voices
		for i := 1; good && i < len(notes); i++ {
			good = notes[i]-notes[i-1] <= 12 && notes[i-1] >= LowestNote(int(notes[i]-notes[i-1])) &&
				(i < 2 || notes[i-2] >= 60 || notes[i]-notes[i-2] > 4)
		}
		if good {
			all = append(all, notes)
		}
	}
	return all
}

// At stillness 1 what stays is one set, what departs has a reason, comes back,
// and tells its chord.
func TestStillestPathDepartsOnlyWithAReason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := DefaultSettings()
		s.Stillness, s.Voices = 1, rapid.IntRange(3, 5).Draw(t, "voices")
		e, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		var list []harmony.Chord
		for range rapid.IntRange(1, 5).Draw(t, "length") {
			c, err := harmony.ParseChord(rapid.SampledFrom(symbols).Draw(t, "chord"))
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, c)
		}
		p, err := e.Path(list, cMajor, true, nil)
		var tooSmall *RangeError
		if errors.As(err, &tooSmall) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		h, _, err := e.Pair(list, nil, cMajor, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range p.Steps {
			stays := s.Voicing.Pitches() == p.Static
			if stays != (s.Trouble == Clear) {
				t.Fatalf("%s: %v on the set %v, trouble %v", s.Chord.Symbol(), s.Voicing.Notes(), p.Static.Append(nil), s.Trouble)
			}
			if v := h[i].Rung(e.s.Voices); v.Pitches() != s.Voicing.Pitches() {
				t.Fatalf("%s: the ladder's rung of the path's size is %v, the path has %v", s.Chord.Symbol(), v.Notes(), s.Voicing.Notes())
			}
		}
	})
}

// Where no colours are allowed there is no one set, and nothing but chord tones
// sounds, whoever asks.
func TestStillness1KeepsToTheColoursAllowed(t *testing.T) {
	for name, change := range map[string]func(*Settings){
		"colours 0":     func(s *Settings) { s.Colours = 0 },
		"colour plain":  func(s *Settings) { s.Palette = 0 },
		"plain":         func(s *Settings) { s.Plain = true },
		"pedal, plain":  func(s *Settings) { s.PedalPoint, s.Colours = TonicPedal, 0 },
		"any, for once": nil,
	} {
		e := engine(t, func(s *Settings) {
			s.Stillness = 1
			if change != nil {
				change(s)
			}
		})
		list := chords(t, cMajor, "1 4 6m 2m")
		p, err := e.Path(list, cMajor, true, nil)
		if err != nil {
			t.Fatal(err)
		}
		home, away, err := e.Pair(list[:2], list[2:], cMajor, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		next, err := e.Next(list[3], cMajor, &home[0])
		if err != nil {
			t.Fatal(err)
		}
		coloured := 0
		for i, l := range append(append(home, away...), next) {
			c := append(list, list[3])[i]
			sounding := l.Rung(int(l.High))
			classes := sounding.Classes()
			if i < len(p.Steps) {
				classes |= p.Steps[i].Voicing.Classes()
			}
			coloured += classes.Minus(c.Classes()).Without(e.s.tonality(c, cMajor).bass).Len()
		}
		if set := p.Static.Len() > 0; set != (change == nil) || set != (coloured > 0) {
			t.Errorf("%s: a set of %d notes, %d colours", name, p.Static.Len(), coloured)
		}
	}
}

// The work is bounded: a range with too many sets is narrowed.
func TestWideRangesAreNarrowedForTheStaticSet(t *testing.T) {
	for _, c := range []struct {
		low, high uint8
		voices    int
		narrowed  bool
	}{{53, 76, 4, false}, {48, 84, 7, false}, {36, 96, 7, true}, {1, 127, 7, true}} {
		e := engine(t, func(s *Settings) {
			s.Stillness, s.Voices, s.Full = 1, c.voices, 7
			s.Low, s.High, s.Centre = c.low, c.high, 64
		})
		found := e.fillStatic(chords(t, cMajor, "1 4 6m 2m"), cMajor)
		b := &e.still
		if !found || b.narrowed != c.narrowed || b.sets > maxSets || b.narrowed != (b.low != c.low || b.high != c.high) {
			t.Errorf("%d voices in %d…%d: found %v, %d sets in %d…%d, narrowed %v", c.voices, c.low, c.high, found, b.sets, b.low, b.high, b.narrowed)
		}
	}
}

func TestTroubles(t *testing.T) {
	for _, c := range []struct {
		chord string
		upper []uint8
		want  Trouble
	}{
		{"C", []uint8{60, 64, 67, 69}, Clear},
		{"Dm", []uint8{60, 64, 67, 69}, Clear},           // no third, but nobody hears another chord
		{"E", []uint8{59, 64, 71, 74}, LacksBorrowed},    // no G#
		{"Bb7", []uint8{58, 62, 65, 70}, LacksBorrowed},  // no Ab
		{"Dm", []uint8{57, 62, 69, 74}, Hollow},          // an empty fifth
		{"Dm", []uint8{57, 62}, Clear},                   // of two voices no more is asked
		{"C", []uint8{55, 64, 67, 76}, Clear},            // with its bass the chord is whole
		{"Csus2", []uint8{55, 62, 67, 74}, Clear},        //
		{"C/E", []uint8{60, 64, 67, 69}, Clear},          // Am7/E and C6/E are one
		{"F/C", []uint8{60, 64, 67, 69}, HeardAsOther},   // C6: the root is missing
		{"Gsus4", []uint8{55, 60, 64, 69}, BreaksRule},   // C6/G
		{"Gsus4", []uint8{60, 62, 64, 69}, BreaksRule},   // C69/G, though all tones are there
		{"G/B", []uint8{60, 64, 67, 69}, BreaksRule},     // C over the third
		{"Csus4", []uint8{60, 64, 67, 69}, BreaksRule},   // the third beside its suspension
		{"Fm", []uint8{60, 64, 67, 72}, BreaksRule},      // a major seventh over a minor third
		{"Am", []uint8{57, 60, 64, 67}, Clear},           // Am7
		{"Am7", []uint8{62, 67, 69, 72}, Clear},          // only the fifth is missing
		{"G/A", []uint8{57, 64, 67, 69}, HeardAsOther},   // a seventh chord on A without a third
		{"E7", []uint8{62, 64, 68, 71}, Clear},           //
		{"E7", []uint8{62, 64, 67, 71}, BreaksRule},      // the minor third
		{"Bdim", []uint8{62, 65, 69, 71}, Clear},         // Bm7b5
		{"Dm", []uint8{60, 65, 69, 72}, Clear},           // Dm7
		{"Fmaj7", []uint8{55, 60, 67, 69}, Clear},        // F69: its own root in the bass
		{"F/G", []uint8{57, 60, 65, 69}, Clear},          // G9sus by another name, all tones there
		{"Am/G", []uint8{60, 62, 64, 67}, HeardAsOther},  // C9/G
		{"Dm7/G", []uint8{57, 60, 64, 67}, HeardAsOther}, // C6/G
	} {
		chord, err := harmony.ParseChord(c.chord)
		if err != nil {
			t.Fatal(err)
		}
		tones := tonalityOf(chord, cMajor, false)
		e := engine(t, nil)
		v := Of(0, c.upper...)
		over := e.overBass(&v, &tones)
		if got := tones.troubleOf(&over); got != c.want {
			heard, _ := harmony.Identify(over.Classes(), chord.BassClass(), cMajor)
			t.Errorf("%s under %v is %q, want %q (heard as %s)", c.chord, c.upper, got, c.want, heard.Symbol())
		}
	}
}

// A chord that comes without warning at stillness 1 keeps the upper notes where
// they tell it, and only there.
func TestNextAtStillness1KeepsWhatTellsTheChord(t *testing.T) {
	e := engine(t, func(s *Settings) { s.Stillness = 1 })
	for _, c := range []struct {
		next  string
		stays bool
	}{{"F", true}, {"Am", true}, {"Em", false}, {"Dm", false}, {"C/E", true}, {"F/C", false}, {"Csus4", false}, {"G/B", false}, {"Am7", true}} {
		home, _, err := e.Pair(chords(t, cMajor, "1 4 6m"), nil, cMajor, nil, 0, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		l, err := e.Next(chord(t, c.next), cMajor, &home[0])
		if err != nil {
			t.Fatal(err)
		}
		was, now := home[0].Rung(4), l.Rung(4)
		if stays := was.Pitches() == now.Pitches(); stays != c.stays {
			t.Errorf("C to %s goes from %v to %v: stays %v, want %v", c.next, was.Notes(), now.Notes(), stays, c.stays)
		}
	}
}

func BenchmarkPairAtStillness1(b *testing.B) {
	e := engine(b, func(s *Settings) { s.Stillness = 1 })
	home, away := chords(b, cMajor, "1 1/3 4"), chords(b, cMajor, "6m 4 5/7")
	var h, a []Ladder
	var err error
	b.ReportAllocs()
	for b.Loop() {
		if h, a, err = e.Pair(home, away, cMajor, nil, 0, h[:0], a[:0]); err != nil {
			b.Fatal(err)
		}
	}
}
