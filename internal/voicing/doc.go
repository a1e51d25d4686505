// Package voicing finds the best ladder of voicings for a chord, or an exact best path for a progression.
//
// # Candidates
//
// A voicing is a bass note plus upper notes, strictly ascending. The candidate
// set for one chord is every choice of exactly n upper notes inside the upper
// range, made of the chord's tones and of at most [Settings.Colours] colours
// (other notes of the key), over every bass note inside the bass range that
// carries the chord's bass, that keeps the hard rules:
//
//   - low intervals between neighbours obey [LowestNote];
//   - no gap above an octave between upper neighbours;
//   - no semitone and no minor ninth between two notes, unless the chord's own
//     name asks for a minor ninth over its root;
//   - no colour a semitone or minor ninth above any tone of the chord,
//     sounding or not, no colour a tritone from the bass, and none that would
//     make another chord: the other third, any third where it is suspended, the
//     plain fifth beside an altered one, the other seventh;
//   - the chord's bass, sounded or left to a bass player, and the upper notes are
//     not, all together, a major or minor triad on another root: A and E alone
//     over the bass of C would be A minor;
//   - up to stillness [IdentityRule] the identity tones are present once there
//     are voices for them: at least min(n, their number) of them.
//
// With [Settings.Plain] there are no colours, and when n is the number of the
// chord's tones each of them is there exactly once.
//
// # Cost
//
// A step from voicing p to voicing v of a chord costs
//
//	 k·Movement·m + k·Strike·s + k·FewHeld·h + BassMove·b
//	+ Missing·i + Bare·t + Double·d + Colour·o + Roughness·r + Centre·c
//
// where k = 1/(1−stillness) and
//
//	m  semitones moved by the upper notes, under the pairing that moves least
//	s  upper notes of v that do not sound in p
//	h  how many of two different held pitch classes are lacking (0…2), counted
//	   only where p has at least three different ones and v three upper notes
//	b  semitones moved by the bass
//	i  identity tones of the chord absent from the upper notes
//	t  other chord tones, besides the bass, absent from the upper notes
//	d  upper notes that repeat the class of another upper note
//	o  upper notes that are colours
//	r  sensory roughness, see [Roughness]
//	c  semitones from the mean of the upper notes to the register's centre
//
// The capital words are the fields of [Weights].
//
// # Search
//
// For a fixed number of voices the path is exact over the candidate set: dynamic
// programming over a line, and for a loop the same from each first voicing in
// the order of a lower bound until no other can win. A candidate is dropped
// early only when its own cost plus the least own cost of every other step
// already exceeds a path that is known; step costs are never negative, so no
// best path is lost.
//
// A ladder is grown from its core, three upper notes or the fewest asked for:
// rung by rung down, each an exact choice over the ways to leave one note out of
// every chord, then rung by rung up, each an exact choice over the ways to add
// one. So each rung is optimal given the one it grew from, and what the core
// holds at a change every fuller rung holds. The cores of two progressions that a
// player swaps between are improved in turn, each exactly with every swap in the
// price, until neither can be improved alone, or six times; that is not proved to
// be the best of both together.
//
// At stillness 1 one set of upper notes serves every chord in turn, taken from
// the notes of the key without degrees 4 and 7 of its major scale, with any
// number of colours: the set that supplies the most identity tones, among those
// the one that supplies the most other chord tones, among those the one of the
// least summed cost. Fuller rungs double its notes. Where no set keeps the rules
// over every chord, the path at [NearStill] is taken.
package voicing
