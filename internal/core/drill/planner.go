package drill

import (
	"context"
	"math"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/predict"
)

// The project's own way of playing: rank, choose, read, until one look-alike group is settled; then repair; then on to the next fault.

// plan plays one trial. With t, the entropy and the bound of the first symptom are noted there.
func (g *game) plan(ctx context.Context, u *unit, t *Trial, exhaustive bool) (Play, error) {
	p := Play{Found: true}
	x, err := u.symptom(ctx)
	if err != nil {
		return p, err
	}
	log, err := u.log(ctx, x)
	if err != nil {
		return p, err
	}
	s, _ := g.ground.Session(&evidence.Case{Have: g.o.Have, Log: log})
	var b *advise.Bench
	for p.Checks < maxChecks {
		res, plan, err := g.think(ctx, s, &b, exhaustive)
		if err != nil {
			return p, err
		}
		group := leading(res, plan)
		if t != nil && t.Bits == 0 && p.Checks == 0 {
			t.Bits, t.Bound = bound(res, plan)
		}
		p.Stated = append(p.Stated, u.stated(s, res)...)
		if !b.Settled(plan, plan.Checks) {
			if err := g.doCheck(ctx, u, s, plan.Checks[0], &p); err != nil {
				return p, err
			}
			continue
		}
		p.Found = p.Found && u.holds(s, group)
		if !g.repair(u, s, b, append(group, others(res, group)...), &p) {
			return p, nil
		}
		if len(u.truth) == 0 {
			return p, nil
		}
		if x, err = u.symptom(ctx); err != nil || x == nil {
			p.Found = p.Found && x != nil
			return p, err
		}
		if log, err = u.log(ctx, x); err != nil {
			return p, err
		}
		for _, e := range log {
			s.Add(e)
		}
	}
	p.Found = false
	return p, nil
}

func (g *game) think(ctx context.Context, s *diagnose.Session, b **advise.Bench, exhaustive bool) (*diagnose.Result, *advise.Plan, error) {
	res, err := s.Run(ctx)
	if err != nil {
		return nil, nil, err
	}
	if *b == nil {
		*b, err = advise.NewBench(ctx, s, res, g.o.Have, g.o.Costs)
	} else {
		err = (*b).Update(ctx, res)
	}
	if err != nil {
		return nil, nil, err
	}
	plan, err := (*b).Plan(ctx, advise.Options{Exhaustive: exhaustive, NoRepairs: true, Most: 1 << 20})
	return res, plan, err
}

// stated lists what the ranking claims of every place it gives more than one in a hundred, and whether a fault really sits there.
func (u *unit) stated(s *diagnose.Session, res *diagnose.Result) []Stated {
	var out []Stated
	for _, x := range s.Shares(res.Suspects) {
		if x.P < 0.01 {
			break
		}
		out = append(out, Stated{x.P, slices.ContainsFunc(u.truth, func(w predict.Way) bool {
			p, n := s.Seat(w.F)
			return p == x.Part && n == x.Net
		})})
	}
	return out
}

// leading is the heaviest look-alike group.
func leading(res *diagnose.Result, plan *advise.Plan) []diagnose.Suspect {
	mass := map[int]float64{}
	best := 0
	for i, u := range res.Suspects {
		k := plan.Groups[i]
		mass[k] += u.P
		if best == 0 || mass[k] > mass[best]+1e-12 {
			best = k
		}
	}
	var out []diagnose.Suspect
	for i, u := range res.Suspects {
		if plan.Groups[i] == best {
			out = append(out, u)
		}
	}
	return out
}

func others(res *diagnose.Result, group []diagnose.Suspect) []diagnose.Suspect {
	return slices.DeleteFunc(slices.Clone(res.Suspects), func(u diagnose.Suspect) bool {
		return slices.ContainsFunc(group, func(v diagnose.Suspect) bool { return slices.Equal(u.Faults, v.Faults) })
	})
}

// bound is the entropy over look-alike groups, and the fewest checks that could bring it down: each check can show at most as many
// different things as the best-spread check of the plan.
func bound(res *diagnose.Result, plan *advise.Plan) (h, checks float64) {
	mass := map[int]float64{}
	var order []int
	total := 0.0
	for i, u := range res.Suspects {
		k := plan.Groups[i]
		if mass[k] == 0 {
			order = append(order, k)
		}
		mass[k] += u.P
		total += u.P
	}
	var p []float64
	for _, k := range order {
		p = append(p, mass[k]/total)
	}
	ways := 2
	for _, c := range plan.Checks {
		n := 0
		for _, o := range c.Outcomes {
			if o.P > 0.02 {
				n++
			}
		}
		ways = max(ways, n)
	}
	return bits(p), huffman(p, ways)
}

