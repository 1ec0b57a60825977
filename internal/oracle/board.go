package oracle

// Boards and faults as the oracle takes them.

import (
	"fmt"
	"sort"
)

// Board is a small board for comparison. Steps[m] gives what the inputs do in moment m: '0', '1', 'X' (driven,
// unknown which) or 'Z' (lets go); an input that is not named stays as it was. All inputs begin unknown.
type Board struct {
	Rails  map[string]byte // '0' or '1' by net
	Inputs []string        // nets driven from outside
	Parts  []Part
	Steps  []map[string]byte
}

// Part is one part on a board. Type is a record's name ("7400", "4013", see Find) or "resistor"; Family the words of
// the part language (74, LS, HC, 4000, nmos, …). Pins gives nets by pin number; a pin without an entry is not
// connected. Ohms is a resistor's value, 0 where it has none. Contents loads a memory.
type Part struct {
	Ref, Type, Family string
	Pins              map[int]string
	Ohms              int
	Contents          []byte
}

// Fault is one fault. Kind is a word of the faults table of the simulation's definition.
type Fault struct {
	Kind      string
	Ref       string // part, for faults at pins and of parts
	Pin       int
	Net, Net2 string // net, source and bridge faults
}

// Bipolar tells whether a family's open inputs are heard as 1.
func Bipolar(family string) (bool, error) {
	switch family {
	case "74", "LS", "S", "ALS", "F", "H", "L", "AS", "ttl":
		return true, nil
	case "HC", "HCT", "4000", "cmos", "nmos":
		return false, nil
	}
	return false, fmt.Errorf("unknown family %q", family)
}

// Nets returns the names of all nets, sorted.
func (b *Board) Nets() []string {
	set := map[string]bool{}
	for n := range b.Rails {
		set[n] = true
	}
	for _, n := range b.Inputs {
		set[n] = true
	}
	for _, p := range b.Parts {
		for _, n := range p.Pins {
			set[n] = true
		}
	}
	names := make([]string, 0, len(set))
	for n := range set {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// Single makes a board of one part with every pin on a net of its own, named "p1", "p2", … Supply pins are rails;
// inputs are the pins that the part hears and the ends of its analogue switches.
func Single(m *Model, name, family string) *Board {
	b := &Board{Rails: map[string]byte{}}
	p := Part{Ref: "U1", Type: name, Family: family, Pins: map[int]string{}}
	for pin, volts := range m.Record.Supply {
		p.Pins[pin] = PinNet(pin)
		b.Rails[PinNet(pin)] = '1'
		if volts == "0" {
			b.Rails[PinNet(pin)] = '0'
		}
	}
	for _, pin := range m.signalPins() {
		p.Pins[pin] = PinNet(pin)
	}
	for _, pin := range m.InputPins() {
		b.Inputs = append(b.Inputs, PinNet(pin))
	}
	b.Parts = []Part{p}
	return b
}

// PinNet is the name of a pin's net on the board that Single makes.
func PinNet(pin int) string { return fmt.Sprintf("p%d", pin) }

// InputPins are the pins to which a test may drive levels: those heard and those at analogue switches, sorted.
func (m *Model) InputPins() []int {
	set := map[int]bool{}
	for _, pin := range append(m.Heard(), m.Switched()...) {
		set[pin] = true
	}
	return sortedKeys(set)
}
