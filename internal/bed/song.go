package bed

import (
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
	"bedd/internal/voicing"
)

// Song is a song of the plan, as far as it matters to the bed.
type Song struct {
	Key    pitch.Key
	First  harmony.Chord   // it starts on; the zero Chord where that is not known
	Home   []harmony.Chord // of a bed that nobody planned and that leads there, in Key; at least one
	Away   []harmony.Chord // may be empty
	Figure []int           // what the bed is not to give away: MIDI note numbers in Key, or none
	Then   int             // the moment that comes after it, 0…, or −1
}

// MaxSongs is how many songs a plan has at most.
const MaxSongs = 1024

// Songs is a set of songs by their numbers, which count from 1.
type Songs [MaxSongs/64 + 1]uint64

// Has reports whether a song is in the set.
func (s *Songs) Has(n int) bool { return n >= 0 && n <= MaxSongs && s[n/64]>>(n%64)&1 != 0 }

func (s *Songs) add(n int) { s[n/64] |= 1 << (n % 64) }

// afterLanding makes ready what comes next once the bed has left into the next
// song: the moment after the song, or where there is none this one's home, in the
// song's key where that is of the same mode.
func (b *Bed) afterLanding(at time.Duration, out []Action) []Action {
	then := b.moment + 1
	if b.song > 0 {
		b.used.add(b.song)
		out = append(out, Action{Kind: SongBegan, At: at, Song: uint16(b.song)})
		then = b.c.Songs[b.song-1].Then
	}
	if then >= 0 && then < len(b.c.Moments) {
		return b.toMoment(at, then, out)
	}
	if was := b.planKey; b.key.Minor == was.Minor {
		b.respell(b.key)
		if b.prepare(b.key, nil) != nil {
			b.respell(was)
		}
	}
	b.restOn(Home, 0)
	return out
}

// leadTo makes a song the next one, 0 for none; what sounds goes on.
func (b *Bed) leadTo(at time.Duration, song int) {
	b.song, b.songKey, b.songChord = song, pitch.Key{}, harmony.Chord{}
	if song > 0 {
		b.songKey, b.songChord = b.c.Songs[song-1].Key, b.c.Songs[song-1].First
	}
	if b.figure() != nil { // the chords to come keep off it
		var from *voicing.Ladder
		if b.phase != Silent {
			from = &b.ladder
		}
		_ = b.prepare(b.planKey, from) // what fitted goes on
		b.onPath = false
	}
	if b.lead == intoSong {
		b.reroute(at)
		b.walking, b.goes = false, false
	}
}

// callUp makes ready a moment that nobody planned: a song's own bed.
func (b *Bed) callUp(song int) bool {
	s := &b.c.Songs[song-1]
	b.called, b.calledFor = true, song
	for g, chords := range [2][]harmony.Chord{s.Home, s.Away} {
		b.chords[g] = append(b.chords[g][:0], chords...)
	}
	b.group, b.index, b.song = Home, 0, song
	if b.prepare(s.Key, nil) != nil {
		return false
	}
	b.armed, b.armedBefore = NoCommand, NoCommand
	b.restOn(Home, 0)
	b.songKey, b.songChord = s.Key, s.First
	return true
}
