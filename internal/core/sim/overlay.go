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
	o.findOdd(p)
	o.joinGroups(p)
	o.findSupply(p)
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

// joinGroups makes a bigger group of the groups that bridges connect in a lane. Bridges of different lanes never meet, so each has a super
// of its own; only those that share a group and a lane are joined.
func (o *Overlay) joinGroups(p *Program) {
	for _, f := range o.patches {
		if l := p.C.Links; f.Kind == LinkShort && !p.C.Nets[l[f.Index].A].Rail && !p.C.Nets[l[f.Index].B].Rail {
			o.mixFamilies(p, l[f.Index].A, l[f.Index].B, f.Lanes)
		}
	}
	if len(o.bridges) == 0 {
		return
	}
	root := make([]int, len(o.bridges))
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	at := map[int32][]int{} // group → bridges
	for i := range o.bridges {
		b := &o.bridges[i]
		ga, gb := p.groupOf[b.a], p.groupOf[b.b]
		la, lb := p.netLoop[b.a], p.netLoop[b.b]
		b.feedback = ga != gb && (la < 0 && lb < 0 && (p.reaches(ga, gb) || p.reaches(gb, ga)) || la != lb)
		o.mixFamilies(p, int(b.a), int(b.b), b.lanes)
		if b.feedback {
			o.growLoops(p, ga, gb, b.lanes)
		}
		root[i] = i
		for _, g := range []int32{ga, gb} {
			for _, j := range at[g] {
				if o.bridges[j].lanes&b.lanes != 0 {
					x, y := find(i), find(j)
					root[max(x, y)] = min(x, y)
				}
			}
			at[g] = append(at[g], i)
		}
	}
	o.findCircles(p)
	o.superOf = map[int32][]int32{}
	index := map[int]int32{}
	for i, b := range o.bridges {
		r := find(i)
		s, ok := index[r]
		if !ok {
			s = int32(len(o.supers))
			index[r] = s
			o.supers = append(o.supers, super{pos: p.groupPos[p.groupOf[b.a]]})
		}
		o.supers[s].take(p, b)
		for _, g := range []int32{p.groupOf[b.a], p.groupOf[b.b]} {
			if !slices.Contains(o.superOf[g], s) {
				o.superOf[g] = append(o.superOf[g], s)
			}
		}
	}
	for i := range o.supers {
		s := &o.supers[i]
		o.circular = o.circular || s.feedback != 0
		s.pair = len(s.bridges) == 1 && len(s.nets) == 2 && o.plain(p, s.nets[0], s.nets[1])
	}
}

// plain tells whether two nets of different groups bring no more to a bridge than drivers and resistors to rails of one level.
func (o *Overlay) plain(p *Program, a, b int32) bool {
	var pull drive
	for _, n := range []int32{a, b} {
		g := p.groupOf[n]
		if !p.groups[g].simple || slices.Contains(o.odd, g) {
			return false
		}
		pull.add(p.groups[g].pull)
	}
	return p.groupOf[a] != p.groupOf[b] && pull.m0&pull.m1 == 0
}

// take adds a bridge and the groups at its ends.
func (s *super) take(p *Program, b bridge) {
	s.bridges = append(s.bridges, b)
	if b.feedback {
		s.feedback |= b.lanes
	}
	ga, gb := p.groupOf[b.a], p.groupOf[b.b]
	for _, g := range []int32{ga, gb} {
		if !slices.Contains(s.nets, p.groups[g].nets[0]) {
			s.nets = append(s.nets, p.groups[g].nets...)
			s.links = append(s.links, p.groups[g].links...)
		}
	}
	s.lanes = append(s.lanes, make([]uint64, len(s.nets)-len(s.lanes))...)
	for k, n := range s.nets {
		if g := p.groupOf[n]; g == ga || g == gb {
			s.lanes[k] |= b.lanes
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
	for n := range o.fightX { // the same fight may be heard otherwise
		for _, pos := range p.netFan[n] {
			wake(pos)
		}
		if l := p.netLoop[n]; l >= 0 {
			wake(p.loopPos[l])
		}
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
		for _, r := range []ref{p.drivers[d].val, p.drivers[d].cond, p.drivers[d].gate} {
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
