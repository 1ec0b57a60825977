package pld

import (
	"fmt"
	"slices"
	"strings"
)

// The field-programmable logic arrays 82S100 (three-state) and 82S101 (open collector): 48 product terms of 16 inputs, any of which
// may go to any of eight outputs.
//
// Layout: MAME's pla device, whose reader takes for each term 16 pairs of input fuses (complement, then true), then eight output fuses,
// and after all terms eight polarity fuses (blown: active low); the map of a well-known 82S100 published with its equations agrees
// (in the test). The numbers of pins are those of the same source.

var (
	fplaInputs  = []int{9, 8, 7, 6, 5, 4, 3, 2, 27, 26, 25, 24, 23, 22, 21, 20} // I0 to I15
	fplaOutputs = []int{18, 17, 16, 15, 13, 12, 11, 10}                         // F0 to F7
)

const (
	fplaTerms  = 48
	fplaRow    = 40 // fuses of a term
	fplaEnable = 19
)

func fpla(name string, fuses []byte, pin func(int) string) (string, Pins) {
	var b strings.Builder
	sums := make([][]string, len(fplaOutputs))
	for t := range fplaTerms {
		row := fuses[t*fplaRow:][:fplaRow]
		factors, zero := fplaTerm(row, pin)
		or := row[2*len(fplaInputs):]
		if zero || !slices.Contains(or, intact) {
			continue
		}
		n := fmt.Sprintf("t%d", t)
		if len(factors) == 0 {
			factors = []string{"1"}
		}
		fmt.Fprintf(&b, "%s = %s\n", n, strings.Join(factors, " & "))
		for f, s := range or {
			if s == intact {
				sums[f] = append(sums[f], n)
			}
		}
	}
	for f, p := range fplaOutputs {
		sum := "0"
		if len(sums[f]) > 0 {
			sum = strings.Join(sums[f], " | ")
		}
		value := invert(sum, fuses[fplaTerms*fplaRow+f] == blown)
		if name == "82S101" {
			fmt.Fprintf(&b, "oc %s = %s | %s\n", pin(p), value, pin(fplaEnable))
		} else {
			fmt.Fprintf(&b, "tri %s = %s when !%s\n", pin(p), value, pin(fplaEnable))
		}
	}
	inputs := append(slices.Clone(fplaInputs), fplaEnable)
	slices.Sort(inputs)
	return b.String(), Pins{Inputs: inputs}
}

func fplaTerm(row []byte, pin func(int) string) (factors []string, zero bool) {
	for k, p := range fplaInputs {
		inverted, plain := row[2*k] == intact, row[2*k+1] == intact
		switch {
		case plain && inverted:
			return nil, true
		case plain:
			factors = append(factors, pin(p))
		case inverted:
			factors = append(factors, "!"+pin(p))
		}
	}
	return factors, false
}
