package sim_test

import (
	"slices"

	"halfsplit/internal/core/board"
)

// Making a disagreement small: parts, pins, inputs, actions, settings and faults are taken away while it stays.

func (tr *trial) clone() *trial {
	out := *tr
	out.parts = slices.Clone(tr.parts)
	for i := range out.parts {
		out.parts[i].Pins = slices.Clone(out.parts[i].Pins)
	}
	out.inputs = slices.Clone(tr.inputs)
	out.actions = slices.Clone(tr.actions)
	for i := range out.actions {
		out.actions[i] = slices.Clone(out.actions[i])
		for k := range out.actions[i] {
			out.actions[i][k].Sets = slices.Clone(out.actions[i][k].Sets)
		}
	}
	out.bench = slices.Clone(tr.bench)
	out.lanes = slices.Clone(tr.lanes)
	for i := range out.lanes {
		out.lanes[i] = slices.Clone(out.lanes[i])
	}
	return &out
}

// fails tells how the trial disagrees now; a board that cannot be built does not count.
func (tr *trial) fails(cut int) string {
	c := tr.build()
	if c == nil {
		return ""
	}
	_, how, _ := tr.compare(c, min(cut, len(tr.actions)))
	return how
}

// shrink returns the smallest trial that it finds, and how that disagrees. The disagreement is in one lane, but others may have a part in it.
func (tr *trial) shrink(lane, cut int) (*trial, string) {
	best := tr.clone()
	best.lanes = [][]fault{best.lanes[lane]}
	how := best.fails(cut)
	if how == "" {
		best = tr.clone()
	}
	for smaller := true; smaller; {
		smaller = false
		for i := 0; ; i++ {
			next := best.clone()
			if !next.without(i) {
				break
			}
			if h := next.fails(cut); h != "" {
				best, how, smaller = next, h, true
				i--
			}
		}
	}
	return best, how
}

// without takes away the i-th thing that can be taken away; false when there is none.
func (tr *trial) without(i int) bool {
	took := false
	try := func(n int, take func(k int)) {
		if !took && i < n {
			take(i)
			took = true
		}
		i -= n
	}
	try(len(tr.parts), func(k int) { tr.parts = slices.Delete(tr.parts, k, k+1) })
	try(len(tr.actions), func(k int) { tr.actions = slices.Delete(tr.actions, k, k+1) })
	try(len(tr.bench), func(k int) { tr.bench = slices.Delete(tr.bench, k, k+1) })
	if len(tr.lanes) > 1 {
		try(len(tr.lanes), func(k int) { tr.lanes = slices.Delete(tr.lanes, k, k+1) })
	}
	for l := range tr.lanes {
		try(len(tr.lanes[l]), func(k int) { tr.lanes[l] = slices.Delete(tr.lanes[l], k, k+1) })
	}
	for a := range tr.actions {
		try(len(tr.actions[a]), func(k int) { tr.actions[a] = slices.Delete(tr.actions[a], k, k+1) })
	}
	for a := range tr.actions {
		for s := range tr.actions[a] {
			try(len(tr.actions[a][s].Sets), func(k int) {
				tr.actions[a][s].Sets = slices.Delete(tr.actions[a][s].Sets, k, k+1)
			})
		}
	}
	try(len(tr.inputs), func(k int) {
		gone := tr.inputs[k]
		tr.inputs = slices.Delete(tr.inputs, k, k+1)
		for a := range tr.actions {
			tr.actions[a] = slices.DeleteFunc(tr.actions[a], func(s board.Step) bool { return s.Pulse.Text == gone })
			for s := range tr.actions[a] {
				tr.actions[a][s].Sets = slices.DeleteFunc(tr.actions[a][s].Sets, func(x board.Set) bool { return x.Net == gone })
			}
		}
	})
	for p := range tr.parts {
		var wired []int
		for k, w := range tr.parts[p].Pins {
			if w.Net != "-" && w.Net != "VCC" && w.Net != "GND" {
				wired = append(wired, k)
			}
		}
		try(len(wired), func(k int) { tr.parts[p].Pins[wired[k]].Net = "-" })
	}
	return took
}
