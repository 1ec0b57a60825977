package analog

import (
	"cmp"
	"context"
	"math"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/evidence"
)

// This file chooses the next check: the entropy it is expected to remove per minute (de Kleer and Williams 1987), with the bench rules on top: rails
// before what hangs on them, and what needs the power off when it is off already.

// Outcome is a range of readings of a check, on its scale, with its probability and the stories that would give it, likeliest first.
type Outcome struct {
	From, To  float64 // ±Inf at the ends
	Low, High float64 // what the stories in it show
	P         float64
	Stories   []int
}

// Proposal is a check with what it would tell.
type Proposal struct {
	Check    Check
	At       string
	Minutes  float64
	Bits     float64
	Outcomes []Outcome
	Good     Prediction
	Rail     bool // of a net that others hang on, not read yet
	Again    int  // how often it has been read since the last repair: more than 0 proposes to rule out a slip
	worth    float64
	score    float64
}

// Plan is what to do next. Groups numbers the look-alikes of the leading stories, from 0, as far as looked at.
type Plan struct {
	Proposals []Proposal
	Groups    []int
	Looked    int // stories that were weighed
}

const (
	planStories  = 70
	planMass     = 0.998
	railBonus    = 3
	leastBits    = 0.04 // below, a check is not worth the way to the probe
	scopeMinutes = 1.0  // one place for a waveform
)

// Plan ranks the checks that a bench can do after Run.
func (s *Session) Plan(ctx context.Context, have evidence.Bench, costs advise.Costs) (*Plan, error) {
	top := s.top(planStories)
	p := &Plan{Looked: len(top)}
	all := s.candidates(have, costs, s.suspected(top))
	all = append(all, s.repeats(top, func(k Check) float64 { return s.minutes(k, costs) })...)
	checks := make([]Check, len(all))
	for i := range all {
		checks[i] = all[i].Check
	}
	if err := s.ask(ctx, top, checks); err != nil {
		return nil, err
	}
	views := make([]view, len(all))
	for i := range all {
		views[i] = s.view(&all[i], top, false)
	}
	done, err := s.done(ctx, top)
	if err != nil {
		return nil, err
	}
	f := s.field(top, append(done, views...))
	p.Groups = f.group
	f.sleeping(top, s.sound())
	for i := range views {
		x := views[i].x
		if x.Again > 0 {
			views[i].dull(f.p, x.worth)
		}
		x.Bits = f.bits(&views[i], f.p)
		x.score = x.Bits
		if !s.Fewest {
			x.score /= x.Minutes
			if x.Rail { // supplies before what hangs on them
				x.score *= railBonus
			}
		}
	}
	views = slices.DeleteFunc(views, func(v view) bool { return v.x.Bits < leastBits })
	slices.SortStableFunc(views, func(a, b view) int { return cmp.Compare(b.x.score, a.x.score) })
	if len(views) > 0 && (s.Fewest || !views[0].x.Rail) {
		i := f.course(ctx, views, func(x *Proposal) float64 {
			if s.Fewest {
				return 1
			}
			return x.Minutes
		})
		first := views[i]
		views = slices.Insert(slices.Delete(views, i, i+1), 0, first)
	}
	for _, v := range views {
		x := *v.x
		var err error
		if x.Good, err = s.Show(ctx, Story{}, x.Check, len(s.Case.Log)); err != nil {
			return nil, err
		}
		ps := make([]Prediction, len(top))
		for i := range top {
			ps[i] = expected(s.foresee(&top[i], x.Check, false))
		}
		x.Outcomes, _ = outcomes(scales[x.Check.Kind], top, ps)
		p.Proposals = append(p.Proposals, x)
	}
	return p, ctx.Err()
}

// done are views of the checks of the log: what they told apart is no look-alike.
func (s *Session) done(ctx context.Context, top []Story) ([]view, error) {
	var checks []Check
	for _, o := range s.Obs {
		if !slices.Contains(checks, o.Check) {
			checks = append(checks, o.Check)
		}
	}
	if err := s.ask(ctx, top, checks); err != nil {
		return nil, err
	}
	var out []view
	for _, k := range checks {
		out = append(out, s.view(&Proposal{Check: k}, top, true))
	}
	return out, nil
}

// top are the stories that matter.
func (s *Session) top(most int) []Story {
	held := 0.0
	for i, st := range s.Stories {
		if !st.joint {
			return s.Stories[:i]
		}
		held += st.P
		if held > planMass || i+1 == most {
			return s.Stories[:i+1]
		}
	}
	return s.Stories
}

// suspected are the devices in which the leading stories sit, and the nodes that they touch.
type suspected struct{ devices, nodes map[int]bool }

