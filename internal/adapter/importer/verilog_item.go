package importer

// What stands inside a module of structural Verilog.

import (
	"maps"
	"slices"
	"strconv"
	"strings"
)

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

// item reads one declaration, assignment or instance.
func (v *verilogReader) item() {
	t := v.tok
	if len(v.m.insts) > maxParts {
		v.stop(t.line, "more than %d parts", maxParts)
		return
	}
	if t.kind != wordToken {
		if !v.mark(";") {
			v.unexpected("a gate or a declaration")
		}
		v.skip()
		return
	}
	switch {
	case t.escaped:
		v.instances()
	case directions[t.text] != unsaid:
		v.advance()
		v.declarations(directions[t.text], "")
	case slices.Contains(netTypes, t.text):
		v.declarations(unsaid, t.text)
	case t.text == "assign":
		v.advance()
		v.assign()
	case slices.Contains(oneOutput, t.text), slices.Contains(manyOutputs, t.text), slices.Contains(threeState, t.text), t.text == "pullup", t.text == "pulldown":
		v.gates(t.text)
	case slices.Contains(switches, t.text):
		v.errorf(t.line, "", "put a part of the library in its place", "a %s switch is not read", t.text)
		v.skip()
	case t.text == "parameter" || t.text == "localparam" || t.text == "defparam" || t.text == "timeunit" || t.text == "timeprecision":
		v.skip()
	case t.text == "specify":
		v.skipBlock("endspecify")
	case blocks[t.text] != "":
		v.errorf(t.line, "", "only gates, parts and wires are read", "%s is not structural; it is passed over", t.text)
		v.skipBlock(blocks[t.text])
	case strings.HasPrefix(t.text, "always") || t.text == "initial" || t.text == "final":
		v.errorf(t.line, "", "only gates, parts and wires are read", "%s is not structural; it is passed over", t.text)
		v.skipProcedure()
	default:
		v.instances()
	}
}

// skipProcedure passes one statement: to its semicolon, or from begin to the end that belongs to it.
func (v *verilogReader) skipProcedure() {
	depth := 0
	for v.tok.kind != endToken && !v.word("endmodule") {
		switch {
		case v.word("begin") || v.word("case") || v.word("casex") || v.word("casez") || v.word("fork"):
			depth++
		case v.word("end") || v.word("endcase") || v.word("join"):
			depth--
			if depth == 0 {
				v.advance()
				return
			}
		case v.mark(";") && depth == 0:
			v.advance()
			if !v.word("else") {
				return
			}
			continue
		}
		v.advance()
	}
}

// declarations reads the rest of wire [3:0] a, b = c;
func (v *verilogReader) declarations(dir direction, typ string) {
	if typ != "" {
		v.advance()
	}
	v.strength()
	width := v.typeAndRange()
	v.delay()
	for {
		if v.tok.kind != wordToken {
			v.unexpected("the name of a net")
			v.skip()
			return
		}
		name, line := v.tok.text, v.tok.line
		v.declare(name, dir, width)
		v.advance()
		switch typ {
		case "supply0", "tri0":
			v.supply(name, zero, typ)
		case "supply1", "tri1":
			v.supply(name, one, typ)
		}
		if v.mark("=") {
			v.advance()
			if bits, ok := v.expression(); ok {
				v.join(v.bitsOf(name), bits, line)
			}
		}
		if !v.mark(",") {
			break
		}
		v.advance()
		if v.tok.kind == wordToken && !v.tok.escaped && directions[v.tok.text] != unsaid {
			break
		}
	}
	if !v.mark(";") {
		v.unexpected("`;`")
	}
	v.skip()
}

func (v *verilogReader) supply(name, level, typ string) {
	if typ == "tri0" || typ == "tri1" {
		v.warnf(v.tok.line, name, "add the resistor to the board", "the pull of %s net %s is left out", typ, name)
		return
	}
	for _, b := range v.bitsOf(name) {
		v.m.same = append(v.m.same, [2]string{b, level})
	}
}

// strength passes (strong0, weak1).
func (v *verilogReader) strength() {
	if v.mark("(") {
		v.skipParens()
	}
}

// delay passes #3 or #(1, 2).
func (v *verilogReader) delay() {
	if !v.mark("#") {
		return
	}
	v.advance()
	if v.mark("(") {
		v.skipParens()
	} else {
		v.advance()
	}
}

// assign reads the rest of assign a = b, {c, d} = e;
func (v *verilogReader) assign() {
	if v.mark("(") {
		v.strength()
	}
	v.delay()
	for {
		line := v.tok.line
		left, ok := v.expression()
		if !ok || !v.take("=") {
			v.skip()
			return
		}
		right, ok := v.expression()
		if !ok {
			v.skip()
			return
		}
		v.join(left, right, line)
		if !v.mark(",") {
			break
		}
		v.advance()
	}
	if !v.mark(";") {
		v.unexpected("`;`")
	}
	v.skip()
}

