package app

import (
	"slices"
	"strings"

	"halfsplit/internal/core/part"
)

// FunctionTable is a part without storage as a data sheet prints it: each row gives the inputs that must match (- is either) and
// the outputs (Z is let go).
type FunctionTable struct {
	Inputs  []string      `json:"inputs"`
	Outputs []string      `json:"outputs"`
	Rows    []FunctionRow `json:"rows"`
}

// FunctionRow has one letter for each input and each output.
type FunctionRow struct {
	In  string `json:"in"`
	Out string `json:"out"`
}

const (
	tableInputs = 10 // more than this and a table says less than the statements
	tableRows   = 40
)

// functionTable is nil where a table would be long or the part has storage or links. Of a part with several alike gates the
// first is shown.
func functionTable(t *part.Type) *FunctionTable {
	var first []part.Stmt
	var inputs []int
	for _, s := range t.Stmts {
		switch s.Kind {
		case part.Drive, part.DriveLow, part.DriveHigh, part.DriveTri:
		default:
			return nil
		}
		in, pure := leavesOf(s)
		if !pure {
			return nil
		}
		if first == nil || overlaps(inputs, in) {
			first = append(first, s)
			inputs = append(inputs, in...)
		}
	}
	slices.Sort(inputs)
	inputs = slices.Compact(inputs)
	if len(inputs) == 0 || len(inputs) > tableInputs {
		return nil
	}
	f := &folding{stmts: first, inputs: inputs, fixed: make([]byte, len(t.Nodes))}
	f.fold()
	if len(f.rows) > tableRows {
		return nil
	}
	slices.SortFunc(f.rows, func(a, b FunctionRow) int { return strings.Compare(a.In, b.In) })
	out := &FunctionTable{Rows: f.rows}
	for _, i := range inputs {
		out.Inputs = append(out.Inputs, t.Nodes[i].Name)
	}
	for _, s := range first {
		out.Outputs = append(out.Outputs, t.Nodes[s.Node].Name)
	}
	return out
}

func overlaps(a, b []int) bool {
	return slices.ContainsFunc(b, func(x int) bool { return slices.Contains(a, x) })
}

// leavesOf gives the pins that a statement listens to; pure is false when it uses stored bits.
func leavesOf(s part.Stmt) (in []int, pure bool) {
	pure = true
	for _, e := range []part.Expr{s.Expr, s.Cond} {
		e.Leaves(func(l part.Expr) {
			pure = pure && l.Op == part.OpPin
			in = append(in, l.Index)
		})
	}
	return in, pure
}

// folding finds rows with as many free inputs as it can: at each step it splits on an input that settles the outputs on one side.
type folding struct {
	stmts  []part.Stmt
	inputs []int
	fixed  []byte // per node: '0', '1', or 0 when free
	rows   []FunctionRow
}

// fold adds the rows of the part of the table that f.fixed leaves open.
func (f *folding) fold() {
	if len(f.rows) > tableRows {
		return
	}
	if out, same := f.outputs(); same {
		row := FunctionRow{Out: out}
		for _, i := range f.inputs {
			if f.fixed[i] == 0 {
				row.In += "-"
			} else {
				row.In += string(rune(f.fixed[i]))
			}
		}
		f.rows = append(f.rows, row)
		return
	}
	split := f.choose()
	for _, v := range []byte("01") {
		f.fixed[split] = v
		f.fold()
	}
	f.fixed[split] = 0
}

// choose takes the first free input that settles the outputs at one of its levels, else the last free one that matters.
func (f *folding) choose() int {
	last := -1
	for _, i := range f.inputs {
		if f.fixed[i] != 0 {
			continue
		}
		if last < 0 || f.matters(i) {
			last = i
		}
		for _, v := range []byte("01") {
			f.fixed[i] = v
			_, same := f.outputs()
			f.fixed[i] = 0
			if same {
				return i
			}
		}
	}
	return last
}

// matters reports whether some setting of the other free inputs makes the outputs depend on input i.
func (f *folding) matters(i int) bool {
	var seen [2][]string
	for k, v := range []byte("01") {
		f.fixed[i] = v
		f.each(func(out string) bool { seen[k] = append(seen[k], out); return true })
	}
	f.fixed[i] = 0
	return !slices.Equal(seen[0], seen[1])
}

// outputs gives the outputs when they are the same for every setting of the free inputs.
func (f *folding) outputs() (out string, same bool) {
	same = true
	f.each(func(o string) bool {
		if out != "" && o != out {
			same = false
		}
		out = o
		return same
	})
	return out, same
}

// each calls see with the outputs for every setting of the free inputs until it returns false.
func (f *folding) each(see func(string) bool) {
	var free []int
	for _, i := range f.inputs {
		if f.fixed[i] == 0 {
			free = append(free, i)
		}
	}
	for n := range 1 << len(free) {
		for k, i := range free {
			f.fixed[i] = '0' + byte(n>>(len(free)-1-k)&1)
		}
		more := see(f.row())
		if !more {
			break
		}
	}
	for _, i := range free {
		f.fixed[i] = 0
	}
}

func (f *folding) row() string {
	out := make([]byte, len(f.stmts))
	for k, s := range f.stmts {
		v := f.level(s.Expr)
		letGo := s.Kind == part.DriveTri && f.level(s.Cond) == '0' || s.Kind == part.DriveLow && v == '1' || s.Kind == part.DriveHigh && v == '0'
		if letGo {
			v = 'Z'
		}
		out[k] = v
	}
	return string(out)
}

// level is the value of an expression whose inputs are all known: 0, 1, or X where a table says so.
func (f *folding) level(e part.Expr) byte {
	switch e.Op {
	case part.OpConst:
		return "01X"[e.Val]
	case part.OpPin:
		return f.fixed[e.Index]
	case part.OpNot:
		return invert(f.level(e.Args[0]))
	case part.OpMux:
		if f.level(e.Args[0]) == '1' {
			return f.level(e.Args[1])
		}
		return f.level(e.Args[2])
	case part.OpTable:
		return f.lookup(e)
	}
	v := f.level(e.Args[0])
	for _, a := range e.Args[1:] {
		v = combine(e.Op, v, f.level(a))
	}
	return v
}

func (f *folding) lookup(e part.Expr) byte {
	for _, r := range e.Rows {
		match := true
		for i, want := range r.In {
			match = match && (want == 2 || f.level(e.Args[i]) == '0'+want)
		}
		if match {
			return "01X"[r.Out]
		}
	}
	return 'X'
}

func invert(v byte) byte {
	switch v {
	case '0':
		return '1'
	case '1':
		return '0'
	}
	return v
}

func combine(op part.Op, a, b byte) byte {
	forced := map[part.Op]byte{part.OpAnd: '0', part.OpOr: '1'}[op]
	switch {
	case forced != 0 && (a == forced || b == forced):
		return forced
	case a == 'X' || b == 'X':
		return 'X'
	case op == part.OpXor:
		return '0' + (a ^ b)
	case op == part.OpAnd:
		return '1'
	}
	return '0'
}
