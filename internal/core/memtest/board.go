package memtest

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// Shape is a memory as the board has it: Words words of Width bits. Chips say which bits and addresses each holds; with none, one chip holds all.
type Shape struct {
	Words, Width int
	Chips        []Chip
}

// Chip holds the bits From.Low … of the words from First to Last.
type Chip struct {
	Name        string
	LowBit      int // lowest data bit
	Bits        int // number of bits: 1 for a 4116, 4 for a 2114
	First, Last int // addresses, inclusive
}

// Check refuses what is not simulated.
func (s Shape) Check() error {
	if s.Words < 2 || s.Words > MaxWords || s.Width < 1 || s.Width > MaxWidth {
		return fmt.Errorf("%d words of %d bits: 2 to %d words of 1 to %d bits are looked at", s.Words, s.Width, MaxWords, MaxWidth)
	}
	for _, c := range s.Chips {
		if c.Bits < 1 || c.LowBit < 0 || c.LowBit+c.Bits > s.Width || c.First < 0 || c.Last < c.First || c.Last >= s.Words {
			return fmt.Errorf("chip %s (bits %d to %d, addresses %X to %X) does not lie in a memory of %d words of %d bits", c.Name, c.LowBit, c.LowBit+c.Bits-1, c.First, c.Last, s.Words, s.Width)
		}
	}
	return nil
}

// addressLines is how many address lines the memory has.
func (s Shape) addressLines() int { return bits.Len(uint(s.Words - 1)) }

// Kind of board-level cause.
type Kind string

// The causes.
const (
	DataStuck      Kind = "data-line-stuck"
	DataShorted    Kind = "data-lines-shorted"
	AddressStuck   Kind = "address-line-stuck" // open counts as stuck: the chip's input floats to one level
	AddressShorted Kind = "address-lines-shorted"
	ChipDead       Kind = "chip-dead"
	CellBad        Kind = "cell"
	RowOrColumn    Kind = "row-or-column" // inside a chip: many cells that share address bits
)

// Cause is one thing that could be wrong with the memory.
type Cause struct {
	Kind Kind
	A, B int  // data bits, address lines, chip; for a cell address and bit
	High bool // the level it is stuck at; for shorts the higher level wins
}

// prior weighs causes against each other: estimates without a source. On boards of this age a chip fails more often than a line.
func (c Cause) prior() float64 {
	switch c.Kind {
	case ChipDead:
		return 0.3
	case CellBad, RowOrColumn:
		return 0.2
	case DataStuck, AddressStuck:
		return 0.1
	}
	return 0.03
}

// Text says a cause to a technician.
func (c Cause) Text(s Shape) string {
	lv := map[bool]string{false: "low", true: "high"}[c.High]
	win := map[bool]string{false: "the low one wins", true: "the high one wins"}[c.High]
	switch c.Kind {
	case DataStuck:
		return fmt.Sprintf("data line D%d is stuck %s for the whole memory: the line, its buffer, or an output of %s that drags it", c.A, lv, s.chipsOf(c.A))
	case DataShorted:
		return fmt.Sprintf("data lines D%d and D%d are shorted together (%s)", c.A, c.B, win)
	case AddressStuck:
		return fmt.Sprintf("address line A%d is stuck %s or open at the memory: pairs of addresses that differ in A%d are one cell", c.A, lv, c.A)
	case AddressShorted:
		return fmt.Sprintf("address lines A%d and A%d are shorted together (%s)", c.A, c.B, win)
	case ChipDead:
		k := s.chip(c.A)
		return fmt.Sprintf("%s (%s, addresses %X to %X) does not answer: its bits read %s; the chip, its select or its supply", k.Name, bitsText(k), k.First, k.Last, map[bool]string{false: "0", true: "1"}[c.High])
	case CellBad:
		return fmt.Sprintf("a cell of %s: address %X, bit D%d", s.chipAt(c.A, c.B), c.A, c.B)
	}
	return fmt.Sprintf("a row or column inside %s: bit D%d at every address that shares the same address bits", s.chipsOf(c.B), c.B)
}

func bitsText(k Chip) string {
	if k.Bits == 1 {
		return fmt.Sprintf("D%d", k.LowBit)
	}
	return fmt.Sprintf("D%d to D%d", k.LowBit, k.LowBit+k.Bits-1)
}

