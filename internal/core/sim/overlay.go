package sim

import (
	"slices"

	"halfsplit/internal/core/circuit"
)

// Overlay makes a batch of the patches: bench are in every lane, faults in theirs.
func (p *Program) Overlay(bench, faults []Patch) *Overlay {
	o := &Overlay{}
	for _, b := range bench {
		b.Lanes = all
		o.put(p, b)
	}
	for _, f := range faults {
		o.put(p, f)
	}
	o.joinGroups(p)
	o.findSeeds(p)
	return o
}

// put turns patches that are another patch in disguise into that one.
func (o *Overlay) put(p *Program, f Patch) {
	c := p.C
	switch f.Kind {
	case Bridge:
		a, b := &c.Nets[f.Index], &c.Nets[f.Other]
		switch {
		case a.Rail && b.Rail || f.Index == f.Other:
			return
		case a.Rail:
			f.Kind, f.Index = railShort(a), f.Other
		case b.Rail:
			f.Kind = railShort(b)
		}
	case JointOpen:
		if in := c.Pins[f.Index].Inside; in != circuit.None {
			for _, l := range c.Parts[c.Pins[f.Index].Part].Links {
				if c.Links[l].Kind == circuit.Joint && c.Links[l].PinA == f.Index {
					f.Kind, f.Index = LinkOpen, l
					break
				}
			}
		}
	}
	o.patches = append(o.patches, f)
	o.add(f)
}

func railShort(n *circuit.Net) PatchKind {
	if n.High {
		return NetHigh
	}
	return NetLow
}

func (o *Overlay) feedback() bool {
	return slices.ContainsFunc(o.supers, func(s super) bool { return s.feedback != 0 })
}

// joinGroups makes one bigger group of all groups that the batch's bridges connect. A group keeps its own levels in
// lanes where no bridge is, because a bridge conducts in its lanes only.
func (o *Overlay) joinGroups(p *Program) {
	for _, f := range o.patches {
		if l := p.C.Links; f.Kind == LinkShort && !p.C.Nets[l[f.Index].A].Rail && !p.C.Nets[l[f.Index].B].Rail {
			o.mixFamilies(p, l[f.Index].A, l[f.Index].B, f.Lanes)
		}
	}
	if len(o.bridges) == 0 {
		return
	}
	root := map[int32]int32{}
	var find func(g int32) int32
	find = func(g int32) int32 {
		r, ok := root[g]
		if !ok || r == g {
			root[g] = g
			return g
		}
		r = find(r)
		root[g] = r
		return r
	}
	for i := range o.bridges {
		b := &o.bridges[i]
		ga, gb := p.groupOf[b.a], p.groupOf[b.b]
		la, lb := p.netLoop[b.a], p.netLoop[b.b]
		b.feedback = ga != gb && (la < 0 && lb < 0 && (p.reaches(ga, gb) || p.reaches(gb, ga)) || la != lb)
		x, y := find(ga), find(gb)
		root[max(x, y)] = min(x, y)
		o.mixFamilies(p, int(b.a), int(b.b), b.lanes)
		if b.feedback {
			o.growLoops(p, ga, gb, b.lanes)
		}
	}
	o.superOf = map[int32]int32{}
	index := map[int32]int32{}
	for i, b := range o.bridges {
		for _, g := range []int32{p.groupOf[b.a], p.groupOf[b.b]} {
			r := find(g)
			s, ok := index[r]
			if !ok {
				s = int32(len(o.supers))
				index[r] = s
				o.supers = append(o.supers, super{pos: p.groupPos[g]})
			}
			if _, in := o.superOf[g]; !in {
				o.superOf[g] = s
				o.supers[s].nets = append(o.supers[s].nets, p.groups[g].nets...)
				o.supers[s].links = append(o.supers[s].links, p.groups[g].links...)
			}
		}
		s := &o.supers[o.superOf[p.groupOf[b.a]]]
		s.bridges = append(s.bridges, int32(i))
		if b.feedback {
			s.feedback |= b.lanes
		}
	}
}

// mixFamilies notes where a bridge lets an output of another family into a net's fights.
func (o *Overlay) mixFamilies(p *Program, a, b int, lanes uint64) {
	mark := func(m *map[int32]uint64, net int) {
		if *m == nil {
			*m = map[int32]uint64{}
		}
		for _, n := range p.groups[p.groupOf[net]].nets {
			if p.joined[n] == p.joined[net] {
				(*m)[n] |= lanes
			}
		}
	}
	for _, x := range [][2]int{{a, b}, {b, a}} {
		if !p.bipolar[x[1]] {
			mark(&o.fightX, x[0])
		}
		if !p.plain[x[1]] {
			mark(&o.notPlain, x[0])
		}
	}
}

