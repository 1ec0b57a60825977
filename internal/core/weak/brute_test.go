package weak

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// value works a gate out on its own, apart from the clauses.
func value(kind string, in []bool) bool {
	and, or, odd := true, false, false
	for _, v := range in {
		and, or, odd = and && v, or || v, odd != v
	}
	switch kind {
	case "and", "buf":
		return and
	case "nand", "not":
		return !and
	case "or":
		return or
	case "nor":
		return !or
	case "xor":
		return odd
	}
	return !odd
}

// explains tells by trying every level of the bad gates whether they explain the outputs. Gates stand in order.
func (n network) explains(in, out []bool, bad []int) bool {
	for held := range 1 << len(bad) {
		level := map[string]bool{}
		for i, name := range n.in {
			level[name] = in[i]
		}
		for g, x := range n.gates {
			var heard []bool
			for _, name := range x[3:] {
				heard = append(heard, level[name])
			}
			level[x[2]] = value(x[0], heard)
			if k := slices.Index(bad, g); k >= 0 {
				level[x[2]] = held>>k&1 == 1
			}
		}
		same := true
		for i, name := range n.out {
			same = same && level[name] == out[i]
		}
		if same {
			return true
		}
	}
	return false
}

// brute lists all smallest sets of up to three gates.
func (n network) brute(in, out []bool) [][]int {
	for size := range 4 {
		var found [][]int
		var grow func(set []int, from int)
		grow = func(set []int, from int) {
			if len(set) == size {
				if n.explains(in, out, set) {
					found = append(found, slices.Clone(set))
				}
				return
			}
			for g := from; g < len(n.gates); g++ {
				grow(append(set, g), g+1)
			}
		}
		grow(nil, 0)
		if found != nil {
			return found
		}
	}
	return nil
}

func randomNetwork(r *rand.Rand, gates int) network {
	var n network
	var nets []string
	for i := range 4 {
		n.in = append(n.in, fmt.Sprint("i", i))
	}
	nets = append(nets, n.in...)
	kinds := []string{"and", "nand", "or", "nor", "xor", "xnor", "not", "buf"}
	used := map[string]bool{}
	for g := range gates {
		x := []string{kinds[r.IntN(len(kinds))], fmt.Sprint("G", g), fmt.Sprint("n", g)}
		fan := 2 + r.IntN(2)
		if x[0] == "not" || x[0] == "buf" {
			fan = 1
		}
		for range fan {
			from := nets[max(0, len(nets)-8)+r.IntN(min(8, len(nets)))]
			x = append(x, from)
			used[from] = true
		}
		n.gates = append(n.gates, x)
		nets = append(nets, x[2])
	}
	for _, g := range n.gates {
		if !used[g[2]] || r.IntN(6) == 0 {
			n.out = append(n.out, g[2])
		}
	}
	return n
}

func TestAgainstBruteForce(t *testing.T) {
	r := rand.New(rand.NewPCG(20, 26))
	var sizes [4]int
	sets := 0
	for range 300 {
		n := randomNetwork(r, 6+r.IntN(9))
		in, out := make([]bool, len(n.in)), make([]bool, len(n.out))
		for i := range in {
			in[i] = r.IntN(2) == 1
		}
		for i := range out {
			out[i] = r.IntN(2) == 1
		}
		want := n.brute(in, out)
		c := n.feed(n.mount(t), in)
		got, err := Diagnose(context.Background(), c, n.saw(c, out), Options{Most: 1000})
		if err != nil {
			t.Fatal(err)
		}
		if want == nil { // more than three gates: beyond what is tried one by one
			if got.Possible && got.Cardinality <= 3 {
				t.Fatalf("%v %v %v: a set of %d, brute force finds none up to 3", n, in, out, got.Cardinality)
			}
			continue
		}
		if !got.Possible || got.Cardinality != len(want[0]) || got.More || !slices.EqualFunc(got.Sets, want, slices.Equal[[]int]) {
			t.Fatalf("%v\nin %v out %v: %v, want %v", n, in, out, got, want)
		}
		sizes[got.Cardinality]++
		sets += len(want)
	}
	t.Logf("circuits by size of the smallest set: %v, %d sets", sizes, sets)
	if sizes[1] < 40 || sizes[2] < 40 || sizes[3] < 20 || sets < 500 {
		t.Errorf("too few circuits with something to find: %v, %d sets", sizes, sets)
	}
}

