package worked

// The full adder of Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 32 (1987) 57-95, and the
// benchmark circuit c17 with five observations of IJCAI 2015, Table 1.

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/predict"
)

const fullAdder = `
module adder (a, b, ci, sum, carry);
input a, b, ci;
output sum, carry;
xor X1 (x, a, b);
xor X2 (sum, x, ci);
and A1 (g, a, b);
and A2 (p, x, ci);
or O1 (carry, g, p);
endmodule`

func TestFullAdder(t *testing.T) {
	checked := 0
	for _, k := range []struct{ in, sum, carry, conflicts, diagnoses string }{
		// Reiter's example: a statement of it from general knowledge, the sets derived from it by brute force.
		{"101", "1", "0", "X1,X2 X1,A2,O1", "X1 X2,A2 X2,O1"},
		// Stern et al. 2017, Fig. 2; the figure's inputs are one of these two.
		{"101", "0", "0", "", "A2 O1 X1,X2"},
		{"011", "0", "0", "", "A2 O1 X1,X2"},
	} {
		_, c := gates(t, fullAdder, k.in)
		x := newMachine(t, c, "feed", "X1", "X2", "A1", "A2", "O1")
		obs := seen{"sum": k.sum[0], "carry": k.carry[0]}
		if got := x.diagnoses(obs); got != k.diagnoses {
			t.Errorf("inputs %s, sum %s, carry %s: diagnoses %s, want %s", k.in, k.sum, k.carry, got, k.diagnoses)
		}
		checked++
		if k.conflicts != "" {
			checked++
			if got := x.conflicts(obs); got != k.conflicts {
				t.Errorf("inputs %s, sum %s, carry %s: conflicts %s, want %s", k.in, k.sum, k.carry, got, k.conflicts)
			}
		}
	}
	if checked != 4 {
		t.Errorf("%d sets checked", checked)
	}
}

// smallest counts the sets of bad gates of the least size that explain an observation. loose is how many sets of that size or
// less the engine's unknown lets through although no behaviour of them explains it; it never shuts out one that does.
func (x *machine) smallest(obs seen, most int) (size, count, loose int) {
	x.t.Helper()
	size = most + 1
	for _, s := range x.subsets(most) {
		if len(s) > size {
			break
		}
		exact, may := len(x.worlds(s, obs)) > 0, x.mayExplain(s, obs)
		switch {
		case exact && !may:
			x.t.Errorf("%v explains %v, but the unknown does not allow it", s, obs)
		case may && !exact:
			loose++
		case exact:
			size = len(s)
			count++
		}
	}
	return size, count, loose
}

func TestC17Observations(t *testing.T) {
	loose := 0
	for _, k := range []struct {
		number      int
		in, out     string
		size, count int // computed; confirmed by independent programs
	}{
		{19, "10001", "11", 1, 3},
		{20, "01111", "11", 1, 2},
		{51, "10111", "01", 2, 7},
		{53, "11101", "00", 2, 3},
		{63, "10101", "00", 2, 6},
	} {
		_, c := gates(t, c17, k.in)
		x := newMachine(t, c, "feed", "z1", "z2", "z3", "z4", "o1", "o2")
		obs := seen{"o1": k.out[0], "o2": k.out[1]}
		size, count, more := x.smallest(obs, 2)
		if size != k.size || count != k.count {
			t.Errorf("observation %d: %d diagnoses of %d gates, want %d of %d", k.number, count, size, k.count, k.size)
		}
		if s, n := x.least(obs); s != k.size || n != k.count { // the way of TestLeastDiagnoses
			t.Errorf("observation %d, asked at once: %d diagnoses of %d gates, want %d of %d", k.number, n, s, k.count, k.size)
		}
		loose += more
	}
	if loose != 1 {
		t.Errorf("the unknown alone lets %d sets through that explain nothing, want 1", loose)
	}
}

var (
	sysGate = regexp.MustCompile(`\[([a-z]+)\d*,(\w+),([\w,]+)\]`)
	obsLine = regexp.MustCompile(`\(\w+,(\d+),\[([^\]]*)\]\)`)
	csvLine = regexp.MustCompile(`(?m)^\w+,(\d+),(\d+),(\d*)$`)
)

