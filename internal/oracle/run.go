package oracle

// Running Icarus Verilog.

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// Library holds the records and the models made of them.
type Library struct {
	Records []*Record
	models  map[string]*Model
}

// Load reads and compiles all tables.
func Load() (*Library, error) {
	records, err := Records()
	if err != nil {
		return nil, err
	}
	l := &Library{Records: records, models: map[string]*Model{}}
	for _, r := range records {
		m, err := Compile(r)
		if err != nil {
			return nil, err
		}
		for _, name := range r.Names {
			if l.models[name] != nil {
				return nil, fmt.Errorf("part %s twice", name)
			}
			l.models[name] = m
		}
	}
	return l, nil
}

// Model returns the model of a part, with the pin-out of its family where that has one of its own (see Find).
func (l *Library) Model(name, family string) (*Model, error) {
	r, err := Find(l.Records, name, family)
	if err != nil {
		return nil, err
	}
	return l.models[r.Names[0]], nil
}

// Available tells whether Icarus Verilog can be run; the error says how to install it.
func Available() error {
	for _, program := range []string{"iverilog", "vvp"} {
		if _, err := exec.LookPath(program); err != nil {
			return fmt.Errorf("%s is missing: install Icarus Verilog (Debian and Ubuntu: apt-get install iverilog)", program)
		}
	}
	return nil
}

// Run runs all jobs in one Verilog process and returns a trace for each.
func (l *Library) Run(ctx context.Context, jobs []Job) ([]Trace, error) {
	if err := Available(); err != nil {
		return nil, err
	}
	for _, j := range jobs {
		if err := j.Board.check(); err != nil {
			return nil, err
		}
	}
	text, _, err := l.program(jobs)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "oracle")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	source, program := filepath.Join(dir, "board.v"), filepath.Join(dir, "board.vvp")
	if err := os.WriteFile(source, []byte(text), 0o600); err != nil {
		return nil, err
	}
	if out, err := exec.CommandContext(ctx, "iverilog", "-g2005", "-o", program, source).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("iverilog: %w\n%s", err, first(out))
	}
	out, err := exec.CommandContext(ctx, "vvp", "-n", program).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("vvp: %w\n%s", err, first(out))
	}
	return readTraces(jobs, out)
}

// first shortens a long complaint.
func first(out []byte) []byte { return out[:min(len(out), 2000)] }

// check sees to it that the steps move only inputs, to known letters.
func (b *Board) check() error {
	inputs := map[string]bool{}
	for _, net := range b.Inputs {
		inputs[net] = true
	}
	for m, step := range b.Steps {
		for net, level := range step {
			if !inputs[net] || !strings.ContainsRune("01XZ", rune(level)) {
				return fmt.Errorf("moment %d sets %q to %q", m, net, level)
			}
		}
	}
	return nil
}

func readTraces(jobs []Job, out []byte) ([]Trace, error) {
	traces := make([]Trace, len(jobs))
	for i, j := range jobs {
		traces[i].Nets = j.Board.Nets()
	}
	lines := bufio.NewScanner(bytes.NewReader(out))
	lines.Buffer(nil, 1<<24)
	for lines.Scan() {
		var kind, digits string
		var job int
		if n, _ := fmt.Sscanf(lines.Text(), "%s %d %s", &kind, &job, &digits); n != 3 || kind != "T" || job < 0 || job >= len(jobs) {
			return nil, fmt.Errorf("the Verilog program says: %s", lines.Text())
		}
		t := &traces[job]
		if len(digits) != len(t.Nets) {
			return nil, fmt.Errorf("%d levels for %d nets", len(digits), len(t.Nets))
		}
		levels := make([]byte, len(digits))
		for i, d := range digits {
			switch d {
			case '1':
				levels[i] = '0'
			case '2':
				levels[i] = '1'
			case '4':
				levels[i] = 'Z'
			case '8':
				levels[i] = 'F'
			case '0', 'x', 'X', 'z', 'Z':
				return nil, fmt.Errorf("net %s has no level: %s", t.Nets[i], lines.Text())
			default:
				levels[i] = 'X'
			}
		}
		if t.Start == nil {
			t.Start = levels
		} else {
			t.Moments = append(t.Moments, levels)
		}
	}
	for i := range traces {
		if len(traces[i].Moments) != len(jobs[i].Board.Steps) {
			return nil, fmt.Errorf("job %d gave %d moments, not %d", i, len(traces[i].Moments), len(jobs[i].Board.Steps))
		}
	}
	return traces, lines.Err()
}
