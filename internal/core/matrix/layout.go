// Package matrix finds faults in a scanned key matrix: which keys fail, repeat or bring others with them tells whether a row, a column, a diode, a contact
// or a short is to blame.
//
// The rule behind it: without diodes a scan reads (row, column) closed exactly when both lie in the same connected component of the graph whose edges are
// the closed keys (three corners of a rectangle make the fourth, Dribin, "Keyboard Matrix Help", 2000). A diode lets current pass one way only, from row to
// column; then the scan asks for a directed path. Every fault is a change of that graph or of how it is read, so predictions are computed, not listed.
package matrix

import (
	"fmt"
	"math/bits"
	"strconv"
)

// Most rows, columns and keys that are looked at.
const (
	MaxLines = 64
	MaxKeys  = 1024
)

// Layout is a matrix. Keys refer to rows and columns by index from 0; a crossing holds at most one key.
type Layout struct {
	Rows, Columns []string
	Keys          []Key
	Chips         []Chip // chips that drive several columns or hear several rows
	Addressed     bool   // rows and columns are counted out in binary, in the order given
}

// Key is one switch.
type Key struct {
	Name        string
	Row, Column int
	Diode       bool
}

// Chip drives columns or hears rows; when it dies, all of them do.
type Chip struct {
	Name          string
	Rows, Columns []int
}

// Grid is a full matrix with keys numbered from first: along a row first, or down a column first when byColumn.
func Grid(rows, columns, first int, byColumn, diodes bool) (Layout, error) {
	if rows < 1 || columns < 1 || rows > MaxLines || columns > MaxLines || rows*columns > MaxKeys {
		return Layout{}, fmt.Errorf("%d rows and %d columns: 1 to %d of each, and at most %d keys", rows, columns, MaxLines, MaxKeys)
	}
	l := Layout{Addressed: true}
	for r := range rows {
		l.Rows = append(l.Rows, "row "+strconv.Itoa(r))
	}
	for c := range columns {
		l.Columns = append(l.Columns, "column "+strconv.Itoa(c))
	}
	for i := range rows * columns {
		k := Key{Name: strconv.Itoa(first + i), Row: i / columns, Column: i % columns, Diode: diodes}
		if byColumn {
			k.Row, k.Column = i%rows, i/rows
		}
		l.Keys = append(l.Keys, k)
	}
	return l, nil
}

// Check refuses a layout whose indices are wrong, or with two keys at one crossing or of one name.
func (l Layout) Check() error {
	if len(l.Rows) < 1 || len(l.Columns) < 1 || len(l.Rows) > MaxLines || len(l.Columns) > MaxLines || len(l.Keys) > MaxKeys || len(l.Keys) == 0 {
		return fmt.Errorf("a matrix of %d rows, %d columns and %d keys; 1 to %d lines of each and 1 to %d keys", len(l.Rows), len(l.Columns), len(l.Keys), MaxLines, MaxKeys)
	}
	at, names := map[[2]int]string{}, map[string]bool{}
	for _, k := range l.Keys {
		if k.Row < 0 || k.Row >= len(l.Rows) || k.Column < 0 || k.Column >= len(l.Columns) {
			return fmt.Errorf("key %s lies outside the matrix", k.Name)
		}
		if other, ok := at[[2]int{k.Row, k.Column}]; ok {
			return fmt.Errorf("keys %s and %s share %s and %s", other, k.Name, l.Rows[k.Row], l.Columns[k.Column])
		}
		if names[k.Name] {
			return fmt.Errorf("there are two keys %s", k.Name)
		}
		at[[2]int{k.Row, k.Column}], names[k.Name] = k.Name, true
	}
	return nil
}

// Find returns the index of a key by name, or -1.
func (l Layout) Find(name string) int {
	for i, k := range l.Keys {
		if k.Name == name {
			return i
		}
	}
	return -1
}

// set holds crossings: bit row·columns + column.
type set []uint64

func (l Layout) newSet() set { return make(set, (len(l.Rows)*len(l.Columns)+63)/64) }

func (s set) add(i int)      { s[i/64] |= 1 << (i % 64) }
func (s set) has(i int) bool { return s[i/64]>>(i%64)&1 == 1 }

func (s set) equal(o set) bool {
	for i := range s {
		if s[i] != o[i] {
			return false
		}
	}
	return true
}

// differ is the symmetric difference.
func (s set) differ(o set) set {
	out := make(set, len(s))
	for i := range s {
		out[i] = s[i] ^ o[i]
	}
	return out
}

func (s set) each(f func(i int)) {
	for w, x := range s {
		for x != 0 {
			b := bits.TrailingZeros64(x)
			f(w*64 + b)
			x &= x - 1
		}
	}
}

func (l Layout) crossing(row, column int) int { return row*len(l.Columns) + column }

func (l Layout) setOf(keys []int) set {
	s := l.newSet()
	for _, k := range keys {
		s.add(l.crossing(l.Keys[k].Row, l.Keys[k].Column))
	}
	return s
}

// place says a crossing in words: the key there, or its lines.
func (l Layout) place(i int) string {
	r, c := i/len(l.Columns), i%len(l.Columns)
	for _, k := range l.Keys {
		if k.Row == r && k.Column == c {
			return k.Name
		}
	}
	return l.Rows[r] + " × " + l.Columns[c]
}

// names lists crossings in words, in order.
func (l Layout) names(s set) []string {
	out := []string{}
	s.each(func(i int) { out = append(out, l.place(i)) })
	return out
}
