package main

import (
	"errors"
	"os"
	"regexp"
	"strings"

	"bedd/internal/gathering"
	"bedd/internal/glance"
	"bedd/internal/page"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// pageFlags say whether the page is served, where, and what it may do.
type pageFlags struct {
	address string
	control bool

	program string // serves it; bedd itself but in tests
}

func (f *pageFlags) flags(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.StringVar(&f.address, "page", "", "show the glance in a browser: on this machine alone, or at `ADDRESS:PORT`, 0.0.0.0:62333 for the whole network, where a device needs the code that bedd shows")
	flags.Lookup("page").NoOptDefVal = page.DefaultAddress
	flags.BoolVar(&f.control, "page-control", false, "the page may give orders, not only look")
}

var addressLike = regexp.MustCompile(`^[^/\\]*:[0-9]+$`)

// split gives the page's address, and the arguments without it: written apart from
// --page, as other flags have their values, it arrives among them.
func (f *pageFlags) split(args []string) (address string, rest []string) {
	address = f.address
	for _, a := range args {
		if f.address == page.DefaultAddress && addressLike.MatchString(a) {
			address = a
		} else {
			rest = append(rest, a)
		}
	}
	return address, rest
}

// check reads the flags; arguments are those that are left.
func (f *pageFlags) check(args []string) (rest []string, err error) {
	f.address, rest = f.split(args)
	switch {
	case f.address != "":
		if f.address, err = page.ParseAddress(f.address); err != nil {
			return nil, badInput{err}
		}
	case f.control:
		return nil, badInput{errors.New("--page-control says what the page may do: it needs --page")}
	}
	return rest, nil
}

// newPage is the process that play --page starts beside itself.
func newPage() *cobra.Command {
	return &cobra.Command{
		Use:     "page",
		Short:   "Serve the page apart from the bed; bedd play --page starts it",
		Example: "  bedd play --page",
		Hidden:  true,
		Args:    noArguments,
		RunE: func(*cobra.Command, []string) error {
			if term.IsTerminal(int(os.Stdin.Fd())) {
				return page.ErrAlone
			}
			return page.Serve(os.Stdin, os.Stdout)
		},
	}
}

// openPage serves the page if it is wished for, and says where.
func (l *liveRun) openPage(f *pageFlags) error {
	if f.address == "" {
		return nil
	}
	code := func(code string) {
		l.screen.log(func() string { return "page: the code for the next device is " + code })
	}
	program, err := f.program, error(nil)
	if program == "" {
		program, err = os.Executable()
	}
	if err == nil {
		l.page, err = page.Start(program, []string{"page"}, page.Config{Address: f.address, Control: f.control, Say: l.screen.line, NewCode: code})
	}
	if err != nil {
		return err
	}
	l.orders, l.pageURL = l.page.Orders(), strings.Join(l.page.URLs(), " or ")
	l.screen.line("page: " + l.pageURL)
	if l.page.Code() != "" {
		l.screen.line("page: nothing is encrypted, so use a network that you trust")
		code(l.page.Code())
	}
	return nil
}

// closePage ends the page, if there is one.
func (l *liveRun) closePage() {
	if l.page != nil {
		l.page.Close()
	}
}

// invitation is what the terminal alone shows of the page: how to get there.
func (l *liveRun) invitation() string {
	if l.page == nil {
		return ""
	}
	if code := l.page.Code(); code != "" {
		return "code " + code + " at " + l.pageURL
	}
	return l.pageURL
}

// ordered does what a button of the page is for.
func (l *liveRun) ordered(o gathering.Order) {
	if !l.leaving {
		l.session.Ask(l.now(), o)
	}
}

// show shows a model wherever somebody looks.
func (l *liveRun) show(m glance.Model) {
	if l.whole {
		l.terminal.Show(m)
	}
	if l.page != nil {
		l.page.Show(m)
	}
}
