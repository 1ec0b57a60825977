// Package weak finds the smallest sets of parts that must be bad to explain what was seen, whatever the bad ones do: a bad part's outputs
// may take any level in any moment, a good one does what its record says (consistency-based diagnosis with weak fault models).
//
// The board is written out as clauses, moment by moment and round by round as docs/simulation.md has it, with one literal "bad" for each part;
// a satisfiability solver then bounds how many may hold. Where the clauses cannot follow the board (memories, opaque parts,
// levels through several resistors, what never settles) the level is left free: no set that explains is ever shut out, so the size reported is never
// too large.
package weak

import (
	"context"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/predict"
)

// Look is what was looked at.
type Look uint8

// A level at a place, or an indicator.
const (
	Level Look = iota
	Lamp
)

// Seen is one thing seen in an experiment. Of a level the word is Low, High, Pulses, Floating or Between, as a scope shows it from the settled
// state before the last action to its end, or at the end alone with AtEnd. Of an indicator Lit and Dark say what was seen; both is blinking.
type Seen struct {
	Look      Look
	Place     circuit.Place
	Word      predict.Word
	AtEnd     bool
	Lamp      int
	Lit, Dark bool
	Whole     bool // the indicator was watched during the whole of the last action
}

// Experiment is one run of the board from the unknown state, with what was seen.
type Experiment struct {
	Setting predict.Setting
	Excused []int // parts, replaced or touched since: they may have done anything then
	Free    []int // nets cleared since: they may have had any level then
	Seen    []Seen
}

// Options bound the search.
type Options struct {
	Most    int // sets listed; 0 means 100
	Moments int // moments of one experiment that are followed, the last ones; 0 means as many as stay a matter of seconds
}

// Result is every smallest set.
type Result struct {
	Possible    bool    // some set explains what was seen
	Cardinality int     // parts in each set; 0 when all parts may be good
	Sets        [][]int // parts, ascending; sets in ascending order
	More        bool    // there are further sets than those listed
	Candidates  int     // parts that the search for the size had to consider
	Variables   int     // of the clauses
	Clauses     int
	Shortened   bool // some experiment was so long that only its end was followed
}

// Diagnose finds the smallest sets. It ends early, with the context's error, when the context ends.
func Diagnose(ctx context.Context, c *circuit.Circuit, xs []Experiment, o Options) (Result, error) {
	if o.Most <= 0 {
		o.Most = 100
	}
	var r Result
	p := newPlan(c, xs, o.Moments)
	top, reach := p.tops()
	for _, t := range top {
		if t {
			r.Candidates++
		}
	}
	f, bad, err := p.clauses(ctx, top)
	if err != nil {
		return r, err
	}
	r.Cardinality, r.Possible, err = least(ctx, f, lits(bad))
	if err != nil || !r.Possible {
		return Result{Candidates: r.Candidates, Shortened: p.shortened}, err
	}
	f, bad, err = p.clauses(ctx, reach)
	if err != nil {
		return r, err
	}
	r.Variables, r.Clauses, r.Shortened = f.vars, len(f.clauses), p.shortened
	sets, more, err := all(ctx, f, lits(bad), r.Cardinality, o.Most)
	if err != nil {
		return r, err
	}
	r.More = more
	for _, s := range sets {
		parts := make([]int, len(s))
		for i, k := range s {
			parts[i] = bad[k].part
		}
		r.Sets = append(r.Sets, parts)
	}
	slices.SortFunc(r.Sets, slices.Compare[[]int])
	return r, nil
}

// Smallest finds the size of the smallest sets only; ok is false when no set explains what was seen.
func Smallest(ctx context.Context, c *circuit.Circuit, xs []Experiment, o Options) (n int, ok bool, err error) {
	p := newPlan(c, xs, o.Moments)
	top, _ := p.tops()
	f, bad, err := p.clauses(ctx, top)
	if err != nil {
		return 0, false, err
	}
	return least(ctx, f, lits(bad))
}

// suspect is a part that may be bad, with its literal.
type suspect struct {
	part int
	bad  lit
}

func lits(s []suspect) []lit {
	out := make([]lit, len(s))
	for i, x := range s {
		out[i] = x.bad
	}
	return out
}