// growLoops notes the loops of the good board that lie on the loop which a bridge closes.
func (o *Overlay) growLoops(p *Program, a, b int32, lanes uint64) {
	for l := range p.loops {
		into := func(g int32) bool {
			return slices.ContainsFunc(p.loops[l].nets, func(n int32) bool { return p.groupOf[n] == g || p.reaches(g, p.groupOf[n]) })
		}
		from := func(g int32) bool {
			return slices.ContainsFunc(p.loops[l].nets, func(n int32) bool { return p.groupOf[n] == g || p.reaches(p.groupOf[n], g) })
		}
		in := slices.ContainsFunc(p.loops[l].nets, func(n int32) bool { return p.groupOf[n] == a || p.groupOf[n] == b })
		if in || into(a) && from(b) || into(b) && from(a) {
			if o.loopX == nil {
				o.loopX = map[int32]uint64{}
			}
			o.loopX[int32(l)] |= lanes
		}
	}
}

// findSeeds lists the units that a patch makes different from the good board by itself.
func (o *Overlay) findSeeds(p *Program) {
	c := p.C
	wake := func(pos int32) {
		if pos >= 0 {
			o.seeds = append(o.seeds, pos)
		}
	}
	net := func(n int) {
		if n != circuit.None && p.groupOf[n] >= 0 {
			wake(p.groupPos[p.groupOf[n]])
		}
	}
	link := func(l int) {
		net(c.Links[l].A)
		net(c.Links[l].B)
	}
	for _, f := range o.patches {
		switch f.Kind {
		case NetLow, NetHigh:
			net(f.Index)
		case Bridge:
			net(f.Index)
			net(f.Other)
		case LinkOpen, LinkShort, LinkMaybe:
			link(f.Index)
		case Dark:
			link(c.Lamps[f.Index].Link)
		case SrcLow, SrcHigh, SrcDead:
			net(c.Inputs[f.Index].Net)
		default:
			pin := &c.Pins[f.Index]
			net(pin.Net)
			net(pin.Inside)
			wake(p.hearPos[f.Index])
			if f.Kind == JointOpen {
				o.jointSeeds(p, f.Index, link)
			}
		}
	}
	for l := range o.loopX {
		wake(p.loopPos[l])
	}
	slices.Sort(o.seeds)
	o.seeds = slices.Compact(o.seeds)
}

// jointSeeds wakes what an open joint cuts off, and lets the pin's own input listen to its own driver.
func (o *Overlay) jointSeeds(p *Program, pin int, link func(int)) {
	c := p.C
	for _, l := range c.Parts[c.Pins[pin].Part].Links {
		x := &c.Links[l]
		if x.PinA == pin || x.PinB == pin || x.CtlPin == pin || x.Ctl2Pin == pin {
			link(l)
		}
	}
	if d := c.Pins[pin].Driver; d != circuit.None && p.hearPos[pin] >= 0 {
		if o.extra == nil {
			o.extra = map[int32][]int32{}
		}
		for _, r := range []ref{p.drivers[d].val, p.drivers[d].cond} {
			o.extra[r.node()] = append(o.extra[r.node()], p.hearPos[pin])
		}
	}
}

// reaches tells whether gates lead from group a to group b without passing storage.
func (p *Program) reaches(a, b int32) bool {
	v, ok := p.reach.Load(a)
	if !ok {
		v = p.downstream(a)
		p.reach.Store(a, v)
	}
	set := v.([]uint64)
	return set[b>>6]>>(b&63)&1 == 1
}

func (p *Program) downstream(g int32) []uint64 {
	groups, seen := make([]uint64, len(p.groups)/64+1), make([]bool, len(p.units))
	var todo []int32
	push := func(list []int32) {
		for _, pos := range list {
			if !seen[pos] {
				seen[pos] = true
				todo = append(todo, pos)
			}
		}
	}
	node := func(n int32) { push(p.nodeFan[n]) }
	net := func(n int32) {
		push(p.netFan[n])
		groups[p.groupOf[n]>>6] |= 1 << (p.groupOf[n] & 63)
	}
	for _, n := range p.groups[g].nets {
		push(p.netFan[n])
		if l := p.netLoop[n]; l >= 0 {
			push([]int32{p.loopPos[l]})
		}
	}
	for len(todo) > 0 {
		u := p.units[todo[len(todo)-1]]
		todo = todo[:len(todo)-1]
		if u.kind == uLoop {
			for _, m := range p.loops[u.index].members {
				p.produced(m, node, net)
			}
			continue
		}
		p.produced(u, node, net)
	}
	return groups
}
