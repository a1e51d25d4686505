package bed

import (
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
	return v
}

// asked gives what is asked for, and by whom. Looking changes nothing: it asks a
// copy, since the intensity takes in where the foot is when it is asked.
func (b *Bed) asked() (float64, dynamics.Source) {
	i := b.intensity
	return i.Target(b.now)
}

// stepLeads tells what the next Step would do, and where it would lead.
func (b *Bed) stepLeads() (Command, harmony.Chord) {
	if b.phase != Rising && b.phase != Holding {
		return BringIn, b.chord
	}
	switch {
	case b.armed == Swap && (b.group == Away || b.landing):
		return Swap, b.chords[Home][0]
	case b.armed == Swap:
		return Swap, b.chords[Away][0]
	case b.armed == Land:
		key, first := b.destination()
		if route, n := harmony.Landing(b.chord, b.key, key, first); n > 0 {
			return Land, route[0]
		}
		return Land, b.chord
	case b.armed != NoCommand:
		return b.armed, b.chord
	case b.landing && b.landed():
		return NoCommand, b.chord
	case b.landing:
		return Next, b.route[b.routeAt+1]
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
