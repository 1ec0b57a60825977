package part

import (
	"strings"
)

// The second pass: statements to Stmt, now that every name is known.

func (p *logicParser) statement(s source) error {
	first, rest, _ := strings.Cut(s.text, " ")
	rest = strings.TrimSpace(rest)
	st := Stmt{Line: s.line, Node: -1, Bit: -1, A: -1, B: -1, Ctl: -1, Ctl2: -1}
	var err error
	switch first {
	case "oc", "oe", "tri":
		err = p.driver(&st, first, rest)
	case "store", "pulse":
		err = p.store(&st, first, rest)
	case "ram", "rom":
		err = p.memory(&st, first, rest)
	case "table":
		return p.tableOutputs(s, rest)
	case "link", "resistor", "diode", "zener", "led", "npn", "pnp", "nmos", "pmos", "njfet", "relay", "fuse", "lamp", "clock":
		err = p.discrete(&st, first, rest)
	case "contact":
		err = p.contact(&st, rest)
	case "positions":
		return p.positions(rest)
	default:
		name, _, _ := strings.Cut(s.text, "=")
		d := p.defs[strings.TrimSpace(name)]
		if err = p.resolve(d); err == nil && d.pinDriven {
			return p.push(strings.TrimSpace(name), d.expr, s.line)
		} else if err == nil {
			return nil
		}
	}
	if err != nil {
		return p.fail("%v", err)
	}
	p.t.Stmts = append(p.t.Stmts, st)
	return nil
}

func (p *logicParser) push(pin string, e Expr, line int) error {
	n, err := p.pin(pin)
	if err != nil {
		return p.fail("%v", err)
	}
	p.t.Nodes[n].Use |= Driven
	p.t.Stmts = append(p.t.Stmts, Stmt{Kind: Drive, Node: n, Expr: e, Bit: -1, A: -1, B: -1, Ctl: -1, Ctl2: -1, Line: line})
	return nil
}

