package weak

// The benchmark systems and observations: read from beside the repository when they are there.

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// benchmark reads a file of the benchmark data, which does not belong to the repository and may be absent.
func benchmark(t testing.TB, name string) (text string, ok bool) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "..", "shared", "data", filepath.FromSlash(name)))
	if err != nil {
		t.Logf("%s is not there; the small examples in this package are checked without it", name)
		return "", false
	}
	return string(data), true
}

// network is a circuit of gates: inputs, outputs and gates as kind, name, output, inputs.
type network struct {
	in, out []string
	gates   [][]string
}

var sysGate = regexp.MustCompile(`\[([a-z]+)\d*,(\w+),([\w,]+)\]`)

func system(text string) network {
	lists := strings.Split(text, "].")
	plain := func(s string) []string {
		return strings.FieldsFunc(s[strings.LastIndex(s, "[")+1:], func(r rune) bool { return r == ',' || r == '\n' || r == ' ' || r == '\r' })
	}
	n := network{in: plain(lists[0]), out: plain(lists[1])}
	for _, m := range sysGate.FindAllStringSubmatch(lists[2]+"]", -1) {
		kind := map[string]string{"inverter": "not", "buffer": "buf"}[m[1]]
		if kind == "" {
			kind = m[1]
		}
		n.gates = append(n.gates, append([]string{kind, m[2]}, strings.Split(m[3], ",")...))
	}
	return n
}

var (
	moduleGate = regexp.MustCompile(`(?m)^\s*(and|or|nand|nor|xor|xnor|not|buf)\s+(\w+)\s*\(([^)]*)\)\s*;`)
	moduleList = regexp.MustCompile(`(?ms)^\s*(input|output)\s+([^;]*);`)
)

// module reads the plain structural Verilog of the benchmark circuits.
func module(text string) network {
	var n network
	split := func(s string) []string {
		return strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(", \t\r\n", r) })
	}
	for _, m := range moduleList.FindAllStringSubmatch(text, -1) {
		if m[1] == "input" {
			n.in = append(n.in, split(m[2])...)
		} else {
			n.out = append(n.out, split(m[2])...)
		}
	}
	for _, m := range moduleGate.FindAllStringSubmatch(text, -1) {
		n.gates = append(n.gates, append([]string{m[1], m[2]}, split(m[3])...))
	}
	return n
}

// mount makes a board of the gates, with one input for each of the circuit's.
func (n network) mount(t testing.TB) *circuit.Circuit {
	t.Helper()
	b := &board.Board{Title: "gates"}
	for _, i := range n.in {
		b.Inputs = append(b.Inputs, board.Name{Text: i})
	}
	for _, g := range n.gates {
		p := board.Part{Ref: g[1], Type: g[0], Listed: true}
		for _, net := range g[2:] {
			p.Pins = append(p.Pins, board.Pin{Net: net})
		}
		b.Parts = append(b.Parts, p)
	}
	c, fl := circuit.Build(b, &part.Library{})
	if fl.Errors() {
		t.Fatal(fl)
	}
	return c
}

// observation gives an action that feeds the inputs, and the outputs seen.
func (n network) feed(c *circuit.Circuit, in []bool) *circuit.Circuit {
	var m circuit.Moment
	for i, v := range in {
		net, _ := c.Net(n.in[i])
		to := circuit.Low
		if v {
			to = circuit.High
		}
		if k := c.Nets[net].Input; k != circuit.None {
			m.Sets = append(m.Sets, circuit.InputSet{Input: k, To: to})
		}
	}
	d := *c
	d.Actions = []circuit.Action{{Name: "feed", Moments: []circuit.Moment{m}}}
	return &d
}

func (n network) saw(c *circuit.Circuit, out []bool) []Experiment {
	x := Experiment{Setting: predict.Setting{Actions: []int{0}}}
	for i, v := range out {
		net, _ := c.Net(n.out[i])
		w := predict.Low
		if v {
			w = predict.High
		}
		x.Seen = append(x.Seen, Seen{Place: circuit.Place{Pin: circuit.None, Net: net}, Word: w, AtEnd: true, Lamp: circuit.None})
	}
	return []Experiment{x}
}

type observation struct {
	number  int
	in, out []bool
	size    int
	count   int // 0 when it is not known
}

var (
	obsLine = regexp.MustCompile(`(?s)\(\w+,\s*(\d+),\s*\[([^\]]*)\]\)`)
	csvLine = regexp.MustCompile(`(?m)^\w+,(\d+),(\d+),(\d*)\r?$`)
)

// observations reads all observations of a system with the sizes that are known for them.
func observations(t testing.TB, n network, obs, csv string) []observation {
	t.Helper()
	want := map[string][]string{}
	for _, m := range csvLine.FindAllStringSubmatch(csv, -1) {
		want[m[1]] = m[2:]
	}
	var out []observation
	for _, m := range obsLine.FindAllStringSubmatch(obs, -1) {
		level := map[string]bool{}
		for l := range strings.SplitSeq(m[2], ",") {
			name, low := strings.CutPrefix(strings.TrimSpace(l), "-")
			level[name] = !low
		}
		var o observation
		o.number, _ = strconv.Atoi(m[1])
		for _, i := range n.in {
			o.in = append(o.in, level[i])
		}
		for _, i := range n.out {
			o.out = append(o.out, level[i])
		}
		w := want[m[1]]
		if w == nil {
			t.Fatalf("observation %s has no known size", m[1])
		}
		o.size, _ = strconv.Atoi(w[0])
		o.count, _ = strconv.Atoi(w[1])
		out = append(out, o)
	}
	return out
}
