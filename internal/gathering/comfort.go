package gathering

import (
	"strings"

	"bedd/internal/pitch"

	"go.yaml.in/yaml/v3"
)

// Ease is how a key lies under the player's hands. The zero value is fair.
type Ease int8

const (
	Hard Ease = iota - 1
	Fair
	Easy
)

// String is the word that a plan uses.
func (e Ease) String() string {
	switch {
	case e < 0:
		return "hard"
	case e > 0:
		return "easy"
	}
	return "fair"
}

// Comfort is how each key lies under the player's hands; what the plan does not
// say is fair. Keys that sound alike are one.
type Comfort struct {
	eases     [24]Ease
	said      [24]bool
	practised [24]bool
}

// Of gives a key's ease.
func (c Comfort) Of(k pitch.Key) Ease { return c.eases[comfortIndex(k)] }

// Practised says how a key lies under the hands by what was practised. What the plan
// says of it goes before.
func (c *Comfort) Practised(k pitch.Key, e Ease) {
	if i := comfortIndex(k); !c.said[i] {
		c.eases[i], c.practised[i] = e, true
	}
}

// FromPractice reports whether a key's ease comes from what was practised.
func (c Comfort) FromPractice(k pitch.Key) bool { return c.practised[comfortIndex(k)] }

func comfortIndex(k pitch.Key) int {
	i := int(k.Tonic.Class())
	if k.Minor {
		i += 12
	}
	return i
}

// comfort reads lists of keys, as in easy: C G Am.
func (r *reader) comfort(c *Comfort) func(*yaml.Node) {
	return func(n *yaml.Node) {
		said := map[int]string{}
		list := func(e Ease) field {
			return field{e.String(), func(n *yaml.Node) {
				s, ok := r.words(n, e.String())
				if !ok {
					return
				}
				for _, word := range strings.FieldsFunc(s, func(c rune) bool { return c == ' ' || c == ',' }) {
					k, err := pitch.ParseKey(word)
					if err != nil {
						r.fault(n.Line, "%v: %v", e, err)
						continue
					}
					i := comfortIndex(k)
					if before, twice := said[i]; twice {
						r.fault(n.Line, "%v: %v is there already, as %s", e, k, before)
						continue
					}
					said[i], c.eases[i], c.said[i] = e.String()+" "+k.String(), e, true
				}
			}}
		}
		r.mapping(n, "comfort", list(Easy), list(Fair), list(Hard))
	}
}
