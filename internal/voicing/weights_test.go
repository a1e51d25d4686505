package voicing

import (
	"encoding/json"
	"fmt"
	"testing"
)

// The names are those of the printed terms, each with a weight of its own.
func TestWeightsAreNamedAsTheTermsThatArePrinted(t *testing.T) {
	var terms map[string]float64
	text, err := json.Marshal(Cost{})
	if err == nil {
		err = json.Unmarshal(text, &terms)
	}
	if err != nil {
		t.Fatal(err)
	}
	delete(terms, "total")
	all := new(Weights).All()
	if len(terms) != len(all) {
		t.Errorf("%d terms, %d weights", len(terms), len(all))
	}
	for i, known := range all {
		if _, ok := terms[known.Name]; !ok {
			t.Errorf("no term is called %s", known.Name)
		}
		w, err := ParseWeights(fmt.Sprintf(" %s = %d ", known.Name, i+1), Weights{})
		if err != nil {
			t.Fatal(err)
		}
		var named map[string]float64
		if text, err = json.Marshal(w); err == nil {
			err = json.Unmarshal(text, &named)
		}
		if err != nil || named[known.Name] != float64(i+1) {
			t.Errorf("%s=%d gives %s, %v", known.Name, i+1, text, err)
		}
	}
}

func TestParseWeights(t *testing.T) {
	got, err := ParseWeights("movement=2,roughness=0,few_held=1e3", DefaultWeights())
	want := DefaultWeights()
	want.Movement, want.Roughness, want.FewHeld = 2, 0, 1000
	if err != nil || got != want {
		t.Errorf("%+v, %v", got, err)
	}
	const terms = "movement, strike, few_held, leap, parallel, bass_move, missing, bare, double, colour, roughness, centre"
	for s, want := range map[string]string{
		"":                      `"" is not a term and its weight, as in movement=2,roughness=0`,
		"movement":              `"movement" is not a term and its weight, as in movement=2,roughness=0`,
		"movement=1,":           `"" is not a term and its weight, as in movement=2,roughness=0`,
		"moves=1":               `"moves" is no term of the cost: use ` + terms,
		"total=1":               `"total" is no term of the cost: use ` + terms,
		"leap=1,leap=2":         "leap is given twice",
		"leap=":                 `leap "" is not a number 0…1000`,
		"leap=two":              `leap "two" is not a number 0…1000`,
		"leap=-1":               "the weight of leap, -1, is out of range 0…1000",
		"leap=1001":             "the weight of leap, 1001, is out of range 0…1000",
		"movement=1, leap=NaN":  "the weight of leap, NaN, is out of range 0…1000",
		"movement=1, leap=+Inf": "the weight of leap, +Inf, is out of range 0…1000",
		"leap=1e400":            `leap "1e400" is not a number 0…1000`,
	} {
		if w, err := ParseWeights(s, Weights{}); err == nil || err.Error() != want {
			t.Errorf("%q: %v, %v, want %s", s, w, err, want)
		}
	}
}