func (p *logicParser) tableOutputs(s source, rest string) error {
	_, outs, _ := strings.Cut(rest, "->")
	for o := range strings.FieldsSeq(outs) {
		d := p.defs[o]
		if err := p.resolve(d); err != nil {
			return p.fail("%v", err)
		}
		if d.pinDriven {
			if err := p.push(o, d.expr, s.line); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *logicParser) pin(name string) (int, error) {
	name = strings.TrimSpace(name)
	n, ok := p.t.nodeIndex[name]
	if !ok {
		return 0, p.fail("%s is not a pin of this part", name)
	}
	return n, nil
}

func (p *logicParser) driver(st *Stmt, word, rest string) error {
	name, expr, ok := strings.Cut(rest, "=")
	if !ok {
		return p.fail("expected  %s NAME = EXPR", word)
	}
	var err error
	if st.Node, err = p.pin(name); err != nil {
		return err
	}
	p.t.Nodes[st.Node].Use |= Driven
	switch word {
	case "oc":
		st.Kind = DriveLow
	case "oe":
		st.Kind = DriveHigh
	case "tri":
		st.Kind = DriveTri
		v, cond, ok := strings.Cut(expr, " when ")
		if !ok {
			return p.fail("expected  tri NAME = EXPR when EXPR")
		}
		if st.Cond, err = p.expression(cond); err != nil {
			return err
		}
		expr = v
	}
	st.Expr, err = p.expression(expr)
	return err
}

func (p *logicParser) store(st *Stmt, word, rest string) error {
	name, clauses, _ := strings.Cut(rest, ":")
	st.Kind, st.Pulse, st.Bit = Store, word == "pulse", p.defs[strings.TrimSpace(name)].bit
	for c := range strings.SplitSeq(clauses, ";") {
		c = strings.TrimSpace(c)
		if c == "" {
			continue
		}
		kind, body, _ := strings.Cut(c, " ")
		when, ok := map[string]ClauseKind{"while": While, "rise": Rise, "fall": Fall}[kind]
		cond, val, ok2 := strings.Cut(body, "->")
		if !ok || !ok2 {
			return p.fail("clause %q: expected  while|rise|fall EXPR -> EXPR", c)
		}
		ce, err := p.expression(cond)
		if err != nil {
			return err
		}
		ve, err := p.expression(val)
		if err != nil {
			return err
		}
		st.Clauses = append(st.Clauses, Clause{when, ce, ve})
	}
	if len(st.Clauses) == 0 {
		return p.fail("no clause: the bit could never change")
	}
	return nil
}

func (p *logicParser) memory(st *Stmt, word, rest string) error {
	name, words, width, err := p.memoryHead(rest)
	if err != nil {
		return err
	}
	st.Kind, st.Words, st.Width, st.Bit = RAM, words, width, p.defs[name+".0"].bit
	if word == "rom" {
		st.Kind = ROM
	}
	_, body, _ := strings.Cut(rest, ":")
	for f := range strings.SplitSeq(body, ";") {
		key, val, _ := strings.Cut(strings.TrimSpace(f), " ")
		switch {
		case key == "address", key == "data" && st.Kind == RAM:
			var list []Expr
			for n := range strings.FieldsSeq(val) {
				e, err := p.expression(n)
				if err != nil {
					return err
				}
				list = append(list, e)
			}
			if key == "address" {
				st.Address = list
			} else {
				st.Data = list
			}
		case key == "write" && st.Kind == RAM:
			if st.Cond, err = p.expression(val); err != nil {
				return err
			}
		default:
			return p.fail("%q: expected address, data or write", key)
		}
	}
	if 1<<len(st.Address) != words || st.Kind == RAM && len(st.Data) != width {
		return p.fail("%d address lines and %d data lines do not make %d words of %d bits", len(st.Address), len(st.Data), words, width)
	}
	return nil
}

var discretes = map[string]struct {
	kind Kind
	pins int
}{
	"link": {Link, 2}, "resistor": {Resistor, 2}, "diode": {Diode, 2}, "zener": {Diode, 2}, "led": {LED, 2}, "lamp": {Lamp, 2}, "npn": {NPN, 3}, "pnp": {PNP, 3},
	"nmos": {NMOS, 3}, "pmos": {PMOS, 3}, "njfet": {NJFET, 3}, "relay": {Relay, 4}, "fuse": {Fuse, 2}, "clock": {ClockOut, 1},
}

func (p *logicParser) discrete(st *Stmt, word, rest string) error {
	d := discretes[word]
	st.Kind = d.kind
	if word == "link" {
		ends, cond, ok := strings.Cut(rest, " when ")
		if !ok {
			return p.fail("expected  link A B when EXPR")
		}
		var err error
		if st.Cond, err = p.expression(cond); err != nil {
			return err
		}
		rest = ends
	}
	f := strings.Fields(rest)
	if len(f) > d.pins && word == "relay" && f[d.pins] == "closed" {
		st.Closed = true
		f = append(f[:d.pins:d.pins], f[d.pins+1:]...)
	}
	if (word == "led" || word == "lamp") && len(f) == d.pins+2 && f[d.pins] == "as" {
		st.As = f[d.pins+1]
		f = f[:d.pins]
	}
	if len(f) != d.pins {
		return p.fail("%s takes %d pins", word, d.pins)
	}
	n := make([]int, len(f))
	for i, name := range f {
		var err error
		if n[i], err = p.pin(name); err != nil {
			return err
		}
		p.t.Nodes[n[i]].Use |= Linked
	}
	switch d.kind {
	case ClockOut:
		st.Node = n[0]
		p.t.Nodes[n[0]].Use = Driven
	case NPN, PNP: // B C E
		st.Ctl, st.A, st.B = n[0], n[1], n[2]
	case NMOS, PMOS, NJFET: // G D S
		st.Ctl, st.A, st.B = n[0], n[1], n[2]
	case Relay: // P N C O
		st.Ctl, st.Ctl2, st.A, st.B = n[0], n[1], n[2], n[3]
	default:
		st.A, st.B = n[0], n[1]
	}
	return nil
}
