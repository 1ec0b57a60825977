package worked

// The published counts of benchmark circuits: inputs, outputs, gates, and stuck-at faults before and after equivalence collapsing
// (ISCAS-85; collapsed counts from published test-generation logs). A line is a net's stem, or a branch where the net has several readers.

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// line is a stem (Pin is None) or the branch to one reading pin.
type line struct{ net, pin int }

// stuckAt is a line held at a level.
type stuckAt struct {
	line
	high bool
}

// hearing lists the pins that read a net.
func hearing(c *circuit.Circuit, net int) []int {
	var out []int
	for _, p := range c.Nets[net].Pins {
		if c.Pins[p].Driver == circuit.None {
			out = append(out, p)
		}
	}
	return out
}

// lineInto is the line that ends at a reading pin.
func lineInto(c *circuit.Circuit, pin int) line {
	net := c.Pins[pin].Net
	if len(hearing(c, net)) > 1 {
		return line{net, pin}
	}
	return line{net, circuit.None}
}

// stuckAts lists every stuck-at fault of a circuit of gates.
func stuckAts(c *circuit.Circuit) []stuckAt {
	var out []stuckAt
	for n := range c.Nets {
		lines := []line{{n, circuit.None}}
		if readers := hearing(c, n); len(readers) > 1 {
			for _, p := range readers {
				lines = append(lines, line{n, p})
			}
		}
		for _, l := range lines {
			out = append(out, stuckAt{l, false}, stuckAt{l, true})
		}
	}
	return out
}

// collapse numbers the classes of faults that are the same by the rule of a gate: a controlling level at an input is the forced level at
// the output; not and buf pass both. The result maps each fault to the first of its class.
func collapse(t *testing.T, c *circuit.Circuit) map[stuckAt]stuckAt {
	t.Helper()
	parent := map[stuckAt]stuckAt{}
	for _, f := range stuckAts(c) {
		parent[f] = f
	}
	var root func(f stuckAt) stuckAt
	root = func(f stuckAt) stuckAt {
		if parent[f] != f {
			parent[f] = root(parent[f])
		}
		return parent[f]
	}
	for _, p := range c.Parts {
		out := line{c.Pins[p.Pins[0]].Net, circuit.None}
		for _, q := range p.Pins[1:] {
			in := lineInto(c, q)
			join := func(a, b bool) { parent[root(stuckAt{in, a})] = root(stuckAt{out, b}) }
			switch p.Type.Name {
			case "and":
				join(false, false)
			case "or":
				join(true, true)
			case "nand":
				join(false, true)
			case "nor":
				join(true, false)
			case "not":
				join(false, true)
				join(true, false)
			case "buf":
				join(false, false)
				join(true, true)
			case "xor", "xnor": // nothing is forced
			default:
				t.Fatalf("a gate %s", p.Type.Name)
			}
		}
	}
	for f := range parent {
		parent[f] = root(f)
	}
	return parent
}

// ways is a stuck-at fault in the engine's own kinds: a stem is the net, a branch is a pin off its net and held.
func (f stuckAt) ways() []predict.Way {
	net, pin := fault.NetLow, fault.InputLow
	if f.high {
		net, pin = fault.NetHigh, fault.InputHigh
	}
	if f.pin == circuit.None {
		return []predict.Way{{F: fault.Fault{Kind: net, A: f.net, B: circuit.None}}}
	}
	return []predict.Way{{F: fault.Fault{Kind: fault.JointOpen, A: f.pin, B: circuit.None}}, {F: fault.Fault{Kind: pin, A: f.pin, B: circuit.None}}}
}

var published = []struct {
	name                              string
	in, out, gates, faults, collapsed int
}{
	{"c17", 5, 2, 6, 34, 22},
	{"c432", 36, 7, 160, 864, 524},
	{"c499", 41, 32, 202, 998, 758},
	{"c880", 60, 26, 383, 1760, 942},
	{"c1355", 41, 32, 546, 2710, 1574},
}

func TestPublishedCounts(t *testing.T) {
	for i, k := range published {
		text, ok := benchmark(t, "iscas85/"+k.name+".v")
		if !ok && i == 0 {
			text, ok = c17, true
		}
		if !ok {
			continue
		}
		n, c := gates(t, text)
		classes := map[stuckAt]bool{}
		parent := collapse(t, c)
		for _, root := range parent {
			classes[root] = true
		}
		got := []int{len(c.Inputs), len(n.outputs), len(c.Parts), len(parent), len(classes)}
		if want := []int{k.in, k.out, k.gates, k.faults, k.collapsed}; !slices.Equal(got, want) {
			t.Errorf("%s: inputs, outputs, gates, faults, collapsed %v, want %v", k.name, got, want)
		}
	}
}

// In c17 the engine must agree with the rule: over all 32 vectors, faults of one class show the same at the outputs, faults of two
// classes do not, and none shows nothing (no fault of c17 is untestable).
func TestCollapsedFaultsLookAlike(t *testing.T) {
	var vectors []string
	for v := range 32 {
		vectors = append(vectors, fmt.Sprintf("%05b", v))
	}
	n, c := gates(t, c17, vectors...)
	m := predict.New(c, 0)
	feed, _ := c.ActionByName("feed")
	var places []circuit.Place
	for _, o := range n.outputs {
		net, _ := c.Net(o)
		places = append(places, circuit.Place{Pin: circuit.None, Net: net})
	}
	shows := func(hyp []predict.Way) string {
		shapes, err := m.Expect(context.Background(), hyp, predict.Setting{Actions: []int{feed}}, places)
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, s := range shapes {
			text += string(s.Moments[1:]) + " "
		}
		return text
	}
	good := shows(nil)
	byClass, patterns := map[stuckAt]string{}, map[string]bool{}
	parent := collapse(t, c)
	checked := 0
	for _, f := range stuckAts(c) {
		checked++
		got := shows(f.ways())
		if got == good {
			t.Errorf("%v shows nothing on any vector", f)
		}
		if first, ok := byClass[parent[f]]; ok && first != got {
			t.Errorf("%v does not show what the rest of its class shows", f)
		}
		byClass[parent[f]] = got
		patterns[got] = true
	}
	if checked != 34 || len(byClass) != 22 || len(patterns) != 22 {
		t.Errorf("%d faults in %d classes with %d patterns checked, want 34 in 22 with 22", checked, len(byClass), len(patterns))
	}
}