// holds tells whether a group has a suspect all of whose faults are really there.
func (u *unit) holds(s *diagnose.Session, group []diagnose.Suspect) bool {
	return slices.ContainsFunc(group, func(x diagnose.Suspect) bool {
		return len(x.Faults) > 0 && !slices.ContainsFunc(x.Faults, func(f int) bool {
			return !slices.ContainsFunc(u.truth, func(w predict.Way) bool { return w.F == s.Faults[f] })
		})
	})
}

// doCheck takes a reading and writes it down.
func (g *game) doCheck(ctx context.Context, u *unit, s *diagnose.Session, c advise.Check, p *Play) error {
	p.Checks++
	p.Minutes += c.Minutes
	ckt := g.m.C
	e := evidence.Entry{Do: g.names(c.Setting), Sure: evidence.DefaultSure}
	at := ""
	if c.Place.Net != circuit.None {
		at = placeName(ckt, c.Place)
	}
	switch c.Kind {
	case advise.Volts:
		v, err := u.volts(ctx, c.Setting, c.Place)
		if err != nil {
			return err
		}
		e.Volts = []evidence.Measured{{At: at, Volts: v}}
	case advise.Ohms:
		to := placeName(ckt, c.To)
		e.Do = nil
		e.Ohms = []evidence.Resistance{{At: at, To: to, Ohms: u.ohms(c.Setting.Lifted, c.Place, c.To)}}
	case advise.See:
		seen, name, err := g.see(ctx, u, c)
		if err != nil {
			return err
		}
		e.See = []evidence.Reading{{At: name, Is: seen}}
	default:
		if c.Kind == advise.Lift {
			s.Add(evidence.Entry{Lifted: []string{ckt.PinName(c.Pin)}})
		}
		w, err := u.read(ctx, c.Setting, c.Place)
		if err != nil {
			return err
		}
		e.Read = []evidence.Reading{{At: at, Is: w.String()}}
	}
	s.Add(e)
	if c.Kind == advise.Lift {
		s.Add(evidence.Entry{Refitted: []string{ckt.PinName(c.Pin)}})
	}
	return nil
}

func placeName(c *circuit.Circuit, p circuit.Place) string {
	if p.Pin != circuit.None {
		return c.PinName(p.Pin)
	}
	return c.NetName(p.Net)
}

func (g *game) see(ctx context.Context, u *unit, c advise.Check) (seen, name string, err error) {
	if c.Digit == circuit.None {
		seen, err = u.lamp(ctx, c.Setting, c.Lamp)
		return seen, g.m.C.Lamps[c.Lamp].Name, err
	}
	sh, err := u.show(ctx, c.Setting, nil)
	if err != nil {
		return "", "", err
	}
	name = g.m.C.Parts[g.m.C.Digits[c.Digit].Part].Ref
	seen = g.ground.DigitTexts(sh, c.Digit, 1)[0]
	if seen == "unknown" || u.rng.Float64() < g.o.Slips {
		seen = []string{"blank", "0", "1", "8"}[u.rng.IntN(4)]
	}
	return seen, name, nil
}

// repair mends suspects in order until one was right; every repair takes its time. It reports whether anything was cured.
func (g *game) repair(u *unit, s *diagnose.Session, b *advise.Bench, list []diagnose.Suspect, p *Play) bool {
	done := map[advise.Mend]bool{}
	for _, x := range list {
		cured := false
		for _, f := range x.Faults {
			m := b.Mend(s.Faults[f])
			if done[m] {
				continue
			}
			done[m] = true
			p.Minutes += m.Minutes + advise.Verify
			s.Add(g.entry(m))
			cured = u.mend(func(w predict.Way) bool { return b.Mend(w.F).Covers(m) }) || cured
		}
		if cured {
			return true
		}
		if len(done) > 25 {
			break
		}
	}
	p.Minutes = math.Min(p.Minutes, 1e4)
	return false
}

// entry writes a repair down.
func (g *game) entry(m advise.Mend) evidence.Entry {
	c := g.m.C
	switch m.Kind {
	case advise.Replace:
		return evidence.Entry{Replaced: []string{c.Parts[m.Target].Ref}}
	case advise.Reseat:
		return evidence.Entry{Reseated: []string{c.Parts[m.Target].Ref}}
	case advise.Resolder:
		return evidence.Entry{Resolder: []string{c.PinName(m.Target)}}
	}
	return evidence.Entry{Cleared: []string{c.NetName(m.Target)}}
}
