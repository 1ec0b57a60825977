package joint

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
)

// Blind practice on a mixed board: faults as often as the priors of both halves say.

// Trial is one drill.
type Trial struct {
	Truth  string
	Other  bool     // the fault is the analogue half's
	Asked  []string // what was read, the complaint first
	Ended  []string // the leaders at the end with their probability and group
	Found  bool     // the true fault is in the first group of look-alikes
	First  float64  // probability of that group
	Checks int
}

const (
	drillChecks = 25
	drillEnds   = 0.95 // probability of the first group at which the planner would repair
)

// Draw picks one fault of either half by its prior; what has no effect to answer from is left out.
func (b *Board) Draw(rng *rand.Rand) int {
	odds := fault.Priors(b.C, b.Ground.Faults, nil)
	total := 0.0
	for i, f := range b.Ground.Faults {
		if f.Kind == fault.PartErratic || f.Kind == fault.Value {
			odds[i] = 0
		}
		total += odds[i]
	}
	x := rng.Float64() * total
	for i, w := range odds {
		if x -= w; x <= 0 && w > 0 {
			return i
		}
	}
	return len(odds) - 1
}

// Play breaks a machine with the given faults and lets the planner look for them; ok is false when nothing shows.
func (b *Board) Play(ctx context.Context, faults []int, rng *rand.Rand, have evidence.Bench) (t Trial, ok bool, err error) {
	u := b.NewUnit(faults, rng)
	first, ok, err := u.Complaint(ctx)
	if err != nil || !ok {
		return t, false, err
	}
	t.Truth = u.Name()
	s, fl := b.Ground.Session(&evidence.Case{Have: have})
	if s == nil {
		return t, false, fmt.Errorf("%v", fl)
	}
	for _, f := range faults {
		t.Other = t.Other || b.Ground.Faults[f].Kind == fault.Other
	}
	take := func(e evidence.Entry) error {
		if fl := s.Add(e); fl.Errors() {
			return fmt.Errorf("%v", fl)
		}
		o := s.Obs[len(s.Obs)-1]
		t.Asked = append(t.Asked, fmt.Sprint(e.Do, " ", o.What, " ", o.At, " ", o.Seen))
		return nil
	}
	if err := take(first); err != nil {
		return t, false, err
	}
	var bench *advise.Bench
	for {
		r, err := s.Run(ctx)
		if err != nil {
			return t, false, err
		}
		if bench == nil {
			bench, err = advise.NewBench(ctx, s, r, have, advise.DefaultCosts())
		} else {
			err = bench.Update(ctx, r)
		}
		if err != nil {
			return t, false, err
		}
		p, err := bench.Plan(ctx, advise.Options{NoRepairs: true, Most: 30})
		if err != nil {
			return t, false, err
		}
		t.stand(s, r, p, faults)
		if t.First >= drillEnds || t.Checks >= drillChecks {
			return t, true, nil
		}
		read := false
		for _, c := range p.Checks {
			e, ok, err := u.Answer(ctx, c)
			if err != nil {
				return t, false, err
			}
			if !ok {
				continue
			}
			if err := take(e); err != nil {
				return t, false, err
			}
			t.Checks++
			read = true
			break
		}
		if !read {
			return t, true, nil
		}
	}
}

// stand notes where the first group of look-alikes stands.
func (t *Trial) stand(s *diagnose.Session, r *diagnose.Result, p *advise.Plan, faults []int) {
	t.Found, t.First, t.Ended = false, 0, nil
	truth := slices.Sorted(slices.Values(faults))
	for i, u := range r.Suspects {
		if i < 6 {
			t.Ended = append(t.Ended, fmt.Sprintf("%s %.3f (%d)", strings.ReplaceAll(s.Key(u), " ", " + "), u.P, p.Groups[i]))
		}
		if p.Groups[i] != p.Groups[0] {
			continue
		}
		t.First += u.P
		t.Found = t.Found || slices.Equal(u.Faults, truth)
	}
}
