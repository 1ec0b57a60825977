package e2e

import (
	"fmt"
	"os"
	"testing"
)

// One binary and one browser serve all tests of the package.

var (
	bin      string
	chromium *Browser
	shots    string // where the pictures of the pages go
)

// halt is the witness of what happens before the first test.
type halt struct{}

func (halt) Helper() {}
func (halt) Fatalf(format string, args ...any) {
	fmt.Fprintf(os.Stderr, format+"\n", args...)
	os.Exit(1)
}

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "halfsplit-e2e")
	if err != nil {
		halt{}.Fatalf("%v", err)
	}
	bin = Build(halt{}, dir)
	if shots = os.Getenv("HALFSPLIT_SHOTS"); shots == "" {
		shots = dir
	}
	var end func()
	chromium, end = Open(halt{})
	code := m.Run()
	end()
	if err := os.RemoveAll(dir); err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	os.Exit(code)
}
