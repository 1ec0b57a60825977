package diagnose

import (
	"cmp"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
)

// Share is the probability that a part holds a fault now, or that a net does outside any part.
type Share struct {
	Part int // None for a net
	Net  int // None for a part
	P    float64
}

// Seat is where a fault counts: its part, or its net when it is in none.
func (g *Ground) Seat(f fault.Fault) (part, net int) {
	if p := f.Part(g.M.C); p != circuit.None {
		return p, circuit.None
	}
	return circuit.None, f.Net(g.M.C)
}

// Shares sums suspects up by seat, the heaviest first. A bridge counts for the first of its nets.
func (s *Session) Shares(list []Suspect) []Share {
	type seat struct{ part, net int }
	sum := map[seat]float64{}
	for _, u := range list {
		seen := map[seat]bool{}
		for _, f := range u.Faults {
			p, n := s.Seat(s.Faults[f])
			if k := (seat{p, n}); !seen[k] {
				seen[k] = true
				sum[k] += u.P
			}
		}
	}
	out := make([]Share, 0, len(sum))
	for k, p := range sum {
		out = append(out, Share{k.part, k.net, p})
	}
	slices.SortFunc(out, func(a, b Share) int {
		return cmp.Or(cmp.Compare(b.P, a.P), cmp.Compare(a.Part, b.Part), cmp.Compare(a.Net, b.Net))
	})
	return out
}
