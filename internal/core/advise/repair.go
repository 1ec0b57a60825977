package advise

import (
	"cmp"
	"fmt"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// Repairs as actions: what it is expected to cost until the board works, if repairs are tried in order of probability over cost;
// now, and after a check. A repair comes first when that is cheaper than the best check and what follows it.

// Mend is one repair: what is done, to which part (pin for resolder, net for copper and for what lies before the model), and the minutes.
type Mend struct {
	Kind    Kind // "" for copper and what lies before the model
	Target  int
	What    string // copper, supply, before; else ""
	Minutes float64
}

// Covers tells whether doing o also does m: a part that is replaced gets new joints.
func (m Mend) Covers(o Mend) bool {
	return m.Kind == o.Kind && m.Target == o.Target && m.What == o.What
}

// mend is a repair with the lanes that it ends.
type mend struct {
	Mend
	lanes []int
}

const (
	SearchMinutes = 12.0 // find and clear a short or bridge on the copper (estimate)
	beforeMinutes = 5.0  // a cause before the model: follow the line out of it (estimate)
	Verify        = 1.5  // minutes to try again after a repair
)

// mends lists the repairs that the leaders ask for. Lanes with several faults ask for each; they count for the first.
func (b *Bench) mends() []mend {
	index := map[Mend]int{}
	var out []mend
	b.lanes(func(lane int) {
		if len(b.hyps[lane]) == 0 {
			return
		}
		m := b.Mend(b.hyps[lane][0].F)
		i, ok := index[m]
		if !ok {
			i = len(out)
			index[m] = i
			out = append(out, mend{m, nil})
		}
		out[i].lanes = append(out[i].lanes, lane)
	})
	return out
}

// Mend is the repair for a fault.
func (b *Bench) Mend(f fault.Fault) Mend {
	c := b.S.M.C
	part := f.Part(c)
	at, joint := f.Joint(c)
	joint = joint || f.Kind == fault.NoSupply
	before := f.Kind == fault.Other && c.Others[f.A].Before
	switch {
	case joint && c.Parts[part].Src.Socketed:
		return Mend{Reseat, part, "", b.Costs.Reseat * b.Costs.reach(c.Parts[part].Src.Access)}
	case joint && at != circuit.None:
		return Mend{Resolder, at, "", b.Costs.Resolder * b.Costs.reach(c.Parts[part].Src.Access)}
	case f.Kind == fault.NoSupply:
		for _, q := range c.Parts[part].Pins {
			if c.Pins[q].Supply && c.Nets[c.Pins[q].Net].High {
				return Mend{Resolder, q, "", b.Costs.Resolder * b.Costs.reach(c.Parts[part].Src.Access)}
			}
		}
		return Mend{"", c.Pins[c.Parts[part].Pins[0]].Net, "supply", SearchMinutes}
	case part != circuit.None:
		return Mend{Replace, part, "", b.Costs.ReplaceMinutes(c, part)}
	case before || f.Kind == fault.SourceLow || f.Kind == fault.SourceHigh || f.Kind == fault.SourceDead:
		return Mend{"", f.Net(c), "before", beforeMinutes}
	}
	return Mend{"", f.Net(c), "copper", SearchMinutes}
}

// ReplaceMinutes counts the harm to an old board as minutes too.
func (k Costs) ReplaceMinutes(c *circuit.Circuit, part int) float64 {
	p := &c.Parts[part]
	switch {
	case p.Src.Socketed:
		return k.Swap
	case len(p.Type.Pins) <= 3:
		return k.ReplaceSmall * k.reach(p.Src.Access)
	}
	return (k.Replace + k.PerPin*float64(len(p.Type.Pins)) + k.ReplaceHarm) * k.reach(p.Src.Access)
}

// expected is the cost of trying repairs in order of probability over cost until one works, under lane weights p.
func expected(ms []mend, p []float64, order []int) float64 {
	prob := make([]float64, len(ms))
	left := 0.0
	for i, m := range ms {
		for _, l := range m.lanes {
			prob[i] += p[l]
		}
		left += prob[i]
	}
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(prob[b]/(ms[b].Minutes+Verify), prob[a]/(ms[a].Minutes+Verify))
	})
	t := 0.0
	for _, i := range order {
		if left < 1e-6 {
			break
		}
		t += left * (ms[i].Minutes + Verify)
		left -= prob[i]
	}
	return t
}

