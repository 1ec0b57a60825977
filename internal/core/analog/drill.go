package analog

import (
	"cmp"
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

// This file is blind practice: a copy of the board with every tolerance drawn at random and one fault of a severity that none of the hypotheses
// has, read with a meter that errs, and the planner that has to find it.

// Unit is one machine of a drill. Its readings are computed from its own parts, not from the hypotheses.
type Unit struct {
	Fault int // index into the universe
	l     *Lab
	patch elec.Patch
	extra Way // its Ripple
	rng   *rand.Rand
	seen  map[Condition]*world
	meter float64
	// Slips is the probability that a reading is one of another place of the same kind: the probe was on the wrong pin.
	Slips float64
}

// NewUnit breaks a copy of the board at random, faults as often as the prior says. meter is the meter's error as a fraction (0.01).
func NewUnit(l *Lab, rng *rand.Rand, meter float64) *Unit {
	x := rng.Float64()
	f := 0
	for f+1 < len(l.U.Weight) && x > l.U.Weight[f] {
		x -= l.U.Weight[f]
		f++
	}
	return NewUnitWith(l, f, rng, meter)
}

// NewUnitWith is NewUnit with a fault that is given.
func NewUnitWith(l *Lab, fault int, rng *rand.Rand, meter float64) *Unit {
	u := &Unit{Fault: fault, l: l, rng: rng, seen: map[Condition]*world{}, meter: meter}
	u.patch = l.U.M.drawn(rng)
	u.extra = l.U.severity(fault, rng)
	u.patch = u.patch.And(u.extra.Patch)
	return u
}

// drawn are the tolerances of one machine, by chance.
func (m *Model) drawn(rng *rand.Rand) elec.Patch {
	var p elec.Patch
	for _, x := range m.E.Uncertain() {
		v, _ := m.E.Param(x.Device, x.Param)
		p.Changes = append(p.Changes, elec.Change{Device: x.Device, Do: elec.Set, Param: x.Param, Value: v + x.Half*(2*rng.Float64()-1)})
	}
	p.Changes = append(p.Changes, m.mains(1+mainsTolerance*(2*rng.Float64()-1))...)
	return p
}

// severity is a way of a fault that none of the hypotheses has, by chance; where the ways are no scale, one of them.
func (u *Universe) severity(fault int, rng *rand.Rand) Way {
	ways := u.Ways[fault]
	i := rng.IntN(len(ways))
	w := ways[i]
	if w.Smear && i+1 < len(ways) {
		w.Patch = between(w.Patch, ways[i+1].Patch, rng.Float64())
	}
	return w
}

// between is a severity between two samples of a scale.
func between(p, q elec.Patch, t float64) elec.Patch {
	mid := func(a, b float64) float64 {
		if a*b <= 0 {
			return a
		}
		return math.Copysign(math.Exp((1-t)*math.Log(math.Abs(a))+t*math.Log(math.Abs(b))), a)
	}
	out := elec.Patch{Changes: slices.Clone(p.Changes), Bridges: slices.Clone(p.Bridges)}
	for i := range min(len(out.Changes), len(q.Changes)) {
		out.Changes[i].Value = mid(p.Changes[i].Value, q.Changes[i].Value)
	}
	for i := range min(len(out.Bridges), len(q.Bridges)) {
		out.Bridges[i].Ohms = mid(p.Bridges[i].Ohms, q.Bridges[i].Ohms)
	}
	return out
}

// Read is what the meter shows; ok is false where the machine has no answer.
func (u *Unit) Read(k Check) (x float64, ok bool) {
	p := u.exact(k)
	if !p.Known {
		return 0, false
	}
	sc := scales[k.Kind]
	x = sc.out(p.Mu) * (1 + u.meter*(2*u.rng.Float64()-1))
	digit := 1e-3
	if k.Cond.Bench || k.Kind == Current {
		digit = 1e-4
	}
	if k.Kind == Ohms && x >= openOhms*0.9 {
		return openOhms, true
	}
	if k.Kind == Ohms && x > 10 {
		digit = math.Pow(10, math.Floor(math.Log10(x))-2)
	}
	return math.Round(x/digit) * digit, true
}

func (u *Unit) exact(k Check) Prediction {
	l := u.l
	s := l.U.M.E.NewSolver()
	if k.Kind != Volts && k.Kind != Ripple && k.Kind != Current && k.Kind != Wiper {
		return l.probe(s, k, u.patch, 0)
	}
	w := u.seen[k.Cond]
	if w == nil {
		w = u.solve(s, k.Cond)
		u.seen[k.Cond] = w
	}
	return l.fromWorld(k, w, nil)
}

func (u *Unit) solve(s *elec.Solver, c Condition) *world {
	m := u.l.U.M
	w := &world{sigma: make([]float64, len(m.nets)), across: make([]float64, len(m.Devices))}
	p := u.patch.And(c.patch(m))
	if m.Mains && !c.Bench {
		// from empty capacitors and in small steps: not as the hypotheses are computed
		if st, err := m.E.Steady(elec.RippleOptions{Period: m.Period, Periods: 60, Steps: 120}, p); err == nil {
			w.volts, w.ripple, w.known = volume(st.Levels)
		}
		if w.known && u.extra.Ripple > 0 && math.Abs(w.volts[u.extra.RippleNode]) > 0.5 {
			w.ripple[u.extra.RippleNode] += u.extra.Ripple
		}
	} else {
		opt := u.l.from(c.Bench)
		point, err := s.OP(opt, p)
		if err != nil { // it may hang in the air
			opt.Leak = leakage
			point, err = s.OP(opt, p)
		}
		if err == nil {
			w.volts, w.known = point.Voltages(), true
		}
	}
	if w.known {
		w.sigma = make([]float64, len(w.volts))
	}
	return w
}

// Trial is one drill.
type Trial struct {
	Truth       string
	Symptom     string
	Asked       []string // the checks with what was read
	Ended       []string // the likeliest sets of faults at the end, with probability and group
	Checks      int
	Minutes     float64
	Found       bool    // the true fault is in the first group of look-alikes at the end
	Faults      int     // sets of faults in that group that have a hundredth of its probability
	Parts       int     // and the parts that they are in
	Bits        float64 // doubt over the groups after the symptom
	Bound       float64 // fewest checks that any plan needs on average: the shortest code over the groups with as many signs as the best-spread check has outcomes
	Expected    float64 // Bits over what the most telling check of the start tells
	Probability float64 // of the first group at the end
	Plans       int     // how often the next check was chosen
}

const (
	drillChecks = 25
	settled     = 0.95
)

// Drill breaks a machine so that something powered shows it, gives one such reading as the complaint and lets the planner work: for the fewest checks,
// or else the fewest minutes. slips is the probability of every reading after the complaint to be one of another place.
func Drill(ctx context.Context, l *Lab, rng *rand.Rand, have evidence.Bench, fewest bool, slips float64) (Trial, error) {
	bench, _ := NewSession(l, &evidence.Case{})
	all := bench.candidates(have, advise.DefaultCosts(), nil)
	u, symptom, err := broken(ctx, l, rng, all)
	if err != nil {
		return Trial{}, err
	}
	u.Slips = slips
	return u.play(ctx, symptom, have, fewest, all)
}

// taken is what the technician writes down for a check: a slip now and then.
func (u *Unit) taken(k Check, all []Proposal) (x float64, ok bool) {
	if u.Slips > 0 && u.rng.Float64() < u.Slips {
		var others []Check
		for _, o := range all {
			if o.Check.Kind == k.Kind && o.Check != k {
				others = append(others, o.Check)
			}
		}
		if len(others) > 0 {
			k = others[u.rng.IntN(len(others))]
		}
	}
	return u.Read(k)
}

// broken draws machines until one shows its fault in a powered reading.
func broken(ctx context.Context, l *Lab, rng *rand.Rand, all []Proposal) (*Unit, Obs, error) {
	for range 200 {
		u := NewUnit(l, rng, 0.01)
		var shows []Obs
		for _, c := range all {
			k := c.Check
			if k.Kind == Ohms || k.Kind == ESR || k.Kind == Current || k.Kind == Gain || k.Cond.Bench { // nobody complains of these
				continue
			}
			sound, err := l.sound(ctx, k)
			if err != nil {
				return nil, Obs{}, err
			}
			x, ok := u.Read(k)
			y := scales[k.Kind].in(x)
			if ok && len(sound) > 0 && !slices.ContainsFunc(sound, func(b bell) bool { return math.Abs(y-b.mu) <= 4.5*b.sigma }) {
				shows = append(shows, Obs{0, k, y, c.At, 0.98})
			}
		}
		if len(shows) > 0 {
			return u, shows[rng.IntN(len(shows))], nil
		}
	}
	return nil, Obs{}, errInvisible
}

// sound is what a good board shows in every state that its tolerances can bring it into; nil where there is no answer.
func (l *Lab) sound(ctx context.Context, k Check) ([]bell, error) {
	if err := l.explore(ctx, []int{0}); err != nil {
		return nil, err
	}
	var out []bell
	for _, x := range l.statesOf[0] {
		u := subject{0, 0, x.index}
		if err := l.look(ctx, []subject{u}, []Check{k}); err != nil {
			return nil, err
		}
		if y := l.sights[u][k]; y.known {
			out = append(out, bell{x.weight, y.mu, math.Sqrt(y.noise*y.noise + covary(&y, &y))})
		}
	}
	return out, nil
}

type drillError string

func (e drillError) Error() string { return string(e) }

const errInvisible = drillError("no fault of 200 shows in any powered reading of this board")

func (u *Unit) play(ctx context.Context, symptom Obs, have evidence.Bench, fewest bool, all []Proposal) (Trial, error) {
	s, _ := NewSession(u.l, &evidence.Case{})
	s.Fewest = fewest
	s.Obs = []Obs{symptom}
	t := Trial{Truth: s.M.Name(u.l.U.Faults[u.Fault]), Symptom: symptom.Check.Kind.String() + " " + symptom.At + " " + symptom.Seen()}
	for {
		if err := s.Run(ctx); err != nil {
			return t, err
		}
		plan, err := s.Plan(ctx, have, advise.DefaultCosts())
		if err != nil {
			return t, err
		}
		t.Plans++
		list := s.Suspects(plan)
		if t.Checks == 0 {
			t.Bits, t.Bound, t.Expected = bound(list, plan)
		}
		t.ends(s, list, u.Fault)
		if t.Probability >= settled || t.Checks >= drillChecks {
			return t, nil
		}
		read := false
		for _, p := range plan.Proposals {
			x, ok := u.taken(p.Check, all)
			if !ok {
				continue
			}
			o := Obs{0, p.Check, scales[p.Check.Kind].in(x), p.At, 0.98}
			s.Obs = append(s.Obs, o)
			t.Asked = append(t.Asked, p.Check.Kind.String()+" "+p.At+" "+o.Seen())
			t.Checks++
			t.Minutes += p.Minutes
			read = true
			break
		}
		if !read {
			return t, nil
		}
	}
}

// ends sums up the first group of look-alikes.
func (t *Trial) ends(s *Session, list []Suspect, truth int) {
	t.Found, t.Probability, t.Faults, t.Parts, t.Ended = false, 0, 0, 0, nil
	parts := map[[3]int]bool{}
	for i, x := range list {
		if i < 6 {
			t.Ended = append(t.Ended, fmt.Sprintf("%s %.3f (%d)", s.Words(x.Best), x.P, x.Group))
		}
		if x.Group != list[0].Group {
			continue
		}
		t.Probability += x.P
		t.Found = t.Found || len(x.Faults) == 1 && x.Faults[0] == truth
		if x.P < list[0].P/100 {
			continue
		}
		t.Faults++
		for _, f := range x.Faults {
			switch y := s.Lab.U.Faults[f]; {
			case y.Device < 0:
				parts[[3]int{-1, y.A, y.B}] = true
			case s.M.Part(y) == circuit.None:
				parts[[3]int{-1, -1, y.Device}] = true
			default:
				parts[[3]int{s.M.Part(y)}] = true
			}
		}
	}
	t.Parts = len(parts)
	if !t.Found {
		t.Ended = append(t.Ended, s.against(truth)...)
	}
}

// against are the readings that speak against a fault alone, in its likeliest severity.
func (s *Session) against(fault int) []string {
	for i := range s.Stories {
		st := &s.Stories[i]
		if !st.joint || len(st.Hyps) != 1 || s.Lab.Hyps[st.Hyps[0]].Fault != fault {
			continue
		}
		out := []string{fmt.Sprintf("the truth in way %d has %.4f", s.Lab.Hyps[st.Hyps[0]].Way, st.P)}
		x := st.best()
		for j, o := range s.Obs {
			if x.odd[j] {
				out = append(out, fmt.Sprintf("against it %v %s: read %s, shows %s ± %s", o.Check.Kind, o.At, o.Seen(), Show(o.Check.Kind, scales[o.Check.Kind].out(x.seen[j].mu)),
					Show(o.Check.Kind, x.seen[j].noise)))
			}
		}
		return out
	}
	return []string{"the truth was not weighed"}
}

// bound is the entropy over groups, and the checks that it takes at least.
func bound(list []Suspect, plan *Plan) (bits, checks, expected float64) {
	by := map[int]float64{}
	for _, x := range list {
		by[x.Group] += x.P
	}
	var ps []float64
	total := 0.0
	for _, p := range by {
		ps = append(ps, p)
		total += p
	}
	slices.Sort(ps)
	for _, p := range ps {
		if q := p / total; q > 0 {
			bits -= q * math.Log2(q)
		}
	}
	radix, best := 2, 0.1
	for _, c := range plan.Proposals {
		n := 0
		for _, o := range c.Outcomes {
			if o.P > 0.005 {
				n++
			}
		}
		radix, best = max(radix, n), max(best, c.Bits)
	}
	return bits, huffman(ps, radix), bits / best
}

// huffman is the mean length of the shortest code with radix signs.
func huffman(ps []float64, radix int) float64 {
	w := slices.Clone(ps)
	total := 0.0
	for _, p := range w {
		total += p
	}
	for len(w) > 1 && (len(w)-1)%(radix-1) != 0 {
		w = append(w, 0)
	}
	length := 0.0
	for len(w) > 1 {
		slices.SortFunc(w, cmp.Compare)
		sum := 0.0
		for _, p := range w[:radix] {
			sum += p
		}
		length += sum
		w = append(w[radix:], sum)
	}
	return length / max(total, 1e-12)
}
