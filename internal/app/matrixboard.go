package app

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/matrix"
	"halfsplit/internal/core/part"
)

// KeysOf finds the key matrix of a board: switches that join two lines of a grid, with or without a diode in series. Rows are the lines that are heard,
// columns those that are driven. It returns the largest such grid; notes say what was left out.
func KeysOf(c *circuit.Circuit) (matrix.Layout, []string, error) {
	var es []keyEdge
	var notes []string
	for li, l := range c.Links {
		if l.Kind != circuit.Contact1 {
			continue
		}
		e := keyEdge{ref: c.ElementName(li)}
		var da, db int
		e.a, da = behind(c, outside(c, l.A), l.Part)
		e.b, db = behind(c, outside(c, l.B), l.Part)
		e.diode = da != 0 || db != 0
		if da < 0 || db > 0 { // current enters at b: turn it round, so that it goes from a to b
			e.a, e.b = e.b, e.a
		}
		if e.a == e.b || c.Nets[e.a].Rail || c.Nets[e.b].Rail {
			notes = append(notes, e.ref+" is no key of a matrix: it goes to a supply")
			continue
		}
		es = append(es, e)
	}
	es = largest(es)
	if len(es) < 2 {
		return matrix.Layout{}, nil, fmt.Errorf("no key matrix on this board: no two switches share a line; give --rows and --columns instead")
	}
	side, ok := colour(es)
	if !ok {
		return matrix.Layout{}, nil, fmt.Errorf("the switches form no grid of rows and columns (some lines would be both); give --rows and --columns instead")
	}
	lines := [2][]int{}
	for n, s := range side {
		lines[s] = append(lines[s], n)
	}
	rows := 0
	if drivenness(c, lines[0]) > drivenness(c, lines[1]) || drivenness(c, lines[0]) == drivenness(c, lines[1]) && len(lines[0]) > len(lines[1]) {
		rows = 1
	}
	if len(lines[0]) < 2 && len(lines[1]) < 2 {
		return matrix.Layout{}, nil, fmt.Errorf("no key matrix on this board: the switches share no line")
	}
	l := matrix.Layout{Addressed: true}
	index := map[int]int{}
	order := [2][]int{sorted(c, lines[rows]), sorted(c, lines[1-rows])}
	for i, n := range order[0] {
		l.Rows, index[n] = append(l.Rows, c.NetName(n)), i
	}
	for i, n := range order[1] {
		l.Columns, index[n] = append(l.Columns, c.NetName(n)), i
	}
	taken := map[[2]int]string{}
	against := 0
	for _, e := range es {
		r, k := e.a, e.b
		if side[e.a] != rows {
			r, k = e.b, e.a
			if e.diode {
				against++
			}
		}
		if other, ok := taken[[2]int{r, k}]; ok {
			notes = append(notes, e.ref+" lies parallel to "+other+" and is left out")
			continue
		}
		taken[[2]int{r, k}] = e.ref
		l.Keys = append(l.Keys, matrix.Key{Name: e.ref, Row: index[r], Column: index[k], Diode: e.diode})
	}
	if against > 0 && against < len(l.Keys) {
		notes = append(notes, fmt.Sprintf("%d of %d diodes point the other way than the rest: check the board file", min(against, len(l.Keys)-against), len(l.Keys)))
	}
	slices.SortStableFunc(l.Keys, func(a, b matrix.Key) int { return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column)) })
	l.Chips = keyChips(c, order)
	return l, notes, l.Check()
}

// keyEdge joins two lines; with a diode, current goes from a to b.
type keyEdge struct {
	ref   string
	a, b  int
	diode bool
}

// outside is the net on which the pin of an inside end is soldered: several contacts of a switch may share a pin.
func outside(c *circuit.Circuit, net int) int {
	for _, p := range c.Nets[net].Pins {
		if c.Pins[p].Inside == net {
			return c.Pins[p].Net
		}
	}
	return net
}

// behind follows a net that only joins a contact to a diode or a resistor: the line beyond, and +1 when current leaves the contact through the diode
// there, −1 when it enters, 0 for no diode.
func behind(c *circuit.Circuit, net, contact int) (line, way int) {
	if c.Nets[net].Rail || len(c.Nets[net].Pins) != 2 {
		return net, 0
	}
	for _, li := range c.Nets[net].Links {
		l := c.Links[li]
		if l.Part == contact || l.Kind != circuit.Diode && l.Kind != circuit.Resistor {
			continue
		}
		other, dir := l.B, 1
		if l.B == net {
			other, dir = l.A, -1
		}
		if l.Kind == circuit.Resistor {
			dir = 0
			if c.Nets[other].Rail {
				continue // a pull-up of a line with one key
			}
		}
		return other, dir
	}
	return net, 0
}

