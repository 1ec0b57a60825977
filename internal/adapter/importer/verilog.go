package importer

// Structural Verilog, IEEE 1364-2005: modules of gate primitives (clause 7), of instances of library parts and of each other, ports by
// name and by position, vectors, escaped names, assignments of nets, constants. What computes is refused, not guessed.

import (
	"slices"
	"strconv"
	"strings"
)

// Widths. No board has a wider bus, and what is wider would only fill the memory.
const (
	maxWidth = 4096
	maxBits  = 4 * maxPins // of all vectors and connections together
)

type verilogReader struct {
	*reader
	l       *lexer
	tok     token
	m       *module
	header  []string // port names of the header that are not declared there
	widths  map[string][2]int
	auto    int
	bits    int
	modules map[string]*module
	order   []*module
}

// oneOutput and manyOutputs are the gates of clause 7.2 and 7.3, threeState those of 7.4.
var (
	oneOutput   = []string{"and", "nand", "or", "nor", "xor", "xnor"}
	manyOutputs = []string{"buf", "not"}
	threeState  = []string{"bufif0", "bufif1", "notif0", "notif1"}
	switches    = []string{"nmos", "pmos", "cmos", "rnmos", "rpmos", "rcmos", "tran", "tranif0", "tranif1", "rtran", "rtranif0", "rtranif1"}
	netTypes    = []string{"wire", "tri", "tri0", "tri1", "wand", "wor", "triand", "trior", "supply0", "supply1", "reg", "logic", "uwire", "integer", "real", "time", "genvar", "event"}
	directions  = map[string]direction{"input": in, "output": out, "inout": inout}
	blocks      = map[string]string{"specify": "endspecify", "function": "endfunction", "task": "endtask", "generate": "endgenerate", "primitive": "endprimitive", "table": "endtable"}
)

func (r *reader) verilog(text string) {
	v := &verilogReader{reader: r, l: newLexer(text), modules: map[string]*module{}}
	v.advance()
	for v.tok.kind != endToken && !r.stopped {
		switch {
		case v.word("module") || v.word("macromodule"):
			v.module()
		case v.word("primitive"):
			v.errorf(v.tok.line, "", "", "a table of a user-defined primitive is not structural; it is passed over")
			v.skipBlock("endprimitive")
		default:
			v.unexpected("a module")
			for v.tok.kind != endToken && !v.word("module") && !v.word("macromodule") && !v.word("primitive") {
				v.advance()
			}
		}
	}
	if v.l.open > 0 {
		r.errorf(v.l.open, "", "is the file cut off?", "a comment or attribute that begins here is never closed")
	}
	if top := r.topOf(v.order); top != nil {
		if r.n.title == "" {
			r.n.title = top.name
		}
		r.stopped = false // what was read up to a limit is kept
		r.lay(top, v.modules)
	} else if len(r.list) == 0 {
		r.errorf(1, "", "", "no module could be read")
	}
}

// advance reads the next word; directives are passed over.
func (v *verilogReader) advance() {
	for {
		v.tok = v.l.next()
		if v.tok.kind != directiveToken {
			return
		}
		switch v.tok.text {
		case "`include":
			v.errorf(v.tok.line, "", "put its modules into this file", "an included file is not read")
		case "`define", "`ifdef", "`ifndef", "`elsif":
			v.warnf(v.tok.line, "", "", "%s is passed over; what lies between is read as it stands", v.tok.text)
		case "`begin_keywords":
			v.warnf(v.tok.line, "", "", "this file names its own version of the standard; it is read as IEEE 1364-2005")
		}
	}
}

func (v *verilogReader) word(s string) bool {
	return v.tok.kind == wordToken && !v.tok.escaped && v.tok.text == s
}

func (v *verilogReader) mark(s string) bool { return v.tok.kind == markToken && v.tok.text == s }

// take passes a mark; false leaves a finding.
func (v *verilogReader) take(s string) bool {
	if v.mark(s) {
		v.advance()
		return true
	}
	v.unexpected("`" + s + "`")
	return false
}

