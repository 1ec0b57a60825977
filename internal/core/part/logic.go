package part

import (
	"fmt"
	"strconv"
	"strings"

	"halfsplit/internal/core/finding"
)

// The logic block of a record: statements, one per line, parsed in two passes, because a name may be used
// above the line that defines it.

type source struct {
	line int
	text string
	rows []string // of a table
}

type definition struct {
	src       source
	text      string // right-hand side of NAME = EXPR
	table     *tableDef
	column    int
	state     int // 0 untouched, 1 being resolved, 2 done
	expr      Expr
	bit       int // stored bit, or -1
	pinDriven bool
}

type tableDef struct {
	src  source
	in   []string
	rows []Row // In and, per output, Out is taken from outs
	outs [][]uint8
}

type logicParser struct {
	t    *Type
	defs map[string]*definition
	bits int
	src  source
}

func (p *logicParser) fail(format string, args ...any) error {
	return fmt.Errorf("logic line %d (%s): %s", p.src.line, p.src.text, fmt.Sprintf(format, args...))
}

// parseLogic fills t.Stmts. t.Nodes and t.nodeIndex must be there.
func parseLogic(t *Type, text string) error {
	p := &logicParser{t: t, defs: map[string]*definition{}}
	srcs, err := splitLogic(text)
	if err != nil {
		return err
	}
	for _, s := range srcs {
		p.src = s
		if err := p.collect(s); err != nil {
			return err
		}
	}
	for _, s := range srcs {
		p.src = s
		if err := p.statement(s); err != nil {
			return err
		}
	}
	return t.checkContacts()
}

// splitLogic strips comments, joins table rows to their table, and expands each.
func splitLogic(text string) ([]source, error) {
	var out []source
	for i, raw := range strings.Split(text, "\n") {
		if j := strings.Index(raw, "  # "); j >= 0 {
			raw = raw[:j]
		}
		line := strings.TrimSpace(raw)
		if line == "" || strings.HasPrefix(line, "# ") || line == "#" {
			continue
		}
		if isRow(line) && len(out) > 0 && out[len(out)-1].isTable() {
			out[len(out)-1].rows = append(out[len(out)-1].rows, line)
			continue
		}
		out = append(out, source{line: i + 1, text: line})
	}
	var all []source
	for _, s := range out {
		ex, err := s.expand(0)
		if err != nil {
			return nil, fmt.Errorf("logic line %d: %w", s.line, err)
		}
		all = append(all, ex...)
		if len(all) > 5000 {
			return nil, fmt.Errorf("logic line %d: more than 5000 statements in one part", s.line)
		}
	}
	return all, nil
}

func isRow(line string) bool {
	return strings.Trim(line, "01x- \t") == ""
}

func (s source) isTable() bool {
	t := s.text
	for strings.HasPrefix(t, "each ") {
		_, t, _ = strings.Cut(t, ":")
		t = strings.TrimSpace(t)
	}
	return strings.HasPrefix(t, "table ")
}

func (s source) expand(depth int) ([]source, error) {
	rest, ok := strings.CutPrefix(s.text, "each ")
	if !ok {
		return []source{s}, nil
	}
	words, body, ok := strings.Cut(rest, ":")
	if !ok || depth > 3 {
		return nil, fmt.Errorf("expected  each A B C: STATEMENT")
	}
	var out []source
	for w := range strings.FieldsSeq(words) {
		sub := source{s.line, strings.TrimSpace(strings.ReplaceAll(body, "#", w)), s.rows}
		ex, err := sub.expand(depth + 1)
		if err != nil {
			return nil, err
		}
		out = append(out, ex...)
	}
	return out, nil
}

// collect registers every name a statement defines.
func (p *logicParser) collect(s source) error {
	first, rest, _ := strings.Cut(s.text, " ")
	switch first {
	case "table":
		td, outs, err := p.table(s, rest)
		if err != nil {
			return err
		}
		for i, o := range outs {
			if err := p.define(o, &definition{src: s, table: td, column: i, bit: -1}); err != nil {
				return err
			}
		}
	case "store", "pulse":
		name, _, ok := strings.Cut(rest, ":")
		if !ok {
			return p.fail("expected  %s NAME: CLAUSE; …", first)
		}
		if err := p.define(strings.TrimSpace(name), &definition{src: s, bit: p.bits, state: 2, expr: Expr{Op: OpBit, Index: p.bits}}); err != nil {
			return err
		}
		p.bits++
	case "ram", "rom":
		name, _, width, err := p.memoryHead(rest)
		if err != nil {
			return err
		}
		for b := range width {
			if err := p.define(name+"."+strconv.Itoa(b), &definition{src: s, bit: p.bits + b, state: 2, expr: Expr{Op: OpBit, Index: p.bits + b}}); err != nil {
				return err
			}
		}
		p.bits += width
	case "oc", "oe", "tri", "link", "resistor", "diode", "zener", "led", "npn", "pnp", "nmos", "pmos", "njfet", "contact", "positions", "relay", "fuse", "lamp", "clock":
	default:
		name, expr, ok := strings.Cut(s.text, "=")
		if !ok {
			return p.fail("not a statement; a line begins with NAME =, oc, oe, tri, store, pulse, ram, rom, link, table, each or a discrete part's word")
		}
		return p.define(strings.TrimSpace(name), &definition{src: s, text: expr, bit: -1})
	}
	return nil
}

