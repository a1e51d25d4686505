package bed

import (
	"slices"
	"time"

	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// View is all that a screen may want to know of a bed, as a copy.
type View struct {
	Phase     Phase
	Moment    int
	Key       pitch.Key
	Chord     harmony.Chord
	Place     Place
	Next      harmony.Chord // where the next Step leads
	NextDoes  Command       // what the next Step does: BringIn, Next, what is armed, or NoCommand where it holds
	Stay      bool
	Follow    bool
	Intensity float64 // 0…1
	Source    dynamics.Source
	Fullness  float64         // 0…1: the intensity less the room that is made for the player
	Density   int             // upper notes that sound, or would
	Voicing   voicing.Voicing // of the current chord at the current density
	Missing   pitch.Set       // identity tones of the chord that no note of the bed gives
	Change    Change
	Level     [NumLayers]int // 0…127, −1 before the first

	Brightness int // 0…127, −1 before the first

	Song    int   // the number of the song that follows, 0 for none
	Used    Songs // those that the bed has left into
	Guarded *Song // the next song where it has a figure to keep, not to be changed, or nil
	Heard   bool  // the bed's top line has it: no voicing of these chords keeps off it
	Called  bool  // the moment is not the plan's
	Choice  Choice
	Chosen  int // a song's number, 0 for none, or a tonic's class

	Way     [harmony.MaxRoute]harmony.Chord // what is left of the landing, or what it would be from here
	WayLen  int
	Lands   bool          // the way is being walked
	Arrived bool          // at the song's first chord
	Walks   bool          // the bed goes on by itself
	Since   time.Duration // when the bed came to Place
	Chords  int           // how many different chords its progression has, 0 outside of them
	Both    int           // how many home and away have together
}

// View gives a copy of the bed's state. No allocation.
func (b *Bed) View() View {
	v := View{
		Phase: b.phase, Moment: b.moment, Key: b.key, Chord: b.chord, Place: b.place,
		Stay: b.stay, Follow: b.follow, Intensity: b.intensity.Value(), Change: b.change, Level: b.level,
		Fullness: b.intensity.Fullness(), Brightness: b.bright,
	}
	var target float64
	target, v.Source = b.asked()
	if b.phase == Silent {
		v.Intensity = target
		v.Fullness = v.Intensity
		v.Voicing = b.ladder.Rung(b.density.Rung(v.Intensity))
	} else {
		v.Voicing = b.ladder.Rung(b.rung)
	}
	v.Density = int(v.Voicing.N)
	v.Missing = b.chord.Identity().Minus(v.Voicing.Classes())
	if v.Voicing.Bass != voicing.NoBass {
		v.Missing = v.Missing.Without(classOf(v.Voicing.Bass))
	}
	v.NextDoes, v.Next = b.stepLeads()
	b.viewPlan(&v)
	return v
}

// viewPlan adds where the bed is on its way through the plan.
func (b *Bed) viewPlan(v *View) {
	v.Song, v.Used, v.Called = b.song, b.used, b.called
	if s := b.figure(); s != nil {
		v.Guarded, v.Heard = s, b.heard
	}
	v.Choice, v.Chosen = b.choice.what, b.choice.at
	p, left := &b.ahead, 0
	if b.lead == intoSong {
		p, left, v.Lands = &b.path, b.path.at+1, true
	}
	v.WayLen = copy(v.Way[:], p.Chords[left:p.N])
	v.Arrived, v.Walks, v.Since = b.arrived, b.walking && b.moves(), b.placeAt
	if b.place == Home || b.place == Away {
		v.Chords = different(b.chords[b.place], nil)
	}
	v.Both = different(b.chords[Home], b.chords[Away])
}

// different counts the chords of two progressions, each once.
func different(some, others []harmony.Chord) (n int) {
	for i, c := range some {
		if !slices.Contains(some[:i], c) {
			n++
		}
	}
	for i, c := range others {
		if !slices.Contains(some, c) && !slices.Contains(others[:i], c) {
			n++
		}
	}
	return n
}

// asked gives what is asked for, and by whom. Looking changes nothing: it asks a
// copy, since the intensity takes in where the foot is when it is asked.
func (b *Bed) asked() (float64, dynamics.Source) {
	i := b.intensity
	return i.Target(b.now)
}

// stepLeads tells what the next Step would do, and where it would lead.
func (b *Bed) stepLeads() (Command, harmony.Chord) {
	switch {
	case b.choice.what != NoChoice:
		return Take, b.chord
	case b.phase != Rising && b.phase != Holding:
		return BringIn, b.chord
	case b.armed == Swap && (b.group == Away || b.lead == intoSong):
		return Swap, b.chords[Home][0]
	case b.armed == Swap:
		return Swap, b.chords[Away][0]
	case b.armed == Land || b.armed == LandThrough:
		if b.ahead.N > 0 {
			return b.armed, b.ahead.Chords[0]
		}
		return b.armed, b.chord
	case b.armed == FirstChord:
		_, first := b.destination()
		return FirstChord, first
	case b.armed != NoCommand:
		return b.armed, b.chord
	case b.lead != nowhere && b.path.over():
		return NoCommand, b.chord
	case b.lead != nowhere:
		return Next, b.path.Chords[b.path.at+1]
	}
	chords := b.chords[b.group]
	return Next, chords[(b.index+1)%len(chords)]
}

func classOf(note uint8) pitch.Class { return pitch.ClassOf(int(note)) }

func classes(notes []uint8) (s pitch.Set) {
	for _, n := range notes {
		s = s.Add(classOf(n))
	}
	return s
}

// Silent reports whether nothing of the bed sounds, nor is about to.
func (b *Bed) Silent() bool { return b.phase == Silent }
