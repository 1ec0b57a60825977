// Package pld knows the fuse arrays of programmable logic: which fuse joins which line to which product term, and what the
// terms drive. From the states of the fuses it writes the behaviour of the part in the words of docs/part-language.md.
//
// Sources of the layouts: the device tables of two open programs, MAME's jedutil (all parts) and jedisasm (12L6, 16L8, 16R4, 16R6, 16R8, 16V8),
// and the array maps of the open logic compilers GALasm and Galette (16V8, 20V8, 22V10), which agree where they overlap; a reading of
// PAL10L8 and PAL12L6 parts that names row and column numbers agrees too. They were made from the logic diagrams of the PAL handbooks
// (Monolithic Memories 1986, AMD 1988), which number the fuses row by row. The worked example of JEDEC Standard No. 3A, a PAL14L4 with
// test vectors, is a test here.
package pld

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Intact and blown are the states of a fuse. An intact fuse joins its line to the product term.
const (
	intact = 0
	blown  = 1
)

// device is a fuse array. Row r holds the fuses of one product term from number r*2*len(columns) on; in it, fuse 2k joins the
// line of columns[k] as it is and fuse 2k+1 its complement. Pins count from 1.
type device struct {
	columns []int // pin whose level the line carries; a register's pin stands for what the register feeds back
	outputs []output
	clock   int // pin, 0 when none
	enable  int // pin that enables the registered outputs while low, 0 when none
	reset   int // row of the term that clears all registers, -1 when none
	preset  int // row of the term that sets all registers at the clock, -1 when none
	dead    []bool
}

// output is one output cell.
type output struct {
	pin        int
	first, end int // rows of the sum: first to end-1
	three      int // row of the term that enables the output; always or the enable pin
	polarity   polarity
	registered bool
}

// Where an output's enable is not a row.
const (
	always = -1 - iota
	byPin
)

// polarity is where a sum is inverted on its way to the pin.
type polarity uint8

const (
	low       polarity = iota // the pin is low while the sum is 1; a register holds the sum
	high                      // the pin is high while the sum is 1; a register holds the sum
	highEarly                 // as high, but a register holds the inverted sum
)

// Devices lists the names that Logic knows, sorted.
func Devices() []string {
	return slices.Sorted(maps.Keys(total))
}

// Total is how many fuses a device has: all counts that its maps may have, with and without the user's signature; nil for a name that is not known.
func Total(name string) []int { return total[name] }

var total = map[string][]int{
	"10H8": {320}, "10L8": {320}, "12H6": {384}, "12L6": {384}, "14H4": {448}, "14L4": {448}, "16H2": {512}, "16L2": {512}, "16C1": {512},
	"16L8": {2048}, "16R4": {2048}, "16R6": {2048}, "16R8": {2048},
	"20L8": {2560}, "20R4": {2560}, "20R6": {2560}, "20R8": {2560},
	"16V8": {2194}, "20V8": {2706}, "22V10": {5828, 5892},
	"82S100": {1928}, "82S101": {1928},
}

// Pins tells which pins of a programmed part are what, beside what its logic says.
type Pins struct {
	Inputs []int // pins with an input buffer into the array or with a fixed task, whether a term uses them or not; sorted
}

// Logic writes the behaviour of a device with these fuses. name gives the name of each pin. The error says why the fuses cannot be those of the device.
func Logic(name string, fuses []byte, pin func(int) string) (string, Pins, error) {
	if !slices.Contains(total[name], len(fuses)) {
		return "", Pins{}, wrongCount(name, len(fuses))
	}
	if strings.HasPrefix(name, "82S") {
		text, pins := fpla(name, fuses, pin)
		return text, pins, nil
	}
	d, err := arrayOf(name, fuses)
	if err != nil {
		return "", Pins{}, err
	}
	w := &writer{d: d, fuses: fuses, pin: pin, given: -1}
	w.write()
	return w.b.String(), Pins{Inputs: w.inputs()}, nil
}

// wrongCount names the devices that such a map fits.
func wrongCount(name string, n int) error {
	var fit []string
	for _, d := range Devices() {
		if slices.Contains(total[d], n) {
			fit = append(fit, d)
		}
	}
	if len(total[name]) == 0 {
		return fmt.Errorf("no fuse array %s is known; there are %s", name, strings.Join(Devices(), ", "))
	}
	hint := "no part that is known has so many"
	if len(fit) > 0 {
		hint = "it fits a " + strings.Join(fit, ", ")
	}
	return fmt.Errorf("the fuse map has %d fuses, a %s has %d; %s", n, name, total[name][len(total[name])-1], hint)
}

// arrayOf gives the array of a device; the fuses choose between the ways a GAL can work.
func arrayOf(name string, fuses []byte) (*device, error) {
	switch name {
	case "16V8", "20V8":
		return macrocells8(name, fuses)
	case "22V10":
		return macrocells10(fuses), nil
	}
	return pals[name](), nil
}
