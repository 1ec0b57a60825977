// Package memtest turns the results of memory tests into chips, data bits and address lines: march tests of RAM with their syndromes (van de Goor, "Using
// march tests to test SRAMs", IEEE Design & Test 10(1) 1993, 8–14), and comparisons of ROM dumps.
package memtest

import (
	"fmt"
	"strings"

	"halfsplit/internal/core/finding"
)

// Op reads and expects, or writes, the background (false) or its inverse (true).
type Op struct {
	Read bool
	One  bool
}

// Element is a march element: all its operations at one address, then on to the next.
type Element struct {
	Down bool // from the highest address to the lowest; where the order does not matter it is up
	Ops  []Op
}

// March is a march test. Elements are numbered from 0: M0 writes the background.
type March struct {
	Name     string
	Elements []Element
}

// marches, in van de Goor's notation.
var marches = []struct{ name, text string }{
	{"mats", "any(w0); any(r0,w1); any(r1)"},
	{"mats+", "any(w0); up(r0,w1); down(r1,w0)"},
	{"mats++", "any(w0); up(r0,w1); down(r1,w0,r0)"},
	{"x", "any(w0); up(r0,w1); down(r1,w0); any(r0)"},
	{"y", "any(w0); up(r0,w1,r1); down(r1,w0,r0); any(r0)"},
	{"c-", "any(w0); up(r0,w1); up(r1,w0); down(r0,w1); down(r1,w0); any(r0)"},
	{"c", "any(w0); up(r0,w1); up(r1,w0); any(r0); down(r0,w1); down(r1,w0); any(r0)"},
	{"a", "any(w0); up(r0,w1,w0,w1); up(r1,w0,w1); down(r1,w0,w1,w0); down(r0,w1,w0)"},
	{"b", "any(w0); up(r0,w1,r1,w0,r0,w1); up(r1,w0,w1); down(r1,w0,w1,w0); down(r0,w1,w0)"},
}

// Names lists the tests that are known by name.
func Names() []string {
	var out []string
	for _, m := range marches {
		out = append(out, m.name)
	}
	return out
}

// Named returns a test by name, or reads one in notation: up(r0,w1); down(r1,w0).
func Named(s string) (March, error) {
	for _, m := range marches {
		if m.name == strings.ToLower(s) {
			return Parse(m.name, m.text)
		}
	}
	if strings.Contains(s, "(") {
		return Parse("own", s)
	}
	hint := finding.DidYouMean(s, Names())
	return March{}, fmt.Errorf("no march test %s; %s", s, hint)
}

// Parse reads the notation: elements up(…), down(…) or any(…) with semicolons between, operations r0 r1 w0 w1 with commas.
func Parse(name, text string) (March, error) {
	m := March{Name: name}
	for _, e := range strings.Split(text, ";") {
		order, rest, ok := strings.Cut(strings.TrimSpace(e), "(")
		ops, ok2 := strings.CutSuffix(strings.TrimSpace(rest), ")")
		if !ok || !ok2 || order != "up" && order != "down" && order != "any" {
			return March{}, fmt.Errorf("%.30q is no march element; write up(r0,w1), down(r1,w0) or any(w0)", strings.TrimSpace(e))
		}
		el := Element{Down: order == "down"}
		for _, o := range strings.Split(ops, ",") {
			o = strings.TrimSpace(o)
			if len(o) != 2 || o[0] != 'r' && o[0] != 'w' || o[1] != '0' && o[1] != '1' {
				return March{}, fmt.Errorf("%.30q is no operation of a march test; they are r0, r1, w0 and w1", o)
			}
			el.Ops = append(el.Ops, Op{o[0] == 'r', o[1] == '1'})
		}
		m.Elements = append(m.Elements, el)
	}
	if len(m.Elements) > 64 {
		return March{}, fmt.Errorf("%d march elements are more than the 64 that are run", len(m.Elements))
	}
	return m, nil
}

// String is the notation.
func (m March) String() string {
	var es []string
	for _, e := range m.Elements {
		var ops []string
		for _, o := range e.Ops {
			ops = append(ops, map[bool]string{true: "r", false: "w"}[o.Read]+map[bool]string{true: "1", false: "0"}[o.One])
		}
		es = append(es, map[bool]string{true: "down", false: "up"}[e.Down]+"("+strings.Join(ops, ",")+")")
	}
	return strings.Join(es, "; ")
}

// Length is the number of operations for each address: 10 for March C−.
func (m March) Length() int {
	n := 0
	for _, e := range m.Elements {
		n += len(e.Ops)
	}
	return n
}

// Step is one bus cycle of a test.
type Step struct {
	Element int
	Address int
	Read    bool
	Data    uint32 // written, or expected
}

// Steps runs through the bus cycles of a test on size words of width bits, with one background for each round. It stops when yield returns false.
func (m March) Steps(size, width int, backgrounds []uint32, yield func(Step) bool) {
	mask := uint32(1)<<width - 1
	for _, bg := range backgrounds {
		for e, el := range m.Elements {
			for i := range size {
				a := i
				if el.Down {
					a = size - 1 - i
				}
				for _, o := range el.Ops {
					d := bg & mask
					if o.One {
						d = ^bg & mask
					}
					if !yield(Step{e, a, o.Read, d}) {
						return
					}
				}
			}
		}
	}
}

// Backgrounds gives the data backgrounds that tell every pair of bits apart: 0, and stripes of 1, 2, 4 … bits (log2 of the width and one more; common
// practice after van de Goor). A single background never finds two data lines shorted together.
func Backgrounds(width int) []uint32 {
	out := []uint32{0}
	for s := 1; s < width; s *= 2 {
		v := uint32(0)
		for b := range width {
			if b/s%2 == 0 {
				v |= 1 << b
			}
		}
		out = append(out, v)
	}
	return out
}

// Bounds of what is simulated.
const (
	MaxWords = 1 << 20
	MaxWidth = 16
)
