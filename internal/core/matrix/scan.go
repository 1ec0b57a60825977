package matrix

// What a scan reads: the graph, with faults in it.

import "slices"

// scan is one reading of the matrix: crossings that read closed, and those of them that bounce.
type scan struct{ read, noisy set }

func (s scan) equal(o scan) bool { return s.read.equal(o.read) && s.noisy.equal(o.noisy) }

// Scan gives the keys (crossings in words) that read closed while pressed are held, with faults in the matrix.
func (l Layout) Scan(faults []Fault, pressed []int) []string {
	return l.names(l.scan(faults, pressed).read)
}

// scanner is the working space of one scan.
type scanner struct {
	l      Layout
	pieces int
	edges  [][2]int32 // directed, between nodes
	keyRow []int32    // node of the row piece that a key is on, by key; nil while no line is cut
	keyCol []int32
}

// Nodes: rows, then columns, then pieces broken off.
func (l Layout) scan(faults []Fault, pressed []int) scan {
	nr := len(l.Rows)
	s := scanner{l: l}
	closed := slices.Clone(pressed)
	var open, shortDiode []int
	for _, f := range faults {
		switch f.Kind {
		case ContactClosed:
			closed = append(closed, f.A)
		case ContactOpen, DiodeOpen:
			open = append(open, f.A)
		case DiodeShort:
			shortDiode = append(shortDiode, f.A)
		case RowOpen, RowBreak, ColumnOpen, ColumnBreak:
			s.cut(f)
		case RowsShort:
			s.join(f.A, f.B)
		case ColumnsShort:
			s.join(nr+f.A, nr+f.B)
		case CrossShort:
			s.join(f.A, nr+f.B)
		}
	}
	for _, k := range closed {
		if slices.Contains(open, k) {
			continue
		}
		a, b := int32(l.Keys[k].Row), int32(nr+l.Keys[k].Column)
		if s.keyRow != nil {
			a, b = s.keyRow[k], s.keyCol[k]
		}
		s.edges = append(s.edges, [2]int32{a, b})
		if !l.Keys[k].Diode || slices.Contains(shortDiode, k) {
			s.edges = append(s.edges, [2]int32{b, a})
		}
	}
	return s.read(faults)
}

// observe is a scan as a person notes it: of repeating, only that of a key that is held.
func (l Layout) observe(faults []Fault, pressed []int) scan {
	s := l.scan(faults, pressed)
	held := l.setOf(pressed)
	for i := range s.noisy {
		s.noisy[i] &= held[i]
	}
	return s
}

func (s *scanner) join(a, b int) {
	s.edges = append(s.edges, [2]int32{int32(a), int32(b)}, [2]int32{int32(b), int32(a)})
}

// cut moves keys of a line to a piece of their own: all of them for an open line, those beyond the break (or before it) otherwise.
func (s *scanner) cut(f Fault) {
	if s.keyRow == nil {
		s.keyRow, s.keyCol = make([]int32, len(s.l.Keys)), make([]int32, len(s.l.Keys))
		for i, k := range s.l.Keys {
			s.keyRow[i], s.keyCol[i] = int32(k.Row), int32(len(s.l.Rows)+k.Column)
		}
	}
	piece := int32(len(s.l.Rows) + len(s.l.Columns) + s.pieces)
	s.pieces++
	row := f.Kind == RowOpen || f.Kind == RowBreak
	whole := f.Kind == RowOpen || f.Kind == ColumnOpen
	for i, k := range s.l.Keys {
		line, pos, node := k.Row, k.Column, s.keyRow
		if !row {
			line, pos, node = k.Column, k.Row, s.keyCol
		}
		home := line
		if !row {
			home += len(s.l.Rows)
		}
		if line == f.A && node[i] == int32(home) && (whole || (pos >= f.B) != f.High) {
			node[i] = piece
		}
	}
}

// reach is the set of nodes that a row reaches along the edges.
func (s *scanner) reach(row int, seen []bool) {
	clear(seen)
	seen[row] = true
	for again := true; again; {
		again = false
		for _, e := range s.edges {
			if seen[e[0]] && !seen[e[1]] {
				seen[e[1]] = true
				again = true
			}
		}
	}
}

