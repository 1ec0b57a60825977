package joint

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
)

// Blind practice on a mixed board: faults as often as the priors of both halves say.

// Trial is one drill.
type Trial struct {
	Truth   string
	Other   bool     // the fault is the analogue half's
	Asked   []string // what was read, the complaint first
	Ended   []string // the leaders at the end with their probability and group
	Found   bool     // the true faults are in the first group of look-alikes, all of them
	One     bool     // at least one of them is
	First   float64  // probability of that group
	Checks  int
	Minutes float64 // of the checks
	Wrong   int     // repairs that ended nothing
	Mended  bool    // with repairs: nothing shows any more
}

const (
	drillChecks = 25
	mostWrong   = 3
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

// Play breaks a machine with the given faults and lets the planner look for them. With repairs it mends what the first group of look-alikes says, and
// goes on until nothing shows any more. ok is false when the faults do not show at all.
func (b *Board) Play(ctx context.Context, faults []int, rng *rand.Rand, have evidence.Bench, repairs bool) (t Trial, ok bool, err error) {
	g := game{b: b, left: slices.Clone(faults), seed: rng.Uint64(), have: have}
	g.u = b.NewUnit(faults, g.seed)
	first, ok, err := g.u.Complaint(ctx)
	if err != nil || !ok {
		return t, false, err
	}
	g.t.Truth = g.u.Name()
	s, fl := b.Ground.Session(&evidence.Case{Have: have})
	if s == nil {
		return t, false, fmt.Errorf("%v", fl)
	}
	g.s = s
	for _, f := range faults {
		g.t.Other = g.t.Other || b.Ground.Faults[f].Kind == fault.Other
	}
	if err := g.take(first); err != nil {
		return t, false, err
	}
	for {
		on, err := g.step(ctx, repairs)
		if err != nil || !on {
			return g.t, true, err
		}
	}
}

// game is a drill on its way. left are the faults that are still there.
type game struct {
	b     *Board
	u     *Unit
	s     *diagnose.Session
	bench *advise.Bench
	have  evidence.Bench
	left  []int
	seed  uint64
	t     Trial
}

func (g *game) take(e evidence.Entry) error {
	if fl := g.s.Add(e); fl.Errors() {
		return fmt.Errorf("%v", fl)
	}
	if len(g.s.Obs) > 0 {
		o := g.s.Obs[len(g.s.Obs)-1]
		g.t.Asked = append(g.t.Asked, fmt.Sprint(e.Do, " ", o.What, " ", o.At, " ", o.Seen, e.Replaced, e.Resolder, e.Cleared))
	}
	return nil
}

// step ranks, and makes the next check or repair; false ends the drill.
func (g *game) step(ctx context.Context, repairs bool) (on bool, err error) {
	r, err := g.s.Run(ctx)
	if err != nil {
		return false, err
	}
	if g.bench == nil {
		g.bench, err = advise.NewBench(ctx, g.s, r, g.have, advise.DefaultCosts())
	} else {
		err = g.bench.Update(ctx, r)
	}
	if err != nil {
		return false, err
	}
	p, err := g.bench.Plan(ctx, advise.Options{NoRepairs: true, Most: 30})
	if err != nil {
		return false, err
	}
	g.t.stand(g.s, r, p, g.left)
	if g.t.First >= drillEnds || g.t.Checks >= drillChecks || len(p.Checks) == 0 {
		if !repairs || g.t.Checks >= drillChecks || g.t.Wrong >= mostWrong || len(r.Suspects) == 0 {
			return false, nil
		}
		return g.mend(ctx, g.s.Faults[r.Suspects[0].Faults[0]])
	}
	for _, c := range p.Checks {
		e, ok, err := g.u.Answer(ctx, c)
		if err != nil {
			return false, err
		}
		if ok {
			g.t.Checks++
			g.t.Minutes += c.Minutes
			return true, g.take(e)
		}
	}
	return false, nil
}

// mend repairs what a fault asks for and looks at the machine again; false when nothing is wrong any more.
func (g *game) mend(ctx context.Context, f fault.Fault) (on bool, err error) {
	c := g.b.C
	m := g.bench.Mend(f)
	var e evidence.Entry
	cures := func(x fault.Fault) bool { return x.Part(c) == circuit.None && x.Net(c) == m.Target }
	switch m.Kind {
	case advise.Replace, advise.Reseat:
		e.Replaced = []string{c.Parts[m.Target].Ref}
		cures = func(x fault.Fault) bool { return x.Part(c) == m.Target }
	case advise.Resolder:
		e.Resolder = []string{c.PinName(m.Target)}
		cures = func(x fault.Fault) bool {
			pin, joint := x.Joint(c)
			return joint && pin == m.Target || x.Kind == fault.NoSupply && x.A == c.Pins[m.Target].Part
		}
	default:
		e.Cleared = []string{c.NetName(m.Target)}
	}
	before := len(g.left)
	g.left = slices.DeleteFunc(g.left, func(i int) bool { return cures(g.b.Ground.Faults[i]) })
	if len(g.left) == before {
		g.t.Wrong++
	}
	if err := g.take(e); err != nil {
		return false, err
	}
	g.u = g.b.NewUnit(g.left, g.seed)
	again, ok, err := g.u.Complaint(ctx)
	if err != nil || !ok { // it works, or nothing shows
		g.t.Mended = err == nil
		return false, err
	}
	return true, g.take(again)
}

// stand notes where the first group of look-alikes stands.
func (t *Trial) stand(s *diagnose.Session, r *diagnose.Result, p *advise.Plan, faults []int) {
	t.Found, t.One, t.First, t.Ended = false, false, 0, nil
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
		t.One = t.One || slices.ContainsFunc(u.Faults, func(f int) bool { return slices.Contains(truth, f) })
	}
}
