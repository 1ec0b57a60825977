package weak

import "slices"

// Clauses in conjunctive normal form, made gate by gate. What is constant is folded, and the same gate over the same inputs is one variable.

// lit is a literal: a variable from 1 up, negative when it is negated. Variable 1 is the constant 1.
type lit int32

const (
	yes  lit = 1
	no   lit = -1
	none lit = 0
)

type gateKey struct {
	op   uint8
	a, b lit
}

type cnf struct {
	vars    int
	clauses [][]int32
	gates   map[gateKey]lit
}

func newCNF() *cnf {
	return &cnf{vars: 1, clauses: [][]int32{{1}}, gates: map[gateKey]lit{}}
}

func (f *cnf) fresh() lit {
	f.vars++
	return lit(f.vars)
}

// clause adds a disjunction; one that is always true is left out.
func (f *cnf) clause(ls ...lit) {
	c := make([]int32, 0, len(ls))
	for _, l := range ls {
		switch {
		case l == yes || slices.Contains(c, -int32(l)):
			return
		case l == no || slices.Contains(c, int32(l)):
		default:
			c = append(c, int32(l))
		}
	}
	f.clauses = append(f.clauses, c)
}

func (f *cnf) gate(op uint8, a, b lit, make func(o lit)) lit {
	if a > b {
		a, b = b, a
	}
	k := gateKey{op, a, b}
	if o, ok := f.gates[k]; ok {
		return o
	}
	o := f.fresh()
	f.gates[k] = o
	make(o)
	return o
}

const (
	opAnd uint8 = iota
	opXor
)

// and is the conjunction.
func (f *cnf) and(ls ...lit) lit {
	in := make([]lit, 0, len(ls))
	for _, l := range ls {
		switch {
		case l == no || slices.Contains(in, -l):
			return no
		case l == yes || slices.Contains(in, l):
		default:
			in = append(in, l)
		}
	}
	switch len(in) {
	case 0:
		return yes
	case 1:
		return in[0]
	case 2:
		return f.gate(opAnd, in[0], in[1], func(o lit) {
			f.clause(-o, in[0])
			f.clause(-o, in[1])
			f.clause(o, -in[0], -in[1])
		})
	}
	o := f.fresh()
	all := []lit{o}
	for _, l := range in {
		f.clause(-o, l)
		all = append(all, -l)
	}
	f.clause(all...)
	return o
}

func (f *cnf) or(ls ...lit) lit {
	neg := make([]lit, len(ls))
	for i, l := range ls {
		neg[i] = -l
	}
	return -f.and(neg...)
}

func (f *cnf) xor(a, b lit) lit {
	switch {
	case a == yes:
		return -b
	case a == no:
		return b
	case b == yes:
		return -a
	case b == no:
		return a
	case a == b:
		return no
	case a == -b:
		return yes
	}
	flip := lit(1) // signs move outside, so that the same pair is one gate
	if a < 0 {
		a, flip = -a, -flip
	}
	if b < 0 {
		b, flip = -b, -flip
	}
	return flip * f.gate(opXor, a, b, func(o lit) {
		f.clause(-o, a, b)
		f.clause(-o, -a, -b)
		f.clause(o, -a, b)
		f.clause(o, a, -b)
	})
}

// mux is c ? a : b.
func (f *cnf) mux(c, a, b lit) lit {
	switch {
	case c == yes || a == b:
		return a
	case c == no:
		return b
	case a == -b:
		return -f.xor(c, a)
	}
	return f.or(f.and(c, a), f.and(-c, b), f.and(a, b)) // the last: known as soon as both agree
}

// same makes a and b equal unless one of the excuses holds.
func (f *cnf) same(a, b lit, excuses ...lit) {
	f.clause(append([]lit{-a, b}, excuses...)...)
	f.clause(append([]lit{a, -b}, excuses...)...)
}

// unless is a value that is v, and free where the excuse holds.
func (f *cnf) unless(excuse, v lit) lit {
	switch excuse {
	case no:
		return v
	case yes:
		return f.fresh()
	}
	o := f.fresh()
	f.same(o, v, excuse)
	return o
}

// totalizer counts: the result's literal i (from 0) is true when more than i of the inputs are, for i below most.
func (f *cnf) totalizer(in []lit, most int) []lit {
	if len(in) <= 1 {
		return slices.Clone(in[:min(len(in), most)])
	}
	a, b := f.totalizer(in[:len(in)/2], most), f.totalizer(in[len(in)/2:], most)
	out := make([]lit, min(len(a)+len(b), most))
	for i := range out {
		out[i] = f.fresh()
		if i > 0 {
			f.clause(-out[i], out[i-1])
		}
	}
	for i := 0; i <= len(a); i++ {
		for j := 0; j <= len(b); j++ {
			if i+j == 0 {
				continue
			}
			c := []lit{out[min(i+j, len(out))-1]} // i of the left and j of the right make i+j
			if i > 0 {
				c = append(c, -a[i-1])
			}
			if j > 0 {
				c = append(c, -b[j-1])
			}
			f.clause(c...)
		}
	}
	return out
}