func (s *Session) suspected(top []Story) *suspected {
	x := &suspected{map[int]bool{}, map[int]bool{}}
	for _, st := range top {
		for _, h := range st.Hyps {
			f := s.Lab.U.Faults[s.Lab.Hyps[h].Fault]
			for _, n := range []int{f.A, f.B} {
				if n >= 0 {
					x.nodes[s.M.node[n]] = true
				}
			}
			if f.Device < 0 {
				continue
			}
			x.devices[f.Device] = true
			for _, n := range s.M.nodesOf(f.Device) {
				x.nodes[n] = true
			}
		}
	}
	return x
}

// nodesOf are the nodes of a device's wired pins.
func (m *Model) nodesOf(dev int) []int {
	var out []int
	if a, b, ok := m.ends(dev); ok {
		return []int{a, b}
	}
	for _, p := range m.Devices[dev].Pins {
		if p != circuit.None {
			out = append(out, m.node[m.C.Pins[p].Net])
		}
	}
	return out
}

// concerns tells whether a check is near enough to a suspect to be worth its reckoning: with the power on any place may tell, without it only
// places beside a suspect do, and a control is swept when it is suspected. nil concerns everything.
func (x *suspected) concerns(k Check) bool {
	switch {
	case x == nil:
		return true
	case k.Kind == Wiper:
		return x.devices[k.Device]
	case k.Kind == ESR:
		return x.devices[k.Device] || x.nodes[k.A] && x.nodes[k.B]
	case k.Kind == Gain:
		return x.nodes[k.B]
	case k.Kind == Ohms:
		return x.nodes[k.A] && (k.B == 0 || x.nodes[k.B])
	}
	return true
}

// minutes are those of a check after the last one: the instrument, the power, and the reading.
func (s *Session) minutes(k Check, costs advise.Costs) float64 {
	x := 0.0
	off, meterOn, scopeOn := false, false, false
	for _, o := range s.Obs {
		off = o.Check.PowerOff()
		meterOn = meterOn || o.Check.Kind == Volts
		scopeOn = scopeOn || o.Check.Scope()
	}
	if k.PowerOff() != off && len(s.Obs) > 0 {
		x += costs.PowerDown
	}
	switch {
	case k.Scope() && !scopeOn:
		x += costs.ScopeSetUp
	case !k.Scope() && !meterOn:
		x += costs.MeterSetUp
	}
	switch k.Kind {
	case Ohms:
		return x + costs.Ohms
	case ESR:
		return x + costs.Ohms + 0.1
	case Current: // the fuse out and back
		return x + costs.Volts + 1.5
	case Wiper:
		return x + costs.Volts + 0.2
	case Ripple, AC:
		return x + scopeMinutes
	case Gain: // two places, and the generator clipped on
		return x + 2*scopeMinutes
	}
	if k.Cond.Bench { // along a track
		return x + costs.Volts + 0.6
	}
	return x + costs.Volts
}

// candidates are all checks that the board has and the bench can do.
func (s *Session) candidates(have evidence.Bench, costs advise.Costs, near *suspected) []Proposal {
	m := s.M
	var out []Proposal
	rail := map[int]bool{}
	for _, n := range m.rails {
		rail[n] = true
	}
	read := map[Check]bool{}
	for _, o := range s.Obs {
		read[o.Check] = true
	}
	add := func(k Check, at string) {
		if !read[k] && near.concerns(k) && s.allows(k) {
			out = append(out, Proposal{Check: k, At: at, Minutes: s.minutes(k, costs)})
		}
	}
	for n := range m.C.Nets {
		if m.node[n] <= 0 || m.C.Nets[n].Hidden {
			continue
		}
		name := m.C.NetName(n)
		k := Check{A: m.node[n], Device: -1, Cond: Usual()}
		if have.Meter {
			k.Kind = Volts
			add(k, name)
			if len(out) > 0 && out[len(out)-1].Check == k {
				out[len(out)-1].Rail = rail[n]
			}
			k.Kind = Ohms
			add(k, name)
		}
		if have.Scope && m.Mains {
			k.Kind = Ripple
			add(k, name)
		}
		for _, sig := range m.signals {
			if have.Scope {
				k.Kind, k.Frequency = AC, sig.frequency
				add(k, name)
				if in, _, ok := m.ends(sig.dev); ok && in > 0 && in != k.A { // from where the signal comes in, whatever the source gives
					add(Check{Kind: Gain, A: in, B: k.A, Device: -1, Frequency: sig.frequency, Cond: Usual()}, m.NodeName(in)+" to "+name)
				}
			}
		}
	}
	if have.Meter {
		s.partChecks(add)
	}
	return out
}

// Block says which pins, nets and parts are out of reach: Plan proposes nothing there. It replaces what was said before.
func (s *Session) Block(places []string) {
	s.blocked, s.unreached = map[int]bool{}, map[int]bool{}
	for _, w := range places {
		if d := s.M.byPart(w); d >= 0 {
			s.unreached[d] = true
		} else if p, _ := s.M.C.FindPlace(w); p.Net != circuit.None && s.M.node[p.Net] > 0 {
			s.blocked[s.M.node[p.Net]] = true
		}
	}
}

