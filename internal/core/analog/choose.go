package analog

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// This file compares checks: which faults no check tells apart, how many bits about the groups of look-alikes a check is expected to give, and, for
// the best of them, what would be left to do after each of its readings.

// view is a check with the probabilities of its readings in fine steps, for every story looked at.
type view struct {
	x    *Proposal
	like [][]float64 // [story][step]
}

// field is the doubt that a plan works on.
type field struct {
	p     []float64 // of the stories looked at, adding up to 1
	class []int     // story → set of faults that are there now
	group []int     // story → group of look-alikes
	n     int       // groups
}

const (
	finest    = 48   // steps of a reading
	slip      = 0.02 // readings that say nothing
	mistaken  = 0.05 // two faults are told apart when one reading, at even odds, leaves less than this chance of taking one for the other
	alike     = 40   // sets of faults that are compared
	ahead     = 6    // checks whose readings are followed one check further
	following = 24   // checks that may follow
)

// view cuts the line of readings into steps and computes what the stories put into each; with made, as if nothing had been read yet.
func (s *Session) view(x *Proposal, top []Story, made bool) view {
	bells := make([][]bell, len(top))
	var edges []float64
	for i := range top {
		bells[i] = s.foresee(&top[i], x.Check, made)
		for _, b := range bells[i] {
			for _, z := range [...]float64{-2.2, -1, 0, 1, 2.2} {
				edges = append(edges, b.mu+z*b.sigma)
			}
		}
	}
	slices.Sort(edges)
	edges = slices.Compact(edges)
	if n := len(edges); n > finest-1 {
		for i := range finest - 1 {
			edges[i] = edges[(2*i+1)*n/(2*(finest-1))]
		}
		edges = slices.Compact(edges[:finest-1])
	}
	n := len(edges) + 1
	flat := make([]float64, n*len(top))
	v := view{x: x, like: make([][]float64, len(top))}
	for i := range top {
		row := flat[i*n:][:n]
		v.like[i] = row
		if len(bells[i]) == 0 {
			for k := range row {
				row[k] = 1 / float64(n)
			}
			continue
		}
		total := 0.0
		for _, b := range bells[i] {
			total += b.weight
		}
		for _, b := range bells[i] {
			w, last := (1-slip)*b.weight/total, 0.0
			for k, e := range edges {
				c := cumulative((e - b.mu) / b.sigma)
				row[k] += w * (c - last)
				last = c
			}
			row[n-1] += w * (1 - last)
		}
		for k := range row {
			row[k] += slip / float64(n)
		}
	}
	return v
}

// cumulative is the normal distribution function.
func cumulative(z float64) float64 {
	switch {
	case z < -8:
		return 0
	case z > 8:
		return 1
	}
	return 0.5 * math.Erfc(-z/math.Sqrt2)
}

// expected is what a story shows, as one normal distribution.
func expected(list []bell) Prediction {
	if len(list) == 0 {
		return Prediction{}
	}
	var w, m, v float64
	for _, b := range list {
		w += b.weight
		m += b.weight * b.mu
	}
	m /= w
	for _, b := range list {
		v += b.weight * (b.sigma*b.sigma + (b.mu-m)*(b.mu-m))
	}
	return Prediction{m, math.Sqrt(v / w), true}
}