// The full adder of Reiter, Artificial Intelligence 32 (1987) 57-95 (the statement from general knowledge, the sets by brute force), the one of
// Stern et al. 2017, Fig. 2, and c17 with observations of IJCAI 2015, Table 1.
func TestWorkedExamples(t *testing.T) {
	adder := network{[]string{"a", "b", "ci"}, []string{"sum", "carry"}, [][]string{{"xor", "X1", "x", "a", "b"}, {"xor", "X2", "sum", "x", "ci"},
		{"and", "A1", "g", "a", "b"}, {"and", "A2", "p", "x", "ci"}, {"or", "O1", "carry", "g", "p"}}}
	c17 := network{[]string{"i1", "i2", "i3", "i4", "i5"}, []string{"o1", "o2"}, [][]string{{"nand", "z1", "z1", "i1", "i3"}, {"nand", "z2", "z2", "i3", "i4"},
		{"nand", "z3", "z3", "i2", "z2"}, {"nand", "z4", "z4", "z2", "i5"}, {"nand", "o1", "o1", "z1", "z3"}, {"nand", "o2", "o2", "z3", "z4"}}}
	checked := 0
	for _, k := range []struct {
		n           network
		in, out     string
		size, count int
		first       string // the first set
	}{
		{adder, "101", "10", 1, 1, "[X1]"},
		{adder, "101", "00", 1, 2, "[A2]"},
		{adder, "011", "00", 1, 2, "[A2]"},
		{adder, "101", "01", 0, 1, "[]"},
		{c17, "10001", "11", 1, 3, ""},
		{c17, "01111", "11", 1, 2, ""},
		{c17, "10111", "01", 2, 7, ""},
		{c17, "11101", "00", 2, 3, ""},
		{c17, "10101", "00", 2, 6, ""},
	} {
		var in, out []bool
		for _, x := range k.in {
			in = append(in, x == '1')
		}
		for _, x := range k.out {
			out = append(out, x == '1')
		}
		c := k.n.feed(k.n.mount(t), in)
		r, err := Diagnose(context.Background(), c, k.n.saw(c, out), Options{})
		if err != nil || !r.Possible || r.Cardinality != k.size || len(r.Sets) != k.count {
			t.Errorf("%s %s: %v, %v; want %d sets of %d", k.in, k.out, r, err, k.count, k.size)
			continue
		}
		var names []string
		for _, p := range r.Sets[0] {
			names = append(names, c.Parts[p].Ref)
		}
		if k.first != "" && fmt.Sprint(names) != k.first {
			t.Errorf("%s %s: %v is the first, want %s", k.in, k.out, names, k.first)
		}
		checked++
	}
	if checked != 9 {
		t.Errorf("%d examples checked", checked)
	}
}

// Two things seen at one place at once: no part can bring that about.
func TestImpossible(t *testing.T) {
	n := network{[]string{"a"}, []string{"y", "y"}, [][]string{{"not", "G", "y", "a"}}}
	c := n.feed(n.mount(t), []bool{true})
	r, err := Diagnose(context.Background(), c, n.saw(c, []bool{true, false}), Options{})
	if err != nil || r.Possible || len(r.Sets) > 0 {
		t.Errorf("%v, %v", r, err)
	}
}

// The context ends a search between steps and in the middle of one.
func TestCancelled(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	n := network{[]string{"a"}, []string{"y"}, [][]string{{"not", "G", "y", "a"}}}
	c := n.feed(n.mount(t), []bool{true})
	if _, err := Diagnose(ctx, c, n.saw(c, []bool{true}), Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled before: %v", err)
	}
	// Thirteen things in twelve holes: known to take a solver of this kind far longer than the test waits.
	f := newCNF()
	var in [13][12]lit
	for i := range in {
		for k := range in[i] {
			in[i][k] = f.fresh()
		}
		f.clause(in[i][:]...)
	}
	for k := range 12 {
		for i := range in {
			for j := range i {
				f.clause(-in[i][k], -in[j][k])
			}
		}
	}
	ctx, stop = context.WithTimeout(context.Background(), 100*time.Millisecond)
	defer stop()
	began := time.Now()
	m, err := newHunt(f).solve(ctx)
	if took := time.Since(began); !errors.Is(err, context.DeadlineExceeded) || m != nil || took > 5*time.Second {
		t.Errorf("cancelled within: %v after %v", err, took)
	}
}
