package elec

import (
	"math"
	"slices"
)

// This file chooses the pivots of the sparse LU: Markowitz's rule (The elimination form of the inverse and its application
// to linear programming, Management Science 3, 1957) among entries that are not small in their row, once per circuit
// and again only where the chosen order fails. The values sit in a dense array while ordering, which for the few
// hundred unknowns of a board is quicker than lists.

// pattern is a square sparse matrix by rows. A slot is an index into col, and into the slice of values.
type pattern struct {
	n   int
	row []int32 // slots of row i are row[i] up to row[i+1]
	col []int32
}

// newPattern builds the pattern from entry pairs and returns where each pair landed.
func newPattern(n int, pairs [][2]int32) (*pattern, []int32) {
	idx := make([]int, len(pairs))
	for i := range idx {
		idx[i] = i
	}
	key := func(i int) int64 { return int64(pairs[i][0])<<32 | int64(pairs[i][1]) }
	slices.SortFunc(idx, func(a, b int) int {
		switch ka, kb := key(a), key(b); {
		case ka < kb:
			return -1
		case ka > kb:
			return 1
		}
		return 0
	})
	p := &pattern{n: n, row: make([]int32, n+1)}
	slot := make([]int32, len(pairs))
	last := int64(-1)
	for _, i := range idx {
		if k := key(i); k != last {
			last = k
			p.col = append(p.col, pairs[i][1])
			p.row[pairs[i][0]+1]++
		}
		slot[i] = int32(len(p.col) - 1)
	}
	for i := 0; i < n; i++ {
		p.row[i+1] += p.row[i]
	}
	return p, slot
}

// order is a fixed sequence of pivots with the fill it causes. Step k eliminates equation rowAt[k] and unknown
// colAt[k]; all other indexes are steps.
type order struct {
	n            int
	rowAt, colAt []int32
	aPtr         []int32 // entries of A in the row of step k
	aSlot, aStep []int32
	lPtr, lStep  []int32 // steps whose rows are subtracted, ascending
	uPtr, uStep  []int32 // entries right of the pivot, ascending
}

// choose orders the pivots for a matrix of magnitudes; ok is false when the matrix is singular to working precision, and
// stuck then names a row that is left over.
func choose(p *pattern, mag []float64) (o *order, stuck int, ok bool) {
	n := p.n
	w := newWork(p, mag)
	o = &order{n: n, rowAt: make([]int32, n), colAt: make([]int32, n)}
	for k := 0; k < n; k++ {
		r, c := w.pivot()
		if r < 0 {
			return nil, w.leftOver(), false
		}
		o.rowAt[k], o.colAt[k] = int32(r), int32(c)
		w.eliminate(r, c)
	}
	o.fill(p)
	return o, 0, true
}

// work is the matrix while pivots are chosen, eliminated with the values it was given. A pivot that is poor for later
// values is noticed by the Newton iteration, which then orders again.
type work struct {
	n        int
	v        []float64
	cols     [][]int32 // live entries of each row
	rowsOf   [][]int32 // rows that hold an entry in each column, stale ones included
	colCount []int32
	rowDone  []bool
	colDone  []bool
}

func newWork(p *pattern, v []float64) *work {
	n := p.n
	w := &work{n: n, v: make([]float64, n*n), cols: make([][]int32, n), rowsOf: make([][]int32, n), colCount: make([]int32, n), rowDone: make([]bool, n), colDone: make([]bool, n)}
	for i := 0; i < n; i++ {
		for s := p.row[i]; s < p.row[i+1]; s++ {
			j := p.col[s]
			w.v[i*n+int(j)] = v[s]
			w.cols[i] = append(w.cols[i], j)
			w.rowsOf[j] = append(w.rowsOf[j], int32(i))
			w.colCount[j]++
		}
	}
	return w
}

const pivotThreshold = 1e-3 // of the largest entry in the row

func (w *work) pivot() (int, int) {
	bestCost, bestR, bestC, bestV := math.MaxInt, -1, -1, 0.0
	for size := 1; size <= w.n && (bestCost == math.MaxInt || (size-1)*(size-1) < bestCost); size++ {
		for r := 0; r < w.n; r++ {
			if w.rowDone[r] || len(w.cols[r]) != size {
				continue
			}
			big := 0.0
			for _, j := range w.cols[r] {
				big = max(big, math.Abs(w.v[r*w.n+int(j)]))
			}
			if !(big > 1e-30) {
				continue
			}
			for _, j := range w.cols[r] {
				a := math.Abs(w.v[r*w.n+int(j)])
				if a < pivotThreshold*big {
					continue
				}
				cost := (size - 1) * (int(w.colCount[j]) - 1)
				if cost < bestCost || cost == bestCost && a > bestV {
					bestCost, bestR, bestC, bestV = cost, r, int(j), a
				}
			}
		}
	}
	return bestR, bestC
}

func (w *work) leftOver() int {
	return max(0, slices.Index(w.rowDone, false))
}

func (w *work) eliminate(r, c int) {
	n := w.n
	w.rowDone[r], w.colDone[c] = true, true
	for _, j := range w.cols[r] {
		w.colCount[j]--
	}
	piv := w.v[r*n+c]
	for _, i32 := range w.rowsOf[c] {
		i := int(i32)
		if w.rowDone[i] {
			continue
		}
		at := slices.Index(w.cols[i], int32(c))
		if at < 0 {
			continue
		}
		w.cols[i] = slices.Delete(w.cols[i], at, at+1)
		m := w.v[i*n+c] / piv
		for _, j := range w.cols[r] {
			if int(j) == c {
				continue
			}
			if !slices.Contains(w.cols[i], j) {
				w.cols[i] = append(w.cols[i], j)
				w.rowsOf[j] = append(w.rowsOf[j], i32)
				w.colCount[j]++
			}
			w.v[i*n+int(j)] -= m * w.v[r*n+int(j)]
		}
	}
}

// fill works out the pattern of L and U for the chosen pivots.
func (o *order) fill(p *pattern) {
	n := o.n
	stepOfCol := make([]int32, n)
	for k, c := range o.colAt {
		stepOfCol[c] = int32(k)
	}
	o.aPtr, o.lPtr, o.uPtr = make([]int32, n+1), make([]int32, n+1), make([]int32, n+1)
	has := make([]bool, n)
	for k := 0; k < n; k++ {
		r := o.rowAt[k]
		for s := p.row[r]; s < p.row[r+1]; s++ {
			st := stepOfCol[p.col[s]]
			o.aSlot, o.aStep = append(o.aSlot, s), append(o.aStep, st)
			has[st] = true
		}
		for j := 0; j < k; j++ {
			if !has[j] {
				continue
			}
			o.lStep = append(o.lStep, int32(j))
			for _, u := range o.uStep[o.uPtr[j]:o.uPtr[j+1]] {
				has[u] = true
			}
			has[j] = false
		}
		has[k] = false
		for j := k + 1; j < n; j++ {
			if has[j] {
				o.uStep = append(o.uStep, int32(j))
				has[j] = false
			}
		}
		o.aPtr[k+1], o.lPtr[k+1], o.uPtr[k+1] = int32(len(o.aSlot)), int32(len(o.lStep)), int32(len(o.uStep))
	}
}
