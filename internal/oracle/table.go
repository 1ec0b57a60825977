// Package oracle is the outside check of the simulation: function tables typed from the data sheets by pin number,
// independently of the part library, and Verilog models of parts and boards that Icarus Verilog runs.
// It is used by tests only.
//
// # The table format
//
// A file holds records; a line that begins with # is a comment. Names are local to a record, pins are by number.
//
//	part 7400 7437                  the names the record stands for
//	doc SDLS025                     the data sheet
//	supply 14=5 7=0                 supply pins and their volts
//	nc 3 11                         pins with nothing inside
//	other 6 7                       pins without a logic function (timing parts, programming voltage)
//	pins s=1 g=15                   names of pins common to all units
//	unit a=1 b=2 y=3                one unit; what follows the last unit line holds for each of them
//	table a b -> y [oc]             truth table; rows "H X : L"; X either, Z off; with oc, H lets go
//	function s : clr! clk d -> q    function table of a flip-flop or latch whose bit is s; ! acts at once; ↑ ↓ edges;
//	                                Q no change, N the opposite of what was
//	store s : g d                   the columns of the function table that the bit depends on (left out: all)
//	state q 4                       a register of 4 bits; pulse q 1: one that falls when the next moment begins
//	level E : q = V                 while E is 1, q takes V; clauses are tried in order
//	rise E : q = V, fall E : q = V  at an edge of E, q takes the V from before the edge
//	expr n[3] = E                   a name for an expression
//	out y = E, oc y = E             push-pull and open-collector outputs
//	tri y = E when E2               three-state output
//	switch s=x-y                    an analogue switch, on when the table's output s is H
//	memory m 1024 4                 with address, data (lowest bit first) and write lines
//	sequence in -> out              rows applied one after the other to check the record: ↑ is L and then H
//	decade d c b                    preset pins of a decade counter: the sheets leave codes over 9 to the makers
//	count clk 128                   that many falling edges count through all states
//
// Expressions are Verilog; ripple(q) is q + 1.
package oracle

import (
	"embed"
	"fmt"
	"io/fs"
	"sort"
	"strings"
)

//go:embed tables/*.txt
var tableFiles embed.FS

// Record is one part as its data sheet describes it.
type Record struct {
	Names    []string
	Doc      string
	Supply   map[int]string // volts by pin number
	NC       []int          // pins with nothing inside
	Other    []int          // pins without a logic function
	Sections []*Section
}

// Section is a body of statements with the units it holds for.
type Section struct {
	Units     []map[string]int // pin number by local name, common pins included
	Tables    []*Table
	Functions []*Function
	States    []*State
	Exprs     []Expr
	Outs      []Out
	Clauses   []Clause
	Switches  []Switch
	Memory    *Memory
	Sequences []*Sequence
	Count     *Count
	Decade    []string
}

// Table is a combinational truth table. Rows hold one symbol for each input (H L X) and output (H L Z).
type Table struct {
	In, Out       []string
	OpenCollector bool
	Rows          []Row
}

// Row is one line of a table. In and Out hold one rune per column.
type Row struct {
	In, Out []rune
	Line    int
}

// Function is a flip-flop's or latch's printed function table.
type Function struct {
	State string
	In    []string
	Async []bool // per input column
	Out   []string
	Store []string // columns the bit depends on; nil: all
	Rows  []Row
}

// State is a register of the part.
type State struct {
	Name  string
	Width int
	Pulse bool
}

// Expr is a named expression.
type Expr struct {
	Name  string
	Width int
	Text  string
}

// Out is an output given as an expression. Kind is "out", "oc" or "tri".
type Out struct{ Kind, Pin, Text, When string }

// Clause is one next-state rule. Kind is "level", "rise" or "fall".
type Clause struct{ Kind, When, State, Text string }

// Switch is an analogue switch between two pins.
type Switch struct{ Name, A, B string }

// Memory is a memory array; Write is empty for one that only reads.
type Memory struct {
	Name          string
	Words, Bits   int
	Address, Data []string
	Write         string
}

// Sequence is a list of rows applied in order; each must give its outputs.
type Sequence struct {
	In, Out []string
	Rows    []Row
}

// Count says that so many falling edges of the pin Clock go through all states.
type Count struct {
	Clock string
	Edges int
}

// Records returns all records in the order of their files. The error names file and line.
func Records() ([]*Record, error) {
	names, err := fs.Glob(tableFiles, "tables/*.txt")
	if err != nil {
		return nil, err
	}
	sort.Strings(names)
	var all []*Record
	for _, name := range names {
		text, err := tableFiles.ReadFile(name)
		if err != nil {
			return nil, err
		}
		records, err := parseTables(name, string(text))
		if err != nil {
			return nil, err
		}
		all = append(all, records...)
	}
	return all, nil
}

// Find returns the record for a part name such as "7400" or "4013". A name with a family that has a pin-out of its
// own ("74LS51") is tried first: family "LS" and name "7451" give "74LS51".
func Find(records []*Record, name, family string) (*Record, error) {
	tries := []string{name}
	if strings.HasPrefix(name, "74") && family != "74" {
		tries = []string{"74" + family + name[2:], name}
	}
	for _, try := range tries {
		for _, r := range records {
			for _, n := range r.Names {
				if n == try {
					return r, nil
				}
			}
		}
	}
	return nil, fmt.Errorf("no function table for %s", name)
}