// chip returns a chip; without a list the whole memory is one.
func (s Shape) chip(i int) Chip {
	if len(s.Chips) == 0 {
		return Chip{"the memory", 0, s.Width, 0, s.Words - 1}
	}
	return s.Chips[i]
}

func (s Shape) chipCount() int { return max(1, len(s.Chips)) }

// chipAt names the chip that holds a bit at an address.
func (s Shape) chipAt(address, bit int) string {
	for i := range s.chipCount() {
		if k := s.chip(i); address >= k.First && address <= k.Last && bit >= k.LowBit && bit < k.LowBit+k.Bits {
			return k.Name
		}
	}
	return "a chip that is not listed"
}

// chipsOf names the chips that hold a bit at any address.
func (s Shape) chipsOf(bit int) string {
	var out []string
	for i := range s.chipCount() {
		if k := s.chip(i); bit >= k.LowBit && bit < k.LowBit+k.Bits && !slices.Contains(out, k.Name) {
			out = append(out, k.Name)
		}
	}
	if len(out) == 0 {
		return "a chip that is not listed"
	}
	return strings.Join(out, " or ")
}

// memory is a memory of words with one cause.
type memory struct {
	s     Shape
	c     Cause
	words []uint32
	mask  uint32 // bits of a dead chip
}

func newMemory(s Shape, c Cause) *memory {
	m := &memory{s: s, c: c, words: make([]uint32, s.Words)}
	if c.Kind == ChipDead {
		k := s.chip(c.A)
		m.mask = (uint32(1)<<k.Bits - 1) << k.LowBit
	}
	return m
}

// at is the cell that an address really reaches, -1 for none.
func (m *memory) at(a int) int {
	switch m.c.Kind {
	case AddressStuck:
		a = force(a, m.c.A, m.c.High)
	case AddressShorted:
		a = join(a, m.c.A, m.c.B, m.c.High)
	}
	if a >= len(m.words) {
		return -1
	}
	return a
}

// force sets one bit to a level; join gives two bits their AND, or their OR when the high one wins.
func force(v, bit int, high bool) int {
	if high {
		return v | 1<<bit
	}
	return v &^ (1 << bit)
}

func join(v, a, b int, high bool) int {
	x, y := v>>a&1, v>>b&1
	z := x & y
	if high {
		z = x | y
	}
	return v&^(1<<a|1<<b) | z<<a | z<<b
}

// lines is what becomes of data on its way.
func (m *memory) lines(v uint32) uint32 {
	switch m.c.Kind {
	case DataStuck:
		return uint32(force(int(v), m.c.A, m.c.High))
	case DataShorted:
		return uint32(join(int(v), m.c.A, m.c.B, m.c.High))
	}
	return v
}

func (m *memory) write(a int, v uint32) {
	if i := m.at(a); i >= 0 {
		m.words[i] = m.lines(v)
	}
}

func (m *memory) read(a int) uint32 {
	v := uint32(1)<<m.s.Width - 1 // nothing drives the bus
	if i := m.at(a); i >= 0 {
		v = m.words[i]
	}
	if m.c.Kind == ChipDead {
		if k := m.s.chip(m.c.A); a >= k.First && a <= k.Last {
			v &^= m.mask
			if m.c.High {
				v |= m.mask
			}
		}
	}
	return m.lines(v)
}

// lineCauses lists the causes that concern lines and chips.
func (s Shape) lineCauses() []Cause {
	var out []Cause
	for _, high := range []bool{false, true} {
		for i := range s.chipCount() {
			out = append(out, Cause{Kind: ChipDead, A: i, High: high})
		}
		for b := range s.Width {
			out = append(out, Cause{Kind: DataStuck, A: b, High: high})
			for o := b + 1; o < s.Width; o++ {
				out = append(out, Cause{Kind: DataShorted, A: b, B: o, High: high})
			}
		}
		for a := range s.addressLines() {
			out = append(out, Cause{Kind: AddressStuck, A: a, High: high})
			for o := a + 1; o < s.addressLines(); o++ {
				out = append(out, Cause{Kind: AddressShorted, A: a, B: o, High: high})
			}
		}
	}
	return out
}
