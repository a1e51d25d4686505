package gathering

import (
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// outlook is what a moment's suggestions are judged by.
type outlook struct {
	*grown
	moment   *Moment
	relative bool // degrees count from the relative major's tonic
	key      pitch.Key
	song     *Song // that follows, or nil
	before   *Moment
	ease     Ease
	likes    []relation        // to the song, by kin
	again    []harmony.Kinship // to what the moment before had, by kin

	// The song, moved as the moment's key is to the reference key.
	to       pitch.Key
	first    harmony.Chord
	sections [][]harmony.Chord
	figure   []int
	routes   map[harmony.Chord]harmony.Route
}

// relation is how a progression is related to a song.
type relation struct {
	harmony.Likeness
	section string
}

func (a *Adviser) outlook(g *Gathering, i int) *outlook {
	m := &g.Moments[i]
	minor := 0
	if m.Bed.Key.Minor {
		minor = 1
	}
	if a.grown[minor] == nil {
		a.grown[minor] = grow(a.library, m.Bed.Key.Minor)
	}
	o := &outlook{grown: a.grown[minor], moment: m, relative: g.Numbers == harmony.Relative, key: m.Bed.Key, ease: g.Comfort.Of(m.Bed.Key)}
	if song, ok := g.Next(i); ok && !song.NoKey {
		o.song = &song
		o.to = o.moved(song.Key)
		o.first = song.First.Transpose(song.Key, o.to)
		for _, s := range song.Sections {
			var there []harmony.Chord
			for _, c := range s.Chords {
				there = append(there, c.Transpose(song.Key, o.to))
			}
			o.sections = append(o.sections, there)
		}
		for _, note := range song.Figure {
			o.figure = append(o.figure, note+int(o.to.Tonic.Class())-int(song.Key.Tonic.Class()))
		}
	}
	if i > 0 {
		o.before = &g.Moments[i-1]
	}
	for _, k := range o.kins {
		o.likes, o.again = append(o.likes, o.relate(k.chords)), append(o.again, o.repeats(k))
	}
	o.routes = a.routesTo(o)
	return o
}

// moved is a key that stands to the reference key as k does to the moment's.
func (o *outlook) moved(k pitch.Key) pitch.Key {
	return k.Transpose(int(o.grown.key.Tonic.Class()) - int(o.key.Tonic.Class()))
}

// relate compares a progression in the reference key with the song's.
func (o *outlook) relate(chords []harmony.Chord) (worst relation) {
	worst.Distance = 1
	for i, section := range o.sections {
		if l := harmony.Compare(chords, o.grown.key, section, o.to); l.Kinship > worst.Kinship || l.Kinship == worst.Kinship && l.Distance < worst.Distance {
			worst = relation{l, o.song.Sections[i].Name}
		}
	}
	return worst
}

// price is what a relation to the song costs.
func (r relation) price() float64 {
	switch r.Kinship {
	case harmony.Equal, harmony.Rotated:
		return priceSame
	case harmony.Contains, harmony.Contained:
		return pricePart
	case harmony.Disguised:
		return priceDisguised
	}
	return priceNear * (1 - r.Distance)
}
