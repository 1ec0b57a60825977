// Package cli is the command line: it reads arguments, asks the use cases of app, and prints the same answer as text for people or as
// JSON for programs. Nothing is computed here.
package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"

	"halfsplit/internal/app"
	"halfsplit/internal/core/finding"
)

// Exit statuses, everywhere.
const (
	Done         = 0
	WrongInput   = 1 // a file or a word in it; the message says where
	WrongCommand = 2 // what can be seen from the command line alone
)

// Streams is where a command reads and writes.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
}

// grammar is the command line as kong reads it.
type grammar struct {
	Serve      serveCmd      `cmd:"" help:"Open the bench page for a browser; this is what halfsplit does without a word."`
	Passphrase passphraseCmd `cmd:"" help:"Set the passphrase that other machines of the network are asked for."`
	Diagnose   diagnoseCmd   `cmd:"" help:"Say which faults explain the log of a case, and what to check next."`
	Expect     expectCmd     `cmd:"" help:"Say what places show on a good board, or on one with given faults."`
	Lint       lintCmd       `cmd:"" help:"Check a board file."`
	Drill      drillCmd      `cmd:"" help:"Break copies of a board at random and count the checks to the fault."`
	Parts      partsCmd      `cmd:"" help:"List the part library, or show one part: pin-out and behaviour."`
	Part       partCmd       `cmd:"" help:"Show the page of one part: pin-out from both sides, function, levels and currents, failures, stand-ins."`
	Diff       differCmd     `cmd:"" help:"Say in what two boards differ, by part and by net."`
	Import     importCmd     `cmd:"" help:"Make a board file of a netlist, a pin list, a bill of materials."`
	Ring       ringCmd       `cmd:"" help:"Propose which pins to ring out next, for a board without a schematic."`
	Substitute substituteCmd `cmd:"" help:"Say what may stand in for a part of a board, by function, levels and fan-out."`
	Demo       demoCmd       `cmd:"" help:"Diagnose an example that is built into the program."`
	Calc       calcCmd       `cmd:"" help:"Bench calculators: ripple, pull-up, one-shot times, markings and more."`
	Keys       keysCmd       `cmd:"" help:"Say what is wrong with a key matrix from the keys that fail, repeat or bring others."`
	Memory     memoryCmd     `cmd:"" help:"RAM test results to chip, bit or address line; ROM dumps compared."`
	Sweep      sweepCmd      `cmd:"" help:"Judge a slider from readings along its travel: law, dead spots, replacement."`
	Version    versionCmd    `cmd:"" help:"Print the version."`
}

// desk is what every command needs.
type desk struct {
	ctx     context.Context
	files   app.Files
	in      io.Reader
	out     io.Writer
	err     io.Writer
	version string
}

// errInput means: the input is wrong, and what is wrong has been printed.
var errInput = errors.New("the input is wrong")

// commandError is something wrong that can be seen from the command line alone.
type commandError struct{ error }

// exited carries the status with which kong's help wants to end.
type exited int

// Run does what args ask (without the program's name) and returns the exit status. It stops early when ctx ends.
func Run(ctx context.Context, args []string, s Streams, version string) (status int) {
	defer func() {
		switch e := recover().(type) {
		case nil:
		case exited:
			status = int(e)
		default: // a mistake of the program's own must never look like success
			panic(e)
		}
	}()
	var g grammar
	d := &desk{ctx: ctx, files: disk{}, in: s.In, out: s.Out, err: s.Err, version: version}
	parser, err := kong.New(&g, kong.Name("halfsplit"),
		kong.Description("Fault finding for boards of the TTL, CMOS and early microprocessor era: which faults explain what was seen, and which check to do next."),
		kong.Writers(s.Out, s.Err), kong.Exit(func(code int) { panic(exited(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: width}), kong.Bind(d))
	if err != nil {
		fmt.Fprintln(s.Err, "halfsplit:", err)
		return WrongCommand
	}
	if len(args) == 0 {
		args = []string{"serve"}
	}
	k, err := parser.Parse(args)
	if err == nil {
		err = k.Run(d)
	} else {
		err = commandError{err}
	}
	return d.status(err)
}

// status prints an error and gives the exit status for it.
func (d *desk) status(err error) int {
	var wrong commandError
	switch {
	case err == nil:
		return Done
	case errors.Is(err, errInput):
		return WrongInput
	case errors.As(err, &wrong):
		fmt.Fprintf(d.err, "halfsplit: %v\n", err)
		fmt.Fprintln(d.err, "halfsplit --help lists the commands, halfsplit COMMAND --help its options")
		return WrongCommand
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(d.err, "halfsplit: stopped")
		return WrongInput
	}
	for line := range strings.Lines(err.Error()) {
		fmt.Fprintf(d.err, "error: %s\n", strings.TrimRight(line, "\n"))
	}
	return WrongInput
}

// findings prints findings for a person, errors last so that they are not missed, and gives errInput when there is an error. At most
// warnings of the warnings are printed; a negative number prints all.
func (d *desk) findings(fl finding.List, warnings int) error {
	left := 0
	for i, f := range fl.Only(finding.Warning) {
		if warnings >= 0 && i >= warnings {
			left++
			continue
		}
		fmt.Fprintln(d.err, f)
	}
	if left > 0 && warnings > 0 {
		fmt.Fprintf(d.err, "and %s (halfsplit lint BOARD lists them)\n", plural(left, "warning more", "warnings more"))
	}
	for _, f := range fl.Only(finding.Error) {
		fmt.Fprintln(d.err, f)
	}
	if fl.Errors() {
		return errInput
	}
	return nil
}

// warningsBefore is how many warnings a person gets before an answer; a program finds them in the answer.
func warningsBefore(json bool) int {
	if json {
		return 0
	}
	return 3
}

// json prints an answer for programs.
func (d *desk) json(v any) error {
	e := json.NewEncoder(d.out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// text prints an answer for people.
func (d *desk) text(s string) error {
	_, err := io.WriteString(d.out, s)
	return err
}
