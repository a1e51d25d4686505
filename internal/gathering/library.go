package gathering

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"

	"go.yaml.in/yaml/v3"
)

// Library is a list of pairs of progressions, the preferred ones first.
type Library []Pair

// Pair is two short progressions in degrees counted from the tonic: one that
// rests on it, one that avoids it and leads back.
type Pair struct {
	Name  string
	Minor bool // for minor keys, else for major ones
	Home  string
	Away  string // may be empty
	Why   string // in words for the player
}

// Named is the pair of that name.
func (l Library) Named(name string) (Pair, bool) {
	for _, p := range l {
		if p.Name == name {
			return p, true
		}
	}
	return Pair{}, false
}

// First is the first pair for major or minor keys.
func (l Library) First(minor bool) (Pair, bool) {
	for _, p := range l {
		if p.Minor == minor {
			return p, true
		}
	}
	return Pair{}, false
}

// names lists all pairs.
func (l Library) names() []string {
	return append(l.namesFor(false), l.namesFor(true)...)
}

// namesFor lists the pairs for major or minor keys.
func (l Library) namesFor(minor bool) []string {
	var names []string
	for _, p := range l {
		if p.Minor == minor {
			names = append(names, p.Name)
		}
	}
	return names
}

// maxPairs bounds a library.
const maxPairs = 500

// ReadLibrary reads a list of pairs; the name is for its errors, which are of
// type *[FileError].
func ReadLibrary(name string, data []byte) (Library, error) {
	var library Library
	r := &reader{}
	if root := r.document(data, "a library lists pairs:"); root != nil {
		said := r.mapping(root, "a library", field{"pairs", func(n *yaml.Node) {
			for _, item := range r.list(n, "pairs", maxPairs) {
				library = append(library, r.pair(item, library))
			}
			if len(library) == 0 && len(r.faults) == 0 {
				r.fault(n.Line, "pairs is empty: a library has at least one")
			}
		}})
		r.need(root, said, "pairs", "a library lists pairs:")
	}
	if err := fileError(name, r.faults); err != nil {
		return nil, err
	}
	return library, nil
}

func (r *reader) pair(n *yaml.Node, before Library) Pair {
	var p Pair
	var mode string
	said := r.mapping(n, "a pair",
		field{"name", r.text("name", &p.Name)},
		field{"mode", r.choice("mode", &mode, "major", "minor")},
		field{"home", r.text("home", &p.Home)},
		field{"away", r.text("away", &p.Away)},
		field{"why", r.text("why", &p.Why)},
	)
	if said == nil {
		return p
	}
	p.Minor = mode == "minor"
	for _, name := range []string{"name", "mode", "home", "why"} {
		r.need(n, said, name, "a pair has name, mode, home and why:")
	}
	if _, taken := before.Named(p.Name); taken && p.Name != "" {
		r.fault(said.line("name"), "there is already a pair named %q", p.Name)
	}
	key := pitch.Key{Minor: p.Minor}
	if p.Minor {
		key.Tonic = pitch.Name{Letter: 5} // A
	}
	r.progression(said.line("home"), "home", p.Home, key, harmony.FromTonic)
	r.progression(said.line("away"), "away", p.Away, key, harmony.FromTonic)
	return p
}
