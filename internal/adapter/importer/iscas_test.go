package importer

// Circuits given as gates against what is published of them (F. Brglez and H. Fujiwara, ISCAS 1985; gate, input and output counts from
// the published tables, collapsed stuck-at faults from published test-generation logs), and the same circuit in two formats.

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

// c17 is the smallest of the circuits, under its published net numbers.
const c17 = `module c17 (N1,N2,N3,N6,N7,N22,N23);
input N1,N2,N3,N6,N7;
output N22,N23;
wire N10,N11,N16,N19;
nand NAND2_1 (N10, N1, N3);
nand NAND2_2 (N11, N3, N6);
nand NAND2_3 (N16, N2, N11);
nand NAND2_4 (N19, N11, N7);
nand NAND2_5 (N22, N10, N16);
nand NAND2_6 (N23, N16, N19);
endmodule
`

// benchmark reads a file of the benchmark data, which lies beside the repository or not at all.
func benchmark(t *testing.T, name string) (string, bool) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "shared", "data", filepath.FromSlash(name)))
	if err != nil {
		t.Logf("%s is not there; what is built into the test is checked without it", name)
		return "", false
	}
	return string(data), true
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

func TestPublishedCircuits(t *testing.T) {
	checked := 0
	for i, k := range published {
		text, ok := benchmark(t, "iscas85/"+k.name+".v")
		if !ok && i == 0 {
			text, ok = c17, true
		}
		if !ok {
			continue
		}
		checked++
		res, _ := read(t, File{k.name + ".v", []byte(text)})
		if len(res.Findings) > 0 {
			t.Errorf("%s: %v", k.name, res.Findings)
		}
		fromVerilog := res.Board
		faults, collapsed := stuckAt(t, fromVerilog)
		got := []int{len(fromVerilog.Inputs), len(res.Outputs), len(fromVerilog.Parts), faults, collapsed}
		if want := []int{k.in, k.out, k.gates, k.faults, k.collapsed}; !slices.Equal(got, want) {
			t.Errorf("%s: inputs, outputs, gates, faults, collapsed %v, want %v", k.name, got, want)
		}
		// the same circuit as a bench file, written here from the Verilog text by other means: one board, but for the names of the gates
		again, _ := read(t, File{k.name + ".bench", []byte(benchOf(text))})
		if a, b := wiring(fromVerilog), wiring(again.Board); a != b || !slices.Equal(res.Outputs, again.Outputs) {
			t.Errorf("%s: bench and Verilog give different boards:\n%.400s\n%.400s", k.name, a, b)
		}
	}
	if _, err := os.Stat(filepath.Join("..", "..", "..", "..", "shared", "data", "iscas85")); err == nil && checked != len(published) || checked == 0 {
		t.Errorf("%d circuits checked", checked)
	}
}

// wiring is a board of gates without the names of the gates: each by the net it drives.
func wiring(b *board.Board) string {
	var out []string
	for _, p := range b.Parts {
		line := p.Type
		for _, w := range p.Pins {
			line += " " + w.Net
		}
		out = append(out, line)
	}
	slices.Sort(out)
	for _, i := range b.Inputs {
		out = append(out, "input "+i.Text)
	}
	return strings.Join(out, "\n")
}

// benchOf turns Verilog of the plainest kind into a bench file, statement by statement.
func benchOf(text string) string {
	var b strings.Builder
	for s := range strings.SplitSeq(text, ";") {
		f := strings.FieldsFunc(s, func(c rune) bool { return strings.ContainsRune(" \t\r\n,()", c) })
		switch {
		case len(f) == 0 || f[0] == "wire" || f[0] == "module" || f[0] == "endmodule":
		case f[0] == "input" || f[0] == "output":
			for _, n := range f[1:] {
				fmt.Fprintf(&b, "%s(%s)\n", strings.ToUpper(f[0]), n)
			}
		default:
			fmt.Fprintf(&b, "%s = %s(%s)\n", f[2], strings.ToUpper(f[0]), strings.Join(f[3:], ", "))
		}
	}
	return b.String()
}

// stuckAt counts the stuck-at faults of a board of gates, and their classes by the rule of a gate: a controlling level at an input is
// the forced level at the output; not and buf pass both. A line is a net's stem, or a branch where a net has several readers.
func stuckAt(t *testing.T, b *board.Board) (faults, classes int) {
	t.Helper()
	lib, _ := library()
	c, fl := circuit.Build(b, lib)
	if fl.Errors() {
		t.Fatal(fl)
	}
	parent := map[string]string{}
	var root func(f string) string
	root = func(f string) string {
		if parent[f] != f {
			parent[f] = root(parent[f])
		}
		return parent[f]
	}
	readers := func(net int) []int {
		return slices.DeleteFunc(slices.Clone(c.Nets[net].Pins), func(p int) bool { return c.Pins[p].Driver != circuit.None })
	}
	into := func(pin int) string {
		if n := c.Pins[pin].Net; len(readers(n)) == 1 {
			return "net " + itoa(n)
		}
		return "pin " + itoa(pin)
	}
	add := func(line string) {
		parent[line+"/0"], parent[line+"/1"] = line+"/0", line+"/1"
	}
	for n := range c.Nets {
		add("net " + itoa(n))
		for _, p := range readers(n) {
			add(into(p))
		}
	}
	forced := map[string][2]string{"and": {"0", "0"}, "nand": {"0", "1"}, "or": {"1", "1"}, "nor": {"1", "0"}}
	for _, p := range c.Parts {
		out := "net " + itoa(c.Pins[p.Pins[0]].Net)
		for _, q := range p.Pins[1:] {
			in := into(q)
			join := func(a, b string) { parent[root(in+"/"+a)] = root(out + "/" + b) }
			switch name := p.Type.Name; name {
			case "buf":
				join("0", "0")
				join("1", "1")
			case "not":
				join("0", "1")
				join("1", "0")
			case "xor", "xnor":
			default:
				join(forced[name][0], forced[name][1])
			}
		}
	}
	seen := map[string]bool{}
	for f := range parent {
		seen[root(f)] = true
	}
	return len(parent), len(seen)
}

// s27, s298 and s344 of ISCAS-89: inputs without the clock, outputs, flip-flops and gates as the heads of the published files count them.
func TestPublishedSequentialCircuits(t *testing.T) {
	for _, k := range []struct {
		name                 string
		in, out, flop, gates int
	}{{"s27", 4, 1, 3, 10}, {"s298", 3, 6, 14, 119}, {"s344", 9, 11, 15, 160}} {
		text, ok := benchmark(t, "iscas89/"+k.name+".bench")
		if !ok && k.name == "s27" {
			text, ok = string(sound(t)[Bench].Data), true
		}
		if !ok {
			continue
		}
		res, _ := read(t, File{k.name + ".bench", []byte(text)})
		flops := 0
		for _, p := range res.Board.Parts {
			if p.Type == "dff" {
				flops++
			}
		}
		got := []int{len(res.Board.Inputs) - 1, len(res.Outputs), flops, len(res.Board.Parts) - flops}
		if want := []int{k.in, k.out, k.flop, k.gates}; !slices.Equal(got, want) || res.Findings.Errors() {
			t.Errorf("%s: inputs, outputs, flip-flops, gates %v, want %v; %v", k.name, got, want, res.Findings)
		}
	}
}
