package bed

import (
	"errors"
	"fmt"

	"bedd/internal/dynamics"
	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// State is where a bed is: what another bed needs to go on from there. The zero
// value is not one; ask a bed for it. States are equal when they lead to the same.
type State struct {
	Phase     Phase
	Moment    int
	Place     Place
	Group     Place // Home or Away: the progression that Place is in, or left
	Index     int   // of the chord in that progression
	Key       pitch.Key
	PlanKey   pitch.Key // of the progressions
	Chord     harmony.Chord
	Landing   bool // a landing was begun and not left
	Route     [harmony.MaxRoute]harmony.Chord
	RouteLen  int
	RouteAt   int // −1 before its first chord
	Follow    bool
	Intensity float64 // 0…1
	Song      int     // the number of the song that follows, 0 where none does or it has none
	Called    int     // the number of the song whose own bed this is, 0 where the moment is the plan's
}

// State gives where the bed is. No allocation.
func (b *Bed) State() State {
	s := State{
		Phase: b.phase, Moment: b.moment, Place: b.place, Group: b.group, Index: b.index,
		Key: b.key, PlanKey: b.planKey, Chord: b.chord, Landing: b.lead == intoSong, Follow: b.follow,
		Intensity: b.intensity.Value(), Song: b.song,
	}
	if b.called {
		s.Called = b.calledFor
	}
	switch b.lead {
	case intoSong:
		s.Route, s.RouteLen = b.path.Chords, b.path.N
		if s.RouteLen > 0 {
			s.RouteAt = b.path.at
		}
	case intoKey: // it goes on where that was to end
		s.Place, s.Group, s.Index, s.Key, s.Chord = Home, Home, 0, b.planKey, b.chords[Home][0]
	}
	if b.phase == Silent {
		s.Intensity, _ = b.asked()
	}
	return s
}

// errSounding is what Resume says of a bed that has begun.
var errSounding = errors.New("only a bed that has not begun can go on from somewhere")

// Resume makes a new bed wait, in silence, where another was: on the same chord of
// the same progression, moment and key, with its intensity as what the plan asks
// for, until a foot or the next moment decides. BringIn then begins softly there.
// Stay and what was armed are not taken over. It fails where the state does not fit
// this bed's moments; the bed is then as it was.
func (b *Bed) Resume(s State) error {
	if b.phase != Silent || b.now != 0 {
		return errSounding
	}
	if err := b.fits(&s); err != nil {
		return err
	}
	was := b.moment
	if err := b.goOn(&s); err != nil {
		return errors.Join(err, b.load(was))
	}
	return nil
}

// fits says what of a state this bed's moments contradict.
func (b *Bed) fits(s *State) error {
	if s.Moment < 0 || s.Moment >= len(b.c.Moments) {
		return fmt.Errorf("moment %d is out of range 1…%d", s.Moment+1, len(b.c.Moments))
	}
	if n := len(b.c.Songs); s.Song < 0 || s.Song > n || s.Called < 0 || s.Called > n {
		return fmt.Errorf("songs %d and %d are out of range 1…%d", s.Song, s.Called, n)
	}
	key, home, away := b.written(s.Moment, s.Called)
	var chords []harmony.Chord
	switch s.Group {
	case Home:
		chords = home
	case Away:
		chords = away
	default:
		return fmt.Errorf("%d is neither home nor away", s.Group)
	}
	switch {
	case s.Index < 0 || s.Index >= len(chords):
		return fmt.Errorf("chord %d of %v is out of range 1…%d", s.Index+1, s.Group, len(chords))
	case s.Place > Landing:
		return fmt.Errorf("place %d is not known", s.Place)
	case s.Place == Landing && !s.Landing:
		return errors.New("it is in a landing that was not begun")
	case s.Chord.IsZero():
		return errors.New("it is on no chord")
	case s.PlanKey.Minor != key.Minor:
		return fmt.Errorf("%v is of another mode than the moment's %v", s.PlanKey, key)
	case !(s.Intensity >= 0 && s.Intensity <= 1):
		return fmt.Errorf("intensity %v is out of range 0…1", s.Intensity)
	case s.RouteLen < 0 || s.RouteLen > len(s.Route) || s.RouteAt < -1 || s.RouteLen == 0 && s.RouteAt < 0 || s.RouteAt > max(s.RouteLen-1, 0):
		return fmt.Errorf("chord %d of a landing of %d is out of range", s.RouteAt+1, s.RouteLen)
	}
	for _, c := range s.Route[:s.RouteLen] {
		if c.IsZero() {
			return errors.New("its landing has no chords")
		}
	}
	return nil
}

func (b *Bed) goOn(s *State) error {
	if s.Moment != b.moment {
		if err := b.load(s.Moment); err != nil {
			return err
		}
	}
	if s.Called > 0 && !b.callUp(s.Called) {
		return fmt.Errorf("the bed of song %d has no voicing", s.Called)
	}
	if s.Song != b.song {
		b.leadTo(0, s.Song)
	}
	if s.PlanKey != b.planKey {
		b.respell(s.PlanKey)
		if err := b.prepare(s.PlanKey, nil); err != nil {
			return err
		}
	}
	b.restOn(s.Group, s.Index)
	b.key = s.Key
	if b.chord != s.Chord {
		ladder, err := b.engine.Next(s.Chord, s.Key, nil)
		if err != nil {
			return err
		}
		b.chord, b.ladder, b.onPath = s.Chord, ladder, false
	}
	b.place, b.follow = s.Place, s.Follow
	if s.Landing {
		to, _ := b.destination()
		b.lead, b.path = intoSong, path{harmony.Route{Chords: s.Route, N: s.RouteLen}, to, to, s.RouteAt}
		if s.RouteLen == 0 {
			b.path.at = -1
		}
		b.arrive(b.now)
	}
	b.intensity.Plan(0, s.Intensity)
	return nil
}

// Look is what a bed is like, as much as changes all the time.
type Look struct {
	Phase     Phase
	Intensity float64 // 0…1
	Source    dynamics.Source
	Voices    int // upper notes that sound, or would
}

// Look gives what View says of these. No allocation; O(1).
func (b *Bed) Look() Look {
	l := Look{Phase: b.phase, Intensity: b.intensity.Value()}
	target, source := b.asked()
	l.Source = source
	rung := b.rung
	if b.phase == Silent {
		l.Intensity, rung = target, b.density.Rung(target)
	}
	l.Voices = int(b.ladder.Rung(rung).N)
	return l
}
