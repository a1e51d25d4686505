package review

// Figures are what a session comes to. Times are seconds.
type Figures struct {
	Length  float64 `json:"length_s"`
	Sounded float64 `json:"bed_sounded_s"` // from each bring-in to the silence after it
	Silent  float64 `json:"bed_silent_s"`  // the rest
	Beds    int     `json:"bring_ins"`

	Places       []Share       `json:"places"` // while the bed sounded: home, away, hand, landing
	Progressions []Progression `json:"progressions"`
	Voices       []Share       `json:"voices"`  // upper notes, while the bed sounded
	Sources      []Share       `json:"sources"` // of the intensity, likewise
	Moments      []MomentSum   `json:"moments"`

	Chords     int        `json:"chords"`
	PerMinute  float64    `json:"changes_per_minute"`
	ChordTime  Spread     `json:"chord_lasts_s"`
	Kept       int        `json:"notes_held"` // over all changes, bass included
	Moved      int        `json:"notes_moved"`
	Intensity  Spread     `json:"intensity"` // by time, while the bed sounded
	Repetition Repetition `json:"repetition"`
	Landings   []Landed   `json:"landings"`

	Orders   map[string]int `json:"orders"`
	Notices  map[string]int `json:"notices"` // by kind
	PortLost int            `json:"ports_lost"`
	Floods   uint64         `json:"values_thinned"`
	Under    uint64         `json:"underruns"` // blocks of sound that came too late
	Refused  uint64         `json:"refused"`   // the player's messages on the bed's channels
	Sent     SentBytes      `json:"bytes"`
	Delays   []DelaySum     `json:"delays"`
	Wires    []WireSum      `json:"outputs"`
}

// Share is a part of the time.
type Share struct {
	Name    string  `json:"name"`
	Seconds float64 `json:"s"`
	Times   int     `json:"times,omitempty"` // how often it began; of voices alone
}

// Progression is one of a moment's progressions as it was played.
type Progression struct {
	Moment  string  `json:"moment"`
	Number  int     `json:"number"` // of the moment, from 1
	Place   string  `json:"place"`
	Chords  string  `json:"chords"`
	Seconds float64 `json:"s"`
	Entered int     `json:"chords_entered"`
	Rounds  float64 `json:"rounds"` // chords entered over chords in it
}

// MomentSum is how a moment went; one that was gone to twice is there twice.
type MomentSum struct {
	Title   string  `json:"title"`
	Number  int     `json:"number"` // in the plan, from 1
	From    float64 `json:"at_s"`
	Sounded float64 `json:"bed_sounded_s"`
	Chords  int     `json:"chords"`
	Lasts   float64 `json:"planned_s,omitempty"`
	Longest float64 `json:"planned_longest_s,omitempty"`
}

// Spread is the least, the middle and the most of something.
type Spread struct {
	Low    float64 `json:"low"`
	Median float64 `json:"median"`
	High   float64 `json:"high"`
}

// Repetition is how much of the same there was.
type Repetition struct {
	LongestChord   float64 `json:"longest_chord_s"`
	Chord          string  `json:"chord"`
	ChordAt        float64 `json:"chord_at_s"`
	LongestStay    float64 `json:"longest_on_one_progression_s"`
	StayPlace      string  `json:"place"`
	StayAt         float64 `json:"place_at_s"`
	StayRounds     float64 `json:"rounds"`
	Change         string  `json:"change"` // the most frequent one
	ChangeTimes    int     `json:"change_times"`
	DifferentMoves int     `json:"different_changes"`
}

// Landed is how a way into a song went.
type Landed struct {
	At      float64  `json:"at_s"`
	From    string   `json:"from"`
	Chords  []string `json:"chords"` // entered on the way
	Held    []int    `json:"held"`   // upper notes that each of them left alone
	Voices  []int    `json:"voices"` // of so many
	To      string   `json:"to,omitempty"`
	Arrived bool     `json:"arrived"`
	Took    float64  `json:"took_s"`          // from the order to the last chord
	Gap     *float64 `json:"gap_s,omitempty"` // without bed and piano before the song; none where no piano followed
}

// SentBytes is what went out, without running status.
type SentBytes struct {
	SetUp int `json:"setup"`
	Piano int `json:"piano"`
	Bed   int `json:"bed"`
}

// DelaySum is how late the core was, in milliseconds: the slowest hundredth took
// P99 or longer.
type DelaySum struct {
	What  string  `json:"what"`
	Count int64   `json:"count"`
	P50   float64 `json:"p50_ms"`
	P90   float64 `json:"p90_ms"`
	P99   float64 `json:"p99_ms"`
	Max   float64 `json:"max_ms"`
}

// WireSum is how busy an output was.
type WireSum struct {
	Name  string  `json:"name"`
	Baud  int     `json:"baud,omitempty"`
	Bytes uint64  `json:"bytes"`
	Most  int     `json:"most_bytes_waiting"`
	At    float64 `json:"at_s"`
	Wait  float64 `json:"player_waits_ms"`
}
