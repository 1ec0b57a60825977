package diagnose

import (
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// The search for pairs, triples and more. Singles that no reading tells apart are one class. What a set of classes predicts is first
// guessed: where only one of its members changes a reading, that one decides; where several do, the luckiest. The guess is an upper
// bound but for sets that only explain by hiding each other. The best guesses are then simulated whole, because one fault can hide
// another, and only that counts.

// Limits of the search: how many classes are paired, how many sets are simulated, how many faults a set has.
const (
	maxClasses = 1000
	maxPairs   = 2048
	maxMore    = 1024 // of three; half of it of four, and so on
	maxFaults  = 6    // in one story, those that a repair has ended included
	maxGuesses = 3000 // class sets kept for unfolding
	useful     = 0.7  // a class must explain some reading better than the good board, by this much (natural logarithm)
)

type kind struct { // a class of items
	vec     []float32 // ln likelihood per observation
	items   []int     // by falling weight
	total   float64   // logarithm of the sum of weights
	explain bool
}

// hypothesis is a set of items with its logarithmic weight.
type hypothesis struct {
	items []int
	score float64
	slips int // readings that it does not account for
}

func (h *hypothesis) take(lik float64) {
	h.score += lik
	if lik < fitsLog {
		h.slips++
	}
}

type searcher struct {
	s     *Session
	items []item
	good  []float32
}

func newSearcher(s *Session) *searcher {
	x := &searcher{s: s, items: s.items(), good: make([]float32, len(s.Obs))}
	for o := range s.Obs {
		x.good[o] = s.lik[o][len(s.ways)]
	}
	return x
}

// at is ln P(observation o | item alone).
func (x *searcher) at(it item, o int) float32 {
	if it.at(x.s.Obs[o].Epoch) {
		return x.s.lik[o][it.lane]
	}
	return x.good[o]
}

func (x *searcher) singles() []hypothesis {
	out := make([]hypothesis, len(x.items))
	for i, it := range x.items {
		out[i] = hypothesis{items: []int{i}, score: it.logw}
		for o := range x.s.Obs {
			out[i].take(float64(x.at(it, o)))
		}
	}
	return out
}

// soundPrior is the weight of nothing being wrong, in the unit of Expected: a machine comes to the bench because it failed (estimate).
const soundPrior = 0.1

func (x *searcher) none() hypothesis {
	h := hypothesis{score: math.Log(soundPrior)}
	for _, g := range x.good {
		h.take(float64(g))
	}
	return h
}

// classes sorts items into classes by what they predict for the log.
func (x *searcher) classes() []kind {
	n := len(x.s.Obs)
	index := map[string]int{}
	var out []kind
	buf := make([]byte, 4*n)
	vec := make([]float32, n)
	for i, it := range x.items {
		explain := false
		for o := range n {
			vec[o] = x.at(it, o)
			explain = explain || vec[o] > x.good[o]+useful
			binary.LittleEndian.PutUint32(buf[4*o:], math.Float32bits(vec[o]))
		}
		if !explain {
			continue
		}
		k, ok := index[string(buf)]
		if !ok {
			k = len(out)
			index[string(buf)] = k
			out = append(out, kind{vec: slices.Clone(vec), explain: explain})
		}
		out[k].items = append(out[k].items, i)
	}
	for k := range out {
		c := &out[k]
		slices.SortStableFunc(c.items, func(a, b int) int { return cmp.Compare(x.items[b].logw, x.items[a].logw) })
		c.total = math.Inf(-1)
		for _, i := range c.items {
			c.total = logAdd(c.total, x.items[i].logw)
		}
	}
	if len(out) > maxClasses {
		slices.SortStableFunc(out, func(a, b kind) int { return cmp.Compare(b.total+sum(b.vec), a.total+sum(a.vec)) })
		out = out[:maxClasses]
	}
	return out
}

func sum(v []float32) float64 {
	t := 0.0
	for _, x := range v {
		t += float64(x)
	}
	return t
}

func logAdd(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(a, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// join guesses what two vectors predict together.
func (x *searcher) join(into, a, b []float32) float64 {
	t := 0.0
	for o, g := range x.good {
		v := a[o]
		switch {
		case a[o] == g:
			v = b[o]
		case b[o] != g:
			v = max(a[o], b[o])
		}
		if into != nil {
			into[o] = v
		}
		t += float64(v)
	}
	return t
}

type guess struct {
	classes []int
	lik     float64 // of the log, guessed
	score   float64 // with the weight of the best member of each class
	total   float64 // with the weights of all members
}

func (x *searcher) pairGuesses(cl []kind) []guess {
	var out []guess
	bar := math.Inf(-1)
	for a := range cl {
		for b := a; b < len(cl); b++ {
			if a == b && len(cl[a].items) < 2 {
				continue
			}
			w := x.items[cl[a].items[0]].logw + x.items[cl[b].items[0]].logw
			if w <= bar {
				continue
			}
			l := x.join(nil, cl[a].vec, cl[b].vec)
			if w+l <= bar {
				continue
			}
			out = append(out, guess{[]int{a, b}, l, w + l, cl[a].total + cl[b].total + l})
			if len(out) > 4*maxGuesses {
				out, bar = keepBest(out, maxGuesses)
			}
		}
	}
	out, _ = keepBest(out, maxGuesses)
	return out
}

func keepBest(g []guess, n int) ([]guess, float64) {
	slices.SortStableFunc(g, func(a, b guess) int {
		return cmp.Or(cmp.Compare(b.score, a.score), slices.Compare(a.classes, b.classes))
	})
	if len(g) > n {
		g = g[:n]
	}
	if len(g) < n {
		return g, math.Inf(-1)
	}
	return g, g[len(g)-1].score
}

// moreGuesses adds one more class to the best guesses where that explains more.
func (x *searcher) moreGuesses(cl []kind, from []guess) []guess {
	const seeds = 80
	var out []guess
	both := make([]float32, len(x.good))
	seen := map[string]bool{}
	for _, p := range from[:min(seeds, len(from))] {
		copy(both, cl[p.classes[0]].vec)
		base := 0.0
		for _, k := range p.classes[1:] {
			base = x.join(both, both, cl[k].vec)
		}
		for c := range cl {
			l := x.join(nil, both, cl[c].vec)
			if l < base+useful {
				continue
			}
			k := append(slices.Clone(p.classes), c)
			slices.Sort(k)
			key := fmt.Sprint(k)
			if seen[key] {
				continue
			}
			seen[key] = true
			w, t := l, l
			for _, i := range k {
				w += x.items[cl[i].items[0]].logw
				t += cl[i].total
			}
			out = append(out, guess{k, l, w, t})
		}
	}
	out, _ = keepBest(out, maxGuesses)
	return out
}

// hopeless is how far below the best hypothesis so far (natural logarithm) a guess is not worth simulating.
const hopeless = 8

// unfold turns the best guesses into sets of items, the likeliest first, at most n, and none that is hopeless beside best.
func (x *searcher) unfold(cl []kind, gs []guess, n int, best float64) (sets []hypothesis, rest float64) {
	rest = math.Inf(-1)
	for _, g := range gs {
		if len(sets) > 8*n || g.score < best-hopeless {
			rest = logAdd(rest, g.total)
			continue
		}
		x.members(cl, g, nil, 0, g.lik, &sets, n)
	}
	slices.SortStableFunc(sets, func(a, b hypothesis) int {
		return cmp.Or(cmp.Compare(b.score, a.score), slices.Compare(a.items, b.items))
	})
	for len(sets) > n || len(sets) > 0 && sets[len(sets)-1].score < best-hopeless {
		rest = logAdd(rest, sets[len(sets)-1].score)
		sets = sets[:len(sets)-1]
	}
	return sets, rest
}

// members lists member sets of a guess; the widest classes are cut, since their later members are the least likely.
func (x *searcher) members(cl []kind, g guess, picked []int, k int, score float64, out *[]hypothesis, n int) {
	if k == len(g.classes) {
		set := slices.Sorted(slices.Values(picked))
		*out = append(*out, hypothesis{items: set, score: score})
		return
	}
	width := [maxFaults + 1]int{0, 0, 64, 24, 8, 4, 3}[len(g.classes)]
	c := cl[g.classes[k]]
	for _, i := range c.items[:min(width, len(c.items))] {
		if k > 0 && g.classes[k] == g.classes[k-1] && i <= picked[k-1] || x.clash(picked, i) {
			continue
		}
		x.members(cl, g, append(picked[:k:k], i), k+1, score+x.items[i].logw, out, n)
	}
}

// clash tells whether a fault cannot stand beside those picked: the same one, or two at one place.
func (x *searcher) clash(picked []int, i int) bool {
	f := x.s.Faults[x.items[i].fault]
	for _, j := range picked {
		if x.items[i].born >= x.items[j].dies || x.items[j].born >= x.items[i].dies {
			if x.items[i].fault != x.items[j].fault || x.items[i].born > 0 || x.items[j].born > 0 {
				continue // one after the other
			}
		}
		g := x.s.Faults[x.items[j].fault]
		if samePlace(x.s, f, g) {
			return true
		}
	}
	return false
}

func samePlace(s *Session, f, g fault.Fault) bool {
	if f.A == g.A && f.B == g.B && f.Kind.Site() == g.Kind.Site() {
		return true
	}
	whole := func(k fault.Kind) bool { return k == fault.PartDead || k == fault.NoSupply || k == fault.PartErratic }
	p := f.Part(s.M.C)
	return (whole(f.Kind) || whole(g.Kind)) && p >= 0 && p == g.Part(s.M.C)
}

// simulate replaces the guesses by the truth.
func (x *searcher) simulate(ctx context.Context, sets []hypothesis) error {
	if len(sets) == 0 {
		return nil
	}
	s := x.s
	hyps := make([][]predict.Way, len(sets))
	// the members that are there together differ by epoch: one pack an epoch, shared where the members are the same
	for e := 0; e <= s.epochs; e++ {
		var obs []int
		for o := range s.Obs {
			if s.Obs[o].Epoch == e {
				obs = append(obs, o)
			}
		}
		if len(obs) == 0 {
			continue
		}
		for i, h := range sets {
			hyps[i] = hyps[i][:0:0]
			for _, k := range h.items {
				if it := x.items[k]; it.at(e) {
					hyps[i] = append(hyps[i], predict.Way{F: s.Faults[it.fault], Mode: s.ways[it.lane].mode})
				}
			}
		}
		pack := s.M.Pack(slices.Clone(hyps))
		kept := runs{}
		for _, o := range obs {
			lik, err := s.likelihood(ctx, pack, kept, s.Obs[o])
			if err != nil {
				return err
			}
			for i := range sets {
				if o == obs[0] && e == firstEpoch(s) {
					sets[i].score, sets[i].slips = x.weight(sets[i].items), 0
				}
				sets[i].take(float64(lik[i]))
			}
		}
	}
	return nil
}

func firstEpoch(s *Session) int {
	e := s.epochs
	for _, o := range s.Obs {
		e = min(e, o.Epoch)
	}
	return e
}

func (x *searcher) weight(items []int) float64 {
	w := 0.0
	for _, k := range items {
		w += x.items[k].logw
	}
	return w
}
