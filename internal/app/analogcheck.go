package app

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
)

// What to do next on an analogue board: readings, repairs, and reading again what was wrong before a repair.

// searchMinutes is the search along the copper, or before the board.
const searchMinutes = advise.SearchMinutes

// next writes the proposals; once one group of look-alikes holds nearly everything, and more than one reading speaks of it, its repair comes first.
func (v analogView) next(list []analog.Suspect) []Check {
	out := []Check{}
	for _, p := range v.plan.Proposals[:min(mostChecks, len(v.plan.Proposals))] {
		out = append(out, v.check(p, list))
	}
	rs, settled := v.repairs(list)
	if len(rs) > 0 && v.b.have.Iron && (settled > 0.9 || len(out) == 0) {
		at := 0
		if len(out) > 0 && v.b.wrongReadings() < 2 { // no part is taken out on one reading alone
			at = 1
		}
		out = slices.Insert(out, at, rs[:min(mostRepairs, len(rs))]...)
	}
	return out
}

// A repair is offered while it is this likely to end the job, and at most so many are.
const (
	leastRepair = 0.02
	mostRepairs = 3
)

// repairs are those for the leading suspect and its look-alikes: in the order of the chance to end the job per minute, which costs least in the
// long run (sequential search). settled is the probability of the look-alikes, or of all that the likeliest repair ends, whichever is more.
func (v analogView) repairs(list []analog.Suspect) (_ []Check, settled float64) {
	type chance struct {
		Check
		ends float64
	}
	var all []chance
	lead := slices.IndexFunc(list, func(x analog.Suspect) bool { return len(x.Faults) > 0 })
	if lead < 0 {
		return nil, 0
	}
	first, _ := v.repair(list[lead])
	alike, same := 0.0, 0.0
	for _, x := range list {
		if len(x.Faults) == 0 {
			continue
		}
		c, ok := v.repair(x)
		if ok && len(x.Faults) == 1 && c.Kind == first.Kind && c.At == first.At {
			same += x.P
		} else if x.Group != list[lead].Group {
			continue
		}
		if x.Group == list[lead].Group {
			alike += x.P
		}
		if !ok {
			continue
		}
		at := slices.IndexFunc(all, func(o chance) bool { return o.Kind == c.Kind && o.At == c.At })
		if at < 0 {
			all, at = append(all, chance{Check: c}), len(all)
		}
		all[at].ends += x.P
	}
	slices.SortStableFunc(all, func(a, b chance) int { return cmp.Compare(b.ends/b.Minutes, a.ends/a.Minutes) })
	var out []Check
	for _, c := range all {
		if c.ends >= leastRepair {
			c.Why = fmt.Sprintf("With %.0f %% probability this ends the job. The reading afterwards shows whether it was all.", 100*c.ends)
			for _, q := range []float64{c.ends, 1 - c.ends} { // whether it does is what the repair would tell
				if q > 0 {
					c.Bits -= q * math.Log2(q)
				}
			}
			c.Bits = round(c.Bits, 3)
			out = append(out, c.Check)
		}
	}
	return out, max(alike, same)
}

// solderCaution is said before the iron.
const solderCaution = "Old solder holds lead and flux fume harms: extract it, wash hands, eyes covered when legs are cut. Pads lift after two or three heatings."

// mostChecks is how many a person looks through.
const mostChecks = 8

// again are the readings that were wrong before a repair and have not been taken since: they show whether the repair was all.
func (v analogView) again() []Check {
	out := []Check{}
	for _, w := range v.b.Wrong() {
		k := v.b.S.Obs[v.first(w.Entry)].Check
		for i, o := range v.b.S.Obs {
			if o.Entry == w.Entry && o.At == w.At && o.Check.Kind.String() == w.Kind {
				k = v.b.S.Obs[i].Check
			}
		}
		if v.b.S.Unpowered && k.Kind != analog.Ohms && k.Kind != analog.ESR {
			continue
		}
		c := v.words(k, w.At)
		c.Minutes, c.Good = v.b.costs.Volts, w.Good
		c.Outcomes = []Outcome{{Is: w.Good, Probability: 1}}
		c.Why = "It was wrong before the repair. Read again, it shows whether the repair was all."
		out = append(out, c)
	}
	return out[:min(mostChecks, len(out))]
}

// first is the first observation of an entry.
func (v analogView) first(entry int) int {
	return slices.IndexFunc(v.b.S.Obs, func(o analog.Obs) bool { return o.Entry == entry })
}

func (v analogView) repair(x analog.Suspect) (Check, bool) {
	f := v.fault(x.Faults[0], x.Details[0])
	m, _ := v.b.Mend(f)
	if f.Part == "" {
		return Check{}, false
	}
	p := v.b.M.C.Parts[v.b.M.Part(v.b.S.Lab.U.Faults[x.Faults[0]])]
	c := Check{Kind: m.Kind, At: f.Part, Where: f.Part + " (" + p.Src.Type + ")", Outcomes: []Outcome{}, Minutes: round(m.Minutes, 1),
		Setup: "Power off, reservoirs empty.", Cautions: []string{solderCaution}}
	if f.Kind == string(analog.TrackWorn) {
		c.Setup += " Contact cleaner and working the control end to end may do for a while: try that first."
	}
	verb := "replaced"
	if m.Kind == "resolder" {
		verb, c.At, c.Where = "resoldered", f.At, f.At
	}
	c.Entries = []map[string]any{{verb: []string{c.At}}}
	wrong := v.b.Wrong()
	for i := len(wrong) - 1; i >= 0; i-- {
		if w := wrong[i]; !v.b.S.Unpowered || w.Kind == "ohms" || w.Kind == "esr" {
			c.Entries, c.Good = append(c.Entries, w.Open), w.Good
			break
		}
	}
	return c, true
}

