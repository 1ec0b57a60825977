package analog

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/evidence"
)

// This file is what the joined engine asks of the analogue half of a mixed board: what sets of faults show while the logic stands in some way.

// mine tells whether the faults of a device belong to the analogue half.
func (m *Model) mine(d *Device) bool {
	return m.Split == nil || d.Part == circuit.None || m.Split.Mine[d.Part]
}

// chip adds the faults of what stands for a chip of the logic; it reports whether there is nothing more to add for the device.
func (u *Universe) chip(i int) bool {
	d := &u.M.Devices[i]
	switch d.Class {
	case "chip":
		u.add(at(Short, i), u.bridge(d.Index, 0, 1, "", 1)...)
		u.add(at(Leaky, i), u.bridge(d.Index, 0, 1, "from supply to ground as if %sΩ lay across it", 5, 15, 45)...)
		return true
	case "chip switch":
		u.add(at(Open, i), Way{Patch: elec.Open(d.Index, 0)})
		u.add(at(Short, i), u.bridge(d.Index, 0, 1, "", 100)...)
		return true
	case "chip input":
		return true
	}
	return !u.M.mine(d)
}

// chipRate is that of the same chip in the digital half (MIL-HDBK-217F parts-count table, from memory).
func chipRate(c *circuit.Circuit, pi int) float64 {
	t := c.Parts[pi].Type
	switch n := len(t.Pins); {
	case t.Prior == "cpu":
		return .089
	case t.Prior == "memory":
		return .022
	case n > 24:
		return .028
	case n > 14:
		return .020
	}
	return .012
}

// usual is the machine on its own supply with its logic in some state.
func (l *Lab) usual(drive string) Condition {
	c := Usual()
	c.Drive = drive
	return c
}

// Rate is the weight of a fault before anything was seen, in failures per million hours.
func (u *Universe) Rate(f int) float64 { return u.M.weight(u.Faults[f]) }

// Hyp is the hypothesis of one severity of a fault.
func (l *Lab) Hyp(fault, way int) int { return l.first[fault] + way }

// World is what every node does under one hypothesis.
type World struct {
	w *world
	l *Lab
	h int
}

// Worlds solves the hypotheses named (nil: all) with the logic in some state; the sound board is always there.
func (l *Lab) Worlds(ctx context.Context, drive string, want []int) ([]World, error) {
	ws, err := l.world(ctx, l.usual(drive), want)
	if err != nil {
		return nil, err
	}
	out := make([]World, len(ws))
	for h := range ws {
		out[h] = World{ws[h], l, h}
	}
	return out, nil
}

// Known tells whether there is an answer.
func (w World) Known() bool { return w.w != nil && w.w.known }

// Range is between what a node moves within a period of the mains, one standard deviation of the tolerances added.
func (w World) Range(node int) (low, high float64) {
	half := w.w.sigma[node]
	if w.w.ripple != nil {
		half += w.w.ripple[node] / 2
	}
	return w.w.volts[node] - half, w.w.volts[node] + half
}

// Across is the mean voltage from one node to another.
func (w World) Across(a, b int) float64 { return w.w.volts[a] - w.w.volts[b] }

// Of is what a set of hypotheses shows at once; none is the sound board. The faults are solved together.
func (l *Lab) Of(ctx context.Context, hyps []int, k Check) (Prediction, error) {
	p, err := l.Predict(ctx, k, hyps)
	if err != nil {
		return Prediction{}, err
	}
	switch len(hyps) {
	case 0:
		return p[0], nil
	case 1:
		return p[hyps[0]], nil
	}
	key := fmt.Sprint(hyps, k)
	if q, ok := l.sets[key]; ok {
		return q, nil
	}
	var patch elec.Patch
	sigma := 0.0
	for _, h := range hyps {
		patch = patch.And(l.patch(h, k.Cond))
		sigma = max(sigma, p[h].Sigma)
	}
	s := l.U.M.E.NewSolver()
	var out Prediction
	if k.Kind == Volts || k.Kind == Ripple || k.Kind == Current || k.Kind == Wiper {
		world := fmt.Sprint(hyps, k.Cond)
		w := l.setWorlds[world]
		good := l.worlds[k.Cond][0]
		if w == nil {
			w = l.solve(s, k.Cond, patch, good, l.from(k.Cond.Bench))
			l.setWorlds[world] = w
		}
		out = l.fromWorld(k, w, good)
	} else {
		out = l.probe(s, k, patch, 0)
	}
	if out.Known {
		out.Sigma = max(out.Sigma, sigma)
	}
	l.sets[key] = out
	return out, nil
}

