package importer

// Lists of pins: a table with columns for part, pin and net in any order, or one net a line with its pins behind it.

import (
	"regexp"
	"strings"
)

func (r *reader) pinList(text string) {
	head := text[:min(len(text), lookedBytes)]
	d := delimiter(head)
	cols, from := map[column]int(nil), 0
	if d != 0 {
		seen, before := 0, len(r.list)
		r.rows(head, d, func(w row) bool {
			h := header(w.cells)
			_, net := h[netColumn]
			_, pin := h[pinColumn]
			_, nodes := h[nodeColumn]
			_, ref := h[refColumn]
			if net && (pin || nodes || ref) {
				cols, from = h, w.line
			}
			seen++
			return cols == nil && seen < 20
		})
		r.list = r.list[:before] // the same lines are read again
		if cols == nil {
			cols = guessColumns(head, d)
		}
	}
	if cols == nil {
		r.netLines(text)
		return
	}
	last := ""
	r.rows(text, d, func(w row) bool {
		if w.line > from {
			last = r.pinRow(w, cols, last)
		}
		return !r.stopped
	})
}

// guessColumns tells the columns of a table without a header from what stands in them; nil when it cannot.
func guessColumns(head string, d byte) map[column]int {
	var refs, pins, nodes [8]int
	n, wide := 0, 0
	for number, line := range lines(head) {
		if number > lookedLines {
			break
		}
		cells := split(line, d)
		if len(cells) < 2 || strings.HasPrefix(cells[0], "#") {
			continue
		}
		n++
		wide = max(wide, len(cells))
		for i, c := range cells[:min(len(cells), len(refs))] {
			switch {
			case refWord.MatchString(c):
				refs[i]++
			case pinNumber.MatchString(c):
				pins[i]++
			default:
				if _, _, ok := node(c); ok {
					nodes[i]++
				}
			}
		}
	}
	best := func(counts [8]int, not ...int) int {
		at := -1
		for i, c := range counts {
			if 3*c >= 2*n && (at < 0 || c > counts[at]) && !contains(not, i) {
				at = i
			}
		}
		return at
	}
	if n < 2 || wide > len(refs) {
		return nil
	}
	if at := best(nodes); at >= 0 && wide == 2 {
		return map[column]int{nodeColumn: at, netColumn: 1 - at}
	}
	ref := best(refs)
	pin := best(pins, ref)
	if ref < 0 || pin < 0 || wide < 3 {
		return nil
	}
	for i := range wide {
		if i != ref && i != pin {
			return map[column]int{refColumn: ref, pinColumn: pin, netColumn: i}
		}
	}
	return nil
}

var pinNumber = regexp.MustCompile(`^[A-Z]?[0-9]{1,3}$`)

func contains(list []int, x int) bool {
	for _, v := range list {
		if v == x {
			return true
		}
	}
	return false
}

// pinRow reads one row. It returns the part of the row: a cell left empty below it means the same part.
func (r *reader) pinRow(w row, cols map[column]int, last string) string {
	cell := func(k column) string {
		if i, ok := cols[k]; ok && i < len(w.cells) {
			return w.cells[i]
		}
		return ""
	}
	ref, pin, net := cell(refColumn), cell(pinColumn), cell(netColumn)
	if nodes := cell(nodeColumn); nodes != "" {
		if net == "" {
			r.errorf(w.line, "", "", "no net in this row: %s", short(strings.Join(w.cells, " ")))
			return last
		}
		for _, word := range strings.FieldsFunc(nodes, listed) {
			r.node(word, net, w.line)
		}
		for i := cols[nodeColumn] + 1; i < len(w.cells) && cols[nodeColumn] > cols[netColumn]; i++ { // the list runs on over the next cells
			if w.cells[i] != "" {
				r.node(w.cells[i], net, w.line)
			}
		}
		return last
	}
	if a, b, ok := node(ref); ok && pin == "" {
		ref, pin = a, b
	}
	if _, hasRef := cols[refColumn]; !hasRef || ref == "" {
		if a, b, ok := node(pin); ok {
			ref, pin = a, b
		} else if ref == "" {
			ref = last
		}
	}
	switch {
	case ref == "" && pin == "" && net == "":
		return last
	case ref == "":
		r.errorf(w.line, "", "", "no part in this row: %s", short(strings.Join(w.cells, " ")))
		return last
	case pin == "":
		r.errorf(w.line, ref, "is the file cut off?", "no pin in this row: %s", short(strings.Join(w.cells, " ")))
		return ref
	case net == "" && len(w.cells) <= cols[netColumn]:
		r.errorf(w.line, ref, "is the file cut off?", "no net in this row: %s", short(strings.Join(w.cells, " ")))
		return ref
	case net == "" || unconnected[strings.ToUpper(net)]:
		net = open
	}
	p := r.part(ref, w.line)
	if p == nil {
		return ref
	}
	r.describe(p, cell(typeColumn), cell(valueColumn), w.line)
	r.pin(p, pin, named(net), w.line)
	return ref
}

// unconnected are the words for a pin left open.
var unconnected = map[string]bool{"-": true, "NC": true, "N/C": true, "N.C.": true, "NO CONNECT": true, "UNCONNECTED": true, "OPEN": true}

// named turns the bit that is left open into the board's word.
func named(net string) string {
	if net == open {
		return "-"
	}
	return net
}

// describe enters what a part is. A second, different description is an error.
func (r *reader) describe(p *npart, typ, value string, line int) {
	for _, d := range []struct {
		have *string
		is   string
		what string
	}{{&p.typ, typ, "type"}, {&p.value, value, "value"}} {
		switch {
		case d.is == "" || *d.have == d.is:
		case *d.have == "":
			*d.have = d.is
		default:
			r.errorf(line, p.ref, "the first is kept", "part %s stands here a second time with %s %s; it was %s", p.ref, d.what, short(d.is), short(*d.have))
		}
	}
}

// node enters a pin written U1.3.
func (r *reader) node(word, net string, line int) {
	ref, pin, ok := node(word)
	if !ok {
		r.errorf(line, "", "write the part, a dot and the pin: U1.3", "not a pin: %s", short(word))
		return
	}
	if p := r.part(ref, line); p != nil {
		r.pin(p, pin, net, line)
	}
}

// netLines reads NET: U1.3 U2.5, one net a line; a line that begins with a pin goes on with the net before it.
func (r *reader) netLines(text string) {
	net := ""
	for number, line := range lines(text) {
		if r.stopped {
			return
		}
		words := strings.FieldsFunc(line, listed)
		if len(words) == 0 || strings.HasPrefix(words[0], "#") {
			continue
		}
		if _, _, isPin := node(words[0]); isPin && net != "" && (line[0] == ' ' || line[0] == '\t') {
			for _, w := range words {
				r.node(w, net, number)
			}
			continue
		}
		net = strings.TrimSuffix(words[0], ":")
		rest := words[1:]
		if len(rest) > 0 && rest[0] == ":" {
			rest = rest[1:]
		}
		if net == "" || len(rest) == 0 {
			r.errorf(number, net, "write NET: U1.3 U2.5; is the file cut off?", "a net without pins: %s", short(line))
			continue
		}
		for _, w := range rest {
			r.node(w, net, number)
		}
	}
}
