package oracle

// The bridge between the oracle and the program: the same board and faults in both.

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/sim"
	"halfsplit/internal/core/sim/ref"
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

// patience is how long the program's simulator may take for one board with its faults; it needs milliseconds.
const patience = 20 * time.Second

// simulate runs the program's simulator: one trace for each set of faults. It fails the test when the simulator does
// not come to an end.
func simulate(t *testing.T, c *circuit.Circuit, b *Board, faults [][]Fault) []Trace {
	t.Helper()
	done := make(chan []Trace, 1)
	patches, err := patchesOf(c, faults)
	if err != nil {
		t.Fatal(err)
	}
	nets, index := netsOf(t, c, b)
	go func() { done <- simulateAll(c, nets, index, patches) }()
	select {
	case traces := <-done:
		return traces
	case <-time.After(patience):
		t.Fatalf("the simulator does not come to rest with faults %v on %+v", faults, *b)
		return nil
	}
}

// patchesOf gives the primitive changes of each set of faults, in lane 0.
func patchesOf(c *circuit.Circuit, faults [][]Fault) ([][]sim.Patch, error) {
	all := make([][]sim.Patch, len(faults))
	for i, set := range faults {
		for _, f := range set {
			parsed, err := fault.Parse(c, f.where())
			if err != nil {
				return nil, fmt.Errorf("%s: %w", f.where(), err)
			}
			all[i] = append(all[i], parsed.Patches(c, 0, 1)...)
		}
	}
	return all, nil
}

func netsOf(t *testing.T, c *circuit.Circuit, b *Board) ([]string, []int) {
	t.Helper()
	nets := b.Nets()
	index := make([]int, len(nets))
	for i, name := range nets {
		n, ok := c.Net(name)
		if !ok {
			t.Fatalf("the program has no net %s", name)
		}
		index[i] = n
	}
	return nets, index
}

func simulateAll(c *circuit.Circuit, nets []string, index []int, patches [][]sim.Patch) []Trace {
	program := sim.Compile(c)
	good := program.Unknown(nil).Extend(0)
	traces := make([]Trace, len(patches))
	engine := sim.NewEngine(program)
	for first := 0; first < len(patches); first += 64 {
		var all []sim.Patch
		lanes := patches[first:min(first+64, len(patches))]
		for lane, set := range lanes {
			for _, p := range set {
				p.Lanes = 1 << lane
				all = append(all, p)
			}
			traces[first+lane].Nets = nets
		}
		engine.Run(good, program.Overlay(nil, all), nil, func(moment int) {
			for lane := range lanes {
				levels := make([]byte, len(nets))
				for i, n := range index {
					levels[i] = engine.NetLevel(n).Sign(lane)
				}
				traces[first+lane].add(moment, levels)
			}
		})
	}
	return traces
}

func (t *Trace) add(moment int, levels []byte) {
	if moment == 0 {
		t.Start = levels
	} else {
		t.Moments = append(t.Moments, levels)
	}
}

// slowly runs the program's slow reference with one set of faults.
func slowly(t *testing.T, c *circuit.Circuit, b *Board, faults []Fault) Trace {
	t.Helper()
	patches, err := patchesOf(c, [][]Fault{faults})
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[sim.PatchKind]ref.Kind{
		sim.OutLow: ref.OutLow, sim.OutHigh: ref.OutHigh, sim.OutOpen: ref.OutOpen, sim.OutUnknown: ref.OutUnknown,
		sim.InLow: ref.InLow, sim.InHigh: ref.InHigh, sim.InOpen: ref.InOpen, sim.JointOpen: ref.JointOpen,
		sim.NetLow: ref.NetLow, sim.NetHigh: ref.NetHigh, sim.Bridge: ref.Bridge,
		sim.LinkOpen: ref.LinkOpen, sim.LinkShort: ref.LinkShort,
		sim.SrcLow: ref.SrcLow, sim.SrcHigh: ref.SrcHigh, sim.SrcDead: ref.SrcDead,
	}
	machine := ref.New(c)
	for _, p := range patches[0] {
		kind, ok := kinds[p.Kind]
		if !ok {
			t.Fatalf("no counterpart for patch %v", p)
		}
		machine.Patch(ref.Patch{Kind: kind, At: p.Index, To: p.Other})
	}
	nets, index := netsOf(t, c, b)
	tr := Trace{Nets: nets}
	for moment, frame := range machine.Run([]int{0}) {
		levels := make([]byte, len(nets))
		for i, n := range index {
			levels[i] = frame.Net(n)
		}
		tr.add(moment, levels)
	}
	return tr
}

// holdCore holds the program's library and simulator to traces of single parts without faults.
func holdCore(t *testing.T, jobs []Job, traces []Trace) {
	t.Helper()
	lib := library(t)
	for i, j := range jobs {
		p := j.Board.Parts[0]
		fast := simulate(t, built(t, lib, j.Board), j.Board, [][]Fault{nil})[0]
		if d := compare(fast, traces[i]); d.first != "" {
			t.Errorf("%s: fast simulator: %d of %d differ, first %s", printed(TypeName{p.Type, p.Family}), d.differ, d.all, d.first)
		}
	}
}