// join makes bits one net, from the least significant.
func (v *verilogReader) join(left, right []string, line int) {
	if len(left) != len(right) {
		v.warnf(line, "", "", "%d bits are joined with %d; those above are left", len(left), len(right))
	}
	for n := 1; n <= len(left) && n <= len(right); n++ {
		v.m.same = append(v.m.same, [2]string{left[len(left)-n], right[len(right)-n]})
	}
	v.count(min(len(left), len(right)))
}

// gates reads nand #2 a (y, i, j), b (…);
func (v *verilogReader) gates(typ string) {
	v.advance()
	if v.mark("(") && v.strengthAhead() {
		v.skipParens()
	}
	v.delay()
	for {
		line, ref := v.tok.line, ""
		if v.tok.kind == wordToken {
			ref = v.tok.text
			v.advance()
		} else {
			v.auto++
			ref = "G" + itoa(v.auto)
		}
		if v.mark("[") {
			v.errorf(line, ref, "write the gates one by one", "an array of gates is not read")
			v.skip()
			return
		}
		conns, ok := v.connections()
		if !ok {
			v.skip()
			return
		}
		v.gate(typ, ref, conns, line)
		if !v.mark(",") {
			break
		}
		v.advance()
	}
	if !v.mark(";") {
		v.unexpected("`;`")
	}
	v.skip()
}

// strengthAhead tells (strong0, pull1) from the terminals of a gate without a name.
func (v *verilogReader) strengthAhead() bool {
	at, line, tok := v.l.at, v.l.line, v.tok
	v.advance()
	yes := v.tok.kind == wordToken && slices.Contains([]string{"supply0", "supply1", "strong0", "strong1", "pull0", "pull1", "weak0", "weak1", "highz0", "highz1"}, v.tok.text)
	v.l.at, v.l.line, v.tok = at, line, tok
	return yes
}

func (v *verilogReader) gate(typ, ref string, conns []conn, line int) {
	for _, c := range conns {
		if c.port != "" || len(c.bits) != 1 || c.bits[0] == open {
			v.errorf(line, ref, "", "gate %s: a terminal of a gate is one net, in order", ref)
			return
		}
	}
	i := inst{ref: ref, typ: typ, line: line, conns: conns}
	switch {
	case typ == "pullup" || typ == "pulldown":
		for k, c := range conns {
			p := inst{ref: ref, typ: "resistor", line: line, conns: []conn{{"1", []string{map[string]string{"pullup": one, "pulldown": zero}[typ]}}, {"2", c.bits}}}
			if k > 0 {
				p.ref += "_" + itoa(k+1)
			}
			v.m.insts = append(v.m.insts, p)
		}
	case slices.Contains(threeState, typ):
		if len(conns) != 3 {
			v.errorf(line, ref, "", "a %s has an output, an input and a control, found %d terminals", typ, len(conns))
			return
		}
		i.conns[0].port, i.conns[1].port, i.conns[2].port = "Y", "A", "E"
		v.m.insts = append(v.m.insts, i)
	case slices.Contains(manyOutputs, typ) && len(conns) > 2:
		for k := range len(conns) - 1 {
			g := inst{ref: ref, typ: typ, gate: true, line: line, conns: []conn{conns[k], conns[len(conns)-1]}}
			if k > 0 {
				g.ref += "_" + itoa(k+1)
			}
			v.m.insts = append(v.m.insts, g)
		}
	default:
		i.gate = true
		v.m.insts = append(v.m.insts, i)
	}
}

// instances reads TYPE #(…) name (…), name2 (…);
func (v *verilogReader) instances() {
	typ, line := v.tok.text, v.tok.line
	v.advance()
	if v.mark("#") {
		v.advance()
		if v.mark("(") {
			v.skipParens()
		} else {
			v.advance()
		}
	}
	for {
		if v.tok.kind != wordToken {
			v.errorf(line, "", "", "%s: expected a gate, a part or a declaration, found %s after it", short(typ), short(v.tok.text))
			v.skip()
			return
		}
		ref, at := v.tok.text, v.tok.line
		v.advance()
		if v.mark("[") {
			v.errorf(at, ref, "write the parts one by one", "an array of parts is not read")
			v.skip()
			return
		}
		conns, ok := v.connections()
		if !ok {
			v.skip()
			return
		}
		v.m.insts = append(v.m.insts, inst{ref: ref, typ: typ, key: typ, line: at, conns: conns})
		if !v.mark(",") {
			break
		}
		v.advance()
	}
	if !v.mark(";") {
		v.unexpected("`;`")
	}
	v.skip()
}

