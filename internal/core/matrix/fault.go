package matrix

import "fmt"

// Kind is one kind of fault.
type Kind string

// The kinds. A line is a row or a column.
const (
	ContactOpen   Kind = "contact-open"   // a key never closes: dirt, a broken spring, worn carbon
	ContactNoisy  Kind = "contact-noisy"  // a key closes badly: it repeats
	ContactClosed Kind = "contact-closed" // a key is stuck
	DiodeOpen     Kind = "diode-open"
	DiodeShort    Kind = "diode-short"
	RowOpen       Kind = "row-open" // joint, connector, pull-up or input of the row
	ColumnOpen    Kind = "column-open"
	RowNoisy      Kind = "row-noisy" // a bad contact on the way
	ColumnNoisy   Kind = "column-noisy"
	RowBreak      Kind = "row-break" // track broken between two keys
	ColumnBreak   Kind = "column-break"
	RowsShort     Kind = "rows-shorted"
	ColumnsShort  Kind = "columns-shorted"
	CrossShort    Kind = "row-column-shorted"
	RowHeld       Kind = "row-held" // the row reads active at every column
	ColumnHeld    Kind = "column-held"
	RowAddress    Kind = "row-address-stuck" // one address line of the row selector
	ColumnAddress Kind = "column-address-stuck"
	ChipDead      Kind = "chip-dead"
	MatrixDead    Kind = "matrix-dead" // connector, enable or scanner: nothing is read at all
)

// Fault is one thing wrong. What A, B and High mean depends on the kind: A is a key, a row, a column or a chip; B the second line of a short, or for a
// break the first key position beyond it; for an address A is the bit and High its level; for a break High says that the far end is the connected one.
type Fault struct {
	Kind Kind
	A, B int
	High bool
}

// prior is the chance of a fault in a machine with a keyboard complaint, per place. Estimates without a source, ordered by what is met at the bench: dirty
// contacts far above all else, then connectors and broken tracks, then stuck keys, then semiconductors.
func (f Fault) prior(l Layout) float64 {
	switch f.Kind {
	case ContactOpen:
		return 0.02
	case ContactNoisy:
		return 0.03
	case ContactClosed:
		return 0.003
	case DiodeOpen:
		return 0.001
	case DiodeShort:
		return 0.0005
	case RowOpen, ColumnOpen:
		return 0.006
	case RowNoisy, ColumnNoisy:
		return 0.003
	case RowBreak, ColumnBreak:
		return 0.001
	case RowsShort, ColumnsShort:
		if f.B-f.A == 1 { // neighbours
			return 0.002
		}
		return 0.0001
	case CrossShort:
		return 0.0001
	case RowHeld, ColumnHeld:
		return 0.001
	case RowAddress, ColumnAddress:
		return 0.001
	case ChipDead:
		return 0.003
	}
	return 0.003 // MatrixDead
}

// Text says the fault to a technician.
func (f Fault) Text(l Layout) string {
	switch f.Kind {
	case ContactOpen:
		return "the contact of key " + l.Keys[f.A].Name + " does not close"
	case ContactNoisy:
		return "the contact of key " + l.Keys[f.A].Name + " is dirty and bounces"
	case ContactClosed:
		return "key " + l.Keys[f.A].Name + " is stuck closed"
	case DiodeOpen:
		return "the diode of key " + l.Keys[f.A].Name + " is open"
	case DiodeShort:
		return "the diode of key " + l.Keys[f.A].Name + " is shorted"
	case RowOpen:
		return l.Rows[f.A] + " is open before its first key, or its input is dead"
	case ColumnOpen:
		return l.Columns[f.A] + " is open before its first key, or its driver is dead"
	case RowNoisy:
		return l.Rows[f.A] + " has a bad contact on its way (connector, joint)"
	case ColumnNoisy:
		return l.Columns[f.A] + " has a bad contact on its way (connector, joint)"
	case RowBreak, ColumnBreak:
		before, after := l.aroundBreak(f)
		line := l.Columns
		if f.Kind == RowBreak {
			line = l.Rows
		}
		return fmt.Sprintf("%s is broken between keys %s and %s", line[f.A], before, after)
	case RowsShort:
		return l.Rows[f.A] + " and " + l.Rows[f.B] + " are shorted together"
	case ColumnsShort:
		return l.Columns[f.A] + " and " + l.Columns[f.B] + " are shorted together"
	case CrossShort:
		return l.Rows[f.A] + " and " + l.Columns[f.B] + " are shorted together"
	case RowHeld:
		return l.Rows[f.A] + " is held active (shorted, or its input is dead)"
	case ColumnHeld:
		return l.Columns[f.A] + " is driven all the time (shorted, or its driver is dead)"
	case RowAddress:
		return fmt.Sprintf("address bit %d of the row selector is stuck %s", f.A, level(f.High))
	case ColumnAddress:
		return fmt.Sprintf("address bit %d of the column decoder is stuck %s", f.A, level(f.High))
	case ChipDead:
		return l.Chips[f.A].Name + " is dead or gets no supply"
	}
	return "the whole matrix is cut off: connector, enable or scanner"
}

