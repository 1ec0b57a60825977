package memtest

// Fault models of one-bit cells, for finding out what a test detects and what it then shows. Classes and their numbers for n cells are those of the
// literature: stuck-at 2n, transition 2n, address decoder n·2 + 3·n(n−1), coupling inversion 2·n(n−1), idempotent and state 4·n(n−1) each.

// Class of fault.
type Class string

// The classes.
const (
	StuckAt    Class = "stuck-at"
	Transition Class = "transition"
	Address    Class = "address"
	Inversion  Class = "inversion coupling"
	Idempotent Class = "idempotent coupling"
	State      Class = "state coupling"
)

// Classes lists them in the usual order.
func Classes() []Class {
	return []Class{StuckAt, Transition, Address, Inversion, Idempotent, State}
}

// CellFault is one fault of a memory of one-bit cells. Victim and, for couplings and addresses, Other are cell indices. Rise is the aggressor's
// transition (or its state), To the value that is forced.
type CellFault struct {
	Class         Class
	Victim, Other int
	Rise, To      bool
	Reach         Reach
}

// Reach says what an address with a decoder fault reaches.
type Reach uint8

// Reaches of an address: no cell (reads To), the other cell instead, or both (reads their OR when To is set, else their AND).
const (
	NoCell Reach = iota
	OtherCell
	BothCells
)

// CellFaults lists every fault of a class for n cells.
func CellFaults(class Class, n int) []CellFault {
	var out []CellFault
	two := []bool{false, true}
	for v := range n {
		switch class {
		case StuckAt, Transition:
			for _, to := range two {
				out = append(out, CellFault{Class: class, Victim: v, To: to})
			}
			continue
		case Address:
			for _, to := range two {
				out = append(out, CellFault{Class: class, Victim: v, To: to, Reach: NoCell})
			}
		}
		for o := range n {
			if o == v {
				continue
			}
			switch class {
			case Address:
				out = append(out, CellFault{Class: class, Victim: v, Other: o, Reach: OtherCell})
				for _, or := range two {
					out = append(out, CellFault{Class: class, Victim: v, Other: o, To: or, Reach: BothCells})
				}
			case Inversion:
				for _, rise := range two {
					out = append(out, CellFault{Class: class, Victim: v, Other: o, Rise: rise})
				}
			case Idempotent, State:
				for _, rise := range two {
					for _, to := range two {
						out = append(out, CellFault{Class: class, Victim: v, Other: o, Rise: rise, To: to})
					}
				}
			}
		}
	}
	return out
}

// cells is a memory of one-bit cells with one fault.
type cells struct {
	f    CellFault
	bits []bool
}

// newCells starts with the given content.
func newCells(f CellFault, content []bool) *cells {
	c := &cells{f, append([]bool{}, content...)}
	if f.Class == StuckAt {
		c.bits[f.Victim] = f.To
	}
	return c
}

func (c *cells) write(a int, v bool) {
	f := c.f
	if f.Class == Address && a == f.Victim {
		switch f.Reach {
		case NoCell:
			return
		case OtherCell:
			a = f.Other
		case BothCells:
			c.bits[f.Other] = v
		}
	}
	old := c.bits[a]
	c.bits[a] = v
	switch {
	case f.Class == StuckAt && a == f.Victim:
		c.bits[a] = f.To
	case f.Class == Transition && a == f.Victim && old != v && v == f.To: // cannot change to To
		c.bits[a] = old
	case f.Class == Inversion && a == f.Other && old != v && v == f.Rise:
		c.bits[f.Victim] = !c.bits[f.Victim]
	case f.Class == Idempotent && a == f.Other && old != v && v == f.Rise:
		c.bits[f.Victim] = f.To
	}
	if f.Class == State && c.bits[f.Other] == f.Rise { // enforced after every write
		c.bits[f.Victim] = f.To
	}
}

func (c *cells) read(a int) bool {
	f := c.f
	if f.Class == Address && a == f.Victim {
		switch f.Reach {
		case NoCell:
			return f.To
		case OtherCell:
			return c.bits[f.Other]
		}
		if f.To {
			return c.bits[a] || c.bits[f.Other]
		}
		return c.bits[a] && c.bits[f.Other]
	}
	return c.bits[a]
}

// failing lists the elements with a failing read, by address.
func (m March) failing(c *cells) map[int][]int {
	out := map[int][]int{}
	m.Steps(len(c.bits), 1, []uint32{0}, func(s Step) bool {
		v := s.Data == 1
		switch {
		case !s.Read:
			c.write(s.Address, v)
		case c.read(s.Address) != v:
			if l := out[s.Address]; len(l) == 0 || l[len(l)-1] != s.Element {
				out[s.Address] = append(l, s.Element)
			}
		}
		return true
	})
	return out
}

// Coverage counts, for one class and n cells, the faults that a test detects whatever the memory held at first, and all of them.
func Coverage(m March, class Class, n int) (detected, all int) {
	for _, f := range CellFaults(class, n) {
		all++
		always := true
		for content := range 1 << n {
			if len(m.failing(newCells(f, contentOf(content, n)))) == 0 {
				always = false
				break
			}
		}
		if always {
			detected++
		}
	}
	return detected, all
}

func contentOf(bits, n int) []bool {
	out := make([]bool, n)
	for i := range out {
		out[i] = bits>>i&1 == 1
	}
	return out
}
