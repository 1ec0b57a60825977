// Command check is the one command that tests this project: go run ./cmd/check. It needs Go alone; what else the tests need it
// installs where it can. It runs the formatter's check, vet, staticcheck, all tests, and the tests of the concurrent packages under the race
// detector. It exits with 1 when any of them fails, after having run them all.
package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// concurrent are the packages that start goroutines or share what they keep between them.
var concurrent = []string{"./internal/core/predict/...", "./internal/core/diagnose/...", "./internal/core/advise/...", "./internal/app/...", "./internal/core/elec/...", "./internal/core/job/...", "./internal/adapter/store/..."}

func main() {
	steps := []struct {
		name string
		run  func() error
	}{
		{"what the tests need", install},
		{"gofmt", formatted},
		{"go vet", command("go", "vet", "./...")},
		{"staticcheck", command("go", "tool", "staticcheck", "./...")},
		{"go test", command("go", "test", "-timeout", "20m", "./...")},
		{"go test -race", race},
	}
	var failed []string
	for _, s := range steps {
		fmt.Println("==", s.name)
		began := time.Now()
		if err := s.run(); err != nil {
			fmt.Printf("FAILED: %s: %v\n", s.name, err)
			failed = append(failed, s.name)
		}
		fmt.Printf("-- %s: %.0f s\n", s.name, time.Since(began).Seconds())
	}
	if len(failed) > 0 {
		fmt.Println("FAILED:", strings.Join(failed, ", "))
		os.Exit(1)
	}
	fmt.Println("all good")
}

// command runs a program with its output shown as it comes.
func command(name string, args ...string) func() error {
	return func() error {
		c := exec.Command(name, args...)
		c.Stdout, c.Stderr = os.Stdout, os.Stderr
		return c.Run()
	}
}

func formatted() error {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	gofmt := filepath.Join(strings.TrimSpace(string(root)), "bin", "gofmt")
	out, err := exec.Command(gofmt, "-l", ".").CombinedOutput()
	if err != nil {
		return fmt.Errorf("%w: %s", err, out)
	}
	if len(bytes.TrimSpace(out)) > 0 {
		return fmt.Errorf("not formatted:\n%s", out)
	}
	return nil
}

// race needs cgo, which the program itself never uses. Of the command line and the
// analogue half only what runs in parallel or is stopped goes through it, of the page all but the repairs of every invented machine: they would
// take half an hour and start the same code.
func race() error {
	run := func(args ...string) error {
		c := exec.Command("go", append([]string{"test", "-race", "-timeout", "20m"}, args...)...)
		c.Env = append(os.Environ(), "CGO_ENABLED=1")
		c.Stdout, c.Stderr = os.Stdout, os.Stderr
		return c.Run()
	}
	return errors.Join(run(concurrent...),
		run("-skip", "TestExamplesAreRepaired|TestPairsArePointedTo", "./internal/adapter/web/..."),
		run("-run", "TestSameAnswerForAnyWorkers|TestSoundBoard", "./internal/core/analog", "./internal/core/joint"),
		run("-run", "TestSameAnswerOnAnyNumberOfProcessors|TestInterrupted", "./internal/adapter/cli"))
}