func level(high bool) string {
	if high {
		return "high"
	}
	return "low"
}

// keysOn lists the keys of a line in order along it.
func (l Layout) keysOn(row bool, line int) []int {
	out := make([]int, 0, 16)
	n := len(l.Columns)
	if !row {
		n = len(l.Rows)
	}
	for pos := range n {
		for i, k := range l.Keys {
			if row && k.Row == line && k.Column == pos || !row && k.Column == line && k.Row == pos {
				out = append(out, i)
			}
		}
	}
	return out
}

func (l Layout) aroundBreak(f Fault) (before, after string) {
	row := f.Kind == RowBreak
	for _, i := range l.keysOn(row, f.A) {
		pos := l.Keys[i].Column
		if !row {
			pos = l.Keys[i].Row
		}
		if pos < f.B {
			before = l.Keys[i].Name
		} else if after == "" {
			after = l.Keys[i].Name
		}
	}
	return before, after
}

// Universe lists every fault that is considered.
func (l Layout) Universe() []Fault {
	var out []Fault
	add := func(f Fault) { out = append(out, f) }
	add(Fault{Kind: MatrixDead})
	for i := range l.Chips {
		add(Fault{Kind: ChipDead, A: i})
	}
	for _, x := range []struct {
		n                                      int
		open, noisy, held, brk, short, address Kind
		row                                    bool
	}{{len(l.Rows), RowOpen, RowNoisy, RowHeld, RowBreak, RowsShort, RowAddress, true}, {len(l.Columns), ColumnOpen, ColumnNoisy, ColumnHeld, ColumnBreak, ColumnsShort, ColumnAddress, false}} {
		for i := range x.n {
			for _, k := range []Kind{x.open, x.noisy, x.held} {
				add(Fault{Kind: k, A: i})
			}
			keys := l.keysOn(x.row, i)
			for j := 1; j < len(keys); j++ {
				pos := l.Keys[keys[j]].Column
				if !x.row {
					pos = l.Keys[keys[j]].Row
				}
				for _, far := range []bool{false, true} {
					add(Fault{Kind: x.brk, A: i, B: pos, High: far})
				}
			}
			for j := i + 1; j < x.n; j++ {
				add(Fault{Kind: x.short, A: i, B: j})
			}
		}
		if l.Addressed {
			for b := 0; 1<<b < x.n; b++ {
				for _, high := range []bool{false, true} {
					add(Fault{Kind: x.address, A: b, High: high})
				}
			}
		}
	}
	for i, k := range l.Keys {
		add(Fault{Kind: ContactOpen, A: i})
		add(Fault{Kind: ContactNoisy, A: i})
		add(Fault{Kind: ContactClosed, A: i})
		if k.Diode {
			add(Fault{Kind: DiodeOpen, A: i})
			add(Fault{Kind: DiodeShort, A: i})
		}
		add(Fault{Kind: CrossShort, A: k.Row, B: k.Column})
	}
	return out
}
