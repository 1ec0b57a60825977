package oracle

// The test bench around a board module: moments, rounds, loops, and what is printed.

import (
	"fmt"
	"sort"
	"strings"
)

// Job is one run: a board with a set of faults present from the start. Boards are told apart by their address.
type Job struct {
	Board  *Board
	Faults []Fault
}

// Trace is what a run gave. Start holds the levels of the unknown state before the first moment, Moments[m] those at
// the end of moment m; one byte of "01XZF" for each net of Nets, in that order.
type Trace struct {
	Nets    []string
	Start   []byte
	Moments [][]byte
}

// bench is one board module with the jobs that it runs.
type bench struct {
	id      int
	network *network
	jobs    []int // indexes of the caller's jobs
	faults  [][]int
}

// Verilog writes a complete program that runs the board with the faults and prints its trace.
func (l *Library) Verilog(board *Board, faults []Fault) (string, error) {
	text, _, err := l.program([]Job{{board, faults}})
	return text, err
}

// program writes one Verilog text for all jobs: a module for each board and set of bridges.
func (l *Library) program(jobs []Job) (string, []*bench, error) {
	var benches []*bench
	type key struct {
		board   *Board
		bridges string
	}
	members := map[key][]int{}
	var order []key
	for i, j := range jobs {
		k := key{j.Board, bridgeKey(j.Faults)}
		if _, ok := members[k]; !ok {
			order = append(order, k)
		}
		members[k] = append(members[k], i)
	}
	used := map[*Model]bool{}
	var models []*Model
	var b strings.Builder
	b.WriteString("`timescale 1ns/1ns\n")
	for _, k := range order {
		be := &bench{id: len(benches), jobs: members[k]}
		var faults []Fault
		for _, i := range be.jobs {
			var bits []int
			for _, f := range jobs[i].Faults {
				at := -1
				for x, g := range faults {
					if f == g {
						at = x
					}
				}
				if at < 0 {
					at = len(faults)
					faults = append(faults, f)
				}
				bits = append(bits, at)
			}
			be.faults = append(be.faults, bits)
		}
		n, err := newNetwork(k.board, faults, l.Model, true)
		if err != nil {
			return "", nil, err
		}
		if k.bridges != "" {
			plain, err := newNetwork(k.board, faults, l.Model, false)
			if err != nil {
				return "", nil, err
			}
			n.markFresh(plain)
		}
		be.network = n
		benches = append(benches, be)
		for _, u := range n.units {
			if !used[u.model] && (u.model.bits > 0 || u.model.memory != nil) {
				used[u.model] = true
				models = append(models, u.model)
			}
		}
		be.write(&b)
	}
	for _, m := range models {
		m.verilogStorage(&b)
	}
	return b.String(), benches, nil
}

func bridgeKey(faults []Fault) string {
	var list []string
	for _, f := range faults {
		if f.Kind == "bridge" {
			list = append(list, f.Net+"="+f.Net2)
		}
	}
	sort.Strings(list)
	return strings.Join(list, ",")
}

func (be *bench) write(b *strings.Builder) {
	n := be.network
	fmt.Fprintf(b, "module board%d;\n", be.id)
	w := &writer{n: n, b: b}
	w.writeBoard()
	w.settle()
	be.rounds(b)
	fmt.Fprintf(b, "initial begin\n  tick = 0; init = 0; newm = 0; lim = 0; fresh = ~0; f = 0;\n")
	for i := range n.board.Inputs {
		fmt.Fprintf(b, "  in%d = 3'b011;\n", i)
	}
	b.WriteString("  #1;\n")
	for _, u := range n.units {
		if u.model.memory == nil || len(u.Contents) == 0 {
			continue
		}
		fmt.Fprintf(b, "  %s.loaded = 1;\n  for (i = 0; i < %d; i = i + 1) %s.mem[i] = {%d{1'bx}};\n", u.id, u.model.memory.words, u.id, u.model.memory.bits)
		for a, v := range u.Contents {
			fmt.Fprintf(b, "  %s.mem[%d] = %d;\n", u.id, a, v)
		}
	}
	for j, bits := range be.faults {
		// Loops are held unknown while the faults change: from the levels of another board they might not rest.
		b.WriteString("  fresh = ~0; #1;\n  f = 0;\n")
		for _, bit := range bits {
			fmt.Fprintf(b, "  f[%d] = 1;\n", bit)
		}
		fmt.Fprintf(b, "  job = %d;\n  play;\n", be.jobs[j])
	}
	b.WriteString("end\n")
	be.play(b)
	b.WriteString("endmodule\n")
}

