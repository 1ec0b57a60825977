package oracle

// Random boards with random faults: the program's simulators against Icarus Verilog.

import (
	"fmt"
	"math/rand"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// boardTypes are the parts for random boards: no memories (their contents would stay unknown) and no decade counters
// with a preset (makers differ over 9).
func boardTypes(t *testing.T, l *Library, lib *part.Library) []TypeName {
	t.Helper()
	var types []TypeName
	for _, tn := range fitted(t, l, lib) {
		m, err := l.Model(tn.Name, tn.Family)
		if err != nil {
			t.Fatal(err)
		}
		if m.memory == nil && !m.Decade() {
			types = append(types, tn)
		}
	}
	return types
}

// site names what a fault touches, so that no two faults of one board contradict each other.
func (f Fault) site() string { return fmt.Sprint(f.Ref, f.Pin, f.Net) }

// faultSets gives the board without a fault, with single faults and with pairs.
func faultSets(t *testing.T, l *Library, random *rand.Rand, b *Board, count int) [][]Fault {
	t.Helper()
	sets := [][]Fault{nil}
	for len(sets) <= count {
		var set []Fault
		for k := 0; k <= len(sets)%3/2; k++ {
			f, err := l.RandomFault(random, b)
			if err != nil {
				t.Fatal(err)
			}
			if len(set) == 0 || set[0].site() != f.site() {
				set = append(set, f)
			}
		}
		sets = append(sets, set)
	}
	return sets
}

type boardCase struct {
	seed  int64
	board *Board
	sets  [][]Fault
	core  *circuit.Circuit
	want  []Trace // by set
}

// boardCases lays boards out and runs them in Icarus Verilog, all in one process.
func boardCases(t *testing.T, l *Library, lib *part.Library, from, count int64, series bool) []boardCase {
	t.Helper()
	types := boardTypes(t, l, lib)
	var cases []boardCase
	var jobs []Job
	for seed := from; seed < from+count; seed++ {
		random := rand.New(rand.NewSource(seed))
		b, err := l.RandomBoard(random, 5+random.Intn(30), types, series)
		if err != nil {
			t.Fatal(err)
		}
		Stimulate(b, random, 16, random.Intn(2) == 0, nil)
		sets := faultSets(t, l, random, b, 8)
		for _, set := range sets {
			jobs = append(jobs, Job{b, set})
		}
		cases = append(cases, boardCase{seed: seed, board: b, sets: sets, core: built(t, lib, b)})
	}
	traces := run(t, l, jobs)
	for i := range cases {
		cases[i].want, traces = traces[:len(cases[i].sets)], traces[len(cases[i].sets):]
	}
	return cases
}

// TestBoards holds both simulators to Icarus Verilog on boards without series resistors: every net in every moment.
func TestBoards(t *testing.T) {
	l, lib := load(t), library(t)
	runs, levels := 0, 0
	for _, c := range boardCases(t, l, lib, 100, 20, false) {
		fast := simulate(t, c.core, c.board, c.sets)
		for i, set := range c.sets {
			if d := compare(fast[i], c.want[i]); d.first != "" {
				t.Errorf("seed %d, %v: fast simulator: %d of %d differ, first %s", c.seed, set, d.differ, d.all, d.first)
			}
			d := compare(slowly(t, c.core, c.board, set), c.want[i])
			if d.first != "" {
				t.Errorf("seed %d, %v: slow reference: %d of %d differ, first %s", c.seed, set, d.differ, d.all, d.first)
			}
			runs++
			levels += d.all
		}
	}
	t.Logf("%d runs, %d levels", runs, levels)
	if runs != 180 || levels < 150_000 {
		t.Errorf("%d runs with %d levels", runs, levels)
	}
}

// TestBoardsWithSeriesResistors allows the simulators not to know a level that the Verilog model knows: it tries
// every combination of unknown levels around a resistor, they need not.
func TestBoardsWithSeriesResistors(t *testing.T) {
	l, lib := load(t), library(t)
	runs, levels, unsure := 0, 0, 0
	for _, c := range boardCases(t, l, lib, 300, 8, true) {
		fast := simulate(t, c.core, c.board, c.sets)
		for i, set := range c.sets {
			for name, got := range map[string]Trace{"fast simulator": fast[i], "slow reference": slowly(t, c.core, c.board, set)} {
				wrong, less, all := weaker(got, c.want[i])
				if wrong != "" {
					t.Errorf("seed %d, %v: %s: %s", c.seed, set, name, wrong)
				}
				levels += all
				unsure += less
			}
			runs++
		}
	}
	t.Logf("%d runs, %d levels, %d not known", runs, levels, unsure)
	if runs != 72 || unsure*50 > levels {
		t.Errorf("%d runs; %d of %d levels not known", runs, unsure, levels)
	}
}

// weaker counts the levels that got does not know and want does; wrong names the first other difference.
func weaker(got, want Trace) (wrong string, less, all int) {
	if len(got.Moments) != len(want.Moments) {
		return "another number of moments", 0, 0
	}
	for m := range want.Moments {
		for i, w := range want.Moments[m] {
			all++
			g := got.Moments[m][i]
			switch {
			case g == w:
			case g == 'X':
				less++
			case wrong == "":
				wrong = fmt.Sprintf("moment %d net %s: %c, not %c", m, want.Nets[i], g, w)
			}
		}
	}
	return wrong, less, all
}

// TestKnownCases holds small boards that once went wrong.
func TestKnownCases(t *testing.T) {
	l, lib := load(t), library(t)
	inputs := func(names string, steps ...string) (nets []string, out []map[string]byte) {
		for _, n := range names {
			nets = append(nets, string(n))
		}
		for _, s := range steps {
			step := map[string]byte{}
			for i, n := range nets {
				step[n] = s[i]
			}
			out = append(out, step)
		}
		return nets, out
	}
	cases := []struct {
		rig   rig
		names string
		steps []string
	}{
		// Two pins of one side of a transceiver joined: a loop that only the bridge makes.
		{rig{name: "bridged transceiver", parts: []string{"LS 74245 1=d 2=a 5=b 19=g 18=c"},
			faults: []Fault{{Kind: "bridge", Net: "a", Net2: "b"}}}, "dg", []string{"00", "10", "X0", "11"}},
		{rig{name: "bridged transceiver, nothing else wired", parts: []string{"LS 74245 2=a 5=b 19=g"},
			faults: []Fault{{Kind: "bridge", Net: "a", Net2: "b"}}}, "g", []string{"1", "0"}},
		// A clock that stays unknown while data changes: each moment may hold an edge.
		{rig{name: "clock stays unknown", parts: []string{"LS 7474 1=r 4=+ 3=c 2=d 5=q"}}, "rcd", []string{"000", "100", "1X0", "1X1", "1X1"}},
		{rig{name: "shift register with an unknown clock", parts: []string{"74 74164 1=+ 2=+ 3=x 4=y 5=z 8=c 9=r"}}, "rcd",
			[]string{"0X0", "1X0", "1X1", "1X0", "1X1"}},
		// A shorted resistor joins what drives on both sides: a fight with a CMOS output is not heard as 0.
		{rig{name: "shorted resistor", parts: []string{"LS 7404 1=a 2=y", "HC 7404 1=b 2=z", "R 4700 y z", "LS 7404 1=y 2=w"},
			faults: []Fault{{Kind: "short", Ref: "U3"}}}, "ab", []string{"01", "10", "11"}},
		// With an unknown clock one round more makes a difference: a faulty board that is at rest must not follow
		// the good one into a further round.
		{rig{name: "a round too many", parts: []string{"F 74112", "HC 74154 13=x", "74 74195 1=a 2=a 10=x 15=q", "LS 74109 11=a 12=m 13=n", "S 74175 2=m 3=n"},
			faults: []Fault{{Kind: "output-high", Ref: "U1", Pin: 5}, {Kind: "net-low", Net: "m"}}}, "a", []string{"0", "1"}},
		{rig{name: "a round too many by reset", parts: []string{"LS 74175 6=n", "4000 4017 4=y 15=x", "74 7474 10=y", "4000 4077 11=x 12=a 13=b", "74 74390 12=n 14=b"},
			faults: []Fault{{Kind: "source-high", Net: "a"}, {Kind: "output-open", Ref: "U1", Pin: 15}}}, "ab", []string{"01", "00"}},
		{rig{name: "a round too many beside a bridge", parts: []string{"LS 74390 2=a 4=x 7=q", "ALS 7438 11=m", "74 7473 2=a 13=n", "LS 74240 3=x 19=e", "HC 74139 12=e", "LS 7475 6=n"},
			faults: []Fault{{Kind: "bridge", Net: "m", Net2: "n"}}}, "ab", []string{"10", "00", "01"}},
		// A loop (a segment output on its own code input) is settled alike in a board whose fault lies elsewhere.
		{rig{name: "loop beside a fault", parts: []string{"LS 74154 7=e", "HC 7427", "HC 74132 11=r 12=a 13=e", "74 7448 1=a 2=f 7=r 15=f", "R 1000 G z"},
			faults: []Fault{{Kind: "output-high", Ref: "U2", Pin: 12}, {Kind: "short", Ref: "U5"}}}, "a", []string{"0", "1"}},
		// Two inputs of a loop change together, one of them through a buffer: both are taken as unknown first.
		{rig{name: "two ways into a loop", parts: []string{"4000 4050 9=a 10=d", "LS 74151 3=d 6=w 7=G 9=w 10=b 11=a 14=e"}}, "abe", []string{"0XX", "1XX"}},
		// A bridge brings a CMOS output to a fight of two bipolar ones.
		{rig{name: "fight across a bridge", parts: []string{"4000 4099 2=r 7=a 14=m", "LS 74123 4=r 12=n", "LS 74194 1=m 14=n", "74 74126 1=n 3=y"},
			faults: []Fault{{Kind: "bridge", Net: "m", Net2: "n"}}}, "a", []string{"0", "1"}},
	}
	var jobs []Job
	for _, c := range cases {
		b := c.rig.board(t)
		b.Inputs, b.Steps = inputs(c.names, c.steps...)
		jobs = append(jobs, Job{b, c.rig.faults})
	}
	want := run(t, l, jobs)
	for i, j := range jobs {
		c := built(t, lib, j.Board)
		if d := compare(slowly(t, c, j.Board, j.Faults), want[i]); d.first != "" {
			t.Errorf("%s: slow reference: %s", cases[i].rig.name, d.first)
		}
	}
	for i, j := range jobs {
		c := built(t, lib, j.Board)
		if d := compare(simulate(t, c, j.Board, [][]Fault{j.Faults})[0], want[i]); d.first != "" {
			t.Errorf("%s: fast simulator: %s", cases[i].rig.name, d.first)
		}
	}
	if len(cases) != 11 {
		t.Errorf("%d cases, not 11", len(cases))
	}
}

// TestLanes runs faulty boards side by side: what is wrong in one must not show in another.
func TestLanes(t *testing.T) {
	l, lib := load(t), library(t)
	b := rig{parts: []string{"LS 74245 1=d 3=c 6=a 14=b 17=e 19=g"}}.board(t)
	b.Inputs, b.Steps = []string{"g", "d"}, nil
	random := rand.New(rand.NewSource(3))
	Stimulate(b, random, 12, true, nil)
	sets := [][]Fault{nil, {{Kind: "bridge", Net: "a", Net2: "b"}}, {{Kind: "bridge", Net: "a", Net2: "c"}}, {{Kind: "bridge", Net: "b", Net2: "e"}},
		{{Kind: "net-low", Net: "a"}}}
	var jobs []Job
	for _, set := range sets {
		jobs = append(jobs, Job{b, set})
	}
	want := run(t, l, jobs)
	c := built(t, lib, b)
	together := simulate(t, c, b, sets)
	for i, set := range sets {
		alone := simulate(t, c, b, sets[i:i+1])[0]
		if d := compare(alone, want[i]); d.first != "" {
			t.Errorf("%v alone: %s", set, d.first)
		}
		if d := compare(together[i], want[i]); d.first != "" {
			t.Errorf("%v beside others: %s", set, d.first)
		}
	}
}
