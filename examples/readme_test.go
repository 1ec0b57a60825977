package examples_test

// What the README files show is what the program prints: every block between the markers is run again and compared byte
// for byte. go test ./examples -update writes the present output instead.

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/adapter/cli"
)

var update = flag.Bool("update", false, "rewrite the README files with what the program prints now")

// shown is one block: its command stands in the marker.
var shown = regexp.MustCompile("(?s)<!-- halfsplit ([^\n]*) -->\n.*?<!-- end -->")

func TestReadme(t *testing.T) {
	blocks := 0
	for _, m := range machines {
		_, names := answers(t, boardOf(t, m.dir), m.dir)
		t.Run(m.dir, func(t *testing.T) { blocks += readme(t, m.dir, names) })
	}
	for _, m := range analogMachines {
		names := slices.Sorted(maps.Keys(truth(t, m.dir)))
		t.Run(m.dir, func(t *testing.T) { blocks += readme(t, m.dir, names) })
	}
	if blocks != 34 {
		t.Errorf("%d blocks compared", blocks)
	}
}

// readme compares or refreshes the README of one machine with these cases and counts its blocks.
func readme(t *testing.T, dir string, names []string) (blocks int) {
	t.Chdir(dir)
	old, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	fresh := shown.ReplaceAllFunc(old, func(block []byte) []byte {
		blocks++
		args := string(shown.FindSubmatch(block)[1])
		return fmt.Appendf(nil, "<!-- halfsplit %s -->\n```text\n$ halfsplit %s\n%s```\n<!-- end -->", args, args, output(t, args))
	})
	if opened := bytes.Count(old, []byte("<!-- halfsplit ")); opened != blocks {
		t.Errorf("%d markers open a block, %d blocks found", opened, blocks)
	}
	for _, name := range names {
		if !strings.Contains(string(old), "<!-- halfsplit diagnose "+name) {
			t.Errorf("%s is not shown", name)
		}
	}
	switch {
	case bytes.Equal(old, fresh):
	case *update:
		if err := os.WriteFile("README.md", fresh, 0o644); err != nil {
			t.Fatal(err)
		}
	default:
		t.Errorf("out of date; go test ./examples -update rewrites it. First difference:\n%s", difference(old, fresh))
	}
	return blocks
}

// output runs the command line as it stands in a marker, with the machine's folder as the working directory.
func output(t *testing.T, args string) string {
	t.Helper()
	var out, errs bytes.Buffer
	if status := cli.Run(context.Background(), strings.Fields(args), cli.Streams{Out: &out, Err: &errs}, "(test)"); status != cli.Done {
		t.Errorf("halfsplit %s: exit status %d, %s", args, status, errs.String())
	}
	return out.String()
}

func difference(old, fresh []byte) string {
	a, b := strings.Split(string(old), "\n"), strings.Split(string(fresh), "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d\n- %s\n+ %s", i+1, a[i], b[i])
		}
	}
	return fmt.Sprintf("%d lines became %d", len(a), len(b))
}
