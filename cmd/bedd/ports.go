package main

import (
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"

	"bedd/internal/midiio"

	"github.com/spf13/cobra"
)

func newPorts() *cobra.Command {
	var asJSON bool
	var f midiFlags
	cmd := &cobra.Command{
		Use:   "ports",
		Short: "List MIDI inputs and outputs, and which of them play would take",
		Long: `ports lists the machine's MIDI inputs and outputs, which of them play would take
by itself or with the same --in and --out, and why.`,
		Example: `  bedd ports
  bedd ports --json`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			_, choice, err := choosePorts(f.ins, f.out)
			if err != nil {
				return err
			}
			if asJSON {
				return portsJSON(cmd.OutOrStdout(), choice)
			}
			return portsText(cmd.OutOrStdout(), choice)
		},
	}
	flags := cmd.Flags()
	flags.StringArrayVar(&f.ins, "in", nil, "as in play")
	flags.StringVar(&f.out, "out", "", "as in play")
	flags.BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

type portJSON struct {
	Name    string `json:"name"`
	Address string `json:"address"`
	Chosen  bool   `json:"chosen"`
	Thru    *bool  `json:"thru,omitempty"` // inputs only
	Why     string `json:"why"`
}

func portsJSON(w io.Writer, c midiio.Choice) error {
	list := func(verdicts []midiio.Verdict, in bool) []portJSON {
		out := []portJSON{}
		for _, v := range verdicts {
			p := portJSON{Name: v.Port.Name, Address: v.Port.Address, Chosen: v.Chosen, Why: v.Why}
			if in {
				p.Thru = &v.Thru
			}
			out = append(out, p)
		}
		return out
	}
	return json.NewEncoder(w).Encode(struct {
		Inputs  []portJSON `json:"inputs"`
		Outputs []portJSON `json:"outputs"`
	}{list(c.Ins, true), list(c.Outs, false)})
}

func portsText(w io.Writer, c midiio.Choice) error {
	if len(c.Ins)+len(c.Outs) == 0 {
		_, err := fmt.Fprintln(w, "no MIDI ports: plug in a device")
		return err
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, group := range []struct {
		way      midiio.Way
		verdicts []midiio.Verdict
	}{{midiio.In, c.Ins}, {midiio.Out, c.Outs}} {
		for _, v := range group.verdicts {
			taken := "-"
			if v.Chosen {
				taken = "takes"
			}
			fmt.Fprintf(t, "%v\t%s\t%s\t%s\t%s\n", group.way, taken, v.Port.Name, v.Port.Address, v.Why)
		}
	}
	return t.Flush()
}