func (p *logicParser) define(name string, d *definition) error {
	if !isName(name) || strings.ContainsAny(name, " \t") {
		return p.fail("%q is not a name", name)
	}
	if old := p.defs[name]; old != nil {
		return p.fail("%s is already defined on line %d", name, old.src.line)
	}
	if _, isPin := p.t.nodeIndex[name]; isPin {
		if d.bit >= 0 {
			return p.fail("%s is a pin: give the stored bit another name and write  %s = bit", name, name)
		}
		d.pinDriven = true
	}
	p.defs[name] = d
	return nil
}

func (p *logicParser) table(s source, head string) (*tableDef, []string, error) {
	ins, outs, ok := strings.Cut(head, "->")
	td := &tableDef{src: s, in: strings.Fields(ins)}
	names := strings.Fields(outs)
	if !ok || len(td.in) == 0 || len(names) == 0 || len(td.in) > 16 {
		return nil, nil, p.fail("expected  table IN… -> OUT… with 1 to 16 inputs")
	}
	td.outs = make([][]uint8, len(names))
	for _, r := range s.rows {
		chars := strings.Join(strings.Fields(r), "")
		if len(chars) != len(td.in)+len(names) {
			return nil, nil, p.fail("row %q has %d signs, expected %d inputs and %d outputs", r, len(chars), len(td.in), len(names))
		}
		row := Row{}
		for i := range td.in {
			v := strings.IndexByte("01-", chars[i])
			if v < 0 {
				return nil, nil, p.fail("row %q: an input is 0, 1 or -", r)
			}
			row.In = append(row.In, uint8(v))
		}
		td.rows = append(td.rows, row)
		for o := range names {
			v := strings.IndexByte("01x", chars[len(td.in)+o])
			if v < 0 {
				return nil, nil, p.fail("row %q: an output is 0, 1 or x", r)
			}
			td.outs[o] = append(td.outs[o], uint8(v))
		}
	}
	if len(td.rows) == 0 {
		return nil, nil, p.fail("the table has no rows")
	}
	return td, names, nil
}

func (p *logicParser) memoryHead(rest string) (name string, words, width int, err error) {
	head, _, ok := strings.Cut(rest, ":")
	f := strings.Fields(head)
	if ok && len(f) == 2 {
		w, b, ok := strings.Cut(f[1], "x")
		nw, e1 := strconv.Atoi(w)
		nb, e2 := strconv.Atoi(b)
		if ok && e1 == nil && e2 == nil && nw > 0 && nw <= 1<<16 && nb > 0 && nb <= 16 {
			return f[0], nw, nb, nil
		}
	}
	return "", 0, 0, p.fail("expected  ram NAME WORDSxBITS: … with at most 65536 words of 16 bits")
}

// leaf resolves a name in an expression: a defined name stands for its expression, any other pin for what is heard there.
func (p *logicParser) leaf(name string) (Expr, error) {
	if d := p.defs[name]; d != nil {
		if err := p.resolve(d); err != nil {
			return Expr{}, err
		}
		return d.expr, nil
	}
	if n, ok := p.t.nodeIndex[name]; ok {
		if p.t.Nodes[n].Supply {
			return Expr{}, fmt.Errorf("%s is a supply pin", name)
		}
		p.t.Nodes[n].Use |= Heard
		return Expr{Op: OpPin, Index: n}, nil
	}
	known := p.t.PinWords()
	for k := range p.defs {
		known = append(known, k)
	}
	return Expr{}, fmt.Errorf("no pin or name %s; %s", name, finding.DidYouMean(name, known))
}

func (p *logicParser) resolve(d *definition) error {
	switch d.state {
	case 2:
		return nil
	case 1:
		return fmt.Errorf("the names on line %d depend on themselves; use store for anything that remembers", d.src.line)
	}
	d.state = 1
	old := p.src
	p.src = d.src
	var err error
	if d.table != nil {
		d.expr, err = p.tableExpr(d.table, d.column)
	} else {
		d.expr, err = p.expression(d.text)
	}
	p.src = old
	d.state = 2
	return err
}

func (p *logicParser) tableExpr(td *tableDef, col int) (Expr, error) {
	e := Expr{Op: OpTable}
	for _, n := range td.in {
		a, err := p.expression(n)
		if err != nil {
			return e, err
		}
		e.Args = append(e.Args, a)
	}
	for i, r := range td.rows {
		e.Rows = append(e.Rows, Row{In: r.In, Out: td.outs[col][i]})
	}
	return e, nil
}

func (p *logicParser) expression(text string) (Expr, error) {
	if len(text) > 4000 {
		return Expr{}, p.fail("an expression of more than 4000 characters")
	}
	ep := exprParser{scanner: scanner{s: text}, leaf: p.leaf}
	e, err := ep.expr()
	if err != nil {
		return e, err
	}
	if t := ep.next(); t != "" {
		return e, fmt.Errorf("unexpected %q after the expression", t)
	}
	return e, nil
}
