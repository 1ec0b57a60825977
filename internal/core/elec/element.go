package elec

import "math"

// This file holds the elements that devices are built from, and evaluates one of them with its joints: a joint is a resistance
// between a terminal and its node, 1e12 Ω for a pin that is open. The voltage behind a joint is found by a Newton
// iteration of the element alone and then eliminated (Schur complement), so an open pin needs no new unknown.

type ekind uint8

const (
	eRes ekind = iota // linear from here
	eCap
	eWinding
	eVsrc
	eIsrc
	eDiode // nonlinear from here
	eBJT
	eJFET
	eMOS
	eOpAmp
	eComp
	eOTA
	ePhoto
	eReg
	eRef
	eSwitch
	eLimited // source with limited current
)

const maxTerms = 6

// shape is what all elements of a kind have in common: terminals, parameters, numbers of limiter memory, and which
// terminal voltages each terminal's current depends on (rows of 0 and 1; empty: all).
type shape struct {
	terms, pars, mem int
	uses             []string
}

var shapes = [...]shape{
	eRes:     {terms: 2, pars: 1},
	eCap:     {terms: 2, pars: 3},
	eWinding: {terms: 3, pars: 3},
	eVsrc:    {terms: 3, pars: 7},
	eIsrc:    {terms: 2, pars: 6},
	eDiode:   {terms: 2, pars: 7, mem: 1},
	eBJT:     {terms: 3, pars: 14, mem: 2},
	eJFET:    {terms: 3, pars: 6, mem: 3},
	eMOS:     {terms: 3, pars: 6, mem: 3},
	//                                            +   -   out v+  v-  c
	eOpAmp:   {terms: 6, pars: 13, mem: 2, uses: []string{"110110", "110110", "001111", "111111", "111111", "110111"}},
	eComp:    {terms: 5, pars: 7, mem: 1, uses: []string{"11011", "11011", "11101", "11011", "11111"}},
	eOTA:     {terms: 6, pars: 7, mem: 2},
	ePhoto:   {terms: 4, pars: 4, mem: 1, uses: []string{"1100", "1100", "1100", "1100"}},
	eReg:     {terms: 3, pars: 8, mem: 1},
	eRef:     {terms: 3, pars: 6, mem: 1},
	eSwitch:  {terms: 5, pars: 4, uses: []string{"11111", "11111", "00000", "00000", "00000"}},
	eLimited: {terms: 2, pars: 8, mem: 1},
}

// element is one primitive of a device. t are unknowns, -1 for the reference; pin is the device terminal that each
// belongs to, -1 for an inner one. par, mem and slot are offsets into the circuit's or solver's tables.
type element struct {
	kind   ekind
	nt     int8
	pin    [maxTerms]int8
	t      [maxTerms]int32
	dev    int32
	part   int32 // which element of the device
	par    int32
	mem    int32
	slot   int32 // nt*nt slots for nonlinear elements, else see stampLinear
	joints int32 // offset into the solver's joint resistances, or -1 for none
}

func (e *element) linear() bool { return e.kind < eDiode }

// local is the evaluation of one element: v, i [terminal] and g [terminal*maxTerms+terminal]; i flows into the element.
// limited tells that a voltage was held back, so that i and g are extrapolated from elsewhere.
type local struct {
	v, i    [maxTerms]float64
	g       [maxTerms * maxTerms]float64
	limited bool
}

// evaluate fills l.i and l.g at l.v. par and mem are the element's own; mem is updated.
func (l *local) evaluate(kind ekind, nt int, par, mem []float64, gmin float64) {
	l.limited = false
	l.i = [maxTerms]float64{}
	for r := 0; r < nt; r++ {
		*(*[maxTerms]float64)(l.g[r*maxTerms:]) = [maxTerms]float64{}
	}
	switch kind {
	case eDiode:
		l.diode(par, mem, gmin)
	case eBJT:
		l.bjt(par, mem, gmin)
	case eJFET:
		l.jfet(par, mem, gmin)
	case eMOS:
		l.mos(par, mem, gmin)
	case eOpAmp:
		l.opamp(par, mem)
	case eComp:
		l.comparator(par, mem)
	case eOTA:
		l.ota(par, mem, gmin)
	case ePhoto:
		l.photo(par, mem, gmin)
	case eReg:
		l.regulator(par, mem)
	case eRef:
		l.reference(par, mem)
	case eSwitch:
		l.analogSwitch(par)
	case eLimited:
		l.limitedSource(par, mem)
	}
}

