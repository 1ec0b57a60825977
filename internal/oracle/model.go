package oracle

// A record compiled: every driver, switch and stored bit with the function that gives it and the leaves (pins heard,
// stored bits, memory bits) that the function depends on.

import (
	"fmt"
	"sort"
)

type leafKind int

const (
	pinLeaf leafKind = iota
	stateLeaf
	memoryLeaf
)

// leaf is one bit that a function depends on: a pin by number, a bit of the part's storage counted over all its
// registers, or a bit of the word the memory shows.
type leaf struct {
	kind leafKind
	bit  int
}

// function is the body of a Verilog function over leaves. It is two-valued; the exact three-valued function is made
// of it by trying all completions, unless the text is one that Verilog itself evaluates exactly (native).
type function struct {
	name   string
	leaves []leaf
	locals []string // declarations
	lines  []string // statements before the result
	result string   // expression or, for tables, empty: then lines assign
	width  int
	native bool
	when   string // three-state condition; result and when are then combined
	kind   string // "value", "out", "oc", "tri", "table"
	full   string // for drivers: the mask of all levels the function may give
}

type driver struct {
	pin int
	fn  *function
}

type switchLink struct {
	a, b int // pins
	fn   *function
}

type register struct {
	name    string
	width   int
	offset  int // of its lowest bit among the part's stored bits
	pulse   bool
	clauses []clause
}

type clause struct {
	kind        string
	when, value *function
}

type memoryArray struct {
	words, bits   int
	address, data []int // pins
	write         *function
}

// Model is a compiled record.
type Model struct {
	Record    *Record
	name      string // a Verilog identifier
	pins      int    // highest pin number
	bits      int    // stored bits
	drivers   []driver
	switches  []switchLink
	registers []*register
	memory    *memoryArray
	functions []*function
}

// Compile checks a record and makes its model.
func Compile(rec *Record) (*Model, error) {
	m := &Model{Record: rec, name: "p" + rec.Names[0]}
	for _, n := range append(append([]int{}, rec.NC...), rec.Other...) {
		m.pins = max(m.pins, n)
	}
	for n := range rec.Supply {
		m.pins = max(m.pins, n)
	}
	for si, s := range rec.Sections {
		for ui, unit := range s.Units {
			c := &compiler{m: m, s: s, unit: unit, prefix: fmt.Sprintf("s%du%d", si, ui)}
			for _, pin := range unit {
				m.pins = max(m.pins, pin)
			}
			if err := c.section(); err != nil {
				return nil, fmt.Errorf("%s: %w", rec.Names[0], err)
			}
		}
	}
	sort.SliceStable(m.drivers, func(i, j int) bool { return m.drivers[i].pin < m.drivers[j].pin })
	for i := 1; i < len(m.drivers); i++ {
		if m.drivers[i].pin == m.drivers[i-1].pin {
			return nil, fmt.Errorf("%s: pin %d is driven twice", rec.Names[0], m.drivers[i].pin)
		}
	}
	return m, m.checkPins()
}

// checkPins sees to it that every pin of the package has exactly one kind of use.
func (m *Model) checkPins() error {
	use := make([]string, m.pins+1)
	set := func(pin int, what string) error {
		if use[pin] != "" {
			return fmt.Errorf("%s: pin %d is %s and %s", m.Record.Names[0], pin, use[pin], what)
		}
		use[pin] = what
		return nil
	}
	for pin := range m.Record.Supply {
		if err := set(pin, "supply"); err != nil {
			return err
		}
	}
	for _, pin := range m.Record.NC {
		if err := set(pin, "unused"); err != nil {
			return err
		}
	}
	for _, pin := range m.Record.Other {
		if err := set(pin, "other"); err != nil {
			return err
		}
	}
	for _, pin := range m.signalPins() {
		if err := set(pin, "signal"); err != nil {
			return err
		}
	}
	for pin := 1; pin <= m.pins; pin++ {
		if use[pin] == "" {
			return fmt.Errorf("%s: pin %d has no use", m.Record.Names[0], pin)
		}
	}
	return nil
}

// Heard returns the numbers of the pins whose level the part hears, sorted.
func (m *Model) Heard() []int {
	set := map[int]bool{}
	for _, f := range m.functions {
		for _, l := range f.leaves {
			if l.kind == pinLeaf {
				set[l.bit] = true
			}
		}
	}
	if m.memory != nil {
		for _, pin := range append(append([]int{}, m.memory.address...), m.memory.data...) {
			set[pin] = true
		}
	}
	return sortedKeys(set)
}

// Driven returns the numbers of the pins the part drives, sorted.
func (m *Model) Driven() []int {
	set := map[int]bool{}
	for _, d := range m.drivers {
		set[d.pin] = true
	}
	return sortedKeys(set)
}

// Switched returns the numbers of the pins at analogue switches, sorted.
func (m *Model) Switched() []int {
	set := map[int]bool{}
	for _, s := range m.switches {
		set[s.a], set[s.b] = true, true
	}
	return sortedKeys(set)
}

// Pins returns the number of pins of the package.
func (m *Model) Pins() int { return m.pins }

func (m *Model) signalPins() []int {
	set := map[int]bool{}
	for _, list := range [][]int{m.Heard(), m.Driven(), m.Switched()} {
		for _, pin := range list {
			set[pin] = true
		}
	}
	return sortedKeys(set)
}

func sortedKeys(set map[int]bool) []int {
	var keys []int
	for k := range set {
		keys = append(keys, k)
	}
	sort.Ints(keys)
	return keys
}
