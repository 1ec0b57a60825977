package elec

// This file factorises and solves with a fixed order of pivots (Gilbert and Peierls style, row by row, with the pattern known): the hot loop of
// everything else. Real and complex matrices share it.

type number interface{ float64 | complex128 }

// factor is the LU of one matrix; a factor belongs to one goroutine.
type factor[T number] struct {
	o    *order
	l, u []T
	inv  []T // 1/pivot
	w, y []T // w is zero between calls
}

func newFactor[T number](o *order) *factor[T] {
	return &factor[T]{o: o, l: make([]T, len(o.lStep)), u: make([]T, len(o.uStep)), inv: make([]T, o.n), w: make([]T, o.n), y: make([]T, o.n)}
}

// refactor computes the LU of the values a [slot]; false if a pivot is zero or not finite.
func (f *factor[T]) refactor(a []T) bool {
	o, w, u, inv := f.o, f.w, f.u, f.inv
	for k := 0; k < o.n; k++ {
		slots := o.aSlot[o.aPtr[k]:o.aPtr[k+1]]
		steps := o.aStep[o.aPtr[k]:o.aPtr[k+1]]
		steps = steps[:len(slots)]
		for i, s := range slots {
			w[steps[i]] += a[s]
		}
		l := f.l[o.lPtr[k]:o.lPtr[k+1]]
		for i, j := range o.lStep[o.lPtr[k]:o.lPtr[k+1]] {
			m := w[j]
			w[j] = 0
			if m == 0 {
				l[i] = 0
				continue
			}
			m *= inv[j]
			l[i] = m
			us := u[o.uPtr[j]:o.uPtr[j+1]]
			ut := o.uStep[o.uPtr[j]:o.uPtr[j+1]]
			ut = ut[:len(us)]
			for t, x := range us {
				w[ut[t]] -= m * x
			}
		}
		piv := w[k]
		w[k] = 0
		for t := o.uPtr[k]; t < o.uPtr[k+1]; t++ {
			u[t] = w[o.uStep[t]]
			w[o.uStep[t]] = 0
		}
		if piv == 0 || piv-piv != 0 { // also NaN and infinity
			clear(w)
			return false
		}
		inv[k] = 1 / piv
	}
	return true
}

// solve overwrites x with the solution of A x = b; b [equation] and x [unknown] may be the same slice.
func (f *factor[T]) solve(b, x []T) {
	o, y := f.o, f.y
	for k := 0; k < o.n; k++ {
		s := b[o.rowAt[k]]
		l := f.l[o.lPtr[k]:o.lPtr[k+1]]
		for i, j := range o.lStep[o.lPtr[k]:o.lPtr[k+1]] {
			s -= l[i] * y[j]
		}
		y[k] = s
	}
	for k := o.n - 1; k >= 0; k-- {
		s := y[k]
		u := f.u[o.uPtr[k]:o.uPtr[k+1]]
		for i, j := range o.uStep[o.uPtr[k]:o.uPtr[k+1]] {
			s -= u[i] * y[j]
		}
		y[k] = s * f.inv[k]
	}
	for k, c := range o.colAt {
		x[c] = y[k]
	}
}

// solveTransposed overwrites x with the solution of Aᵀ x = b; b [unknown] and x [equation] may be the same slice.
func (f *factor[T]) solveTransposed(b, x []T) {
	o, y := f.o, f.y
	for k, c := range o.colAt {
		y[k] = b[c]
	}
	for k := 0; k < o.n; k++ {
		y[k] *= f.inv[k]
		s := y[k]
		if s == 0 {
			continue
		}
		u := f.u[o.uPtr[k]:o.uPtr[k+1]]
		for i, j := range o.uStep[o.uPtr[k]:o.uPtr[k+1]] {
			y[j] -= u[i] * s
		}
	}
	for k := o.n - 1; k >= 0; k-- {
		s := y[k]
		if s != 0 {
			l := f.l[o.lPtr[k]:o.lPtr[k+1]]
			for i, j := range o.lStep[o.lPtr[k]:o.lPtr[k+1]] {
				y[j] -= l[i] * s
			}
		}
	}
	for k, r := range o.rowAt {
		x[r] = y[k]
	}
}
