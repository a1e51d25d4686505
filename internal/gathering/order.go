package gathering

import (
	"fmt"
	"strings"

	"bedd/internal/bed"
	"bedd/internal/pitch"
)

// Order is what a switch or a key asks the bed for. The zero value asks for
// nothing.
type Order struct {
	Command bed.Command
	Tonic   pitch.Class // of KeyTo
}

// ParseOrder reads a command by its name, as in "step", "fade", "key-to Eb".
func ParseOrder(s string) (Order, error) {
	words := strings.Fields(s)
	if len(words) == 0 {
		return Order{}, fmt.Errorf("no command: use one of %s", strings.Join(commands(), ", "))
	}
	name, quoted := words[0], clip(s)
	c, ok := bed.ParseCommand(name)
	if !ok || c == bed.NoCommand {
		return Order{}, fmt.Errorf("unknown command %q: %s", clip(name), advice(name, commands()))
	}
	if c == bed.KeyTo {
		if len(words) != 2 {
			return Order{}, fmt.Errorf("%q needs one tonic after key-to, as in key-to Eb", quoted)
		}
		tonic, rest, err := pitch.ParseName(words[1])
		if err != nil {
			return Order{}, fmt.Errorf("%q: %w", quoted, err)
		}
		if rest != "" {
			return Order{}, fmt.Errorf("%q: only the tonic is named, as in key-to Eb; major or minor stays as it is", quoted)
		}
		return Order{Command: c, Tonic: tonic.Class()}, nil
	}
	if len(words) > 1 {
		return Order{}, fmt.Errorf("%q: nothing is expected after %q", quoted, name)
	}
	return Order{Command: c}, nil
}

// String writes the order as ParseOrder reads it.
func (o Order) String() string {
	if o.Command != bed.KeyTo {
		return o.Command.String()
	}
	return o.Command.String() + " " + pitch.Key{}.Transpose(int(o.Tonic)).String()
}

// Event is the order as the bed takes it.
func (o Order) Event() bed.Event {
	return bed.Event{Kind: bed.Asked, Command: o.Command, Tonic: o.Tonic}
}

// commands lists the names of all commands.
func commands() []string {
	var names []string
	for c := bed.NoCommand + 1; c < bed.NumCommands; c++ {
		names = append(names, c.String())
	}
	return names
}
