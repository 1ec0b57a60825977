package worked

// Circuits given as gates: a reader for the part of structural Verilog that the published benchmark circuits use.

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// netlist is a circuit of bare gates. Inputs and outputs keep the order of the file.
type netlist struct {
	board   *board.Board
	inputs  []string
	outputs []string
}

var (
	verilogComment = regexp.MustCompile(`(?s)//[^\n]*|/\*.*?\*/`)
	verilogGate    = regexp.MustCompile(`(?s)^(\w+)\s+(\w+)\s*\(([^()]*)\)$`)
)

// parseNetlist reads one module whose body is input, output and wire declarations and gate instances, output first.
func parseNetlist(text string) (*netlist, error) {
	n := &netlist{board: &board.Board{}}
	for _, s := range strings.Split(verilogComment.ReplaceAllString(text, " "), ";") {
		s = strings.TrimSpace(s)
		word, rest, _ := strings.Cut(s, " ")
		switch {
		case s == "" || word == "wire":
		case s == "endmodule":
			return n, nil
		case word == "module":
			name, _, _ := strings.Cut(rest, "(")
			n.board.Title = strings.TrimSpace(name)
		case word == "input":
			n.inputs = append(n.inputs, nameList(rest)...)
		case word == "output":
			n.outputs = append(n.outputs, nameList(rest)...)
		default:
			m := verilogGate.FindStringSubmatch(s)
			if m == nil || !part.IsGate(m[1]) {
				return nil, fmt.Errorf("not a gate: %q", s)
			}
			p := board.Part{Ref: m[2], Type: m[1], Listed: true}
			for _, net := range nameList(m[3]) {
				p.Pins = append(p.Pins, board.Pin{Net: net})
			}
			n.board.Parts = append(n.board.Parts, p)
		}
	}
	return nil, fmt.Errorf("no endmodule")
}

func nameList(s string) []string {
	var out []string
	for _, w := range strings.Split(s, ",") {
		out = append(out, strings.TrimSpace(w))
	}
	return out
}

// gates reads a circuit of gates and joins it with the library. The vectors, each with one level for every input in the order of the
// file, become the moments of the one action, "feed".
func gates(t *testing.T, text string, vectors ...string) (*netlist, *circuit.Circuit) {
	t.Helper()
	n, err := parseNetlist(text)
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range n.inputs {
		n.board.Inputs = append(n.board.Inputs, board.Name{Text: i})
	}
	feed := board.Action{Name: "feed"}
	for _, v := range vectors {
		var s board.Step
		for i, net := range n.inputs {
			s.Sets = append(s.Sets, board.Set{Net: net, Value: board.Value{Number: uint64(v[i] - '0')}})
		}
		feed.Steps = append(feed.Steps, s)
	}
	n.board.Actions = []board.Action{feed}
	if len(vectors) > 0 { // a scope also shows what stood before the action: let it be the first vector
		n.board.Actions = append(n.board.Actions, board.Action{Name: "power-up", Steps: feed.Steps[:1]})
		n.board.Start = []board.Name{{Text: "power-up"}}
	}
	return n, build(t, n.board, "")
}

// c17 is the smallest of the benchmark circuits, under the names of IJCAI 2015, Fig. 1.
const c17 = `
module c17 (i1, i2, i3, i4, i5, o1, o2);
input i1, i2, i3, i4, i5;
output o1, o2;
wire z1, z2, z3, z4;
nand z1 (z1, i1, i3);
nand z2 (z2, i3, i4);
nand z3 (z3, i2, z2);
nand z4 (z4, z2, i5);
nand o1 (o1, z1, z3);
nand o2 (o2, z3, z4);
endmodule`

func TestNetlistReader(t *testing.T) {
	n, c := gates(t, c17, "00000")
	if !slices.Equal(n.inputs, []string{"i1", "i2", "i3", "i4", "i5"}) || !slices.Equal(n.outputs, []string{"o1", "o2"}) {
		t.Errorf("inputs %v, outputs %v", n.inputs, n.outputs)
	}
	if len(c.Parts) != 6 || len(c.Nets) != 11 || n.board.Title != "c17" {
		t.Errorf("%s with %d gates on %d nets, want c17 with 6 on 11", n.board.Title, len(c.Parts), len(c.Nets))
	}
	for _, bad := range []string{"", "module m (a);", "module m (a); flop f (a, b); endmodule", "module m (a); assign a = b; endmodule", "module m (a); nand a, b; endmodule"} {
		if _, err := parseNetlist(bad); err == nil {
			t.Errorf("%q was taken for a circuit", bad)
		}
	}
}