func (v *verilogReader) unexpected(want string) {
	if v.tok.kind == endToken {
		v.errorf(v.tok.line, "", "is the file cut off?", "the file ends where %s is expected", want)
		return
	}
	v.errorf(v.tok.line, "", "", "expected %s, found %s", want, short(v.tok.text))
}

// skip goes behind the next semicolon, or to the end of the module.
func (v *verilogReader) skip() {
	for v.tok.kind != endToken && !v.mark(";") && !v.word("endmodule") && !v.word("module") {
		v.advance()
	}
	if v.mark(";") {
		v.advance()
	}
}

func (v *verilogReader) skipBlock(end string) {
	for v.tok.kind != endToken && !v.word(end) && !v.word("endmodule") {
		v.advance()
	}
	if v.word(end) {
		v.advance()
	}
}

// skipParens passes ( … ).
func (v *verilogReader) skipParens() {
	depth := 0
	for v.tok.kind != endToken && !v.mark(";") && !v.word("endmodule") {
		switch {
		case v.mark("("):
			depth++
		case v.mark(")"):
			if depth--; depth == 0 {
				v.advance()
				return
			}
		}
		v.advance()
	}
}

func (v *verilogReader) module() {
	v.advance()
	line, name := v.tok.line, v.tok.text
	if v.tok.kind != wordToken {
		v.unexpected("the name of a module")
		return
	}
	v.m = &module{name: name, key: name, line: line, shown: map[string]string{}}
	v.header, v.widths, v.auto = nil, map[string][2]int{}, 0
	v.advance()
	if v.mark("#") {
		v.advance()
		v.skipParens()
	}
	if v.mark("(") {
		v.ports()
	}
	if !v.mark(";") {
		v.unexpected("`;`")
	}
	v.skip()
	for !v.word("endmodule") {
		if v.tok.kind == endToken || v.word("module") {
			v.errorf(v.tok.line, name, "is the file cut off?", "module %s has no endmodule; it begins in line %d", name, line)
			break
		}
		if v.stopped {
			break
		}
		v.item()
	}
	if v.word("endmodule") {
		v.advance()
	}
	v.close()
}

// close enters the module that has been read.
func (v *verilogReader) close() {
	m := v.m
	for _, h := range v.header {
		if m.port(h, 0) == nil {
			v.warnf(m.line, h, "declare it as input, output or inout", "module %s does not say which way port %s goes", m.name, h)
			m.ports = append(m.ports, mport{h, inout, v.bitsOf(h)})
		}
	}
	if len(v.header) > 0 { // in the order of the header, which is what connections by position follow
		slices.SortStableFunc(m.ports, func(a, b mport) int {
			return slices.Index(v.header, a.name) - slices.Index(v.header, b.name)
		})
	}
	m.hollow = len(m.insts) == 0 && len(m.same) == 0 && len(m.ports) > 0
	if v.modules[m.name] != nil {
		v.errorf(m.line, m.name, "the first is kept", "module %s is described a second time; the first is in line %d", m.name, v.modules[m.name].line)
		return
	}
	v.modules[m.name] = m
	v.order = append(v.order, m)
	taken := map[string]bool{}
	for name, w := range v.widths {
		if w == scalar {
			taken[name] = true
		}
	}
	for _, p := range m.ports {
		if len(p.bits) == 1 {
			taken[p.name] = true
		}
	}
	for _, name := range sortedKeys(v.widths) {
		if w := v.widths[name]; w != scalar {
			v.showVector(name, taken)
		}
	}
}

// showVector shows the bits of D[7:0] as D7 to D0 where no other net has these names.
func (v *verilogReader) showVector(name string, taken map[string]bool) {
	bits := v.bitsOf(name)
	if !taken[name] {
		v.m.buses = append(v.m.buses, bus{name, bits})
	}
	plain := map[string]string{}
	for _, b := range bits {
		s := strings.TrimSuffix(strings.Replace(b, "[", "", 1), "]")
		if taken[s] {
			return
		}
		plain[b] = s
	}
	for b, s := range plain {
		taken[s] = true
		v.m.shown[b] = s
	}
}

