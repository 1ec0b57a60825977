package importer

// What every reader fills: parts with their pins on nets, as the file names them.

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
)

type netlist struct {
	title   string
	parts   []*npart
	byRef   map[string]*npart
	pins    int
	inputs  []nname     // nets driven from outside
	outputs []nname     // nets that leave
	buses   []bus       // most significant bit first
	near    [][2]string // nets whose copper runs side by side
	gates   bool        // a circuit of gates: nothing is guessed about inputs
}

// npart is one part. typ and value are what the file says, "" when it says nothing.
type npart struct {
	ref, typ, value string
	gate            bool // a bare gate: pins in order, output first
	given           bool // the file says what it is
	noPlace         bool // of a bill of materials
	pins            []npin
	at              map[string]int // pin as written → index
	ports           []port         // what is known of the pins of a type that the library may not have; nil when nothing is
	note            string
	place           *board.Place
	pos             finding.Pos
}

type npin struct {
	pin, net string // net "-" when left open on purpose
	pos      finding.Pos
}

// port is a pin of a type with its direction.
type port struct {
	name string
	dir  direction
}

type direction uint8

const (
	unsaid direction = iota
	in
	out
	inout
)

type nname struct {
	text string
	pos  finding.Pos
}

type bus struct {
	name string
	nets []string
}

func newNetlist() *netlist { return &netlist{byRef: map[string]*npart{}} }

func sprintf(format string, args ...any) string { return fmt.Sprintf(format, args...) }

// natural orders words as a person does: runs of digits by their number, so that R2 comes before R10.
func natural(a, b string) int {
	for a != "" && b != "" {
		da, db := digits(a), digits(b)
		if da > 0 && db > 0 {
			x, y := strings.TrimLeft(a[:da], "0"), strings.TrimLeft(b[:db], "0")
			if c := cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y), cmp.Compare(da, db)); c != 0 {
				return c
			}
			a, b = a[da:], b[db:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

func itoa(n int) string { return strconv.Itoa(n) }