// read looks from every row along the edges and translates what is reached into what the scanner takes for closed.
func (s *scanner) read(faults []Fault) scan {
	l := s.l
	nr, nc := len(l.Rows), len(l.Columns)
	v := view{rows: make([]int, nr), columns: make([]int, nc), heldRow: make([]bool, nr)}
	v.set(faults, l)
	out := scan{l.newSet(), l.newSet()}
	seen := make([]bool, nr+nc+s.pieces)
	for r, from := range v.rows {
		if from < 0 || !v.heldRow[from] && !slices.ContainsFunc(s.edges, func(e [2]int32) bool { return e[0] == int32(from) }) {
			continue
		}
		s.reach(from, seen)
		all := v.heldRow[from]
		for _, h := range v.heldColumns {
			all = all || seen[nr+h]
		}
		for c, to := range v.columns {
			if to >= 0 && (all || seen[nr+to]) {
				out.read.add(l.crossing(r, c))
				if v.noisy(l, r, c) {
					out.noisy.add(l.crossing(r, c))
				}
			}
		}
	}
	return out
}

// view is how the scanner sees the lines: the line that is really looked at for each that is asked for, -1 for none.
type view struct {
	rows, columns []int
	heldRow       []bool
	heldColumns   []int
	faults        []Fault
}

func (v *view) set(faults []Fault, l Layout) {
	v.faults = faults
	for i := range v.rows {
		v.rows[i] = i
	}
	for i := range v.columns {
		v.columns[i] = i
	}
	for _, f := range faults {
		switch f.Kind {
		case RowAddress:
			stuck(v.rows, f)
		case ColumnAddress:
			stuck(v.columns, f)
		case RowHeld:
			v.heldRow[f.A] = true
		case ColumnHeld:
			v.heldColumns = append(v.heldColumns, f.A)
		}
	}
	for _, f := range faults {
		switch f.Kind {
		case MatrixDead:
			for i := range v.rows {
				v.rows[i] = -1
			}
		case ChipDead:
			for i, to := range v.rows {
				for _, r := range l.Chips[f.A].Rows {
					if to == r {
						v.rows[i] = -1
					}
				}
			}
			for i, to := range v.columns {
				for _, c := range l.Chips[f.A].Columns {
					if to == c {
						v.columns[i] = -1
					}
				}
			}
		}
	}
}

// stuck redirects every line to the one with the bit at its stuck level; a line beyond the matrix reads nothing.
func stuck(lines []int, f Fault) {
	for i := range lines {
		to := i &^ (1 << f.A)
		if f.High {
			to = i | 1<<f.A
		}
		if to >= len(lines) {
			to = -1
		}
		lines[i] = to
	}
}

func (v *view) noisy(l Layout, r, c int) bool {
	for _, f := range v.faults {
		switch f.Kind {
		case ContactNoisy:
			if l.Keys[f.A].Row == r && l.Keys[f.A].Column == c {
				return true
			}
		case RowNoisy:
			if f.A == r {
				return true
			}
		case ColumnNoisy:
			if f.A == c {
				return true
			}
		}
	}
	return false
}

// Ghosts lists what a good matrix reads besides the keys that are held.
func (l Layout) Ghosts(pressed []int) []string {
	return l.names(l.scan(nil, pressed).read.differ(l.setOf(pressed)))
}

// GhostKeys lists, for keys held, every further key that would bring a ghost, with the ghosts, in order of the keys.
func (l Layout) GhostKeys(held []int) []Ghost {
	var out []Ghost
	for k := range l.Keys {
		inHeld := false
		for _, h := range held {
			inHeld = inHeld || h == k
		}
		if inHeld {
			continue
		}
		if g := l.Ghosts(append(append([]int{}, held...), k)); len(g) > 0 {
			out = append(out, Ghost{l.Keys[k].Name, g})
		}
	}
	return out
}

// Ghost is a key that, pressed too, makes others appear.
type Ghost struct {
	Key     string   `json:"key"`
	Appears []string `json:"appears"`
}
