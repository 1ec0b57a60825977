package advise

import (
	"context"
	"slices"
)

// Plan is what to do next, best first, and which suspects nothing still available would tell apart.
type Plan struct {
	Checks []Check
	Groups []int // per suspect of the result: number of its look-alike group, from 1 in the order of the suspects
}

// Options change how far the planner looks.
type Options struct {
	Exhaustive bool // look two checks deep from every candidate
	NoRepairs  bool // readings only
	Most       int  // how many checks to return; 0 means 12
}

// Plan chooses the next checks.
func (b *Bench) Plan(ctx context.Context, o Options) (*Plan, error) {
	cs, err := b.candidates(ctx)
	if err != nil {
		return nil, err
	}
	p := &Plan{Groups: b.lookalikes()}
	ranked := b.rank(cs, o.Exhaustive)
	if !o.NoRepairs && !b.Unpowered {
		rs, first := b.repairs(ranked)
		first = first || len(rs) > 0 && b.Settled(p, ranked)
		switch {
		case first:
			ranked = append(rs, ranked...)
		case len(rs) > 0 && len(ranked) > 0 && rs[0].Ends >= 0.3:
			ranked = slices.Insert(ranked, min(3, len(ranked)), rs[0])
		case len(ranked) == 0:
			ranked = rs
		}
	}
	if o.Most == 0 {
		o.Most = 12
	}
	p.Checks = ranked[:min(o.Most, len(ranked))]
	for i := range p.Checks {
		b.nameSuspects(&p.Checks[i])
	}
	return p, nil
}

// lookalikes numbers the groups of suspects that showed the same in every candidate. Suspects too unlikely to be laid out get numbers
// of their own.
func (b *Bench) lookalikes() []int {
	out := make([]int, len(b.R.Suspects))
	number := map[uint64]int{}
	next := 0
	for i := range b.R.Suspects {
		if i >= len(b.leaders) {
			next++
			out[i] = next
			continue
		}
		h := b.groups[b.leaders[i]]
		n, ok := number[h]
		if !ok {
			next++
			n = next
			number[h] = n
		}
		out[i] = n
	}
	return out
}

// A look-alike group this likely is settled when the best check left removes next to nothing: measuring on would only polish the figure.
const (
	settledAt  = 0.93
	nothing    = 0.06 // bits
	settledFor = 0.97 // settled whatever the checks could still show
)

// Settled tells whether it is time to repair rather than to measure on.
func (b *Bench) Settled(p *Plan, ranked []Check) bool {
	mass := map[int]float64{}
	lead := 0.0
	for i, u := range b.R.Suspects {
		mass[p.Groups[i]] += u.P
		lead = max(lead, mass[p.Groups[i]])
	}
	return len(ranked) == 0 || lead >= settledFor || lead >= settledAt && ranked[0].Bits < nothing
}
