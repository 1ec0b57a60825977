package importer

// A design of modules inside modules (Verilog, EDIF) laid out flat: every instance of a module that is described becomes its contents,
// every other instance a part. Nets that are assigned to each other are one.

import (
	"slices"
	"strings"
)

// maxLevels is how deep modules may stand in each other.
const maxLevels = 32

// Bits that are no nets. zero and one are held by a supply; open is left unconnected.
const (
	zero = "\x000" // no name of a net has this character
	one  = "\x001"
	open = "\x00-"
)

// module is one module or cell. A bit of a vector is a net name[3].
type module struct {
	name  string
	key   string // among all modules: the name, with its library where there are several
	line  int
	ports []mport
	insts []inst
	same  [][2]string // bits that are one net
	// shown gives the name that a bit is shown by where that is not its own.
	shown  map[string]string
	buses  []bus
	hollow bool // declared without contents: a part, of which the directions of the pins are known
}

type mport struct {
	name string
	dir  direction
	bits []string // most significant first
}

// inst is a gate or an instance. Bits "", zero, one and open are no nets.
type inst struct {
	ref, typ, value string
	key             string // of the module that it is, where one is described
	gate            bool
	section         bool // one section of a package: others of the same name are the same part
	line            int
	conns           []conn
}

// conn joins a port to bits, most significant first. port is "" for a connection by position.
type conn struct {
	port string
	bits []string
}

// flat lays a design out into the reader's netlist.
type flat struct {
	r       *reader
	modules map[string]*module
	parent  []int    // union-find over nets
	names   []string // of a net, as shown
	rank    []int    // the lower, the better the name
	pending []pending
	inside  map[string]bool // modules being laid out
	laid    int             // modules laid out so far
	global  map[string]int  // nets named as a rail: they are one in all modules
}

// pending is a part whose nets get their names when all joins are known.
type pending struct {
	inst  inst
	ref   string
	pins  []string // port and bit number; "" for a gate
	nets  []int    // -1 for open
	ports []port
}

// Ranks of names: a supply, an input of the whole, another port of it, then by level.
const (
	rankSupply = iota
	rankInput
	rankPort
	rankLevel
)

const (
	netZero = 0
	netOne  = 1
)

// lay lays top out and fills the netlist.
func (r *reader) lay(top *module, modules map[string]*module) {
	f := &flat{r: r, modules: modules, inside: map[string]bool{}, global: map[string]int{}}
	f.add("GND", "", rankSupply)
	f.add("VCC", "", rankSupply)
	bound := map[string]int{}
	for _, p := range top.ports {
		for _, b := range p.bits {
			if _, ok := bound[b]; !ok {
				bound[b] = f.add(top.display(b), "", map[bool]int{true: rankInput, false: rankPort}[p.dir == in])
			}
		}
	}
	f.module(top, "", bound, 0)
	unique := f.uniqueNames()
	name := func(bit string) string { return unique[f.root(bound[bit])] }
	for _, p := range top.ports {
		for _, b := range p.bits {
			n := nname{name(b), r.pos(top.line)}
			if p.dir == in || p.dir == inout {
				r.n.inputs = append(r.n.inputs, n)
			}
			if p.dir == out || p.dir == inout {
				r.n.outputs = append(r.n.outputs, n)
			}
		}
	}
	for _, b := range top.buses {
		var nets []string
		for _, bit := range b.nets {
			if _, ok := bound[bit]; ok {
				nets = append(nets, name(bit))
			}
		}
		if len(nets) == len(b.nets) && len(nets) > 1 && len(nets) <= 64 {
			r.n.buses = append(r.n.buses, bus{b.name, nets})
		}
	}
	f.write(unique)
}

func (m *module) display(bit string) string {
	if s, ok := m.shown[bit]; ok {
		return s
	}
	return bit
}

func (f *flat) add(name, path string, rank int) int {
	if _, _, rail := namedVolts(name); rail {
		if id, ok := f.global[name]; ok {
			return id
		}
		f.global[name], path = len(f.parent), ""
	}
	f.parent = append(f.parent, len(f.parent))
	f.names = append(f.names, path+name)
	f.rank = append(f.rank, rank)
	return len(f.parent) - 1
}

func (f *flat) root(i int) int {
	for f.parent[i] != i {
		f.parent[i] = f.parent[f.parent[i]]
		i = f.parent[i]
	}
	return i
}

// join makes two nets one, under the better name, the earlier where both are as good.
func (f *flat) join(a, b, line int) {
	a, b = f.root(a), f.root(b)
	if a == b {
		return
	}
	if min(a, b) == netZero && max(a, b) == netOne {
		f.r.errorf(line, "", "", "0 and 1 are joined here")
		return
	}
	if f.rank[b] < f.rank[a] || f.rank[a] == f.rank[b] && b < a {
		a, b = b, a
	}
	f.parent[b] = a
}