func (v analogView) check(p analog.Proposal, list []analog.Suspect) Check {
	k := p.Check
	c := v.words(k, p.At)
	c.Minutes, c.Bits, c.Good = round(p.Minutes, 1), round(p.Bits, 3), analog.About(k, p.Good)
	c.Why = fmt.Sprintf("It is expected to remove %.2f bits of doubt", p.Bits)
	if p.Again > 0 {
		c.Why = fmt.Sprintf("Read it once more: a slip of the first reading would explain the log too. That is expected to remove %.2f bits of doubt", p.Bits)
	}
	if p.Rail {
		c.Why += "; supplies come before what hangs on them"
	}
	c.Why += "."
	for _, o := range p.Outcomes {
		if o.P < 0.0005 {
			continue
		}
		y := Outcome{Is: analog.Between(k, o), Probability: round(o.P, 4), Good: p.Good.Known && p.Good.Mu >= o.From && p.Good.Mu < o.To}
		for _, st := range o.Stories {
			if w := v.key(v.b.S.Stories[st]); w != "" && !slices.Contains(y.Suspects, w) && len(y.Suspects) < 4 {
				y.Suspects = append(y.Suspects, w)
			}
		}
		c.Outcomes = append(c.Outcomes, y)
	}
	return c
}

// key is a story as outcomes name it: the faults that are still there, joined as SuspectKey joins them.
func (v analogView) key(st analog.Story) string {
	var out []string
	for i, h := range st.Hyps {
		if st.Alive[i] {
			out = append(out, v.b.M.Name(v.b.S.Lab.U.Faults[v.b.S.Lab.Hyps[h].Fault]))
		}
	}
	return strings.Join(out, " ")
}

// words say how a check is made, in what of it does not depend on the suspects.
func (v analogView) words(k analog.Check, at string) Check {
	m := v.b.M
	c := Check{Kind: k.Kind.String(), At: at, Outcomes: []Outcome{}, Entries: []map[string]any{v.b.open(k, at)}}
	name := func(node int) string { return m.NodeName(node) }
	switch k.Kind {
	case analog.Volts:
		if k.Device >= 0 {
			c.Where = "the two ends of " + at + " (" + name(k.A) + " against " + name(k.B) + ")"
		} else {
			c.Net, c.Where = at, "net "+at
		}
		c.Setup = "Meter on DC volts, black lead on " + name(k.B) + "."
	case analog.Ripple:
		c.Net, c.Where = at, "net "+at
		c.Setup = "Scope, AC coupled, 5 ms a division, trigger on the mains."
	case analog.Ohms:
		c.At, c.To = name(k.A), name(k.B)
		c.Net, c.Where = c.At, "net "+c.At
		c.Setup = "Reservoirs empty; meter on its low-voltage ohms range, so that no junction conducts."
	case analog.Current:
		c.Where = at
		c.Setup = "Power off, take the fuse out, meter in its place on the ampere range; or clamp round the wire."
	case analog.ESR:
		c.Where = at
		c.Setup = "Reservoirs empty; ESR meter across the capacitor in circuit."
	case analog.AC:
		c.Net, c.Where = at, "net "+at
		c.Setup = fmt.Sprintf("Scope or AC meter, signal of %s Hz on.", strconv.FormatFloat(k.Frequency, 'g', 4, 64))
	case analog.Gain:
		c.At, c.To = name(k.A), name(k.B)
		c.Where = "from net " + c.At + " to net " + c.To
		c.Setup = fmt.Sprintf("Generator of %s Hz through a capacitor to %s, about 0.1 V and so little that nothing clips; the level at %s over that at %s, both with the same scope or AC meter.",
			strconv.FormatFloat(k.Frequency, 'g', 4, 64), c.At, c.To, c.At)
	case analog.Wiper:
		c.Where = fmt.Sprintf("the wiper of %s set to %.2f of its travel", at, k.Cond.Position)
		c.Setup = "Meter on DC volts; move the control slowly over the place."
	}
	switch k.Kind {
	case analog.Ohms, analog.ESR:
		c.Cautions = []string{"Unplug, wait, and measure that the reservoirs are at 0 V before the meter's ohms touch the board."}
	default:
		c.Cautions = []string{"A slipped probe makes the next fault: sleeve the tip. The scope's clip is earth: never on anything live."}
	}
	if k.Cond.Bench {
		c.Setup = fmt.Sprintf("Mains off. Bench supply of %g V with %g Ω in series (or that current limit) on %s; meter on millivolts.", k.Cond.Volts, k.Cond.OhmsIn, name(k.Cond.At))
	}
	return c
}

// open is a reading as a line of the log, to be filled in.
func (b *AnalogBench) open(k analog.Check, at string) map[string]any {
	e := map[string]any{}
	switch k.Kind {
	case analog.Ohms:
		e["ohms"] = map[string]any{"at": b.M.NodeName(k.A), "to": b.M.NodeName(k.B), "is": nil}
	case analog.AC:
		e["ac"] = map[string]any{"at": at, "frequency": k.Frequency, "level": nil}
	case analog.Gain:
		e["gain"] = map[string]any{"from": b.M.NodeName(k.A), "to": b.M.NodeName(k.B), "frequency": k.Frequency, "is": nil}
	case analog.Wiper:
		e["wiper"] = map[string]any{"at": at, "position": round(k.Cond.Position, 4), "volts": nil}
	default:
		e[k.Kind.String()] = map[string]any{at: nil}
	}
	if k.Cond.Bench {
		e["bench"] = map[string]any{"at": b.M.NodeName(k.Cond.At), "volts": k.Cond.Volts, "ohms": k.Cond.OhmsIn}
	}
	return e
}