// Guess is what a set shows if each member moves the reading as it does alone: cheaper than Of.
func (l *Lab) Guess(ctx context.Context, hyps []int, k Check) (Prediction, error) {
	p, err := l.Predict(ctx, k, hyps)
	if err != nil {
		return Prediction{}, err
	}
	out := p[0]
	for _, h := range hyps {
		if !p[h].Known || !p[0].Known {
			return Prediction{}, nil
		}
		out.Mu += p[h].Mu - p[0].Mu
		out.Sigma = max(out.Sigma, p[h].Sigma)
	}
	return out, nil
}

// Log is the logarithm of the density of a reading, against the peak of what a tidy reading of the same spread would have.
func (o Obs) Log(p Prediction, sigma float64) float64 {
	return math.Log(scales[o.Check.Kind].density(p, o.Y, o.Sure) * sigma * math.Sqrt(2*math.Pi))
}

// Fits tells whether a prediction accounts for the reading.
func (o Obs) Fits(p Prediction) bool { return fits(p, o.Y) }

// PowerOff tells whether a check is made without power.
func (k Check) PowerOff() bool { return k.Kind == Ohms || k.Kind == ESR }

// Scope tells whether a check is made with a scope.
func (k Check) Scope() bool { return k.Kind == Ripple || k.Kind == AC || k.Kind == Gain }

// Cut shares the readings of a check out into ranges, as what is shown with the probabilities p allows; like is P(range | prediction).
func Cut(k Check, p []float64, shown []Prediction) (out []Outcome, like [][]float64) {
	stories := make([]Story, len(p))
	for i := range p {
		stories[i].P = p[i]
	}
	sc := scales[k.Kind]
	out, _ = outcomes(sc, stories, shown)
	const slip = 0.02
	for _, q := range shown {
		row := make([]float64, len(out))
		for i, o := range out {
			row[i] = 1 / float64(len(out))
			if q.Known {
				row[i] = (1-slip)*(sc.below(q, o.To)-sc.below(q, o.From)) + slip/float64(len(out))
			}
		}
		like = append(like, row)
	}
	return out, like
}

// Candidates are the checks that the board has and the bench can do; those with the power off only beside the faults named.
func (s *Session) Candidates(have evidence.Bench, costs advise.Costs, faults []int) []Proposal {
	var top []Story
	for _, f := range faults {
		top = append(top, Story{Hyps: []int{s.Lab.first[f]}})
	}
	near := s.suspected(top)
	for _, n := range s.M.rails {
		near.nodes[s.M.node[n]] = true
	}
	list := s.candidates(have, costs, near)
	return slices.DeleteFunc(list, func(x Proposal) bool { return x.Check.Device >= 0 && s.M.Devices[x.Check.Device].Class == "chip" })
}

// NewSoundUnit is a machine of a drill with nothing wrong in its analogue half.
func NewSoundUnit(l *Lab, rng *rand.Rand, meter float64) *Unit {
	return &Unit{Fault: -1, l: l, patch: l.U.M.drawn(rng), rng: rng, seen: map[Condition]*world{}, meter: meter}
}

// World is what every node of the machine does with its logic in some state.
func (u *Unit) World(drive string) World {
	c := u.l.usual(drive)
	if u.seen[c] == nil {
		u.seen[c] = u.solve(u.l.U.M.E.NewSolver(), c)
	}
	return World{u.seen[c], u.l, 0}
}

// Way is the severity of its fault.
func (u *Unit) Way() Way { return u.extra }

// Trails gives for sets of up to two hypotheses the logarithm of the likelihood after each of some readings, taken one after the other: what one
// tolerance moves together counts once.
func (l *Lab) Trails(ctx context.Context, sets [][]int, obs []Obs) ([][]float64, error) {
	s := &Session{Lab: l, M: l.U.M, Case: &evidence.Case{}, Obs: obs}
	var list []*Story
	for _, set := range sets {
		list = append(list, &Story{Hyps: set})
	}
	if err := s.weigh(ctx, list); err != nil {
		return nil, err
	}
	out := make([][]float64, len(list))
	for i, st := range list {
		for _, x := range st.trail {
			out[i] = append(out[i], x-s.storyPrior(st))
		}
	}
	return out, nil
}

// Width is the spread that the sound board leaves to a check after some readings.
func (l *Lab) Width(ctx context.Context, obs []Obs, k Check) (float64, error) {
	s := &Session{Lab: l, M: l.U.M, Case: &evidence.Case{}, Obs: obs}
	sound := &Story{}
	if err := s.weigh(ctx, []*Story{sound}); err != nil {
		return 0, err
	}
	if err := l.look(ctx, []subject{sound.now}, []Check{k}); err != nil {
		return 0, err
	}
	const unknown = 0.05
	for _, b := range s.foresee(sound, k, false) {
		if b.sigma > 0 {
			return b.sigma, nil
		}
	}
	return unknown, nil
}