// repairs returns the repair checks that the bench can do, and whether the first should come before the checks.
func (b *Bench) repairs(ranked []Check) (rs []Check, first bool) {
	ms := b.mends()
	if len(ms) == 0 {
		return nil, false
	}
	p := b.p
	order := make([]int, len(ms))
	now := expected(ms, p, order)
	for _, i := range order {
		m := ms[i]
		prob := 0.0
		for _, l := range m.lanes {
			prob += p[l]
		}
		if m.Kind == "" || prob < 0.05 || !b.able(m) {
			if len(rs) == 0 && m.Kind == "" && prob > 0.5 {
				return nil, false // what is likeliest is not a part: nothing to replace
			}
			continue
		}
		rs = append(rs, b.repairCheck(m, prob))
		if len(rs) == 4 {
			break
		}
	}
	if len(rs) == 0 {
		return nil, false
	}
	best := now
	into := make([]float64, len(p))
	found := false
	for i := range ranked[:min(leaders, len(ranked))] {
		c := &ranked[i]
		t := c.Minutes
		for k := range c.Outcomes {
			if pk := after(c, p, k, into); pk > 1e-4 {
				t += pk * expected(ms, into, order)
			}
		}
		if t < best {
			best, found = t, true
		}
	}
	return rs, !found
}

func (b *Bench) able(m mend) bool {
	switch m.Kind {
	case Replace:
		return b.Have.Iron || b.Have.Spare && b.S.M.C.Parts[m.Target].Src.Socketed
	case Resolder:
		return b.Have.Iron
	}
	return true
}

// repairCheck is a repair with the reading that shows what it did: the first surprising one of the log, taken again.
func (b *Bench) repairCheck(m mend, prob float64) Check {
	c := Check{Kind: m.Kind, Minutes: m.Minutes + Verify, Pin: circuit.None, Part: circuit.None, Lamp: circuit.None, Digit: circuit.None,
		Place: circuit.Place{Pin: circuit.None, Net: circuit.None}, Setting: predict.Setting{Lifted: b.S.Lifted}, Ends: prob}
	if m.Kind == Resolder {
		c.Pin = m.Target
		c.Part = b.S.M.C.Pins[m.Target].Part
	} else {
		c.Part = m.Target
	}
	if o, ok := b.telling(); ok {
		c.Setting, c.Place, c.Lamp, c.Digit = o.Setting, o.Place, o.Lamp, o.Digit
	}
	c.Bits = entropy([]float64{prob, 1 - prob})
	c.Outcomes = []Outcome{{Is: "as on a good board", P: prob}, {Is: "still wrong", P: 1 - prob}}
	for i, lane := range b.leaders[:min(24, len(b.leaders))] {
		k := 1
		if slices.Contains(m.lanes, lane) {
			k = 0
		}
		if len(c.Outcomes[k].Suspects) < 4 {
			c.Outcomes[k].Suspects = append(c.Outcomes[k].Suspects, i)
		}
	}
	c.Good = "as on a good board"
	c.Score = c.Bits / c.Minutes
	return c
}

// telling is the latest look or level that a good board would not have shown and that was not read again since as a good board shows it; else the
// latest that it would not have shown.
func (b *Bench) telling() (diagnose.Obs, bool) {
	again := map[string]bool{}
	var latest diagnose.Obs
	found := false
	for i := len(b.S.Obs) - 1; i >= 0; i-- {
		o := b.S.Obs[i]
		if o.Kind != diagnose.Read && o.Kind != diagnose.See {
			continue
		}
		key := fmt.Sprint(o.Kind, o.Place, o.Lamp, o.Digit, o.Setting.Key())
		if b.S.Surprising(i) && !again[key] {
			return o, true
		}
		if b.S.Surprising(i) && !found {
			latest, found = o, true
		}
		again[key] = true
	}
	return latest, found
}
