package diagnose

import (
	"context"
	"math"
	"slices"

	"halfsplit/internal/core/predict"
)

// Taking in new observations. Those that surprise come first: they leave most single faults far behind, and faults that are hopeless
// need not be run for the rest of the log. They get what the good board predicts, which for most of them is the truth. Should no
// hypothesis account for the log in the end, all that was left out is made up for.

// outclassed is how far behind the best single fault (natural logarithm) a fault is hopeless: one in a million.
const outclassed = 14

func (s *Session) update(ctx context.Context) error {
	first := len(s.lik)
	if s.sum == nil {
		for _, w := range s.ways {
			s.sum = append(s.sum, math.Log(s.Odds[w.fault]*w.share))
		}
	}
	good := make([]float32, len(s.Obs))
	var order []int
	sound := s.M.Pack([][]predict.Way{nil})
	for o := first; o < len(s.Obs); o++ {
		row, err := s.likelihood(ctx, sound, runs{}, s.Obs[o])
		if err != nil {
			return err
		}
		good[o] = row[0]
		order = append(order, o)
		s.lik, s.deferred = append(s.lik, nil), append(s.deferred, false)
	}
	slices.SortStableFunc(order, func(a, b int) int { return surprise(good[b]) - surprise(good[a]) })
	for i, o := range order {
		need := s.hopeful()
		row, err := s.likelihoodOf(ctx, s.singles, s, s.Obs[o], need, good[o])
		if err != nil {
			s.undo(first, order[:i])
			return err
		}
		s.lik[o], s.deferred[o] = s.byWay(row), need != nil
		s.count(o, 1)
	}
	return nil
}

// byWay turns a row by lane into one by way; the good board stays last.
func (s *Session) byWay(row []float32) []float32 {
	out := make([]float32, len(row))
	for lane, w := range s.order {
		out[w] = row[lane]
	}
	out[len(s.ways)] = row[len(s.ways)]
	return out
}

func surprise(lik float32) int {
	if lik < fitsLog {
		return 1
	}
	return 0
}

// undo takes back an update that was interrupted, so that the next begins it again.
func (s *Session) undo(first int, done []int) {
	for _, o := range done {
		s.count(o, -1)
	}
	s.lik, s.deferred = s.lik[:first], s.deferred[:first]
}

func (s *Session) count(o int, sign float64) {
	for k := range s.sum {
		s.sum[k] += sign * float64(s.lik[o][k])
	}
}

// hopeful marks the batches with a fault that is not hopeless; nil means all. After a repair a fault may have ended before a reading that
// speaks against it, so then none is hopeless.
func (s *Session) hopeful() []bool {
	if len(s.repairs) > 0 {
		return nil
	}
	best := slices.Max(s.sum)
	need := make([]bool, s.singles.Batches())
	need[len(need)-1] = true // the good board is there
	left := false
	for lane, w := range s.order {
		if s.sum[w] > best-outclassed {
			need[lane/64] = true
		}
	}
	for _, n := range need {
		left = left || !n
	}
	if !left {
		return nil
	}
	return need
}

// complete runs what was left out; it reports whether there was anything.
func (s *Session) complete(ctx context.Context) (bool, error) {
	any := false
	for o := range s.deferred {
		if !s.deferred[o] {
			continue
		}
		any = true
		row, err := s.likelihood(ctx, s.singles, s, s.Obs[o])
		if err != nil {
			return any, err
		}
		s.count(o, -1)
		s.lik[o], s.deferred[o] = s.byWay(row), false
		s.count(o, 1)
	}
	return any, nil
}
