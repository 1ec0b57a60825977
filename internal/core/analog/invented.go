package analog

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"

	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/evidence"
)

// This file is a machine that never existed, with faults in it that are known: it answers what a meter would show. Like the units of a drill its
// tolerances are drawn and its fault has a severity that no hypothesis has; unlike them it can be repaired, and a place asked twice answers the same.

// Invented is one such machine.
type Invented struct {
	l      *Lab
	own    elec.Patch // its tolerances
	broken []injury
	seed   uint64
	meter  float64
}

// injury is a fault of the universe with its severity.
type injury struct {
	fault int
	way   Way
}

// NewInvented makes a machine with faults of the lab's universe. The same seed gives the same machine; meter is the meter's error as a fraction (0.01).
func NewInvented(l *Lab, faults []int, seed uint64, meter float64) *Invented {
	rng := rand.New(rand.NewPCG(seed, 0))
	v := &Invented{l: l, own: l.U.M.drawn(rng), seed: seed, meter: meter}
	for _, f := range faults {
		v.broken = append(v.broken, injury{f, l.U.severity(f, rng)})
	}
	return v
}

// After is the machine after the repairs of a log: a fault ends with what carried it.
func (v *Invented) After(log []evidence.Entry) *Invented {
	s := &Session{Lab: v.l, M: v.l.U.M, Case: &evidence.Case{Log: log}}
	out := *v
	out.broken = slices.DeleteFunc(slices.Clone(v.broken), func(x injury) bool { return !s.alive(v.l.first[x.fault], len(log)) })
	return &out
}

// Read is what the meter shows; ok is false where the model has no answer.
func (v *Invented) Read(k Check) (x float64, ok bool) {
	h := fnv.New64a()
	fmt.Fprintf(h, "%v", k)
	u := &Unit{l: v.l, patch: v.own, rng: rand.New(rand.NewPCG(v.seed, h.Sum64())), seen: map[Condition]*world{}, meter: v.meter}
	for _, b := range v.broken {
		u.patch = u.patch.And(v.l.U.freed(b.fault, b.way.Patch, k.Cond))
		if b.way.Ripple > u.extra.Ripple {
			u.extra = b.way
		}
	}
	if x, ok = u.Read(k); !ok || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, false
	}
	return x, true
}
