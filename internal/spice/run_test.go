package spice

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// This file runs the simulator: many decks in one process, results by marker lines.

// job is a deck with what to compute and print. print are expressions; after the run values are theirs, or missing if
// the simulator found no answer.
type job struct {
	deck     *deck
	options  string
	analysis string // "op", "ac ...", "tran ..."
	measure  []string
	print    []string
	values   map[string]float64
}

// simulate runs all jobs in one process.
func simulate(t testing.TB, jobs []*job) {
	t.Helper()
	dir := t.TempDir()
	var cmds bytes.Buffer
	cmds.WriteString("set numdgt=12\nset width=200\nset noaskquit\n")
	for i, j := range jobs {
		name := filepath.Join(dir, fmt.Sprintf("d%d.cir", i))
		text := "* circuit\n" + strings.Join(j.deck.lines, "\n") + "\n.options gmin=1e-14 abstol=1e-14 " + j.options + "\n.end\n"
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&cmds, "echo @@job %d\nsource %s\n%s\n", i, name, j.analysis)
		for _, m := range j.measure {
			fmt.Fprintln(&cmds, m)
		}
		for _, p := range j.print {
			fmt.Fprintf(&cmds, "print %s\n", p)
		}
		fmt.Fprint(&cmds, "destroy all\nremcirc\n")
	}
	cmds.WriteString("echo @@end\nquit\n")
	out := command(t, dir, cmds.String())
	job, ended := -1, false
	sc := bufio.NewScanner(strings.NewReader(out))
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		line := sc.Text()
		switch {
		case strings.HasPrefix(line, "@@job "):
			job, _ = strconv.Atoi(line[6:])
			jobs[job].values = map[string]float64{}
		case line == "@@end":
			ended = true
		case job >= 0:
			name, text, ok := strings.Cut(line, "=")
			if !ok {
				continue
			}
			fields := strings.Fields(text)
			if len(fields) == 0 {
				continue
			}
			if v, err := strconv.ParseFloat(strings.TrimSuffix(fields[0], ","), 64); err == nil {
				jobs[job].values[strings.TrimSpace(name)] = v
			}
		}
	}
	if !ended {
		t.Fatalf("the simulator stopped early:\n%s", tail(out))
	}
}

// command runs the simulator on a script.
func command(t testing.TB, dir, script string) string {
	t.Helper()
	path, err := exec.LookPath("ngspice")
	if err != nil {
		t.Fatal("ngspice is missing; cmd/check installs it, or: apt-get install ngspice")
	}
	c := exec.Command(path, "-n", "-p")
	c.Dir = dir
	c.Stdin = strings.NewReader(script)
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	// Its exit code tells nothing about the single jobs; the end mark in the output does.
	if err := c.Run(); err != nil && !strings.Contains(out.String(), "@@end") {
		t.Fatalf("ngspice: %v\n%s", err, tail(out.String()))
	}
	return out.String()
}

func tail(s string) string {
	if len(s) > 2000 {
		return s[len(s)-2000:]
	}
	return s
}
