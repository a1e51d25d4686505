package sound

// note is what every voice knows about the key that started it.
type note struct {
	sounding bool // the voice is in use
	channel  byte
	key      byte
	held     bool // the key is down
	latched  bool // CC 66 keeps it
	released bool // key, damper pedal and sostenuto have all let go
	fading   bool // being cut short: stolen, struck again or silenced
}

// letGo tells the note that its key came up.
func (n *note) letGo(damperUp bool) {
	n.held = false
	if !damperUp && !n.latched {
		n.released = true
	}
}

// damperFell tells the note that the channel's damper pedal was let go.
func (n *note) damperFell() {
	if !n.held && !n.latched {
		n.released = true
	}
}

// unlatch tells the note that the sostenuto pedal was let go.
func (n *note) unlatch(damperUp bool) {
	n.latched = false
	if !n.held && !damperUp {
		n.released = true
	}
}

// fadeSeconds is how fast a voice that is cut short goes; by ear: shorter
// clicks on low notes.
const fadeSeconds = 0.015

// claim finds a voice for a new note. Above limit sounding voices it fades
// the least missed one: released before held, then quiet before loud. There
// are more voices than limit, so the fading one keeps its place; only when
// more notes than that come at once is a fading voice cut off.
// No allocation; O(voices).
func claim[V any, P interface {
	*V
	base() *note
	loudness() float64
}](voices []V, limit int) *V {
	var free, victim, last *V
	var victimRank, lastRank float64
	sounding := 0
	for i := range voices {
		v := P(&voices[i])
		n := v.base()
		switch rank := v.loudness(); {
		case !n.sounding:
			free = &voices[i]
		case n.fading:
			if last == nil || rank < lastRank {
				last, lastRank = &voices[i], rank
			}
		default:
			sounding++
			if !n.released {
				rank += 1e3 // louder than any released voice
			}
			if victim == nil || rank < victimRank {
				victim, victimRank = &voices[i], rank
			}
		}
	}
	if sounding >= limit {
		P(victim).base().fading = true
		if free == nil && last == nil {
			last = victim
		}
	}
	if free != nil {
		return free
	}
	return last
}
