package weak

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Which parts the search for the least size must consider. When every way from part A to all that was seen leads through the outputs of part B,
// then B alone can do whatever A and B do together: A need not be considered. (Known in the literature of diagnosis as cones or dominators.)

// tops gives the parts that no other part stands in front of, and all parts from which some way leads to what was seen.
func (p *plan) tops() (top, reach []bool) {
	n := len(p.c.Parts)
	next := make([][]int, n+1) // part → parts that hear it; n is the end: what was seen
	for i, hears := range p.hearers() {
		next[i] = hears
	}
	prev := make([][]int, n+1)
	for i, list := range next {
		for _, k := range list {
			prev[k] = append(prev[k], i)
		}
	}
	order := make([]int, n+1) // position in postorder of the walk back from the end; the end is last
	for i := range order {
		order[i] = circuit.None
	}
	var post []int
	type step struct{ at, k int }
	stack := []step{{n, 0}}
	order[n] = 0
	for len(stack) > 0 {
		s := &stack[len(stack)-1]
		if s.k < len(prev[s.at]) {
			to := prev[s.at][s.k]
			s.k++
			if order[to] == circuit.None {
				order[to] = 0
				stack = append(stack, step{to, 0})
			}
			continue
		}
		order[s.at] = len(post)
		post = append(post, s.at)
		stack = stack[:len(stack)-1]
	}
	idom := slices.Repeat([]int{circuit.None}, n+1)
	idom[n] = n
	for changed := true; changed; {
		changed = false
		for i := len(post) - 2; i >= 0; i-- {
			b, d := post[i], circuit.None
			for _, k := range next[b] {
				switch {
				case order[k] == circuit.None || idom[k] == circuit.None:
				case d == circuit.None:
					d = k
				default:
					for d != k {
						for order[d] < order[k] {
							d = idom[d]
						}
						for order[k] < order[d] {
							k = idom[k]
						}
					}
				}
			}
			if d != idom[b] {
				idom[b], changed = d, true
			}
		}
	}
	top, reach = make([]bool, n), make([]bool, n)
	for i := range n {
		reach[i] = order[i] != circuit.None && p.canFail(i)
		top[i] = reach[i] && (idom[i] == n || !p.stands(idom[i]))
	}
	return top, reach
}

// canFail tells whether a part does anything that could be wrong.
func (p *plan) canFail(part int) bool {
	x := &p.c.Parts[part]
	return len(x.Drivers)+len(x.Links)+len(x.Lamps) > 0
}

// stands tells whether a part that is bad can take the blame for all that comes through it: a part with links cannot, because being bad it still
// only joins its own ends.
func (p *plan) stands(part int) bool {
	x := &p.c.Parts[part]
	return len(x.Drivers) > 0 && len(x.Links) == 0
}

// hearers lists, for each part, the parts that what it does can move, and the number of parts where that is seen directly.
func (p *plan) hearers() [][]int {
	c := p.c
	n := len(c.Parts)
	seen := make([]bool, len(c.Nets))
	lampSeen := make([]bool, len(c.Lamps))
	for _, x := range p.xs {
		for _, s := range x.Seen {
			if s.Look == Lamp {
				lampSeen[s.Lamp] = true
				continue
			}
			seen[s.Place.Net] = true
			if s.Place.Pin != circuit.None && c.Pins[s.Place.Pin].Inside != circuit.None {
				seen[c.Pins[s.Place.Pin].Inside] = true
			}
		}
	}
	touch := make([][]int, len(c.Nets)) // parts that hear a net, or pass it on
	for i := range c.Pins {
		q := &c.Pins[i]
		if q.Use&(part.Heard|part.Linked) == 0 {
			continue
		}
		touch[q.Net] = append(touch[q.Net], q.Part)
		if q.Inside != circuit.None {
			touch[q.Inside] = append(touch[q.Inside], q.Part)
		}
	}
	out := make([][]int, n)
	for i := range c.Pins {
		q := &c.Pins[i]
		if q.Use&(part.Driven|part.Linked) == 0 {
			continue
		}
		for _, net := range []int{q.Net, q.Inside} {
			if net == circuit.None || c.Nets[net].Rail {
				continue
			}
			if seen[net] {
				out[q.Part] = append(out[q.Part], n)
			}
			for _, to := range touch[net] {
				if to != q.Part {
					out[q.Part] = append(out[q.Part], to)
				}
			}
		}
	}
	for i := range c.Lamps {
		if lampSeen[i] {
			out[c.Lamps[i].Part] = append(out[c.Lamps[i].Part], n)
		}
	}
	for i := range out {
		slices.Sort(out[i])
		out[i] = slices.Compact(out[i])
	}
	return out
}
