package pld

import (
	"fmt"
	"slices"
	"strings"
)

// writer turns an array with its fuses into statements.
type writer struct {
	d     *device
	fuses []byte
	pin   func(int) string
	b     strings.Builder
	heard map[int]bool // pins whose level some term uses
	given int          // row whose term is 1 while the sum at hand matters, -1: none
}

// term gives the factors of one row; zero when both lines of a pair, the row as a whole, or what is given make it 0 whatever the
// inputs are. A pin that is joined to a row that can be 1 is heard, even where what is given makes up for it.
func (w *writer) term(row int) (factors []string, zero bool) {
	if w.d.dead != nil && w.d.dead[row] {
		return nil, true
	}
	for k := range w.d.columns {
		if plain, inverted := w.joined(row, k); plain && inverted {
			return nil, true
		}
	}
	for k, pin := range w.d.columns {
		plain, inverted := w.joined(row, k)
		if plain == inverted {
			continue
		}
		w.heard[pin] = true
		if w.given >= 0 {
			if p, i := w.joined(w.given, k); p != i {
				zero = zero || p != plain
				continue
			}
		}
		factors = append(factors, w.line(pin, inverted))
	}
	return factors, zero
}

// joined tells which lines of a pair a row is joined to.
func (w *writer) joined(row, k int) (plain, inverted bool) {
	at := 2 * (row*len(w.d.columns) + k)
	return w.fuses[at] == intact, w.fuses[at+1] == intact
}

// line is what the array sees of a pin: its level, or what its register feeds back, which is the register's inverted output.
func (w *writer) line(pin int, inverted bool) string {
	name := w.pin(pin)
	if o := w.cell(pin); o != nil && o.registered {
		name, inverted = bit(pin), !inverted
	}
	if inverted {
		return "!" + name
	}
	return name
}

func (w *writer) cell(pin int) *output {
	for i := range w.d.outputs {
		if w.d.outputs[i].pin == pin {
			return &w.d.outputs[i]
		}
	}
	return nil
}

func bit(pin int) string { return fmt.Sprintf("q%d", pin) }

// product writes a row: its factors, 1 when there is none, 0 when it can never be 1.
func (w *writer) product(row int) string {
	f, zero := w.term(row)
	switch {
	case zero:
		return "0"
	case len(f) == 0:
		return "1"
	}
	return strings.Join(f, " & ")
}

// sum writes the OR of rows first to end-1. It looks at all of them, because each may hear a pin.
func (w *writer) sum(first, end int) string {
	var terms []string
	for row := first; row < end; row++ {
		if p := w.product(row); p != "0" && !slices.Contains(terms, p) {
			terms = append(terms, p)
		}
	}
	switch {
	case slices.Contains(terms, "1"):
		return "1"
	case len(terms) == 0:
		return "0"
	}
	return strings.Join(terms, " | ")
}

func invert(s string, yes bool) string {
	switch {
	case !yes:
		return s
	case s == "0":
		return "1"
	case s == "1":
		return "0"
	}
	return "!(" + s + ")"
}

// write goes over the cells twice: how a pin is driven depends on whether some term hears it.
func (w *writer) write() {
	w.heard = map[int]bool{}
	for range 2 {
		w.b.Reset()
		for _, o := range w.d.outputs {
			if o.registered {
				w.register(o)
			}
		}
		for _, o := range w.d.outputs {
			w.output(o)
		}
	}
}

func (w *writer) register(o output) {
	var clauses []string
	sum := invert(w.sum(o.first, o.end), o.polarity == highEarly)
	if w.d.reset >= 0 {
		if c := w.product(w.d.reset); c != "0" {
			clauses = append(clauses, "while "+c+" -> 0")
		}
		if c := w.product(w.d.preset); c == "1" {
			sum = "1"
		} else if c != "0" && sum != "1" {
			sum = c + " | " + sum
		}
	}
	clauses = append(clauses, "rise "+w.pin(w.d.clock)+" -> "+sum)
	fmt.Fprintf(&w.b, "store %s: %s\n", bit(o.pin), strings.Join(clauses, "; "))
}

// output writes what drives a pin. One whose enable can never be 1 is an input and has no driver. One that is always on is
// written as three-state where a term hears the pin, because the array hears the level there and not what drives it. What the enable's
// term settles is left out of the sum: while it is unknown whether the output drives, it is known what it would drive.
func (w *writer) output(o output) {
	when := "1"
	switch o.three {
	case always:
	case byPin:
		when = "!" + w.pin(w.d.enable)
	default:
		when = w.product(o.three)
	}
	if when == "0" {
		return
	}
	value := bit(o.pin)
	switch {
	case !o.registered:
		w.given = max(o.three, -1)
		value = invert(w.sum(o.first, o.end), o.polarity == low)
		w.given = -1
	case o.polarity != high:
		value = "!" + value
	}
	if when == "1" && (o.registered || !w.heard[o.pin]) {
		fmt.Fprintf(&w.b, "%s = %s\n", w.pin(o.pin), value)
		return
	}
	fmt.Fprintf(&w.b, "tri %s = %s when %s\n", w.pin(o.pin), value, when)
}

// inputs are the pins that are inputs however the fuses are, and those that have become inputs.
func (w *writer) inputs() []int {
	var pins []int
	for _, p := range w.d.columns {
		if o := w.cell(p); o == nil || w.heard[p] && !o.registered || w.never(o) {
			pins = append(pins, p)
		}
	}
	for _, p := range []int{w.d.clock, w.d.enable} {
		if p != 0 && !slices.Contains(pins, p) {
			pins = append(pins, p)
		}
	}
	slices.Sort(pins)
	return pins
}

func (w *writer) never(o *output) bool {
	return o.three >= 0 && w.product(o.three) == "0"
}
