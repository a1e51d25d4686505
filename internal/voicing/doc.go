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
//   - no three upper notes inside a major third below C4;
//   - no semitone and no minor ninth between two notes, unless the chord's own
//     name asks for a minor ninth over its root;
//   - no colour a semitone or minor ninth above any tone of the chord,
//     sounding or not, no colour a tritone from the bass or the root, and none that would
//     make another chord: the other third, any third where it is suspended or left
//     out, the plain fifth beside an altered one, the other seventh, a major seventh
//     over a minor third or a suspended fourth, a sixth over a suspended fourth;
//   - the chord's bass, sounded or left to a bass player, and the upper notes are
//     not, all together, a major or minor triad on another root: A and E alone
//     over the bass of C would be A minor;
//   - up to stillness [IdentityRule] the identity tones are present once there
//     are voices for them: at least min(n, their number) of them.
//
// With [Settings.Plain] there are no colours, and when n is the number of the
// chord's tones each of them is there exactly once.
//
// # Colours
//
// [Settings.Palette] says which colours may be added, and whether thirds are
// suspended or left out (open fifths); [Settings.Colours] how many at once. The
// rules leave these notes on the key's own triads, sus being what takes the
// third's place:
//
//	in C   C     Dm    Em    F     G     Am    Bdim
//	9      D     E     -     G     A     B     -
//	11     -     G     A     -     -     D     E
//	6      A     B     -     D     E     -     G
//	7      B     C     D     E     F     G     A
//	sus    F     G     A     G     C     D     -
//
//	in Cm  Cm    Ddim  Eb    Fm    Gm    Ab    Bb
//	9      D     -     F     G     -     Bb    C
//	11     F     G     -     Bb    C     -     -
//	6      -     Bb    C     D     -     F     G
//	7      Bb    C     D     Eb    F     G     Ab
//	sus    F     -     Ab    Bb    C     Bb    Eb
//
// A pedal point ([Settings.PedalPoint]) is a bass of the key under every chord:
// the rules hold over it, and the note a semitone above it stays out.
//
// # Cost
//
// A step from voicing p to voicing v of a chord costs
//
//	 k·(Movement·m + Strike·s + FewHeld·h + Leap·l + Parallel·q) + BassMove·b
//	+ Missing·i + Bare·t + Double·d + Colour·o + Roughness·r + Centre·c
//
// where k = 1/(1−min(stillness, [NearStill])) and
//
//	m  semitones moved by the upper notes, under the pairing that moves least
//	s  upper notes of v that do not sound in p
//	h  how many of two different held pitch classes are lacking (0…2), counted
//	   only where p and v have three upper notes or more
//	l  semitones beyond a fourth (5) from the top note of p to that of v
//	q  1 where bass and top note stand whole octaves apart both in p and in v,
//	   and move from p to v in the same direction, else 0
//	b  semitones moved by the bass
//	i  identity tones of the chord absent from the upper notes, and tones that a
//	   pedal point shuts out, each counted twice where the chord's root is
//	   the key's tonic
//	t  other chord tones, besides the bass, absent from the upper notes
//	d  upper notes that repeat the class of another upper note, or of a bass that
//	   is not the chord's root; one counts twice that is neither the root nor the
//	   perfect fifth nor, in a diminished chord, the third instead of both:
//	   a third, a seventh, a suspension, a colour, a foreign bass
//	o  upper notes that are colours
//	r  sensory roughness, see [Roughness]
//	c  semitones from the mean of the upper notes to the register's centre
//
// The capital words are the fields of [Weights]. Without a voicing before it a
// step costs only the second line, v's own cost.
//
// # Search
//
// For a fixed number of voices the path is exact over the candidate set, for a
// line or a loop, or said not to be ([Path].Proved). Candidates with the same
// pitch classes, equally often, form a group. What a step from one group to
// another costs at least follows from the classes alone: no note moves less than
// to the nearest class of the other, none is held that both do not have. The
// cheapest path over groups, with each group's least own cost, is a floor under
// every path, and so under every path through a candidate. Candidates whose
// floor lies beyond a limit are left out, the others searched by dynamic
// programming; where there is no path the limit rises, and never beyond the
// price of a good path found over short lists. A loop is a line whose first chord stands
// once more at its end. If the best such line does not end where it began, the
// first candidates are parted in two and each part is searched, until it does.
// Problems with few candidates go straight to dynamic programming over all of
// them, a loop once from each candidate of one chord. Short lists of candidates are kept
// from call to call, by chord and key.
//
// What is not proved: a search that has compared more than some 40 million
// candidates, and one whose candidates are more than 65,536 for a chord or
// 262,144 together. Those are then listed over fewer colours, and a range ever
// narrower about the centre, until they fit.
//
// Candidates are listed by bass, then notes, ascending. Of equal paths that one is
// given whose last voicing comes first in its list, then whose last but one, and so
// on back. For a loop, which is sought from the chord whose three next steps have
// the fewest pairs of candidates, or the first of such, that one is given whose
// voicing there comes first, then whose voicing of the chord before it, and so on
// round.
// Of equal ladders the same call always gives the same one, the first that was
// found.
//
// # Ladders
//
// A ladder's rungs are contained in one another. Ladders cost the sum over the
// numbers of upper notes r from Thin to Full of RungWeight[r] times what the path
// at r costs; where a ladder lacks a rung, its nearest counts. A ladder goes up
// from its core (three upper notes, or as near as Thin and Full allow) as far as
// any does, and then down.
//
// The ladders of one chord are the paths through a lattice, whose nodes are its
// voicings and whose edges take one note away. The price is a sum over nodes, so
// for a chord among fixed neighbours ([Engine.Next]) the best ladder is found
// exactly, rung by rung. For progressions ([Engine.Nest], [Engine.Pair]) good
// ladders are found by improving one chord at a time, and a floor is put under
// all choices by sharing out the price of every step between the two voicings
// that it joins, so that what remains is least. Voicings above the price of the
// best ladders known are dropped, until none is left, or one choice; where that
// stands still, the voicings of one rung are tried one by one. First only the
// voicings of low own cost take part, then four times as many, then all. Beyond a
// budget the ladders are the best found, and said not to be proved.
//
// The price of nesting at a rung is what its path costs beyond the best path
// for that number of voices alone.
//
// # Stillness 1
//
// At stillness 1 one set of upper notes lies under every chord in turn and only
// the bass moves. The set is taken from the notes of the key without degrees 4 and
// 7 of its major scale, with any number of colours. Where none are allowed
// ([Settings.Plain], Colours 0, a palette without any) there is no such set, for
// chords share too few tones: the path at [NearStill] is taken. Under the set a
// chord may lack tones, which is reported ([Step.Missing]), but the set must not
// mislead about the chord, which it does in five ways ([Trouble]):
//
//   - it breaks a hard rule over the chord's bass: a rival third or seventh, a
//     note that rubs with a tone of the chord;
//   - an identity tone that the chord's name takes from outside the key is missing,
//     such as the leading note of the dominant in minor;
//   - it is hollow: an identity tone is missing, and three or more upper notes have
//     fewer than three pitch classes;
//   - a tone of the chord is missing and the whole is heard ([harmony.Identify])
//     as a chord on another root; where only a plain fifth is missing, that
//     counts if another root's whole triad sounds;
//   - no identity tone of the chord sounds, and another chord of the progression,
//     with other tones over the same bass, sounds exactly the same.
//
// Such a chord departs from the set by the least that cures it: the fewest
// notes, then the fewest faults of the outer voices towards the chords that stay,
// then the fewest semitones, then the least cost, among all its voicings that do not
// mislead and have an identity tone where the chord has any. Faults are a semitone
// beyond a fourth by which the top leaps, and outer octaves in a row. The next
// chord is back on the set. A chord none of whose voicings is so clear departs
// only where the set breaks a rule.
//
// Of all sets the one is taken that costs the fewest moved notes and missing
// identity tones together, each counted once, a tone missing on the tonic's own
// chord twice; then the fewest moved notes, faults of the outer voices (those too
// that the best rung with a note less can't avoid), other missing tones, moved
// semitones, cost. The set and what departs from it are exact: all are tried, up to
// some thousands of sets, beyond which the range is narrowed about its centre.
//
// The rungs of the chords that stay are one ladder, through the set, its fuller
// rungs doubling the set's notes where that reaches as far. It is the longest, and
// of those the one whose rungs together mislead least, leave those that depart the
// fewest faults of their outer voices, lack the fewest identity tones, then other
// tones, and cost least. A chord that departs has the ladder, through its own
// voicing, whose rungs together mislead least, then have the fewest faults of the
// outer voices towards the ladders before, the fewest notes beside the shared ones,
// identity tones missing, semitones, other tones missing, cost. All ladders are
// tried, up to some thousands of voicings, beyond which they are said not to be
// proved. Where no set fits the range, the path at [NearStill] is taken.
package voicing
