package oracle

// A printed function table of a flip-flop or latch, turned into clauses: what acts at once (clear before set), then
// the clock edge.

import (
	"fmt"
	"strings"
)

// flop makes the clauses of the table's bit. Rows that print Z say nothing about the bit.
func (c *compiler) flop(f *Function) error {
	r := c.regs[f.State]
	store := map[string]bool{}
	for _, name := range f.Store {
		store[name] = true
	}
	use := make([]bool, len(f.In))
	for i, name := range f.In {
		use[i] = len(f.Store) == 0 || store[name]
	}
	clock, edge := activeEdge(f)
	if clock < 0 {
		for i := range f.Async {
			f.Async[i] = true
		}
	}
	low, high, inactive, err := asyncCubes(f, clock, use)
	if err != nil {
		return err
	}
	for i, cubes := range [][]string{low, high} {
		if len(cubes) == 0 {
			continue
		}
		when, err := c.expression(strings.Join(cubes, " | "), 1)
		if err != nil {
			return err
		}
		value, err := c.expression(fmt.Sprintf("1'b%d", i), 1)
		if err != nil {
			return err
		}
		r.clauses = append(r.clauses, clause{"level", when, value})
	}
	if clock < 0 {
		return nil
	}
	text, err := edgeValue(f, clock, edge, use, inactive)
	if err != nil {
		return err
	}
	when, err := c.expression(f.In[clock], 1)
	if err != nil {
		return err
	}
	value, err := c.expression(text, 1)
	if err != nil {
		return err
	}
	r.clauses = append(r.clauses, clause{map[rune]string{'↑': "rise", '↓': "fall"}[edge], when, value})
	return nil
}

// activeEdge finds the clock column and the edge at which the table prints a definite outcome; -1: there is none.
func activeEdge(f *Function) (column int, edge rune) {
	for _, row := range f.Rows {
		for i, c := range row.In {
			if (c == '↑' || c == '↓') && (row.Out[0] == 'H' || row.Out[0] == 'L') {
				return i, c
			}
		}
	}
	return -1, 0
}

// asyncCubes gives the conditions, as Verilog products, under which the bit is 0 and 1 at once, and for each column
// that acts at once the level at which it does nothing (0 where the table has no such column).
func asyncCubes(f *Function, clock int, use []bool) (low, high []string, inactive []rune, err error) {
	inactive = make([]rune, len(f.In))
	for _, row := range f.Rows {
		if clock >= 0 && row.In[clock] != '↑' && row.In[clock] != '↓' {
			continue
		}
		for i, c := range row.In {
			if clock >= 0 && f.Async[i] {
				inactive[i] = c
			}
		}
	}
	for _, row := range f.Rows {
		acts := false
		var terms []string
		for i, c := range row.In {
			if !f.Async[i] || !use[i] || c == 'X' {
				continue
			}
			acts = acts || c != inactive[i]
			terms = append(terms, literal(f.In[i], c))
		}
		if !acts || row.Out[0] == 'Q' || row.Out[0] == 'Z' {
			continue
		}
		product := "(" + strings.Join(terms, " & ") + ")"
		both := len(row.Out) == 2 && row.Out[1] == row.Out[0]
		switch {
		case row.Out[0] == 'L' || both:
			low = append(low, product)
		case row.Out[0] == 'H':
			high = append(high, product)
		default:
			return nil, nil, nil, fmt.Errorf("line %d: output %c without an edge", row.Line, row.Out[0])
		}
	}
	return low, high, inactive, nil
}

// edgeValue gives what the bit becomes at the edge as a sum of products over the columns that do not act at once and
// the bit itself. Every combination of them must have a row.
func edgeValue(f *Function, clock int, edge rune, use []bool, inactive []rune) (string, error) {
	var data []int
	for i := range f.In {
		if i != clock && !f.Async[i] && use[i] {
			data = append(data, i)
		}
	}
	values := make([]rune, 1<<len(data))
	for _, row := range f.Rows {
		if (row.In[clock] != edge && row.In[clock] != 'X') || row.Out[0] == 'Z' {
			continue
		}
		active := false
		for i, c := range row.In {
			active = active || (f.Async[i] && c != inactive[i])
		}
		if active {
			continue
		}
		for w := range values {
			fits := true
			for k, i := range data {
				level := rune('L')
				if w>>k&1 == 1 {
					level = 'H'
				}
				fits = fits && (row.In[i] == 'X' || row.In[i] == level)
			}
			if !fits {
				continue
			}
			if values[w] != 0 && values[w] != row.Out[0] {
				return "", fmt.Errorf("line %d contradicts an earlier row", row.Line)
			}
			values[w] = row.Out[0]
		}
	}
	var terms []string
	for w, v := range values {
		var product []string
		for k, i := range data {
			product = append(product, literal(f.In[i], rune("LH"[w>>k&1])))
		}
		switch v {
		case 'H':
		case 'L':
			continue
		case 'Q':
			product = append(product, f.State)
		case 'N':
			product = append(product, "~"+f.State)
		default:
			return "", fmt.Errorf("no row for input word %b at the edge", w)
		}
		terms = append(terms, "("+strings.Join(product, " & ")+")")
	}
	return strings.Join(terms, " | "), nil
}

func literal(name string, level rune) string {
	if level == 'L' {
		return "~" + name
	}
	return name
}