// ports reads the list in parentheses, with directions or without.
func (v *verilogReader) ports() {
	v.advance()
	dir, width := unsaid, scalar
	for !v.mark(")") {
		switch {
		case v.tok.kind == endToken || v.mark(";") || v.word("endmodule"):
			v.unexpected("`)` after the ports")
			return
		case v.tok.kind == wordToken && !v.tok.escaped && directions[v.tok.text] != unsaid:
			dir = directions[v.tok.text]
			v.advance()
			width = v.typeAndRange()
		case v.tok.kind == wordToken:
			if dir == unsaid {
				v.header = append(v.header, v.tok.text)
			} else {
				v.declare(v.tok.text, dir, width)
			}
			v.advance()
		case v.mark(","):
			v.advance()
		default:
			v.unexpected("a port")
			v.advance()
		}
	}
	v.advance()
}

// scalar is the width of what is no vector.
var scalar = [2]int{-1, -1}

// typeAndRange passes wire, signed and the like, and reads [7:0].
func (v *verilogReader) typeAndRange() [2]int {
	for v.tok.kind == wordToken && !v.tok.escaped && (slices.Contains(netTypes, v.tok.text) || v.tok.text == "signed" || v.tok.text == "scalared" || v.tok.text == "vectored") {
		v.advance()
	}
	if v.mark("[") {
		return v.rangeOf()
	}
	return scalar
}

// rangeOf reads [msb:lsb].
func (v *verilogReader) rangeOf() [2]int {
	line := v.tok.line
	v.advance()
	hi, ok := v.integer()
	lo := hi
	if ok && v.mark(":") {
		v.advance()
		lo, ok = v.integer()
	}
	if !ok || !v.take("]") {
		v.errorf(line, "", "write numbers", "this range is not made of numbers; one bit is taken")
		for v.tok.kind != endToken && !v.mark("]") && !v.mark(";") {
			v.advance()
		}
		if v.mark("]") {
			v.advance()
		}
		return scalar
	}
	if max(hi, lo)-min(hi, lo) >= maxWidth {
		v.errorf(line, "", "", "a vector of %d bits; at most %d are possible; one bit is taken", max(hi, lo)-min(hi, lo)+1, maxWidth)
		return scalar
	}
	return [2]int{hi, lo}
}

func (v *verilogReader) integer() (int, bool) {
	if v.tok.kind != numberToken {
		return 0, false
	}
	n, err := strconv.Atoi(strings.ReplaceAll(v.tok.text, "_", ""))
	v.advance()
	return n, err == nil && n < 1<<30
}

// declare enters a net or, with a direction, a port.
func (v *verilogReader) declare(name string, dir direction, width [2]int) {
	if old, ok := v.widths[name]; !ok || old == scalar {
		v.widths[name] = width
		v.count(len(v.bitsOf(name)))
	}
	if dir == unsaid {
		return
	}
	if p := v.m.port(name, 0); p != nil {
		if p.dir != dir {
			v.errorf(v.tok.line, name, "", "port %s is declared twice, both ways", name)
		}
		return
	}
	v.m.ports = append(v.m.ports, mport{name, dir, v.bitsOf(name)})
}

// count keeps the memory bounded.
func (v *verilogReader) count(bits int) {
	if v.bits += bits; v.bits > maxBits {
		v.stop(v.tok.line, "more than %d bits", maxBits)
	}
}

// bitsOf are the bits of a net, most significant first.
func (v *verilogReader) bitsOf(name string) []string {
	w, ok := v.widths[name]
	if !ok || w == scalar {
		return []string{name}
	}
	return v.slice(name, w[0], w[1])
}

func (v *verilogReader) slice(name string, hi, lo int) []string {
	step := 1
	if lo < hi {
		step = -1
	}
	var out []string
	for i := hi; ; i += step {
		out = append(out, name+"["+itoa(i)+"]")
		if i == lo {
			return out
		}
	}
}
