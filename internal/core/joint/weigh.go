package joint

import (
	"context"
	"math"
	"strings"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/diagnose"
)

// What readings weigh. A reading of a set of faults is taken given those before it: what one tolerance of the board moves together counts once.

// outweighed is how far behind the best set, in nats, a set's readings are weighed one by one: it is out of the question either way.
const outweighed = 30

// Weigh gives ln P(reading | set, readings before), a tidy reading of a sound board at diagnose.Fitting.
func (l *log) Weigh(ctx context.Context, reading int, q diagnose.Question) ([]float64, error) {
	o := l.s.Obs[reading]
	ps, err := l.shows(ctx, o.Check, l.pins[reading], q, l.exactSets())
	if err != nil {
		return nil, err
	}
	var before []diagnose.Earlier
	if q.Before != nil {
		if before, err = q.Before(); err != nil {
			return nil, err
		}
	}
	sigma, err := l.width(ctx, reading, before)
	if err != nil {
		return nil, err
	}
	out, total := make([]float64, len(ps)), make([]float64, len(ps))
	for h, p := range ps {
		out[h] = o.Log(p, sigma) + diagnose.Fitting
		total[h] = out[h]
	}
	if len(before) == 0 {
		return out, nil
	}
	for _, e := range before {
		x := l.s.Obs[e.Reading]
		ps, err := l.shows(ctx, x.Check, l.pins[e.Reading], e.Question, l.exactSets())
		if err != nil {
			return nil, err
		}
		for h, p := range ps {
			total[h] += x.Log(p, 1)
		}
	}
	return out, l.chain(ctx, o, sigma, before, q, total, out)
}

// chain replaces what the leading sets have for a reading by what it weighs given those before.
func (l *log) chain(ctx context.Context, o analog.Obs, sigma float64, before []diagnose.Earlier, q diagnose.Question, total, out []float64) error {
	best := math.Inf(-1)
	for h := range total {
		if q.Ask == nil || q.Ask(h) {
			best = max(best, total[h])
		}
	}
	type group struct {
		obs  []analog.Obs
		sets [][]int
		at   []int
	}
	groups := map[string]*group{}
	var order []string
	exact := l.exactSets()
	for h := range q.Hyps {
		if q.Ask != nil && !q.Ask(h) || total[h] < best-outweighed || l.cutAnywhere(q.Hyps[h]) {
			continue
		}
		set := l.b.hyps(q.Hyps[h])
		if len(set) > 1 {
			exact--
		}
		if len(set) > 2 || exact < 0 {
			continue
		}
		var obs []analog.Obs
		key := ""
		for _, e := range before {
			x := l.s.Obs[e.Reading]
			x.Check.Cond.Drive = l.driveFor(x.Check, e.Question, h)
			obs, key = append(obs, x), key+x.Check.Cond.Drive+"/"
		}
		x := o
		x.Check.Cond.Drive = l.driveFor(x.Check, q, h)
		obs, key = append(obs, x), key+x.Check.Cond.Drive
		if strings.ContainsRune(key, analog.Doubtful) {
			continue
		}
		g := groups[key]
		if g == nil {
			g = &group{obs: obs}
			groups[key] = g
			order = append(order, key)
		}
		g.sets, g.at = append(g.sets, set), append(g.at, h)
	}
	scale := math.Log(sigma*math.Sqrt(2*math.Pi)) + diagnose.Fitting
	for _, key := range order {
		g := groups[key]
		trails, err := l.b.Lab.Trails(ctx, g.sets, g.obs)
		if err != nil {
			return err
		}
		for i, t := range trails {
			n := len(t)
			out[g.at[i]] = t[n-1] - t[n-2] + scale
		}
	}
	return nil
}

func (l *log) driveFor(k analog.Check, q diagnose.Question, hyp int) string {
	d := l.b.drive(q, hyp)
	if k.PowerOff() {
		return analog.Dead(d)
	}
	return d
}

// width is the spread of a reading on the sound board at rest, given the readings before it.
func (l *log) width(ctx context.Context, reading int, before []diagnose.Earlier) (float64, error) {
	if x, ok := l.widths[reading]; ok {
		return x, nil
	}
	at := func(o analog.Obs) analog.Obs {
		o.Check.Cond.Drive = l.goodDrive(o.Check)
		o.Check.Cond.Drive = settled(o.Check.Cond.Drive)[0]
		return o
	}
	var obs []analog.Obs
	for _, e := range before {
		obs = append(obs, at(l.s.Obs[e.Reading]))
	}
	x, err := l.b.Lab.Width(ctx, obs, at(l.s.Obs[reading]).Check)
	if err != nil {
		return 0, err
	}
	if l.widths == nil {
		l.widths = map[int]float64{}
	}
	l.widths[reading] = x
	return x, nil
}
