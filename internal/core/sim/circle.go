package sim

import "slices"

// A bridge that closes a loop of gates, alone or with others in its lane, makes that loop start from unknown: its nets are first taken as
// unknown and everything is settled, then they are settled themselves. That is done only in rounds in which something they
// depend on changes: until then they stand still.

// circleState is how a super is taken at the moment.
type circleState uint8

const (
	settles circleState = iota
	still               // keeps its levels; that it was to be computed is noted
	unknown             // its bridged nets are taken as unknown
)

// settle computes everything that the queue wakes, until nothing changes.
func (e *Engine) settle() {
	if e.ov == nil || !e.ov.circular {
		e.drain()
		return
	}
	supers := e.ov.supers
	for i := range supers {
		if supers[i].feedback != 0 {
			e.circle[i] = still
		}
	}
	e.dirty = e.dirty[:0]
	e.drain()
	for len(e.dirty) > 0 {
		now := e.together()
		e.dirty = e.dirty[:0]
		e.wakeSupers(now, unknown)
		e.drain()
		e.wakeSupers(now, settles)
		e.drain()
	}
	clear(e.circle[:len(supers)])
}

func (e *Engine) wakeSupers(list []int32, s circleState) {
	for _, i := range list {
		e.circle[i] = s
		e.wake(e.ov.supers[i].pos)
	}
}

// together adds to the supers that are to be computed those that share a lane with them.
func (e *Engine) together() []int32 {
	now := slices.Clone(e.dirty)
	lanes := uint64(0)
	for _, i := range now {
		lanes |= e.ov.supers[i].feedback
	}
	for more := true; more; {
		more = false
		for i := range e.ov.supers {
			f := e.ov.supers[i].feedback
			if f&lanes != 0 && !slices.Contains(now, int32(i)) {
				now = append(now, int32(i))
				lanes |= f
				more = true
			}
		}
	}
	return now
}

// stand leaves a super's nets as they are in its lanes.
func (e *Engine) stand(gr *group, own []NetLevel, su *super, si int32) {
	if !slices.Contains(e.dirty, si) {
		e.dirty = append(e.dirty, si)
	}
	for k, n := range su.nets {
		if i := slices.Index(gr.nets, n); i >= 0 {
			own[i] = e.netNow(n).pick(su.lanes[k], own[i])
		}
	}
}

// forget makes the nets at the ends of bridges that close a loop unknown in their lanes.
func (e *Engine) forget(su *super) {
	for k, n := range su.nets {
		for _, b := range su.bridges {
			if b.feedback && (b.a == n || b.b == n) {
				e.scratch.level[k] = NetLevel{all, all, all, all}.pick(b.lanes, e.scratch.level[k])
			}
		}
	}
}

// findCircles finds the bridges that close a loop only together with others of their lane.
func (o *Overlay) findCircles(p *Program) {
	byLane := map[uint64][]int{}
	for i, b := range o.bridges {
		byLane[b.lanes] = append(byLane[b.lanes], i)
	}
	for _, list := range byLane {
		if len(list) > 1 {
			o.circles(p, list)
		}
	}
}

// circles looks at the bridges of one lane. Bridges with a group in common are one end; where gates lead from one end to another and back,
// or from one group of an end to another, there is a loop.
func (o *Overlay) circles(p *Program, list []int) {
	ends := make([][]int32, 0, len(list))
	of := make([]int, len(list)) // bridge → end
	for k, i := range list {
		b := o.bridges[i]
		both := []int32{p.groupOf[b.a], p.groupOf[b.b]}
		of[k] = len(ends)
		ends = append(ends, both)
		for j := range k {
			if e := of[j]; e != of[k] && slices.ContainsFunc(ends[e], func(g int32) bool { return slices.Contains(ends[of[k]], g) }) {
				ends[of[k]] = append(ends[of[k]], ends[e]...)
				ends[e] = nil
				for x := range k {
					if of[x] == e {
						of[x] = of[k]
					}
				}
			}
		}
	}
	n := len(ends)
	leads := make([]bool, n*n)
	within := func(g, h int32) bool { // both in one loop of the good board: that loop is none of the bridges' making
		l := p.netLoop[p.groups[g].nets[0]]
		return l >= 0 && l == p.netLoop[p.groups[h].nets[0]]
	}
	for x := range ends {
		for y := range ends {
			for _, g := range ends[x] {
				for _, h := range ends[y] {
					leads[x*n+y] = leads[x*n+y] || g != h && !within(g, h) && p.reaches(g, h)
				}
			}
		}
	}
	for k := range n {
		for x := range n {
			for y := range n {
				leads[x*n+y] = leads[x*n+y] || leads[x*n+k] && leads[k*n+y]
			}
		}
	}
	for k, i := range list {
		x := of[k]
		if !leads[x*n+x] {
			continue
		}
		b := &o.bridges[i]
		b.feedback = true
		for y := range n {
			if !leads[x*n+y] || !leads[y*n+x] {
				continue
			}
			for _, g := range ends[x] {
				for _, h := range ends[y] {
					o.growLoops(p, g, h, b.lanes)
				}
			}
		}
	}
}