// evaluateJointed does the same behind joints of ohms [terminal], 0 for none. inner [terminal] are the voltages behind the joints,
// kept between calls. found is false if the element alone did not come to rest.
func (l *local) evaluateJointed(kind ekind, nt int, par, mem, joint, inner []float64, gmin float64) (found bool) {
	var idx [maxTerms]int
	k := 0
	for t := 0; t < nt; t++ {
		if joint[t] > 0 {
			idx[k] = t
			k++
		}
	}
	outer := l.v
	const steps, patience = 150, 40
	var a [maxTerms][maxTerms]float64
	var last [maxTerms]float64          // the step before; a step back is at most half as long, which ends swinging between two flat ends
	lo, hi := math.Inf(-1), math.Inf(1) // where one joint's voltage must lie, because what flows in grows with it
	for step := 0; step < steps && !found; step++ {
		for _, t := range idx[:k] {
			l.v[t] = inner[t]
		}
		l.evaluate(kind, nt, par, mem, gmin)
		if step == patience { // the limiters may go round in circles; from here on halve the interval
			lo, hi = outer[idx[0]]-1e3, outer[idx[0]]+1e3
		}
		for again := 0; step >= patience && l.limited && again < 100; again++ {
			l.evaluate(kind, nt, par, mem, gmin)
		}
		var rhs [maxTerms]float64
		for r, t := range idx[:k] {
			gj := 1/joint[t] + 1e-15
			rhs[r] = gj*(outer[t]-inner[t]) - l.i[t]
			for c, q := range idx[:k] {
				a[r][c] = l.g[t*maxTerms+q]
			}
			a[r][r] += gj
		}
		rhs0 := rhs[0]
		if !gauss(&a, &rhs, k) {
			break
		}
		found = !l.limited
		for r, t := range idx[:k] {
			d := rhs[r]
			most := 5.0
			if k > 1 && d*last[r] < 0 {
				most = abs(last[r]) / 2
			}
			d = max(-most, min(most, d))
			if k == 1 && !l.limited {
				d = within(inner[t], d, rhs0, &lo, &hi)
			}
			last[r] = d
			inner[t] += d
			if d > 1e-9 || d < -1e-9 {
				found = false
			}
		}
	}
	l.v = outer
	l.limited = l.limited || !found
	for _, t := range idx[:k] {
		l.eliminate(t, nt, 1/joint[t]+1e-15, outer[t], inner[t])
	}
	return found
}

// within keeps a step d from v between lo and hi, which it narrows by the sign of what is missing; a step that would leave
// them goes to the middle instead.
func within(v, d, missing float64, lo, hi *float64) float64 {
	if missing > 0 {
		*lo = max(*lo, v)
	} else if missing < 0 {
		*hi = min(*hi, v)
	}
	if to := v + d; (to <= *lo || to >= *hi) && !math.IsInf(*lo, 0) && !math.IsInf(*hi, 0) {
		return (*lo+*hi)/2 - v
	}
	return d
}

// eliminate replaces terminal p of the element by the outer end of a joint of conductance gj.
func (l *local) eliminate(p, nt int, gj, outer, inner float64) {
	d := l.g[p*maxTerms+p] + gj
	if d == 0 {
		d = 1e-15
	}
	for i := 0; i < nt; i++ {
		if i == p {
			continue
		}
		f := l.g[i*maxTerms+p] / d
		for q := 0; q < nt; q++ {
			if q != p {
				l.g[i*maxTerms+q] -= f * l.g[p*maxTerms+q]
			}
		}
		l.g[i*maxTerms+p] = f * gj
	}
	f := gj / d
	for q := 0; q < nt; q++ {
		if q != p {
			l.g[p*maxTerms+q] *= f
		}
	}
	l.g[p*maxTerms+p] = gj - f*gj
	l.i[p] = gj * (outer - inner)
}

// gauss solves the k by k system in place with partial pivoting.
func gauss(a *[maxTerms][maxTerms]float64, b *[maxTerms]float64, k int) bool {
	for c := 0; c < k; c++ {
		p := c
		for r := c + 1; r < k; r++ {
			if abs(a[r][c]) > abs(a[p][c]) {
				p = r
			}
		}
		if !(abs(a[p][c]) > 1e-30) {
			return false
		}
		a[c], a[p] = a[p], a[c]
		b[c], b[p] = b[p], b[c]
		for r := c + 1; r < k; r++ {
			m := a[r][c] / a[c][c]
			for j := c; j < k; j++ {
				a[r][j] -= m * a[c][j]
			}
			b[r] -= m * b[c]
		}
	}
	for c := k - 1; c >= 0; c-- {
		for j := c + 1; j < k; j++ {
			b[c] -= a[c][j] * b[j]
		}
		b[c] /= a[c][c]
	}
	return true
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}
