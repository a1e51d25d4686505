package bed

import "slices"

// Phase is where the bed is between silence and sound.
type Phase uint8

// The phases.
const (
	Silent  Phase = iota
	Rising        // being brought in
	Holding       // sounding
	Fading        // leaving slowly
	Leaving       // leaving fast

	NumPhases
)

var phaseNames = [NumPhases]string{"silent", "rising", "holding", "fading", "leaving"}

func (p Phase) String() string { return phaseNames[p] }

// ParsePhase reads a phase by its name.
func ParsePhase(name string) (Phase, bool) {
	i := slices.Index(phaseNames[:], name)
	return Phase(max(i, 0)), i >= 0
}

// cause is what can change the phase.
type cause uint8

const (
	causeIn      cause = iota // bring in
	causeFade                 // fade out
	causeOut                  // out now
	causeArrived              // the ramp is over
	causeOff                  // all notes off

	numCauses
)

// next holds every transition; a pair that means nothing keeps the phase.
var next = [NumPhases][numCauses]Phase{
	//          in       fade     out      arrived  off
	Silent:  {Rising, Silent, Silent, Silent, Silent},
	Rising:  {Rising, Fading, Leaving, Holding, Silent},
	Holding: {Holding, Fading, Leaving, Holding, Silent},
	Fading:  {Rising, Fading, Leaving, Silent, Silent},
	Leaving: {Rising, Leaving, Leaving, Silent, Silent},
}
