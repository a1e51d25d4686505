package pitch

import (
	"testing"

	"pgregory.net/rapid"
)

func TestClassOfNotesBelowZero(t *testing.T) {
	for note, want := range map[int]Class{0: 0, 60: 0, 61: 1, 127: 7, -1: 11, -12: 0, -13: 11} {
		if got := ClassOf(note); got != want {
			t.Errorf("ClassOf(%d) = %d, want %d", note, got, want)
		}
	}
	if got := Class(2).Up(-3); got != 11 {
		t.Errorf("Class(2).Up(-3) = %d, want 11", got)
	}
}

func TestSetAgreesWithAMapOfClasses(t *testing.T) {
	class := rapid.Map(rapid.IntRange(0, 11), func(i int) Class { return Class(i) })
	rapid.Check(t, func(t *rapid.T) {
		var s Set
		model := map[Class]bool{}
		for _, c := range rapid.SliceOf(class).Draw(t, "added") {
			s = s.Add(c)
			model[c] = true
		}
		for _, c := range rapid.SliceOfN(class, 0, 4).Draw(t, "removed") {
			s = s.Without(c)
			delete(model, c)
		}
		if s.Len() != len(model) {
			t.Fatalf("Len() = %d, model has %d", s.Len(), len(model))
		}
		n := rapid.IntRange(-30, 30).Draw(t, "semitones")
		moved := s.Transpose(n)
		for c := range Class(12) {
			if s.Has(c) != model[c] {
				t.Fatalf("Has(%d) = %v, model %v", c, s.Has(c), model[c])
			}
			if moved.Has(c.Up(n)) != model[c] {
				t.Fatalf("Transpose(%d).Has(%d) = %v, model %v", n, c.Up(n), moved.Has(c.Up(n)), model[c])
			}
		}
		if back := moved.Transpose(-n); back != s {
			t.Fatalf("Transpose(%d) and back = %v, want %v", n, back, s)
		}
	})
}

func TestSetArithmetic(t *testing.T) {
	c, am := SetOf(0, 4, 7), SetOf(9, 0, 4)
	for _, tt := range []struct {
		what      string
		got, want Set
	}{
		{"union", c.Union(am), SetOf(0, 4, 7, 9)},
		{"intersection", c.Intersect(am), SetOf(0, 4)},
		{"difference", c.Minus(am), SetOf(7)},
		{"wrap", am.Transpose(5), SetOf(2, 5, 9)},
	} {
		if tt.got != tt.want {
			t.Errorf("%s = %v, want %v", tt.what, tt.got, tt.want)
		}
	}
	if c.Contains(am) || !c.Union(am).Contains(am) || !c.Contains(0) {
		t.Error("Contains does not follow the sets")
	}
	if got := am.String(); got != "{0 4 9}" {
		t.Errorf("String() = %q, want {0 4 9}", got)
	}
}
