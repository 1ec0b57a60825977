package part

import (
	"fmt"
	"strings"
)

// The free run of a processor: all data pins held at a no-operation, so that it fetches through every address.

type freeRunRecord struct {
	Opcode  uint8          `yaml:"opcode"`
	Data    string         `yaml:"data"`    // pins, most significant first
	Address string         `yaml:"address"` // pins, most significant first
	Clock   string         `yaml:"clock"`
	Clocks  int            `yaml:"clocks"` // of one no-operation
	First   int            `yaml:"first"`  // number of the lowest of the address pins where it is not A0
	Hold    map[string]int `yaml:"hold"`
	Notes   string         `yaml:"notes"`
}

// fetchLevels are the outputs of 8-bit processors by the names that their data sheets share: the level before a fetch and during it, while
// nothing but no-operations is fetched. An output that is not here is left unknown. From memory of the makers' timing diagrams.
var fetchLevels = map[string][2]bool{
	"RW": {true, true}, "/WR": {true, true}, "/IORQ": {true, true}, "/INTA": {true, true}, "/BUSACK": {true, true}, "/HALT": {true, true}, // never in a free run
	"BA": {false, false}, "BS": {false, false}, "HLDA": {false, false}, "WAIT": {false, false}, "IOM": {false, false}, "RSTOUT": {false, false},
	"/MREQ": {true, false}, "/RD": {true, false}, "/M1": {true, false}, "/RFSH": {false, true}, // the bus is refreshed between two fetches
	"VMA": {true, true}, "SYNC": {false, true}, "DBIN": {false, true}, "ALE": {true, false},
	"E": {false, true}, "Q": {true, false}, "PHI1": {true, false}, "PHI2": {false, true}, "CLK": {false, true},
}

func (t *Type) addFreeRun(r *freeRunRecord) error {
	f := &FreeRun{Opcode: r.Opcode, Clocks: r.Clocks, First: r.First, Notes: r.Notes}
	list := func(text string) (out []int, err error) {
		for n := range strings.FieldsSeq(text) {
			k, ok := t.nodeIndex[n]
			if !ok {
				return nil, fmt.Errorf("free-run: no pin %s", n)
			}
			out = append(out, k)
		}
		return out, nil
	}
	var err error
	if f.Data, err = list(r.Data); err != nil {
		return err
	}
	if f.Address, err = list(r.Address); err != nil {
		return err
	}
	clock, err := list(r.Clock)
	if err != nil {
		return err
	}
	if len(f.Data) != 8 || len(f.Address) == 0 || len(clock) != 1 || r.Clocks < 1 || r.First < 0 || r.First > 16 {
		return fmt.Errorf("free-run: expected eight data pins, address pins, one clock pin and the clocks of one no-operation")
	}
	f.Clock = clock[0]
	for i := range t.Nodes {
		if v, ok := r.Hold[t.Nodes[i].Name]; ok {
			f.Hold = append(f.Hold, Hold{i, v != 0})
		}
	}
	if len(f.Hold) != len(r.Hold) {
		return fmt.Errorf("free-run: hold names a pin that the part does not have")
	}
	for i, n := range t.Nodes {
		if l, ok := fetchLevels[n.Name]; ok && n.Use&Driven != 0 && n.Use&Heard == 0 {
			f.Control = append(f.Control, Control{i, l[0], l[1]})
		}
	}
	t.FreeRun = f
	return nil
}

// Divide is how many clocks one period of the address pin at index bit (0 is the lowest listed) takes: line n is low for 2^n fetches
// and high for as many.
func (f *FreeRun) Divide(bit int) int { return f.Clocks << (bit + f.First + 1) }
