package diagnose

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/predict"
)

// Suspect is a set of faults that are present now, with all the stories that end in it summed up.
type Suspect struct {
	Faults []int // indices into Session.Faults, ascending; empty means that nothing is wrong now
	P      float64
	Story  []Chapter // the likeliest story: every fault there ever was
	Latent bool      // none of the faults accounts for any reading better than a good board does: it may be there and has not shown
}

// Chapter is one fault of a story with the epochs in which it was there: from Born to Dies-1.
type Chapter struct {
	Fault, Mode int
	Born, Dies  int
}

// Result is the state of knowledge after the log so far.
type Result struct {
	Suspects []Suspect // by falling probability; the empty set is not among them
	Healthy  float64   // probability that nothing is wrong now
	Rest     float64   // probability of what was considered but is not listed
	Best     Suspect   // the likeliest of all, the empty set included
	Clean    bool      // every reading of the last epoch is what a good board shows
	Whole    bool      // the likeliest story leaves nothing of the log to slips
	Pairs    int       // sets of two and more that were simulated
}

// keepSuspects bounds the list; what lies beyond goes to Rest.
const keepSuspects = 1024

// Run ranks the suspects.
func (s *Session) Run(ctx context.Context) (*Result, error) {
	if err := s.update(ctx); err != nil {
		return nil, err
	}
	x := newSearcher(s)
	if !x.goodExplains() && !x.explained(append(x.singles(), x.none())) {
		more, err := s.complete(ctx) // no single fault will do: every one may be half of a pair
		if err != nil {
			return nil, err
		}
		if more {
			x = newSearcher(s)
		}
	}
	hyps := append(x.singles(), x.none())
	rest := math.Inf(-1)
	res := &Result{Clean: s.clean(x)}
	if !x.goodExplains() {
		cl := x.classes()
		guesses := x.pairGuesses(cl)
		for n, most := 2, maxPairs; ; n, most = n+1, min(maxMore, most/2) {
			sets, r := x.unfold(cl, guesses, most, top(hyps).score)
			rest = logAdd(rest, r)
			if err := x.simulate(ctx, sets); err != nil {
				return nil, err
			}
			hyps = append(hyps, sets...)
			res.Pairs += len(sets)
			// one more is looked for while something is left to explain; beyond three, while the last one helped
			if n == maxFaults || x.explained(hyps) || n > 2 && len(top(hyps).items) < n {
				break
			}
			guesses = x.moreGuesses(cl, guesses)
		}
	}
	res.Whole = x.explained(hyps)
	if !x.goodExplains() {
		x.brought(hyps)
	}
	s.collect(x, hyps, rest, res)
	return res, nil
}

// unasked is how much less likely a machine is to be brought in for a fault that shows in nothing seen so far than for one that does
// (estimate; soundPrior says the same of a machine with nothing wrong).
const unasked = 0.2

// brought weighs down the stories in which every surprise of the log is a slip and every fault one that nobody came for.
func (x *searcher) brought(hyps []hypothesis) {
	latent := x.latent()
	for i, h := range hyps {
		if len(h.items) > 0 && !slices.ContainsFunc(h.items, func(k int) bool { return !latent(k) }) {
			hyps[i].score += math.Log(unasked)
		}
	}
}

// fitsLog is the least ln P of a reading that counts as accounted for: unknown predictions do, slips do not.
const fitsLog = -2.3

// goodExplains tells whether the good board accounts for every reading of the log.
func (x *searcher) goodExplains() bool {
	for _, g := range x.good {
		if g < fitsLog {
			return false
		}
	}
	return true
}

// explained tells whether the likeliest set so far accounts for every reading.
func (x *searcher) explained(hyps []hypothesis) bool { return top(hyps).slips == 0 }

func top(hyps []hypothesis) hypothesis {
	return slices.MaxFunc(hyps, func(a, b hypothesis) int { return cmp.Compare(a.score, b.score) })
}

// clean tells whether the readings since the last repair are all as on a good board.
func (s *Session) clean(x *searcher) bool {
	for o, g := range x.good {
		if s.Obs[o].Epoch == s.epochs && g < fitsLog {
			return false
		}
	}
	return true
}

// collect normalises and sums the stories that end in the same present faults.
func (s *Session) collect(x *searcher, hyps []hypothesis, rest float64, res *Result) {
	high := rest
	for _, h := range hyps {
		high = max(high, h.score)
	}
	total := 0.0
	if !math.IsInf(rest, -1) {
		total = math.Exp(rest - high)
	}
	for _, h := range hyps {
		total += math.Exp(h.score - high)
	}
	res.Rest = 0
	if !math.IsInf(rest, -1) {
		res.Rest = math.Exp(rest-high) / total
	}
	type sumUp struct {
		Suspect
		best float64
	}
	latent := x.latent()
	byKey := map[string]*sumUp{}
	var list []*sumUp
	var tiny float64
	for _, h := range hyps {
		p := math.Exp(h.score-high) / total
		if p < 1e-9 {
			tiny += p
			continue
		}
		var now []int
		shown := false
		for _, k := range h.items {
			if it := x.items[k]; it.at(s.epochs) {
				now = append(now, it.fault)
				shown = shown || !latent(k)
			}
		}
		slices.Sort(now)
		now = slices.Compact(now)
		key := fmt.Sprint(now)
		u := byKey[key]
		if u == nil {
			u = &sumUp{Suspect: Suspect{Faults: now, Latent: true}}
			byKey[key] = u
			list = append(list, u)
		}
		u.P += p
		u.Latent = u.Latent && !shown
		if p > u.best {
			u.best = p
			u.Story = nil
			for _, k := range h.items {
				it := x.items[k]
				u.Story = append(u.Story, Chapter{it.fault, s.ways[it.lane].mode, it.born, it.dies})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b *sumUp) int { return cmp.Or(cmp.Compare(b.P, a.P), slices.Compare(a.Faults, b.Faults)) })
	res.Rest += tiny
	for i, u := range list {
		if i == 0 {
			res.Best = u.Suspect
		}
		switch {
		case len(u.Faults) == 0:
			res.Healthy = u.P
		case len(res.Suspects) >= keepSuspects:
			res.Rest += u.P
		default:
			res.Suspects = append(res.Suspects, u.Suspect)
		}
	}
}

// Ways is a suspect as a hypothesis for the model: the faults present in an epoch, in the modes of its likeliest story.
func (s *Session) Ways(u Suspect, epoch int) []predict.Way {
	var out []predict.Way
	for _, ch := range u.Story {
		if ch.Born <= epoch && epoch < ch.Dies {
			out = append(out, predict.Way{F: s.Faults[ch.Fault], Mode: ch.Mode})
		}
	}
	return out
}

// Key names a set of faults the same way every time: KIND@WHERE joined by blanks.
func (s *Session) Key(u Suspect) string {
	var w []string
	for _, f := range u.Faults {
		w = append(w, s.Faults[f].String(s.M.C))
	}
	return strings.Join(w, " ")
}

// latent tells of an item whether no reading speaks for it. Items are looked at once.
func (x *searcher) latent() func(item int) bool {
	known := map[int]bool{}
	return func(k int) bool {
		out, ok := known[k]
		if !ok {
			out = true
			for o, g := range x.good {
				if x.at(x.items[k], o) > g+useful {
					out = false
					break
				}
			}
			known[k] = out
		}
		return out
	}
}
