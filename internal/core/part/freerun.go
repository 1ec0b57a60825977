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
	t.FreeRun = f
	return nil
}

// Divide is how many clocks one period of the address pin at index bit (0 is the lowest listed) takes: line n is low for 2^n fetches
// and high for as many.
func (f *FreeRun) Divide(bit int) int { return f.Clocks << (bit + f.First + 1) }