// allows tells whether a check can be made: the power may be on, and its places can be reached.
func (s *Session) allows(k Check) bool {
	if s.Unpowered && k.Kind != Ohms && k.Kind != ESR {
		return false
	}
	if k.Device >= 0 {
		return !s.unreached[k.Device]
	}
	return !s.blocked[k.A] && !s.blocked[k.B]
}

// partChecks are those of single parts: current through fuses, ESR, drops along tracks, positions of controls.
func (s *Session) partChecks(add func(Check, string)) {
	m := s.M
	tracks := false
	for i, d := range m.Devices {
		a, b, two := m.ends(i)
		if d.Part == circuit.None {
			continue
		}
		ref := m.C.Parts[d.Part].Ref
		switch {
		case d.Class == "fuse" && two:
			add(Check{Kind: Current, A: a, B: b, Device: i, Cond: Usual()}, ref)
			add(Check{Kind: Ohms, A: a, B: b, Device: -1, Cond: Usual()}, ref)
		case (d.Class == "electrolytic" || d.Class == "tantalum") && two:
			add(Check{Kind: ESR, A: a, B: b, Device: i, Cond: Usual()}, ref)
		case d.Class == "jumper" && two:
			tracks = true
		case d.Kind == elec.Resistor && two && a != 0 && b != 0:
			add(Check{Kind: Ohms, A: a, B: b, Device: -1, Cond: Usual()}, ref)
		case d.Class == "potentiometer" && d.Pins[1] != circuit.None:
			for k := range 8 {
				add(m.wiper(i, (float64(k)+0.5)/8), ref)
			}
		}
	}
	if !tracks {
		return
	}
	for _, n := range m.rails { // millivolts along the copper of a rail that is held by a bench supply
		c := Usual()
		c.Bench, c.At, c.Volts, c.OhmsIn = true, m.node[n], 1, 1
		fed := m.island(n)
		for i, d := range m.Devices {
			a, b, two := m.ends(i)
			if d.Class == "jumper" && two && fed[a] && fed[b] {
				add(Check{Kind: Volts, A: a, B: b, Device: i, Cond: c}, m.C.Parts[d.Part].Ref)
			}
		}
	}
}

// island are the nodes that tracks, links and beads join with a net.
func (m *Model) island(net int) map[int]bool {
	in := map[int]bool{m.node[net]: true}
	for grown := true; grown; {
		grown = false
		for i, d := range m.Devices {
			if a, b, ok := m.ends(i); ok && (d.Class == "jumper" || d.Class == "ferrite") && in[a] != in[b] {
				in[a], in[b], grown = true, true, true
			}
		}
	}
	return in
}

// outcomes cuts the line of readings where no story's readings lie, and reckons what the cut would tell.
func outcomes(sc scale, top []Story, ps []Prediction) ([]Outcome, float64) {
	var order []int
	for i, p := range ps {
		if p.Known {
			order = append(order, i)
		}
	}
	if len(order) == 0 {
		return nil, 0
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(ps[a].Mu, ps[b].Mu) })
	cuts := []float64{math.Inf(-1)}
	high, highSigma := ps[order[0]].Mu, ps[order[0]].Sigma
	for _, i := range order[1:] {
		p := ps[i]
		if p.Mu-high > 2*(p.Sigma+highSigma) {
			cuts = append(cuts, high+(p.Mu-high)*highSigma/(p.Sigma+highSigma))
		}
		if p.Mu+2*p.Sigma > high+2*highSigma {
			high, highSigma = p.Mu, p.Sigma
		}
	}
	cuts = append(cuts, math.Inf(1))
	out := make([]Outcome, len(cuts)-1)
	inside := make([]float64, len(out))
	total, conditional := 0.0, 0.0
	for i, p := range ps {
		q := top[i].P
		total += q
		h := 0.0
		for k := range out {
			o := &out[k]
			o.From, o.To = cuts[k], cuts[k+1]
			in := 1 / float64(len(out))
			if p.Known {
				in = (1-slip)*(sc.below(p, o.To)-sc.below(p, o.From)) + slip/float64(len(out))
			}
			inside[k] = in
			o.P += q * in
			if in > 0 {
				h -= in * math.Log2(in)
			}
			if p.Known && p.Mu >= o.From && p.Mu < o.To {
				if len(o.Stories) == 0 {
					o.Low, o.High = p.Mu, p.Mu
				}
				o.Low, o.High = min(o.Low, p.Mu), max(o.High, p.Mu)
				o.Stories = append(o.Stories, i)
			}
		}
		conditional += q * h
	}
	bits := 0.0
	for k := range out {
		out[k].P /= total
		if out[k].P > 0 {
			bits -= out[k].P * math.Log2(out[k].P)
		}
	}
	bits -= conditional / total
	return out, max(0, bits)
}
