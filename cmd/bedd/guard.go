package main

import (
	"errors"
	"os"
	"time"

	"bedd/internal/guard"
	"bedd/internal/midiio"

	"github.com/spf13/cobra"
)

// guardPatience is how long play waits for the guard of an earlier bedd.
const guardPatience = 3 * time.Second

// newGuard is the process that play starts beside itself.
func newGuard() *cobra.Command {
	driver := string(midiio.DriverAuto)
	cmd := &cobra.Command{
		Use:     "guard",
		Short:   "End the notes of a bedd that dies and connect the piano; bedd play starts it",
		Example: "  bedd play --no-guard",
		Hidden:  true,
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return guard.Serve(func() (midiio.System, error) { return midiio.OpenSystem(midiio.Driver(driver)) })
		},
	}
	cmd.Flags().StringVar(&driver, "driver", driver, "as in play")
	return cmd
}

// waitForGuards waits until no guard of an earlier bedd is at work.
func waitForGuards(screen *screen) {
	dir, err := guard.LockDir()
	if err == nil {
		var waited bool
		if waited, err = guard.WaitForOthers(dir, guardPatience); waited && err == nil {
			screen.line("an earlier bedd died; what it left sounding was ended first")
		}
	}
	if err != nil && !errors.Is(err, guard.ErrSystem) {
		screen.line(err.Error())
	}
}

// startGuard sets a guard over the ports, and says so when there is none.
func (r *midiRig) startGuard(driver string, screen *screen) {
	duty := guard.Duty{Routes: r.routing.ways}
	for _, o := range r.opened {
		duty.Outs = append(duty.Outs, o.Port())
	}
	for _, in := range r.ins {
		duty.Ins = append(duty.Ins, in.Port())
	}
	if r.routing.record != nil {
		duty.Record = r.routing.record.Name()
	}
	program, err := os.Executable()
	if err == nil {
		r.guard, err = guard.Start(program, []string{"guard", "--driver", driver}, duty)
	}
	if err != nil {
		screen.line("no guard: " + err.Error())
		return
	}
	for i, o := range r.opened {
		o.Tell(r.guard.Board.Page(i))
	}
}

// unguarded is closed when the guard has ended too early; nil without a guard.
func (r *midiRig) unguarded() <-chan struct{} {
	if r.guard == nil {
		return nil
	}
	return r.guard.Gone
}
