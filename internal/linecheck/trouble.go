package linecheck

import "fmt"

// Trouble is something that is not as it should be, in plain words, and what to do.
type Trouble struct {
	Step Step   `json:"step"`
	Text string `json:"text"`
	Cure string `json:"cure"`
}

const careFeet = "Cables and pedals: along walls, taped down where people walk, away from where anybody else treads."

const careSound = "Volume down first, faders and headphones; headphones off while cables are plugged. What comes is soft and rises slowly. Mains wiring and anything hung overhead are for qualified people; local rules first."

// nothing says what to look at when nothing of use arrives.
func (c *Check) nothing(what string) Trouble {
	t := Trouble{Text: what + ": nothing of the kind has arrived",
		Cure: "is the device on, and its MIDI OUT (or USB) in an input that is listed? does it send MIDI at all, on any channel? then press again, or skip"}
	if c.ear.any && c.now-c.ear.last < nothingFor && len(c.ear.trails) == 0 {
		t.Cure = "a device is there (its clock or sensing arrives): look in its settings for what its keys or switches send, and switch sending on"
	}
	return t
}

func troubleChatter(c Control, s span) Trouble {
	return Trouble{Text: fmt.Sprintf("%s of %s moves by itself, between %d and %d", c, c.Input, s.least, s.most),
		Cure: "it is not taken for a switch, and a pedal's noise goes into the rig; if it grows, clean its plug or have it seen to"}
}

func troubleTransposed(by int) Trouble {
	return Trouble{Text: fmt.Sprintf("the keyboard transposes: middle C arrives %s", semitones(by)),
		Cure: "set its transposition to 0, unless you want it: bedd names keys and chords as they sound, not as your hands lie"}
}

func semitones(by int) string {
	way, unit := "higher", "semitones"
	if by < 0 {
		way, by = "lower", -by
	}
	if by == 1 {
		unit = "semitone"
	}
	return fmt.Sprintf("%d %s %s", by, unit, way)
}

func troubleOctave(octaves int) Trouble {
	return Trouble{Text: fmt.Sprintf("middle C arrives %s", semitones(12*octaves)),
		Cure: "if that was middle C, its octave shift is on: it changes no chord, but where follow splits the keys"}
}

func troubleTwins(a, b string) Trouble {
	return Trouble{Text: "every key arrives twice, from " + a + " and from " + b,
		Cure: "one keyboard on two cables: pull one of them, or the piano sounds doubled; bedd takes the first"}
}

func troubleZones(channels []int) Trouble {
	return Trouble{Text: fmt.Sprintf("every key sends on the channels %s at once", list(channels)),
		Cure: "the keyboard layers two sounds: switch the second off, or the synth plays both and the bed has one channel less"}
}

func troubleTwoDevices(c Control, other string) Trouble {
	return Trouble{Text: fmt.Sprintf("two devices send %s: %s and %s", c, c.Input, other),
		Cure: "the rig tells them apart by their inputs where one is the keyboard and the other the feet; else give one of them another channel"}
}

func troubleInverted(what Step) Trouble {
	return Trouble{Text: fmt.Sprintf("the %s switch works the wrong way round: it rests at on and sends off when it is pressed", what),
		Cure: "the rig takes care of it; on the board it is called polarity"}
}

func troubleLatching(what Step) Trouble {
	return Trouble{Text: fmt.Sprintf("the %s switch stays where it is put (latching)", what),
		Cure: "the rig counts each change as a press, but there is no long press; if the board can, set it to momentary and repeat this step"}
}

func troubleBounce(what Step, ms int) Trouble {
	return Trouble{Text: fmt.Sprintf("the %s switch bounces for %d ms", what, ms),
		Cure: "bedd waits 40 ms before it believes another change; a switch that bounces as long as this is wearing out"}
}

func troubleOnOnly(c Control) Trouble {
	return Trouble{Text: fmt.Sprintf("%s sends on at every press and never off", c),
		Cure: "bedd would hear its first press only: set the switch to momentary (127 down, 0 up), or to a program change"}
}

func troubleWeak(c Control, most uint16) Trouble {
	return Trouble{Text: fmt.Sprintf("%s reaches %d only: off is 0…63, on is 64…127", c, most),
		Cure: "set the switch's on value to 127 and its off value to 0"}
}

