package voicing

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Weights of the cost's terms, each 0…[MaxWeight]; see the package documentation.
type Weights struct {
	Movement  float64 `json:"movement"`  // per semitone
	Strike    float64 `json:"strike"`    // per new upper note
	FewHeld   float64 `json:"few_held"`  // per held pitch class short of two
	Leap      float64 `json:"leap"`      // per semitone beyond a fourth by which the top note leaps
	Parallel  float64 `json:"parallel"`  // for outer octaves in a row: see [Cost]
	BassMove  float64 `json:"bass_move"` // per semitone of the bass
	Missing   float64 `json:"missing"`   // per absent identity tone
	Bare      float64 `json:"bare"`      // per other absent chord tone
	Double    float64 `json:"double"`    // per upper note that repeats a root or fifth; other repeated notes count twice
	Colour    float64 `json:"colour"`    // per upper note that is a colour
	Roughness float64 `json:"roughness"` // per unit of Roughness
	Centre    float64 `json:"centre"`    // per semitone from the register's centre
}

// MaxWeight is the highest weight.
const MaxWeight = 1000

// Weight is one term of the cost: its name as [Cost] has it in JSON, and where
// its weight stands.
type Weight struct {
	Name string
	At   *float64
}

// All lists the weights by name, in the order of the package documentation.
func (w *Weights) All() [12]Weight {
	return [...]Weight{
		{"movement", &w.Movement}, {"strike", &w.Strike}, {"few_held", &w.FewHeld}, {"leap", &w.Leap},
		{"parallel", &w.Parallel}, {"bass_move", &w.BassMove}, {"missing", &w.Missing}, {"bare", &w.Bare},
		{"double", &w.Double}, {"colour", &w.Colour}, {"roughness", &w.Roughness}, {"centre", &w.Centre},
	}
}

// ParseWeights gives w with what s changes in it, "movement=2,roughness=0": terms
// by name, each once, 0…[MaxWeight].
func ParseWeights(s string, w Weights) (Weights, error) {
	var names []string
	given := map[string]bool{}
	for _, known := range w.All() {
		names = append(names, known.Name)
	}
	for _, part := range strings.Split(s, ",") {
		name, number, ok := strings.Cut(part, "=")
		name, number = strings.TrimSpace(name), strings.TrimSpace(number)
		at := slices.Index(names, name)
		value, err := strconv.ParseFloat(number, 64)
		switch {
		case !ok:
			return w, fmt.Errorf("%q is not a term and its weight, as in movement=2,roughness=0", strings.TrimSpace(part))
		case at < 0:
			return w, fmt.Errorf("%q is no term of the cost: use %s", name, strings.Join(names, ", "))
		case given[name]:
			return w, fmt.Errorf("%s is given twice", name)
		case err != nil:
			return w, fmt.Errorf("%s %q is not a number 0…%d", name, number, MaxWeight)
		}
		if err := checkWeight(name, value); err != nil {
			return w, err
		}
		*w.All()[at].At, given[name] = value, true
	}
	return w, nil
}

func (w Weights) check() error {
	for _, known := range w.All() {
		if err := checkWeight(known.Name, *known.At); err != nil {
			return err
		}
	}
	return nil
}

func checkWeight(name string, value float64) error {
	if !(value >= 0 && value <= MaxWeight) {
		return fmt.Errorf("the weight of %s, %v, is out of range 0…%d", name, value, MaxWeight)
	}
	return nil
}

// DefaultWeights is by ear: home and away progressions in all keys at three
// densities, until nothing moved that a player would have held and nothing
// muddy was kept only because it was near. Leap and Parallel are high enough
// that the library's progressions show neither in any key.
func DefaultWeights() Weights {
	return Weights{Movement: 1, Strike: 0.5, FewHeld: 14, Leap: 4, Parallel: 20, BassMove: 0.1,
		Missing: 25, Bare: 6, Double: 6, Colour: 1.5, Roughness: 1.8, Centre: 0.3}
}

// MovementOnly counts nothing but the semitones that the upper notes move.
func MovementOnly() Weights { return Weights{Movement: 1} }
