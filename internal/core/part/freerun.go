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
	Hold    map[string]int `yaml:"hold"`
	Notes   string         `yaml:"notes"`
}

func (t *Type) addFreeRun(r *freeRunRecord) error {
	f := &FreeRun{Opcode: r.Opcode, Clocks: r.Clocks, Notes: r.Notes}
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
	if len(f.Data) != 8 || len(f.Address) == 0 || len(clock) != 1 || r.Clocks < 1 {
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

// Rate is the frequency in Hz of address line bit (0 is the lowest) when the clock runs at hertz: the line is low for 2^bit
// fetches and high for as many.
func (f *FreeRun) Rate(bit int, hertz float64) float64 {
	return hertz / (float64(f.Clocks) * float64(uint64(2)<<bit))
}