func troublePrograms(input string) Trouble {
	return Trouble{Text: "each press sends another program from " + input,
		Cure: "the switch steps through a list: set it to send one message, a controller at best (127 down, 0 up)"}
}

func troubleUnclear() Trouble {
	return Trouble{Text: "the presses could not be counted", Cure: "twice, briefly, a second between; r begins again"}
}

func troubleSame(as Step) Trouble {
	return Trouble{Text: fmt.Sprintf("this is what the %s switch sends", as), Cure: "press the other one, or give it a message of its own"}
}

func troubleAlso(c Control) Trouble {
	return Trouble{Text: fmt.Sprintf("the same press also sends %s", c), Cure: "the synth gets that too: switch it off on the board"}
}

func troubleWrongMessage(what, input string) Trouble {
	return Trouble{Text: "the pedal sends " + what + ", from " + input,
		Cure: "bedd needs a controller: set the pedal to controller 11 (expression) on the board or keyboard that it is plugged into, and move it again"}
}

func troubleOnlySwitches(c Control) Trouble {
	return Trouble{Text: fmt.Sprintf("what you moved only switches (%s)", c),
		Cure: "is it an expression pedal, on a stereo (TRS) cable, in a jack for expression? a sustain pedal cannot be one; else skip, and your playing leads"}
}

func troubleVolume(c Control) Trouble {
	return Trouble{Text: fmt.Sprintf("the pedal sends %s, which synths take for something of their own", c),
		Cure: "bedd keeps it from the synth; where the piano goes past bedd it gets there: controller 11 is better"}
}

func troubleBackwards() Trouble {
	return Trouble{Text: "the pedal works backwards: it grows towards the heel", Cure: "the rig turns it round; on many pedals a switch does"}
}

func troubleShort(least, most int) Trouble {
	return Trouble{Text: fmt.Sprintf("the pedal moves between %d and %d only", least, most),
		Cure: "the rig stretches that to the whole way; a pedal of another make has its contacts the other way round, an adapter helps"}
}

func troubleRestless(part float64) Trouble {
	return Trouble{Text: fmt.Sprintf("the pedal wanders by %.0f %% to either side while it rests", 100*part),
		Cure: "more than 10 % the rig cannot still: clean its plug, or have the pedal seen to"}
}

func troubleHalfway() Trouble {
	return Trouble{Text: "the pedal has not come back to the heel", Cure: "slowly from the heel to the toe and back, then leave it there"}
}

func troubleUnheard(outs int) Trouble {
	if outs == 0 {
		return Trouble{Text: "there is no MIDI output", Cure: "bedd sounds by itself, through this machine's sound output; with a synth, plug it in and begin again"}
	}
	return Trouble{Text: "nothing was heard from any output", Cure: "is the synth on, its volume up, its MIDI IN in use, and does it listen to channels 2 and 3? then again; without one bedd sounds by itself"}
}

func troubleDoubled() Trouble {
	return Trouble{Text: "your keys sound twice: by themselves, and through bedd",
		Cure: "the rig sends the bed alone (thru: off); or switch Local Control off on the keyboard, and repeat this step"}
}

func troubleSilentKeys() Trouble {
	return Trouble{Text: "your keys are heard neither by themselves nor through bedd",
		Cure: "does the synth listen to the channel of your keys? is its volume up? then repeat this step"}
}

func troubleLayer() Trouble {
	return Trouble{Text: "a pad sounds in the keyboard's own sound",
		Cure: "choose a piano without a layer: that pad ends with your keys and rubs against the bed"}
}

func troubleHangs() Trouble {
	return Trouble{Text: "the synth goes on sounding after all notes off and all sound off",
		Cure: "bedd ends every note by itself as well, so this hurts only when a cable is pulled; know where its volume is"}
}

func troubleUnnoticed(input string) Trouble {
	return Trouble{Text: "this machine has not noticed that " + input + " was pulled out",
		Cure: "behind a MIDI interface it cannot: only what is on USB is told of; bedd hears it again all the same"}
}

func troubleNotBack(input string) Trouble {
	return Trouble{Text: input + " has not come back within a minute", Cure: "try another socket or cable, or skip"}
}

func list(numbers []int) string {
	s := ""
	for i, n := range numbers {
		switch {
		case i > 0 && i == len(numbers)-1:
			s += " and "
		case i > 0:
			s += ", "
		}
		s += fmt.Sprint(n)
	}
	return s
}