// field lays the doubt out; the groups are those that none of the views tells apart.
func (s *Session) field(top []Story, views []view) *field {
	f := &field{}
	total := 0.0
	for _, st := range top {
		total += st.P
	}
	names := map[string]int{}
	for i := range top {
		f.p = append(f.p, top[i].P/total)
		key := s.Words(top[i])
		c, ok := names[key]
		if !ok {
			c = len(names)
			names[key] = c
		}
		f.class = append(f.class, c)
	}
	n := len(names)
	mass := make([]float64, n)
	for i, c := range f.class {
		mass[c] += f.p[i]
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(mass[b], mass[a]) })
	order = order[:min(n, alike)]
	place := make([]int, n) // class → place in order, -1 beyond
	for i := range place {
		place[i] = -1
	}
	for i, c := range order {
		place[c] = i
	}
	m := len(order)
	apart := make([]bool, m*m)
	for _, v := range views {
		steps := len(v.like[0])
		rows := make([]float64, m*steps)
		for i, c := range f.class {
			if place[c] < 0 {
				continue
			}
			row := rows[place[c]*steps:][:steps]
			for k, q := range v.like[i] {
				row[k] += f.p[i] / mass[c] * q
			}
		}
		for a := range m {
			for b := range a {
				if apart[a*m+b] {
					continue
				}
				same := 0.0
				rb := rows[b*steps:][:steps]
				for k, q := range rows[a*steps:][:steps] {
					same += min(q, rb[k])
				}
				apart[a*m+b] = same/2 < mistaken
			}
		}
	}
	of := make([]int, n)
	for i := range of {
		of[i] = -1
	}
	var leaders []int
	for i, c := range order {
		for g, lead := range leaders {
			if !apart[i*m+lead] {
				of[c] = g
				break
			}
		}
		if of[c] < 0 {
			of[c] = len(leaders)
			leaders = append(leaders, i)
		}
	}
	f.n = len(leaders)
	for c := range of {
		if of[c] < 0 {
			of[c] = f.n
			f.n++
		}
	}
	for _, c := range f.class {
		f.group = append(f.group, of[c])
	}
	return f
}

// bits is the information of a view about the groups when the stories have the probabilities p.
func (f *field) bits(v *view, p []float64) float64 {
	steps := len(v.like[0])
	joint := make([]float64, f.n*steps)
	all := make([]float64, steps)
	mass := make([]float64, f.n)
	for i, q := range p {
		if q < 1e-9 {
			continue
		}
		row := joint[f.group[i]*steps:][:steps]
		mass[f.group[i]] += q
		for k, x := range v.like[i] {
			row[k] += q * x
			all[k] += q * x
		}
	}
	sum := 0.0
	for g, w := range mass {
		if w == 0 {
			continue
		}
		for k, x := range joint[g*steps:][:steps] {
			if x > 1e-12 {
				sum += x * math.Log2(x/(w*all[k]))
			}
		}
	}
	return max(0, sum)
}

// rest is the least number of checks that is to be expected for a doubt over groups, when one gives the bits per check.
func (f *field) rest(p []float64, per float64) float64 {
	mass := make([]float64, f.n)
	total := 0.0
	for i, q := range p {
		mass[f.group[i]] += q
		total += q
	}
	h, top := 0.0, 0.0
	for _, q := range mass {
		if q > 0 {
			q /= total
			h -= q * math.Log2(q)
			top = max(top, q)
		}
	}
	if top >= settled {
		return 0
	}
	return max(1, h/per)
}

// after calls f with the probability of each step of a view and the stories after it.
func (f *field) after(v *view, p []float64, do func(w float64, after []float64)) {
	out := make([]float64, len(p))
	for k := range v.like[0] {
		w := 0.0
		for i, q := range p {
			out[i] = q * v.like[i][k]
			w += out[i]
		}
		if w < 1e-6 {
			continue
		}
		for i := range out {
			out[i] /= w
		}
		do(w, out)
	}
}

// course puts first the check after which the least is left to do; price is what a check costs. The views are sorted, best first.
func (f *field) course(ctx context.Context, views []view, price func(*Proposal) float64) int {
	if len(views) < 2 {
		return 0
	}
	per, mean := 0.0, 0.0
	for i := range views[:min(ahead, len(views))] {
		per = max(per, views[i].x.Bits)
		mean += price(views[i].x) / float64(min(ahead, len(views)))
	}
	per = max(per, 0.3)
	next := views[:min(following, len(views))]
	best, least := 0, math.Inf(1)
	for i := range views[:min(ahead, len(views))] {
		cost := price(views[i].x)
		f.after(&views[i], f.p, func(w float64, q []float64) {
			rest := mean * f.rest(q, per)
			if rest > 0 && w > 0.01 && ctx.Err() == nil {
				then := math.Inf(1)
				for j := range next {
					c := price(next[j].x)
					f.after(&next[j], q, func(w float64, r []float64) { c += w * mean * f.rest(r, per) })
					then = min(then, c)
				}
				rest = then
			}
			cost += w * rest
		})
		if cost < least*0.999 {
			best, least = i, cost
		}
	}
	return best
}
