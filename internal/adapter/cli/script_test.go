package cli

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The scripts under testdata/script run the command line end to end, as a technician or a program would. In them, `exits N COMMAND`
// runs a command and insists on its exit status.

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"halfsplit": func() {
			os.Exit(Run(context.Background(), os.Args[1:], Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}, "(test)"))
		},
	})
}

func TestScripts(t *testing.T) {
	const least = 4
	scripts, err := os.ReadDir("testdata/script")
	if err != nil || len(scripts) < least {
		t.Fatalf("%d scripts, expected at least %d (%v)", len(scripts), least, err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS COMMAND [ARG]…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	switch {
	case err == nil && want == 0:
	case errors.As(err, &exit) && exit.ExitCode() == want:
	default:
		ts.Fatalf("%v: %v, expected exit status %d", args[1:], err, want)
	}
}
