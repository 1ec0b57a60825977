package importer

// What stands inside a cell of EDIF: instances and nets.

import (
	"slices"
	"strings"
)

func (e *edifReader) contents(c *cell) {
	e.each(func(word string, line int) {
		switch word {
		case "instance":
			e.instance(c, e.read(), line)
		case "net":
			e.net(c, e.read(), line)
		case "netbundle":
			f := e.read()
			if l := f.first("listofnets"); l != nil {
				for _, n := range l.items {
					if n.word == "net" && !n.leaf {
						e.net(c, n, n.line)
					}
				}
			}
		default:
			e.skip()
		}
	})
}

// typeWords and valueWords are properties that programs write (common practice, no source).
var (
	typeWords  = []string{"part", "device", "part_number", "partnumber", "partno", "part_name", "partname", "mpn"}
	valueWords = []string{"value", "val", "comment"}
)

func (e *edifReader) instance(c *cell, f form, line int) {
	if len(f.items) == 0 || e.cut {
		return
	}
	id, shown := nameOf(f.items[0])
	view := f.first("viewref")
	ref := f.first("cellref")
	if view != nil {
		ref = view.first("cellref")
	}
	if id == "" || ref == nil {
		e.errorf(line, shown, "", "instance %s names no cell", shown)
		return
	}
	i := inst{ref: shown, typ: plainID(ref.str()), line: line}
	lib := ref.first("libraryref")
	i.key = e.key(lib.str(), ref.str())
	if lib == nil { // the same library comes before all others
		if own := strings.ToLower(e.library + "\x01" + ref.str()); e.modules[own] != nil {
			i.key = own
		}
	}
	for _, p := range f.items {
		if p.leaf {
			continue
		}
		switch p.word {
		case "designator":
			if s := p.str(); s != "" {
				i.ref, i.section = s, true
			} else if sub := p.first("stringdisplay"); sub != nil && sub.str() != "" {
				i.ref, i.section = sub.str(), true
			}
		case "property":
			e.property(&i, p)
		case "portinstance":
			if len(p.items) > 0 {
				port, _ := nameOf(p.items[0])
				if n := p.first("designator").str(); n != "" {
					if c.at[id] == nil {
						c.at[id] = map[string]string{}
					}
					c.at[id][port] = n
				}
			}
		}
	}
	if old, dup := c.insts[id]; dup {
		e.errorf(line, shown, "give one of them another name; the first is kept", "there is a second instance %s here; the first is in line %d", shown, c.m.insts[old].line)
		return
	}
	if len(c.m.insts) >= maxParts {
		e.stop(line, "more than %d parts", maxParts)
		return
	}
	c.insts[id] = len(c.m.insts)
	c.m.insts = append(c.m.insts, i)
	c.m.hollow = false
}

func (e *edifReader) property(i *inst, p form) {
	if len(p.items) < 2 {
		return
	}
	_, name := nameOf(p.items[0])
	s := p.items[1].str()
	switch name = strings.ToLower(name); {
	case s == "":
	case slices.Contains(typeWords, name):
		i.typ = s
	case slices.Contains(valueWords, name):
		i.value = s
	}
}

func (e *edifReader) net(c *cell, f form, line int) {
	if len(f.items) == 0 {
		return
	}
	id, shown := nameOf(f.items[0])
	if id == "" {
		e.errorf(line, c.m.name, "", "a net of cell %s has no name", c.m.name)
		return
	}
	if !f.items[0].leaf && f.items[0].word == "array" {
		e.errorf(line, shown, "export single nets", "net %s is an array; only single nets are read", shown)
		return
	}
	if _, dup := c.m.shown[id]; dup {
		e.warnf(line, shown, "", "net %s of cell %s stands here again; its pins are added", shown, c.m.name)
	}
	c.m.shown[id] = shown
	joined := f.first("joined")
	if joined == nil {
		return
	}
	for _, p := range joined.items {
		if p.leaf || p.word != "portref" || len(p.items) == 0 {
			continue
		}
		port, _ := nameOf(p.items[0])
		if e.joins++; e.joins > 2*maxPins {
			e.stop(p.line, "more than %d pins", 2*maxPins)
			return
		}
		c.joins = append(c.joins, edifJoin{id, port, p.first("instanceref").str(), p.line})
	}
}

// resolve turns the joins of every cell into connections of its instances, now that all ports are known.
func (e *edifReader) resolve() {
	for _, m := range e.order {
		c := e.cells[m.key]
		for k := range m.insts { // the name that the cell is shown by, unless a property said better
			if inner := e.modules[m.insts[k].key]; inner != nil && strings.EqualFold(m.insts[k].typ, plainID(m.insts[k].key[strings.IndexByte(m.insts[k].key, 1)+1:])) {
				m.insts[k].typ = inner.name
			}
		}
		for _, j := range c.joins {
			if j.inst == "" {
				if _, ok := c.ports[j.port]; !ok {
					e.errorf(j.line, j.port, "", "net %s: cell %s has no port %s", m.shown[j.net], m.name, j.port)
					continue
				}
				m.same = append(m.same, [2]string{portBit(j.port), j.net})
				continue
			}
			k, ok := c.insts[j.inst]
			if !ok {
				e.errorf(j.line, j.inst, "", "net %s: there is no instance %s in cell %s", m.shown[j.net], j.inst, m.name)
				continue
			}
			pin := plainID(j.port)
			if inner := e.cells[m.insts[k].key]; inner != nil {
				name, ok := inner.ports[j.port]
				if !ok {
					e.errorf(j.line, j.inst, "", "net %s: cell %s has no port %s", m.shown[j.net], inner.m.name, j.port)
					continue
				}
				pin = name
			}
			if n := c.at[j.inst][j.port]; n != "" {
				pin = n
			}
			m.insts[k].conns = append(m.insts[k].conns, conn{pin, []string{j.net}})
		}
		if len(m.same) > 0 {
			m.hollow = false
		}
	}
}
