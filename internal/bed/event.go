package bed

import (
	"slices"
	"time"

	"bedd/internal/harmony"
	"bedd/internal/pitch"
)

// EventKind is what happened.
type EventKind uint8

// The kinds of event. Their order is of no importance: events are handled in
// the order in which they are given.
const (
	TimePassed  EventKind = iota // nothing but the clock
	Asked                        // a foot, a key or a program asks for Command
	NoteStruck                   // the player strikes Note with Velocity
	NoteLeft                     // the player lets Note go
	DamperMoved                  // the player's damper pedal is down (On) or up
	PedalMoved                   // the intensity pedal reads Raw
	VoiceHeard                   // a voice was listened to: it is as intense as Intensity, and the bed is to stay Eased dB down for the words' sake
	InputEnded                   // nothing more will come: the bed leaves; a fade goes on to its end unless On says to hurry
)

// Command is what the player can ask for.
type Command uint8

// The commands.
const (
	NoCommand      Command = iota
	Step                   // silent: bring in; sounding: what is armed, else the next chord
	Arm                    // change what the next Step does
	BringIn                // begin softly on the current chord
	Next                   // the next chord of the progression
	Previous               // the one before
	Swap                   // to the other progression's first chord
	Land                   // walk to the next song, a chord a step
	LandThrough            // walk there by itself
	FirstChord             // the next song's first chord, at once
	Capture                // take the chord the player holds
	Follow                 // follow the player's left hand, on or off
	Stay                   // keep everything as it is, on or off
	FadeOut                // leave slowly
	OutNow                 // leave fast
	AllNotesOff            // silence, at once
	KeyUp                  // a semitone up
	KeyDown                // a semitone down
	KeyTo                  // to the key on Tonic
	LevelUp                // ask for a little more
	LevelDown              // ask for a little less
	Swell                  // grow, in the time that is set for it
	Settle                 // come down, likewise
	NextMoment             // only while silent
	PreviousMoment         // only while silent
	ChooseSong             // choose the next song, or look at another one
	ChooseKey              // choose a key, or look at another one
	Take                   // take what is chosen

	NumCommands
)

// commandNames are the words of rigs, markers and help.
var commandNames = [NumCommands]string{
	"nothing", "step", "arm", "bring-in", "next", "previous", "swap", "land", "land-through", "first-chord", "capture", "follow",
	"stay", "fade", "out-now", "all-notes-off", "key-up", "key-down", "key-to", "level-up",
	"level-down", "swell", "settle", "next-moment", "previous-moment", "choose-song", "choose-key", "take",
}

func (c Command) String() string {
	if c < NumCommands {
		return commandNames[c]
	}
	return "unknown"
}

// ParseCommand reads a command by its name.
func ParseCommand(name string) (Command, bool) {
	for c, n := range commandNames {
		if n == name {
			return Command(c), true
		}
	}
	return NoCommand, false
}

// Event is one thing that happened; only the fields its kind names matter.
type Event struct {
	Kind     EventKind
	Command  Command
	Tonic    pitch.Class // KeyTo
	Undo     bool        // Asked by a long press: what its short press armed is undone
	On       bool        // DamperMoved, InputEnded
	Note     uint8       // MIDI note number 0…127
	Velocity uint8       // 1…127
	Raw      uint16      // pedal reading 0…16383

	Intensity float64 // 0…1
	Eased     float64 // dB under the bed's loudest, 0 for no limit
}

// Layer is one of the sounds the bed is spread over.
type Layer uint8

// The layers.
const (
	Warm Layer = iota // all notes, always
	Air               // the upper notes, heard as intensity grows

	NumLayers
)

func (l Layer) String() string {
	if l == Air {
		return "air"
	}
	return "warm"
}

// ActionKind is what is to be done.
type ActionKind uint8

// The kinds of action.
const (
	StrikeNote    ActionKind = iota // begin Note on Layer with Velocity
	ReleaseNote                     // end Note on Layer
	SetLevel                        // Layer's level to Value, 0…127 as controller 11
	SetBrightness                   // Layer's brightness to Value, 0…127 as controller 74
	EnterChord                      // the bed's chord is now Chord
	Did                             // Command was carried out; On for what can be on or off
	SilenceAll                      // all notes off, every channel
	Tell                            // the player should know Notice
	ChangeMoment                    // the moment is now number Value
	SongBegan                       // the bed has left into Song
)

// Notice is a short message to the player.
type Notice uint8

// The notices.
const (
	NoNotice Notice = iota
	StayIsOn        // the command waits: stay is on
	NothingHeld
	NoAway
	Landed     // the landing is over: the bed holds
	OnlySilent // the command works only while the bed is silent
	NoMoment   // there is no such moment
	CannotVoice
	NotSounding
	NoSongs       // there is no plan with songs
	NothingChosen // no choice is open
)

var noticeWords = [...]string{"", "stay is on", "no notes to take", "there is no other progression",
	"landed: the bed holds", "only while the bed is silent", "there is no further moment",
	"that chord does not fit the range", "the bed is silent", "there are no songs to choose from", "nothing is being chosen"}

func (n Notice) String() string {
	if int(n) < len(noticeWords) {
		return noticeWords[n]
	}
	return ""
}

// ParseNotice reads a notice by its words.
func ParseNotice(words string) (Notice, bool) {
	i := slices.Index(noticeWords[:], words)
	return Notice(max(i, 0)), i >= 0
}

// Action is one order to the outside, due at At since the start; only the
// fields its kind names matter.
type Action struct {
	Kind     ActionKind
	At       time.Duration
	Layer    Layer
	Note     uint8
	Velocity uint8
	Value    uint8 // level 0…127, number of the moment, or with LevelUp and LevelDown the intensity asked for in percent
	Command  Command
	On       bool
	Notice   Notice
	Key      pitch.Key // with Did and the key commands
	Chord    harmony.Chord
	Song     uint16 // a song's number from 1, with Take 0 for none
}