// settle writes the tasks that settle a round: what is outside loops settles by itself within a step of time; each
// loop is settled with what has changed around it unknown, and then with the new levels.
func (w *writer) settle() {
	b := w.b
	b.WriteString("task settle; begin\n  #1;\n")
	for k, l := range w.n.loops {
		if l.fresh {
			fmt.Fprintf(b, "  fresh[%d] = 1;\n", k)
		}
		for _, g := range w.gates[k] {
			if l.fresh {
				fmt.Fprintf(b, "  %s = %s;\n", g.name, g.source)
			} else {
				fmt.Fprintf(b, "  if (%s !== %s) %s = %s;\n", g.name, g.source, g.name, g.unknown)
			}
		}
		b.WriteString("  #1;\n")
		if l.fresh {
			fmt.Fprintf(b, "  fresh[%d] = 0;\n", k)
		} else {
			for _, g := range w.gates[k] {
				fmt.Fprintf(b, "  %s = %s;\n", g.name, g.source)
			}
		}
		b.WriteString("  #1;\n")
	}
	b.WriteString("end endtask\n")
	b.WriteString("task forget; begin\n  fresh = ~0;\n")
	for _, gates := range w.gates {
		for _, g := range gates {
			fmt.Fprintf(b, "  %s = %s;\n", g.name, g.unknown)
		}
	}
	b.WriteString("  #1; fresh = 0; #1;\nend endtask\n")
}

// maxRounds is after how many rounds the bits that still change become unknown.
const maxRounds = 256

func (be *bench) rounds(b *strings.Builder) {
	n := be.network
	var changed []string
	for _, u := range n.units {
		if u.model.bits > 0 || u.model.memory != nil {
			changed = append(changed, "(ch_"+u.id+" === 1'b1)")
		}
	}
	any := "1'b0"
	if len(changed) > 0 {
		any = strings.Join(changed, " | ")
	}
	fmt.Fprintf(b, `integer i, round, job; reg again;
task rounds; begin
  round = 0; again = 1;
  while (again) begin
    settle;
    round = round + 1;
    lim = round >= %d;
    tick = 1; #1; tick = 0; #1;
    again = %s;
    if (round > %d) begin $display("E %%0d does not come to rest", job); again = 0; end
  end
  lim = 0;
end endtask
task show; begin
`, maxRounds, any, 100*maxRounds)
	// One hex digit per net: the set {F, Z, 1, 0}.
	var levels []string
	for i, at := range n.nodes {
		if at.net {
			levels = append(levels, fmt.Sprintf("lev%d[3:0]", i))
		}
	}
	fmt.Fprintf(b, "  $display(\"T %%0d %%h\", job, {%s});\nend endtask\n", strings.Join(levels, ", "))
}

// play writes the task that runs all moments.
func (be *bench) play(b *strings.Builder) {
	n := be.network
	b.WriteString("task play; begin\n")
	for i := range n.board.Inputs {
		fmt.Fprintf(b, "  in%d = 3'b011;\n", i)
	}
	b.WriteString("  init = 1; #1; forget; settle; tick = 1; #1; tick = 0; init = 0; #1; rounds; show;\n")
	for m := range n.board.Steps {
		fmt.Fprintf(b, "  moment%d;\n", m)
	}
	b.WriteString("end endtask\n")
	index := map[string]int{}
	for i, net := range n.board.Inputs {
		index[net] = i
	}
	levels := map[byte]string{'0': "3'b001", '1': "3'b010", 'X': "3'b011", 'Z': "3'b100"}
	for m, step := range n.board.Steps {
		fmt.Fprintf(b, "task moment%d; begin\n  newm = 1;\n", m)
		for _, net := range sortedNets(step) {
			fmt.Fprintf(b, "  in%d = %s;\n", index[net], levels[step[net]])
		}
		b.WriteString("  #1; newm = 0; rounds; show;\nend endtask\n")
	}
}

func sortedNets(step map[string]byte) []string {
	var nets []string
	for net := range step {
		nets = append(nets, net)
	}
	sort.Strings(nets)
	return nets
}