// module lays out one module; bound are the bits that the outside has wired.
func (f *flat) module(m *module, path string, bound map[string]int, level int) {
	if f.laid++; f.laid > maxParts {
		f.r.stop(m.line, "more than %d modules in modules", maxParts)
		return
	}
	f.inside[m.key] = true
	defer delete(f.inside, m.key)
	net := func(bit string) int {
		switch bit {
		case zero:
			return netZero
		case one:
			return netOne
		case open, "":
			return -1
		}
		id, ok := bound[bit]
		if !ok {
			id = f.add(m.display(bit), path, rankLevel+level)
			bound[bit] = id
		}
		return id
	}
	for _, s := range m.same {
		if a, b := net(s[0]), net(s[1]); a >= 0 && b >= 0 {
			f.join(a, b, m.line)
		}
	}
	for _, i := range m.insts {
		if f.r.stopped {
			return
		}
		inner := f.modules[i.key]
		if i.gate || inner == nil || inner.hollow {
			f.leaf(i, path, inner, net)
			continue
		}
		switch {
		case f.inside[i.key]:
			f.r.errorf(i.line, i.ref, "", "module %s stands inside itself", i.typ)
			continue
		case level == maxLevels:
			f.r.errorf(i.line, i.ref, "", "modules stand in each other more than %d deep", maxLevels)
			continue
		}
		bind := map[string]int{}
		for k, c := range i.conns {
			p := inner.port(c.port, k)
			if p == nil {
				f.r.errorf(i.line, i.ref, "", "%s: module %s has no port %s", path+i.ref, i.typ, portWord(c.port, k))
				continue
			}
			if len(p.bits) != len(c.bits) && len(c.bits) > 0 {
				f.r.errorf(i.line, i.ref, "", "%s: port %s of %s has %d bits, %d are connected", path+i.ref, p.name, i.typ, len(p.bits), len(c.bits))
			}
			// from the least significant bit, as the language joins unequal widths
			for n := 1; n <= len(p.bits) && n <= len(c.bits); n++ {
				id := net(c.bits[len(c.bits)-n])
				if id < 0 {
					continue
				}
				if old, ok := bind[p.bits[len(p.bits)-n]]; ok { // one bit at two ports
					f.join(old, id, i.line)
					continue
				}
				bind[p.bits[len(p.bits)-n]] = id
			}
		}
		f.module(inner, path+i.ref+"/", bind, level+1)
	}
}

func portWord(name string, k int) string {
	if name == "" {
		return "number " + itoa(k+1)
	}
	return name
}

func (m *module) port(name string, k int) *mport {
	if name == "" {
		if k < len(m.ports) {
			return &m.ports[k]
		}
		return nil
	}
	if i := slices.IndexFunc(m.ports, func(p mport) bool { return p.name == name }); i >= 0 {
		return &m.ports[i]
	}
	return nil
}

// leaf notes a gate or a part.
func (f *flat) leaf(i inst, path string, hollow *module, net func(string) int) {
	if len(f.pending) >= maxParts {
		f.r.stop(i.line, "more than %d parts", maxParts)
		return
	}
	p := pending{inst: i, ref: path + i.ref}
	if hollow != nil {
		for _, mp := range hollow.ports {
			for k := range mp.bits {
				p.ports = append(p.ports, port{bitName(mp.name, k, len(mp.bits)), mp.dir})
			}
		}
	}
	for k, c := range i.conns {
		name := c.port
		if name == "" && hollow != nil && k < len(hollow.ports) {
			name = hollow.ports[k].name
		}
		if name == "" && !i.gate {
			name = itoa(k + 1)
		}
		if len(c.bits) == 0 {
			p.pins, p.nets = append(p.pins, name), append(p.nets, -1)
		}
		for b, bit := range c.bits {
			p.pins, p.nets = append(p.pins, bitName(name, b, len(c.bits))), append(p.nets, net(bit))
		}
	}
	f.pending = append(f.pending, p)
}

// bitName is the pin for bit k of width, counted from the most significant: D of 8 has D7 to D0.
func bitName(port string, k, width int) string {
	if width == 1 {
		return port
	}
	return port + itoa(width-1-k)
}

// write turns what was noted into parts, now that every net has its name.
func (f *flat) write(unique map[int]string) {
	for _, p := range f.pending {
		nets := make([]string, len(p.nets))
		for k, id := range p.nets {
			nets[k] = "-"
			if id >= 0 {
				nets[k] = unique[f.root(id)]
			}
		}
		if old := f.r.n.byRef[p.ref]; old != nil && !(p.inst.section && old.typ == p.inst.typ) {
			f.r.errorf(p.inst.line, p.ref, "give one of them another name; the first is kept", "there is a second part %s here; the first is in line %d", p.ref, f.r.n.byRef[p.ref].pos.Line)
			continue
		}
		if p.inst.gate {
			f.r.gate(p.ref, p.inst.typ, nets, p.inst.line)
			continue
		}
		part := f.r.part(p.ref, p.inst.line)
		if part == nil {
			return
		}
		part.typ, part.value, part.ports = p.inst.typ, p.inst.value, p.ports
		for k, pin := range p.pins {
			f.r.pin(part, pin, nets[k], p.inst.line)
		}
	}
}

// uniqueNames keeps nets apart that would be shown by one name.
func (f *flat) uniqueNames() map[int]string {
	out := map[int]string{}
	taken := map[string]bool{}
	for i := range f.parent {
		if f.parent[i] != i {
			continue
		}
		name := f.names[i]
		for taken[name] {
			name += "'"
		}
		taken[name] = true
		out[i] = name
	}
	return out
}

// topOf finds the module that no other holds; the last of several, with a finding.
func (r *reader) topOf(order []*module) *module {
	used := map[string]bool{}
	for _, m := range order {
		for _, i := range m.insts {
			if i.key != m.key {
				used[i.key] = true
			}
		}
	}
	var tops []string
	var top *module
	for _, m := range order {
		if !used[m.key] && !m.hollow {
			tops = append(tops, m.name)
			top = m
		}
	}
	if len(tops) > 1 {
		r.warnf(top.line, top.name, "", "several modules stand in no other: %s; the last is taken as the board", short(strings.Join(tops, ", ")))
	}
	if top == nil && len(order) > 0 {
		top = order[len(order)-1]
	}
	return top
}