// connections reads ( a, b ) or ( .x(a), .y() ).
func (v *verilogReader) connections() ([]conn, bool) {
	if !v.take("(") {
		return nil, false
	}
	var out []conn
	for !v.mark(")") {
		var c conn
		ok := true
		switch {
		case v.mark(","): // a place left empty
		case v.mark("."):
			v.advance()
			if v.tok.kind != wordToken && v.tok.kind != numberToken {
				v.unexpected("the name of a port")
				return out, false
			}
			c.port = v.tok.text
			v.advance()
			if !v.take("(") {
				return out, false
			}
			if !v.mark(")") {
				c.bits, ok = v.expression()
			}
			if ok && !v.take(")") {
				return out, false
			}
		default:
			c.bits, ok = v.expression()
		}
		if !ok {
			return out, false
		}
		out = append(out, c)
		v.count(1 + len(c.bits))
		switch {
		case v.mark(","):
			v.advance()
			if v.mark(")") {
				out = append(out, conn{})
			}
		case !v.mark(")"):
			v.unexpected("`,` or `)`")
			return out, false
		}
		if v.stopped {
			return out, false
		}
	}
	v.advance()
	return out, true
}

// expression reads a net, a bit or slice of it, a constant, or {several of them}; anything that computes is refused.
func (v *verilogReader) expression() ([]string, bool) {
	bits, ok := v.primary(0)
	if ok && v.tok.kind == markToken && !slices.Contains([]string{",", ")", ";", "=", "}"}, v.tok.text) {
		v.errorf(v.tok.line, "", "put the gate there that it stands for", "%s computes; only nets are read here", short(v.tok.text))
		return nil, false
	}
	return bits, ok
}

func (v *verilogReader) primary(depth int) ([]string, bool) {
	t := v.tok
	switch {
	case t.kind == numberToken:
		v.advance()
		bits, ok := constant(t.text)
		if !ok {
			v.errorf(t.line, "", "", "%s is not a constant that nets can have", short(t.text))
		}
		return bits, ok
	case t.kind == wordToken && t.text != "":
		v.advance()
		if !v.mark("[") {
			return v.bitsOf(t.text), true
		}
		w := v.rangeOf()
		declared, isVector := v.widths[t.text]
		switch lo, hi := min(declared[0], declared[1]), max(declared[0], declared[1]); {
		case w == scalar:
			return nil, false
		case isVector && declared != scalar && (min(w[0], w[1]) < lo || max(w[0], w[1]) > hi):
			v.errorf(t.line, t.text, "", "%s[%d:%d] lies outside %s[%d:%d]", t.text, w[0], w[1], t.text, declared[0], declared[1])
			return nil, false
		}
		return v.slice(t.text, w[0], w[1]), true
	case v.mark("{") && depth < 8:
		return v.braces(depth)
	}
	v.errorf(t.line, "", "put the gate there that it stands for", "expected a net or a constant, found %s", short(t.text))
	return nil, false
}

// braces reads {a, b[1:0], 2{c}}.
func (v *verilogReader) braces(depth int) ([]string, bool) {
	v.advance()
	var out []string
	for {
		times := 1
		if v.tok.kind == numberToken && !strings.Contains(v.tok.text, "'") {
			n, err := strconv.Atoi(v.tok.text)
			line := v.tok.line
			v.advance()
			if err != nil || n < 1 || n > maxWidth || !v.mark("{") {
				v.errorf(line, "", "", "expected {a, b} or {4{a}}")
				return nil, false
			}
			times = n
		}
		bits, ok := v.primary(depth + 1)
		if !ok {
			return nil, false
		}
		if len(out)+times*len(bits) > maxWidth {
			v.errorf(v.tok.line, "", "", "more than %d bits in braces", maxWidth)
			return nil, false
		}
		for range times {
			out = append(out, bits...)
		}
		if v.mark("}") {
			v.advance()
			return out, true
		}
		if !v.take(",") {
			return nil, false
		}
	}
}

// constant gives the bits of 1'b0, 4'hA, 8'd3 or a plain 0 or 1. x and z are left open.
func constant(s string) ([]string, bool) {
	s = strings.ToLower(strings.ReplaceAll(s, "_", ""))
	size, rest, based := strings.Cut(s, "'")
	if !based {
		return []string{"\x00" + s}, s == "0" || s == "1"
	}
	rest = strings.TrimPrefix(rest, "s")
	width, err := strconv.Atoi(size)
	if size == "" {
		width, err = 1, nil
	}
	if err != nil || width < 1 || width > maxWidth || len(rest) < 2 {
		return nil, false
	}
	per, ok := map[byte]int{'b': 1, 'o': 3, 'h': 4}[rest[0]]
	var out []string
	if rest[0] == 'd' {
		n, err := strconv.ParseUint(rest[1:], 10, 63)
		if err != nil {
			return nil, false
		}
		per, ok, rest = 1, true, "b"+strconv.FormatUint(n, 2)
	}
	if !ok {
		return nil, false
	}
	for _, c := range rest[1:] {
		if c == 'x' || c == 'z' || c == '?' {
			out = append(out, slices.Repeat([]string{open}, per)...)
			continue
		}
		n, err := strconv.ParseUint(string(c), 1<<per, 8)
		if err != nil {
			return nil, false
		}
		for k := per - 1; k >= 0; k-- {
			out = append(out, "\x00"+itoa(int(n>>k&1)))
		}
	}
	for len(out) < width {
		out = append([]string{zero}, out...)
	}
	return out[len(out)-width:], true
}
