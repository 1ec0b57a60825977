package worked

// Which sets of parts could be to blame, when a bad part may do anything: the notion of a diagnosis in de Kleer and Williams (1987) and
// Reiter (1987). A bad part's outputs are held at every combination of levels in turn, each a hypothesis of its own for the
// engine, so that the answer is exact; "part-erratic" puts all combinations into one unknown, which is quicker and lets
// more through.

import (
	"context"
	"maps"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// seen is what was observed: net → '0' or '1'.
type seen map[string]byte

// with adds the bits of a word, most significant net first, leaving the receiver as it is.
func (s seen) with(nets []string, value int) seen {
	out := seen{}
	maps.Copy(out, s)
	for i, n := range nets {
		out[n] = '0' + byte(value>>(len(nets)-1-i)&1)
	}
	return out
}

// word is the observation as nets, sorted, and their levels in that order.
func (s seen) word() (nets []string, levels string) {
	nets = slices.Sorted(maps.Keys(s))
	for _, n := range nets {
		levels += string(s[n])
	}
	return nets, levels
}

// machine is a circuit in one experiment, with the parts that may be bad.
type machine struct {
	t     *testing.T
	c     *circuit.Circuit
	m     *predict.Model
	set   predict.Setting
	parts []string
	outs  map[string][]int // part → pins that drive a named net
}

// newMachine takes the experiment that consists of one action.
func newMachine(t *testing.T, c *circuit.Circuit, action string, parts ...string) *machine {
	t.Helper()
	a, ok := c.ActionByName(action)
	if !ok {
		t.Fatalf("no action %s", action)
	}
	x := &machine{t, c, predict.New(c, 0), predict.Setting{Actions: []int{a}}, parts, map[string][]int{}}
	for _, p := range parts {
		pi, ok := c.PartByRef(p)
		if !ok {
			t.Fatalf("no part %s", p)
		}
		for _, d := range c.Parts[pi].Drivers {
			if pin := c.Drivers[d].Pin; !c.Nets[c.Pins[pin].Net].Hidden {
				x.outs[p] = append(x.outs[p], pin)
			}
		}
	}
	return x
}

// stuck holds a pin's driver at a level.
func stuck(pin int, level byte) predict.Way {
	k := fault.OutputLow
	if level == '1' {
		k = fault.OutputHigh
	}
	return predict.Way{F: fault.Fault{Kind: k, A: pin, B: circuit.None}}
}

// shows gives the level of nets at the end of the experiment, one text per hypothesis: 0, 1, or X for anything else.
func (x *machine) shows(hyps [][]predict.Way, nets []string) []string {
	x.t.Helper()
	sh, err := x.m.Pack(hyps).Show(context.Background(), x.set, predict.Want{Volts: x.ids(nets)})
	if err != nil {
		x.t.Fatal(err)
	}
	out := make([]string, len(hyps))
	for _, n := range x.ids(nets) {
		for i := range hyps {
			v, _ := sh[i/64].End(circuit.Place{Pin: circuit.None, Net: n})
			out[i] += string(v.Sign(i % 64))
		}
	}
	return out
}

func (x *machine) ids(nets []string) []int {
	out := make([]int, len(nets))
	for i, n := range nets {
		id, ok := x.c.Net(n)
		if !ok {
			x.t.Fatalf("no net %s", n)
		}
		out[i] = id
	}
	return out
}

// worlds lists the ways in which the parts of a set may have behaved so that the observation follows: the levels their outputs hold. An
// output that was observed itself can only hold what was seen there.
func (x *machine) worlds(set []string, obs seen) [][]predict.Way {
	x.t.Helper()
	fixed := []predict.Way{}
	var free []int
	for _, p := range set {
		for _, pin := range x.outs[p] {
			if level, ok := obs[x.c.NetName(x.c.Pins[pin].Net)]; ok {
				fixed = append(fixed, stuck(pin, level))
			} else {
				free = append(free, pin)
			}
		}
	}
	if len(free) > 16 {
		x.t.Fatalf("%v has %d free outputs", set, len(free))
	}
	nets, want := obs.word()
	hyps := make([][]predict.Way, 1<<len(free))
	for k := range hyps {
		hyps[k] = slices.Clone(fixed)
		for i, pin := range free {
			hyps[k] = append(hyps[k], stuck(pin, '0'+byte(k>>i&1)))
		}
	}
	var out [][]predict.Way
	for k, got := range x.shows(hyps, nets) {
		if got == want {
			out = append(out, hyps[k])
		}
	}
	return out
}

// mayExplain asks the same of the engine's own "may do anything": no observed net is predicted to be otherwise.
func (x *machine) mayExplain(set []string, obs seen) bool {
	x.t.Helper()
	var hyp []predict.Way
	for _, p := range set {
		pi, _ := x.c.PartByRef(p)
		hyp = append(hyp, predict.Way{F: fault.Fault{Kind: fault.PartErratic, A: pi, B: circuit.None}})
	}
	nets, want := obs.word()
	got := x.shows([][]predict.Way{hyp}, nets)[0]
	for i := range nets {
		if got[i] != 'X' && got[i] != want[i] {
			return false
		}
	}
	return true
}

// subsets lists all sets of parts, smaller ones first, each in the order of the machine's parts.
func (x *machine) subsets(most int) [][]string {
	var out [][]string
	for k := range 1 << len(x.parts) {
		var s []string
		for i, p := range x.parts {
			if k>>i&1 == 1 {
				s = append(s, p)
			}
		}
		if len(s) <= most {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b []string) int { return len(a) - len(b) })
	return out
}

// minimal keeps the sets that satisfy ok and contain no smaller one that does, written like "A1 A2,M2", in the order of the machine's
// parts.
func (x *machine) minimal(ok func(set []string) bool) string {
	var kept [][]string
	for _, s := range x.subsets(len(x.parts)) {
		within := slices.ContainsFunc(kept, func(k []string) bool {
			return !slices.ContainsFunc(k, func(p string) bool { return !slices.Contains(s, p) })
		})
		if !within && ok(s) {
			kept = append(kept, s)
		}
	}
	return list(kept)
}

func list(sets [][]string) string {
	var out []string
	for _, k := range sets {
		out = append(out, strings.Join(k, ","))
	}
	return strings.Join(out, " ")
}

// diagnoses are the minimal sets of bad parts that explain the observation.
func (x *machine) diagnoses(obs seen) string {
	return x.minimal(func(s []string) bool { return len(x.worlds(s, obs)) > 0 })
}

// conflicts are the minimal sets of parts that cannot all be good.
func (x *machine) conflicts(obs seen) string {
	return x.minimal(func(s []string) bool {
		var rest []string
		for _, p := range x.parts {
			if !slices.Contains(s, p) {
				rest = append(rest, p)
			}
		}
		return len(x.worlds(rest, obs)) == 0
	})
}
