package sim_test

import (
	"fmt"
	"slices"
	"strings"

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

// text prints a trial for a person.
func (tr *trial) text() string {
	var b strings.Builder
	fmt.Fprintf(&b, "inputs %s\n", strings.Join(tr.inputs, " "))
	for _, p := range tr.parts {
		fmt.Fprintf(&b, "%s %s", p.Ref, p.Type)
		if p.HasValue {
			fmt.Fprintf(&b, " value=%g", p.Value)
		}
		if p.Closed {
			b.WriteString(" rests=closed")
		}
		m, _ := library().Find(p.Type)
		for _, w := range p.Pins {
			node := m.Type.Nodes[m.Type.Pins[m.Type.PinByName(w.Pin)[0]-1].Node]
			if w.Net != "-" && !node.Supply {
				fmt.Fprintf(&b, " %s(%s)=%s", w.Pin, node.Name, w.Net)
			}
		}
		b.WriteString("\n")
	}
	for _, steps := range tr.actions {
		for i, s := range steps {
			b.WriteString([]string{"go", "go:"}[min(i, 1)])
			for _, x := range s.Sets {
				v := fmt.Sprint(x.Value.Number)
				if x.Value.Letter != 0 {
					v = string(x.Value.Letter)
				}
				fmt.Fprintf(&b, " %s=%s", x.Net, v)
			}
			if s.Pulse.Text != "" {
				fmt.Fprintf(&b, " %s=~", s.Pulse.Text)
			}
			for _, x := range s.Press {
				fmt.Fprintf(&b, " +%s", x.Text)
			}
			for _, x := range s.Release {
				fmt.Fprintf(&b, " -%s", x.Text)
			}
			b.WriteString("\n")
		}
	}
	fmt.Fprintf(&b, "lifted %v\n", tr.bench)
	for lane, faults := range tr.lanes {
		fmt.Fprintf(&b, "lane %d faults %v\n", lane, faults)
	}
	return b.String()
}
