package oracle

// The bridge between the oracle and the program: the same board and faults in both.

import (
	"fmt"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/sim"
)

// printed is what stands on a part: 74LS138 for {"74138", "LS"}.
func printed(t TypeName) string {
	if strings.HasPrefix(t.Name, "74") && t.Name[2] <= '9' && t.Family != "74" {
		return "74" + t.Family + t.Name[2:]
	}
	return t.Name
}

// coreBoard writes the board as the program reads it, with one action that does all steps.
func coreBoard(b *Board) *board.Board {
	out := &board.Board{Title: "random"}
	for _, net := range b.Nets() {
		if level, ok := b.Rails[net]; ok {
			out.Rails = append(out.Rails, board.Rail{Net: net, Volts: 5 * float64(level-'0')})
		}
	}
	for _, net := range b.Inputs {
		out.Inputs = append(out.Inputs, board.Name{Text: net})
	}
	for _, p := range b.Parts {
		bp := board.Part{Ref: p.Ref, Type: p.Type, Contents: p.Contents}
		if p.Type == "resistor" {
			bp.Value, bp.HasValue = float64(p.Ohms), p.Ohms != 0
		} else {
			bp.Type = printed(TypeName{p.Type, p.Family})
		}
		if p.Contents != nil {
			bp.ContentsFile = "contents.bin"
		}
		pins := map[int]bool{}
		for pin := range p.Pins {
			pins[pin] = true
		}
		for _, pin := range sortedKeys(pins) {
			bp.Pins = append(bp.Pins, board.Pin{Pin: fmt.Sprint(pin), Net: p.Pins[pin]})
		}
		out.Parts = append(out.Parts, bp)
	}
	all := board.Action{Name: "all"}
	for _, s := range b.Steps {
		var step board.Step
		for _, net := range sortedNets(s) {
			v := board.Value{Number: uint64(s[net] - '0')}
			if s[net] == 'X' || s[net] == 'Z' {
				v = board.Value{Letter: s[net] + 'a' - 'A'}
			}
			step.Sets = append(step.Sets, board.Set{Net: net, Value: v})
		}
		all.Steps = append(all.Steps, step)
	}
	out.Actions = []board.Action{all}
	return out
}

func library(t *testing.T) *part.Library {
	t.Helper()
	lib, findings := part.Embedded()
	if findings.Errors() {
		t.Fatal(findings)
	}
	return lib
}

// built joins the board with the program's library.
func built(t *testing.T, lib *part.Library, b *Board) *circuit.Circuit {
	t.Helper()
	c, findings := circuit.Build(coreBoard(b), lib)
	if c == nil {
		t.Fatal(findings)
	}
	return c
}

// where writes a fault as the program reads it.
func (f Fault) where() string {
	switch {
	case f.Kind == "bridge":
		return f.Kind + "@" + f.Net + "+" + f.Net2
	case f.Net != "":
		return f.Kind + "@" + f.Net
	case f.Pin != 0:
		return fmt.Sprintf("%s@%s.%d", f.Kind, f.Ref, f.Pin)
	}
	return f.Kind + "@" + f.Ref
}

// simulate runs the program's simulator: a trace of the good board and one for each fault.
func simulate(t *testing.T, c *circuit.Circuit, b *Board, faults [][]Fault) []Trace {
	t.Helper()
	program := sim.Compile(c)
	good := program.Unknown(nil).Extend(0)
	nets := b.Nets()
	index := make([]int, len(nets))
	for i, name := range nets {
		n, ok := c.Net(name)
		if !ok {
			t.Fatalf("the program has no net %s", name)
		}
		index[i] = n
	}
	traces := make([]Trace, len(faults))
	engine := sim.NewEngine(program)
	for first := 0; first < len(faults); first += 64 {
		lanes := faults[first:min(first+64, len(faults))]
		var patches []sim.Patch
		for lane, fs := range lanes {
			for _, f := range fs {
				parsed, err := fault.Parse(c, f.where())
				if err != nil {
					t.Fatalf("%s: %v", f.where(), err)
				}
				patches = append(patches, parsed.Patches(c, 0, 1<<lane)...)
			}
			traces[first+lane] = Trace{Nets: nets}
		}
		engine.Run(good, program.Overlay(nil, patches), nil, func(moment int) {
			for lane := range lanes {
				levels := make([]byte, len(nets))
				for i, n := range index {
					levels[i] = engine.NetLevel(n).Sign(lane)
				}
				tr := &traces[first+lane]
				if moment == 0 {
					tr.Start = levels
				} else {
					tr.Moments = append(tr.Moments, levels)
				}
			}
		})
	}
	return traces
}
