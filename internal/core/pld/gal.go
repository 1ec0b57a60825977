package pld

import "fmt"

// The arrays of the GALs, whose cells are set by further fuses. The user's signature lies in between and says nothing of the logic.

// macrocells8 is a GAL16V8 or GAL20V8. After the array come, for each cell from the top pin down, XOR (1: active high), the
// signature of 64, AC1 of each cell, for each row 1 where it is used, then SYN and AC0.
func macrocells8(name string, fuses []byte) (*device, error) {
	array, top, medium, clocked, simple := 2048, 19, medium, clocked, simple8
	if name == "20V8" {
		array, top, medium, clocked, simple = 2560, 22, wide, wideClk, simple0
	}
	xor, ac1, used := fuses[array:], fuses[array+72:], fuses[array+80:]
	syn, ac0 := fuses[array+144], fuses[array+145]
	d := &device{reset: -1, preset: -1, dead: make([]bool, 64)}
	for row := range d.dead {
		d.dead[row] = used[row] == 0
	}
	switch {
	case syn == 1 && ac0 == 0:
		d.columns = simple
	case syn == 1:
		d.columns = medium
	case ac0 == 1:
		d.columns, d.clock, d.enable = clocked, 1, columnsEnable(clocked)
	default:
		return nil, fmt.Errorf("the mode fuses SYN and AC0 (%d and %d) are both 0, which is no mode of a GAL%s: the map is damaged or of another part", array+144, array+145, name)
	}
	for i := range 8 {
		o := output{pin: top - i, first: 8 * i, end: 8*i + 8}
		o.polarity = low
		if xor[i] == 1 {
			o.polarity = highEarly
		}
		switch {
		case syn == 1 && ac0 == 0 && ac1[i] == 1:
			continue // the pin is an input
		case syn == 1 && ac0 == 0:
			o.three = always
		case syn == 0 && ac1[i] == 0:
			o.three, o.registered = byPin, true
		default:
			o.three, o.first = 8*i, 8*i+1
		}
		d.outputs = append(d.outputs, o)
	}
	return d, nil
}

// macrocells10 is a GAL22V10, PAL22V10 or ATF22V10. Row 0 clears the registers, the last row sets them; each cell has the row of its
// enable and its terms, from pin 23 down. After the array come S0 (1: active high) and S1 (0: with register) of each cell.
func macrocells10(fuses []byte) *device {
	d := &device{columns: ten, clock: 1, reset: 0, preset: 131}
	row := 1
	for i, terms := range []int{8, 10, 12, 14, 16, 16, 14, 12, 10, 8} {
		o := output{pin: 23 - i, three: row, first: row + 1, end: row + 1 + terms, registered: fuses[5808+2*i+1] == 0}
		if fuses[5808+2*i] == 1 {
			o.polarity = high
		}
		d.outputs = append(d.outputs, o)
		row = o.end
	}
	return d
}