// largest keeps the edges of the connected group with the most keys; ties go to the group found first.
func largest(es []keyEdge) []keyEdge {
	group := map[int]int{}
	var find func(int) int
	find = func(n int) int {
		if p, ok := group[n]; ok && p != n {
			return find(p)
		}
		return n
	}
	for _, e := range es {
		group[find(e.a)] = find(e.b)
	}
	count, best := map[int]int{}, -1
	for _, e := range es {
		count[find(e.a)]++
	}
	for _, e := range es {
		if g := find(e.a); best < 0 || count[g] > count[best] {
			best = g
		}
	}
	return slices.DeleteFunc(slices.Clone(es), func(e keyEdge) bool { return find(e.a) != best })
}

// colour splits the lines into two sides so that every key joins one of each.
func colour(es []keyEdge) (map[int]int, bool) {
	side := map[int]int{es[0].a: 0}
	for again := true; again; {
		again = false
		for _, e := range es {
			sa, oka := side[e.a]
			sb, okb := side[e.b]
			switch {
			case oka && okb && sa == sb:
				return nil, false
			case oka && !okb:
				side[e.b], again = 1-sa, true
			case okb && !oka:
				side[e.a], again = 1-sb, true
			}
		}
	}
	return side, true
}

// drivenness counts the lines with an output or an input from outside on them.
func drivenness(c *circuit.Circuit, nets []int) int {
	n := 0
	for _, i := range nets {
		if len(c.Nets[i].Drivers) > 0 || c.Nets[i].Input != circuit.None {
			n++
		}
	}
	return n
}

// sorted puts lines in the order in which they are scanned as far as names tell: by the name of the chip's pin, then of the net.
func sorted(c *circuit.Circuit, nets []int) []int {
	out := slices.Clone(nets)
	slices.SortFunc(out, func(a, b int) int {
		return cmp.Or(natural(pinNameOn(c, a), pinNameOn(c, b)), natural(c.NetName(a), c.NetName(b)), cmp.Compare(a, b))
	})
	return out
}

// pinNameOn is the chip and pin name that drives a line, or hears it.
func pinNameOn(c *circuit.Circuit, net int) string {
	for _, use := range []part.Use{part.Driven, part.Heard} {
		for _, p := range c.Nets[net].Pins {
			if c.Pins[p].Use&use != 0 {
				return c.Parts[c.Pins[p].Part].Ref + "." + c.Parts[c.Pins[p].Part].Type.Nodes[c.Pins[p].Node].Name
			}
		}
	}
	return ""
}

// natural compares names with numbers in them by their numbers: COL2 before COL10.
func natural(a, b string) int {
	for a != "" && b != "" {
		na, nb := leadingDigits(a), leadingDigits(b)
		if na > 0 && nb > 0 {
			x, y := strings.TrimLeft(a[:na], "0"), strings.TrimLeft(b[:nb], "0")
			if c := cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y)); c != 0 {
				return c
			}
			a, b = a[na:], b[nb:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func leadingDigits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// keyChips lists the chips that drive two or more columns or hear two or more rows.
func keyChips(c *circuit.Circuit, order [2][]int) []matrix.Chip {
	rows, columns := map[int][]int{}, map[int][]int{}
	note := func(m map[int][]int, p circuit.Pin, i int) {
		if s := m[p.Part]; len(s) == 0 || s[len(s)-1] != i {
			m[p.Part] = append(m[p.Part], i)
		}
	}
	for i, n := range order[0] {
		for _, p := range c.Nets[n].Pins {
			if c.Pins[p].Use&part.Heard != 0 {
				note(rows, c.Pins[p], i)
			}
		}
	}
	for i, n := range order[1] {
		for _, p := range c.Nets[n].Pins {
			if c.Pins[p].Use&part.Driven != 0 {
				note(columns, c.Pins[p], i)
			}
		}
	}
	var out []matrix.Chip
	for i, p := range c.Parts {
		if len(rows[i]) > 1 || len(columns[i]) > 1 {
			out = append(out, matrix.Chip{Name: p.Ref, Rows: rows[i], Columns: columns[i]})
		}
	}
	return out
}
