package importer

// EDIF 2.0.0 netlists (ANSI/EIA 548-1988): libraries of cells with ports, instances, and nets that join port references.

import (
	"regexp"
	"strconv"
	"strings"
)

type edifReader struct {
	*reader
	f       formReader
	modules map[string]*module
	order   []*module
	cells   map[string]*cell
	library string
	bare    map[string]string // cell name → key, of the last library that has it
	top     string            // key that (design …) names
	joins   int
	cut     bool // the end of the file was met inside a form
}

// cell is a module with what can only be resolved when all cells are known.
type cell struct {
	m     *module
	ports map[string]string // identifier, with [k] in an array → name of the port
	insts map[string]int
	at    map[string]map[string]string // instance → port → pin number that its package gives it
	joins []edifJoin
}

// edifJoin joins a net to a port, of an instance or of the cell itself ("").
type edifJoin struct {
	net, port, inst string
	line            int
}

func (r *reader) edif(text string) {
	e := &edifReader{reader: r, f: formReader{s: text, line: 1}, modules: map[string]*module{}, cells: map[string]*cell{}, bare: map[string]string{}}
	e.f.next()
	e.f.next() // ( edif
	e.each(func(word string, line int) {
		switch word {
		case "edifversion":
			f := e.read()
			if v := words(f); v != "2 0 0" {
				e.errorf(line, "edifVersion", "export EDIF 2 0 0", "the file is EDIF %s; it is read as EDIF 2 0 0, which may be wrong", short(v))
			}
		case "ediflevel":
			f := e.read()
			if v := words(f); v != "0" {
				e.warnf(line, "edifLevel", "export level 0", "EDIF level %s may hold what is not read", short(v))
			}
		case "keywordmap":
			f := e.read()
			if l := f.first("keywordlevel"); l != nil && words(*l) != "0" {
				e.errorf(line, "keywordMap", "export keyword level 0", "keywords of level %s may be renamed, which is not read", short(words(*l)))
			}
		case "library", "external":
			e.lib()
		case "design":
			f := e.read()
			if ref := f.first("cellref"); ref != nil {
				lib := ref.first("libraryref")
				e.top = e.key(lib.str(), ref.str())
			}
			if name := display(f); e.n.title == "" {
				e.n.title = name
			}
		default:
			e.skip()
		}
	})
	if e.cut {
		r.errorf(e.f.line, "", "is the file cut off?", "the file ends before its forms are closed")
	}
	e.resolve()
	top := e.modules[e.top]
	if top == nil || top.hollow {
		top = r.topOf(e.order)
	}
	switch {
	case top != nil && !top.hollow:
		if r.n.title == "" {
			r.n.title = top.name
		}
		r.stopped = false // what was read up to a limit is kept
		r.lay(top, e.modules)
	case len(r.list) == 0:
		r.errorf(1, "", "export a netlist view", "no cell of this file has contents")
	}
}

// each goes over the forms in the form that is open; do must read or skip each of them.
func (e *edifReader) each(do func(word string, line int)) {
	for {
		kind, _ := e.f.next()
		switch kind {
		case ')':
			return
		case 0:
			e.cut = true
			return
		case '(':
			line := e.f.line
			kind, word := e.f.next()
			switch kind {
			case 'w':
				do(strings.ToLower(word), line)
			case 0:
				e.cut = true
			case '(':
				e.skip()
				e.skip()
			case 't':
				e.skip()
			}
		}
		if e.stopped || e.cut {
			return
		}
	}
}

func (e *edifReader) skip() {
	if !e.f.skip() {
		e.cut = true
	}
}

func (e *edifReader) read() form {
	f, ok := e.f.readItems()
	switch {
	case ok:
	case e.f.at >= len(e.f.s):
		e.cut = true
	default:
		e.stop(f.line, "a form with more than %d items or nested more than %d deep", maxForm, maxNested)
	}
	return f
}

// readItems reads the rest of a form whose keyword has been read.
func (f *formReader) readItems() (form, bool) {
	f.left = maxForm
	return f.rest(form{line: f.line})
}

func words(f form) string {
	var out []string
	for _, i := range f.items {
		if i.leaf {
			out = append(out, i.word)
		}
	}
	return strings.Join(out, " ")
}

func (e *edifReader) key(lib, cell string) string {
	if lib == "" {
		if k, ok := e.bare[strings.ToLower(cell)]; ok {
			return k
		}
		lib = e.library
	}
	return strings.ToLower(lib + "\x01" + cell)
}

// lib reads a library: its name, then cells.
func (e *edifReader) lib() {
	id, _, ok := e.opening()
	if !ok {
		return
	}
	e.library = id
	e.each(func(word string, _ int) {
		if word == "cell" {
			e.cell()
		} else {
			e.skip()
		}
	})
}

// opening reads the name behind the keyword of a form.
func (e *edifReader) opening() (id, shown string, ok bool) {
	kind, word := e.f.next()
	switch kind {
	case 'w', 't':
		return word, plainID(word), true
	case '(':
		_, word := e.f.next()
		f := e.read()
		f.word = strings.ToLower(word)
		id, shown := nameOf(f)
		return id, shown, id != "" && !e.cut
	case 0:
		e.cut = true
	}
	return "", "", false
}