// Every observation of the smaller benchmark systems whose least diagnosis has at most two gates, against sizes and counts that two
// other methods agree on (satisfiability with a totaliser; brute force).
func TestLeastDiagnoses(t *testing.T) {
	for _, k := range []struct {
		name string
		obs  int // observations with a least diagnosis of one or two gates
	}{{"c17", 63}, {"74182", 100}, {"74283", 100}, {"74181", 100}} {
		sys, ok1 := benchmark(t, "mincard/"+k.name+".sys")
		obs, ok2 := benchmark(t, "mincard/"+k.name+"_iscas85.obs")
		csv, ok3 := benchmark(t, "mincard/"+k.name+".mincard.csv")
		if !ok1 || !ok2 || !ok3 {
			continue
		}
		text, parts := fromSystem(t, k.name, sys)
		want := map[string][]string{}
		for _, m := range csvLine.FindAllStringSubmatch(csv, -1) {
			want[m[1]] = m[2:]
		}
		checked := 0
		for _, m := range obsLine.FindAllStringSubmatch(obs, -1) {
			w := want[m[1]]
			if w == nil || w[1] == "" || w[0] != "1" && w[0] != "2" {
				continue
			}
			checked++
			size, count := leastOf(t, text, parts, m[2])
			if got := []string{fmt.Sprint(size), fmt.Sprint(count)}; !slices.Equal(got, w) {
				t.Errorf("%s, observation %s: %s diagnoses of %s gates, want %s of %s", k.name, m[1], got[1], got[0], w[1], w[0])
			}
		}
		if checked != k.obs {
			t.Errorf("%s: %d observations checked, want %d", k.name, checked, k.obs)
		}
	}
}

// fromSystem turns a benchmark system into a module.
func fromSystem(t *testing.T, name, sys string) (text string, parts []string) {
	t.Helper()
	lists := strings.Split(sys, "].")
	if len(lists) < 3 {
		t.Fatalf("%s.sys: not a system", name)
	}
	plain := func(s string) string { return strings.TrimSpace(s[strings.LastIndex(s, "[")+1:]) }
	var b strings.Builder
	fmt.Fprintf(&b, "module %s ();\ninput %s;\noutput %s;\n", "m", plain(lists[0]), plain(lists[1]))
	for _, m := range sysGate.FindAllStringSubmatch(lists[2]+"]", -1) {
		kind := map[string]string{"inverter": "not", "buffer": "buf"}[m[1]]
		if kind == "" {
			kind = m[1]
		}
		fmt.Fprintf(&b, "%s %s (%s);\n", kind, m[2], m[3])
		parts = append(parts, m[2])
	}
	b.WriteString("endmodule")
	return b.String(), parts
}

func leastOf(t *testing.T, text string, parts []string, literals string) (size, count int) {
	t.Helper()
	n, err := parseNetlist(text)
	if err != nil {
		t.Fatal(err)
	}
	level := map[string]byte{}
	for _, l := range nameList(literals) {
		if name, low := strings.CutPrefix(l, "-"); low {
			level[name] = '0'
		} else {
			level[name] = '1'
		}
	}
	in := ""
	for _, i := range n.inputs {
		in += string(level[i])
	}
	obs := seen{}
	for _, o := range n.outputs {
		obs[o] = level[o]
	}
	_, c := gates(t, text, in)
	return newMachine(t, c, "feed", parts...).least(obs)
}

// least is smallest for circuits with too many gates to list all sets: only sets of one and two, all of one size asked at once. The result
// is 0, 0 when no such set explains the observation.
func (x *machine) least(obs seen) (size, count int) {
	x.t.Helper()
	nets, want := obs.word()
	for size := 1; size <= 2; size++ {
		sets, hyps := x.held(size)
		found := map[string]bool{}
		for i, got := range x.shows(hyps, nets) {
			if got == want {
				found[sets[i]] = true
			}
		}
		if len(found) > 0 {
			return size, len(found)
		}
	}
	return 0, 0
}

// held lists every way in which the outputs of one or two gates can be held.
func (x *machine) held(size int) (sets []string, hyps [][]predict.Way) {
	add := func(ps ...string) {
		for k := range 1 << len(ps) {
			var h []predict.Way
			for i, p := range ps {
				h = append(h, stuck(x.outs[p][0], '0'+byte(k>>i&1)))
			}
			sets, hyps = append(sets, strings.Join(ps, ",")), append(hyps, h)
		}
	}
	for i, p := range x.parts {
		if size == 1 {
			add(p)
			continue
		}
		for _, q := range x.parts[i+1:] {
			add(p, q)
		}
	}
	return sets, hyps
}
