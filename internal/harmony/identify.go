package harmony

import "bedd/internal/pitch"

// Identify names what sounds over a bass as a keyboard player in key k would,
// spelled for the key; it is not ok only when nothing sounds. The bass counts
// as sounding.
//
// The name has every class that sounds, and besides them at most a third and a
// fifth: where these are missing, the key fills them in. So one class is the
// key's own triad on it, or a major triad where the key has none, and C E Bb is
// C7. A root that does not sound is never filled in: E G Bb D is Em7b5, not C9.
//
// C E G A is C6 over C and Am7 over A; C F G is Csus4 over C and Fsus2 over F;
// diminished sevenths and augmented triads are named from the bass; a triad over
// a foreign bass or its own seventh is a slash chord. What no common name covers
// is added to the nearest, as in C(#11)add9: at most two tones up to six classes,
// seldom more in the scales beyond, where no name is short. Equal names are settled by the
// nearer root upwards from the bass, then by the order of candidates.
// Hot path: no allocation; 12 roots × candidates at most.
func Identify(sounding pitch.Set, bass pitch.Class, k pitch.Key) (Chord, bool) {
	if sounding == 0 {
		return Chord{}, false
	}
	sounding = sounding.Add(bass)
	scale := k.Classes()
	if sounding.Len() == 1 {
		return alone(k.Spell(bass), k), true
	}
	best, root, lowest := 0, bass, 1<<30
	for up := range 12 {
		r := bass.Up(up)
		if !sounding.Has(r) {
			continue
		}
		down := -int(r)
		heard, over, inKey := sounding.Transpose(down), bass.Up(down), scale.Transpose(down)
		for i := range candidates {
			if candidates[i].rarity >= lowest {
				break // those that follow are no less rare
			}
			if p := candidates[i].price(heard, over, inKey); p < lowest {
				best, root, lowest = i, r, p
			}
		}
	}
	down := -int(root)
	known := &candidates[best]
	q := known.quality.with(known.unnamed(sounding.Transpose(down), bass.Up(down)))
	name := q.rootName(k, root)
	return Chord{Root: name, Bass: q.bassName(name, bass, k), quality: q}, true
}

// alone returns the triad that a single note stands for.
func alone(n pitch.Name, k pitch.Key) Chord {
	for i, own := range k.Scale() {
		if own == n {
			return Diatonic(k, i+1)
		}
	}
	return Chord{Root: n, Bass: n, quality: majorTriad}
}

// unnamed returns what is heard besides the candidate's own tones and the bass,
// which a slash can name.
func (c *candidate) unnamed(heard pitch.Set, bass pitch.Class) pitch.Set {
	return heard.Minus(c.classes).Without(bass)
}

// price rates the candidate as a name for what is heard, everything being
// counted from the candidate's root.
func (c *candidate) price(heard pitch.Set, bass pitch.Class, inKey pitch.Set) int {
	p := c.rarity + c.over[bass]
	if bass != 0 && !inKey.Has(0) {
		p += priceForeignRoot
	}
	if bass != 0 && heard.Len() >= wholeScale {
		p += priceScaleBass
	}
	if more := c.unnamed(heard, bass); more != 0 {
		p += priceAdded*more.Len() + priceThirdAdded*max(0, more.Len()-2) + priceUnsaid*more.Minus(c.sayable).Len()
		if more.Contains(bothSevenths) {
			p += priceUnsaid
		}
	}
	if missing := c.classes.Minus(heard); missing != 0 {
		p += priceOutOfKey*missing.Minus(inKey).Len() +
			priceNoOther*missing.Minus(c.third).Minus(c.fifth).Len() +
			priceNoneOfMany*max(0, heard.Len()-4)
		if missing.Intersect(c.third) != 0 {
			p += c.noThird
			if !c.classes.Has(bass) {
				p += priceNoSlashThird
			}
		}
		if missing.Intersect(c.fifth) != 0 {
			p += c.noFifth
		}
	}
	return p
}