func (e *edifReader) cell() {
	line := e.f.line
	id, shown, ok := e.opening()
	if !ok {
		if !e.cut {
			e.errorf(line, "", "", "a cell without a name")
		}
		return
	}
	c := &cell{m: &module{name: shown, key: strings.ToLower(e.library + "\x01" + id), line: line, hollow: true, shown: map[string]string{}},
		ports: map[string]string{}, insts: map[string]int{}, at: map[string]map[string]string{}}
	if old := e.modules[c.m.key]; old != nil {
		e.errorf(line, shown, "the first is kept", "cell %s is described a second time; the first is in line %d", shown, old.line)
		e.each(func(string, int) { e.skip() })
		return
	}
	e.modules[c.m.key], e.cells[c.m.key] = c.m, c
	e.bare[strings.ToLower(id)] = c.m.key
	e.order = append(e.order, c.m)
	e.each(func(word string, _ int) {
		if word != "view" || !c.m.hollow {
			e.skip()
			return
		}
		if _, _, ok := e.opening(); !ok {
			return
		}
		e.each(func(word string, line int) {
			switch word {
			case "interface":
				c.m.ports = nil
				e.each(func(word string, line int) {
					if word != "port" {
						e.skip()
						return
					}
					e.port(c, line)
				})
			case "contents":
				e.contents(c)
			case "viewtype":
				if f := e.read(); !strings.EqualFold(f.str(), "NETLIST") && !strings.EqualFold(f.str(), "SCHEMATIC") {
					e.warnf(line, c.m.name, "export a netlist view", "cell %s: a %s view", c.m.name, short(f.str()))
				}
			default:
				e.skip()
			}
		})
	})
}

// port enters a port, or one for each bit of an array.
func (e *edifReader) port(c *cell, line int) {
	f := e.read()
	if len(f.items) == 0 {
		return
	}
	dir := map[string]direction{"input": in, "output": out, "inout": inout}[strings.ToLower(f.first("direction").str())]
	number := f.first("designator").str()
	name := f.items[0]
	id, shown := nameOf(name)
	if id == "" {
		e.errorf(line, c.m.name, "", "a port of cell %s has no name", c.m.name)
		return
	}
	if name.leaf || name.word != "array" {
		if number != "" {
			shown = number
		}
		e.onePort(c, id, shown, dir, line)
		return
	}
	width, err := strconv.Atoi(name.items[len(name.items)-1].word)
	if err != nil || width < 1 || width > maxWidth {
		e.errorf(line, shown, "", "port %s of cell %s is an array of no size that can be", shown, c.m.name)
		return
	}
	base, first, step := vectorRange(shown, width)
	for k := range width {
		e.onePort(c, id+"["+itoa(k)+"]", base+itoa(first+k*step), dir, line)
	}
}

func (e *edifReader) onePort(c *cell, id, shown string, dir direction, line int) {
	if _, dup := c.ports[id]; dup {
		e.errorf(line, shown, "the first is kept", "cell %s has port %s twice", c.m.name, shown)
		return
	}
	if len(c.ports) == maxWidth {
		e.errorf(line, c.m.name, "", "cell %s has more than %d ports", c.m.name, maxWidth)
	}
	if len(c.ports) >= maxWidth {
		return
	}
	c.ports[id] = shown
	bit := portBit(id)
	c.m.ports = append(c.m.ports, mport{shown, dir, []string{bit}})
	c.m.shown[bit] = shown
}

// portBit is the net inside a cell that its port is on.
func portBit(id string) string { return "\x01" + id }

var vector = regexp.MustCompile(`^(.*?)[\[<(](\d{1,4}):(\d{1,4})[\])>]$`)

// vectorRange gives the name of an array without its range, the number of the first bit, and the way to the next: D[7:0] counts down.
func vectorRange(shown string, width int) (base string, first, step int) {
	if m := vector.FindStringSubmatch(shown); m != nil {
		hi, _ := strconv.Atoi(m[2])
		lo, _ := strconv.Atoi(m[3])
		if hi >= lo {
			return m[1], hi, -1
		}
		return m[1], hi, 1
	}
	return shown, width - 1, -1
}

func plainID(s string) string { return strings.TrimPrefix(s, "&") }

// nameOf gives the identifier of a name, (rename id "shown"), (array …), (name id …) or (member id 3).
func nameOf(f form) (id, shown string) {
	if f.leaf {
		return f.word, plainID(f.word)
	}
	if len(f.items) == 0 {
		return "", ""
	}
	switch f.word {
	case "rename":
		id, _ = nameOf(f.items[0])
		shown = plainID(id)
		if len(f.items) > 1 {
			if s := f.items[1]; s.leaf {
				shown = s.word
			} else if s := s.str(); s != "" { // (stringDisplay "shown" …)
				shown = s
			}
		}
		return id, strings.TrimSpace(shown)
	case "array", "name":
		return nameOf(f.items[0])
	case "member":
		id, shown = nameOf(f.items[0])
		for _, i := range f.items[1:] {
			id, shown = id+"["+i.word+"]", shown+"["+i.word+"]"
		}
		return id, shown
	}
	return "", ""
}

func display(f form) string {
	if len(f.items) == 0 {
		return ""
	}
	_, s := nameOf(f.items[0])
	return s
}
