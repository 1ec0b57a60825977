package oracle

// From the statements of a record to the functions of a model.

import (
	"fmt"
	"strings"
)

type compiler struct {
	m      *Model
	s      *Section
	unit   map[string]int
	prefix string
	regs   map[string]*register
}

func (c *compiler) section() error {
	c.regs = map[string]*register{}
	for _, st := range c.s.States {
		r := &register{name: c.prefix + "_" + st.Name, width: st.Width, offset: c.m.bits, pulse: st.Pulse}
		c.m.bits += st.Width
		c.m.registers = append(c.m.registers, r)
		c.regs[st.Name] = r
	}
	if err := c.memory(); err != nil {
		return err
	}
	for _, f := range c.s.Functions {
		if err := c.flop(f); err != nil {
			return err
		}
	}
	for _, cl := range c.s.Clauses {
		r, ok := c.regs[cl.State]
		if !ok {
			return fmt.Errorf("no register %q", cl.State)
		}
		when, err := c.expression(cl.When, 1)
		if err != nil {
			return err
		}
		value, err := c.expression(cl.Text, r.width)
		if err != nil {
			return err
		}
		r.clauses = append(r.clauses, clause{cl.Kind, when, value})
	}
	for _, o := range c.s.Outs {
		pin, err := c.pin(o.Pin)
		if err != nil {
			return err
		}
		f, err := c.expression(o.Text, 1, o.When)
		if err != nil {
			return err
		}
		f.kind = o.Kind
		f.full = map[string]string{"out": "3'b011", "oc": "3'b101", "tri": "3'b111"}[o.Kind]
		c.m.drivers = append(c.m.drivers, driver{pin, f})
	}
	for _, t := range c.s.Tables {
		if err := c.table(t); err != nil {
			return err
		}
	}
	return nil
}

func (c *compiler) pin(name string) (int, error) {
	if n, ok := c.unit[name]; ok {
		return n, nil
	}
	return 0, fmt.Errorf("no pin %q", name)
}

func (c *compiler) pins(names []string) ([]int, error) {
	var list []int
	for _, name := range names {
		n, err := c.pin(name)
		if err != nil {
			return nil, err
		}
		list = append(list, n)
	}
	return list, nil
}

func (c *compiler) add(f *function) *function {
	f.name = fmt.Sprintf("%s_%d", c.m.name, len(c.m.functions))
	c.m.functions = append(c.m.functions, f)
	return f
}

func (c *compiler) memory() error {
	mem := c.s.Memory
	if mem == nil {
		return nil
	}
	a, err := c.pins(mem.Address)
	if err != nil {
		return err
	}
	d, err := c.pins(mem.Data)
	if err != nil {
		return err
	}
	if mem.Words != 1<<len(a) || (mem.Write != "" && len(d) != mem.Bits) {
		return fmt.Errorf("memory of %d words with %d address pins, %d bits with %d data pins", mem.Words, len(a), mem.Bits, len(d))
	}
	c.m.memory = &memoryArray{words: mem.Words, bits: mem.Bits, address: a, data: d}
	if mem.Write != "" {
		c.m.memory.write, err = c.expression(mem.Write, 1)
	}
	return err
}

// column gives the leaf of a table's input column: a pin, or a stored bit written as q[2] or s.
func (c *compiler) column(name string) (leaf, error) {
	if pin, ok := c.unit[name]; ok {
		return leaf{pinLeaf, pin}, nil
	}
	base, index, _ := strings.Cut(strings.TrimSuffix(name, "]"), "[")
	r, ok := c.regs[base]
	bit := 0
	if index != "" {
		if _, err := fmt.Sscanf(index, "%d", &bit); err != nil {
			return leaf{}, err
		}
	}
	if !ok || bit >= r.width {
		return leaf{}, fmt.Errorf("no pin or register %q", name)
	}
	return leaf{stateLeaf, r.offset + bit}, nil
}

// table makes one function for each output of a truth table, over the inputs that this output really depends on.
func (c *compiler) table(t *Table) error {
	var leaves []leaf
	for _, name := range t.In {
		l, err := c.column(name)
		if err != nil {
			return err
		}
		leaves = append(leaves, l)
	}
	for o, name := range t.Out {
		values, err := tabulate(t.Rows, len(t.In), o)
		if err != nil {
			return fmt.Errorf("output %s: %w", name, err)
		}
		f := tableFunction(t.Rows, values, leaves, o, t.OpenCollector)
		if sw := c.findSwitch(name); sw != nil {
			a, err := c.pin(sw.A)
			if err != nil {
				return err
			}
			b, err := c.pin(sw.B)
			if err != nil {
				return err
			}
			c.m.switches = append(c.m.switches, switchLink{a, b, c.add(f)})
			continue
		}
		pin, err := c.pin(name)
		if err != nil {
			return err
		}
		c.m.drivers = append(c.m.drivers, driver{pin, c.add(f)})
	}
	return nil
}

func (c *compiler) findSwitch(name string) *Switch {
	for i := range c.s.Switches {
		if c.s.Switches[i].Name == name {
			return &c.s.Switches[i]
		}
	}
	return nil
}

// tabulate gives the output for every input word (bit i of the index is column i). A word that no row, or two rows
// of different outcome, match is an error: a printed table has no order of rows.
func tabulate(rows []Row, n, out int) ([]rune, error) {
	values := make([]rune, 1<<n)
	for _, row := range rows {
		for w := range values {
			if !matches(row, w) {
				continue
			}
			if values[w] != 0 && values[w] != row.Out[out] {
				return nil, fmt.Errorf("line %d contradicts an earlier row", row.Line)
			}
			values[w] = row.Out[out]
		}
	}
	for w, v := range values {
		if v == 0 {
			return nil, fmt.Errorf("no row for input word %0*b (first column last)", n, w)
		}
	}
	return values, nil
}

func matches(row Row, word int) bool {
	for i, c := range row.In {
		if (c == 'H' && word>>i&1 == 0) || (c == 'L' && word>>i&1 == 1) {
			return false
		}
	}
	return true
}

func tableFunction(rows []Row, values []rune, leaves []leaf, out int, oc bool) *function {
	f := &function{kind: "table", width: 3}
	var used []int
	for i := range leaves {
		for w := range values {
			if values[w] != values[w^1<<i] {
				used = append(used, i)
				f.leaves = append(f.leaves, leaves[i])
				break
			}
		}
	}
	levels := map[rune]string{'L': "001", 'H': "010", 'Z': "100"}
	if oc {
		levels['H'] = "100"
	}
	mask := 0
	pattern := func(row Row) string {
		var b strings.Builder
		for i := len(used) - 1; i >= 0; i-- {
			b.WriteByte(map[rune]byte{'H': '1', 'L': '0', 'X': '?'}[row.In[used[i]]])
		}
		return b.String()
	}
	for _, v := range values {
		bit := 0
		fmt.Sscanf(levels[v], "%b", &bit)
		mask |= bit
	}
	f.full = fmt.Sprintf("3'b%03b", mask)
	if len(used) == 0 {
		f.lines = []string{fmt.Sprintf("r = 3'b%s;", levels[values[0]])}
		return f
	}
	f.lines = append(f.lines, "casez (v)")
	seen := map[string]bool{}
	for _, row := range rows {
		p := pattern(row)
		if !seen[p] {
			seen[p] = true
			f.lines = append(f.lines, fmt.Sprintf("  %d'b%s: r = 3'b%s;", len(used), p, levels[row.Out[out]]))
		}
	}
	f.lines = append(f.lines, "  default: r = 3'bxxx;", "endcase")
	return f
}
