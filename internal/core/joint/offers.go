package joint

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
)

// What the analogue half has to offer when the next check is chosen: every lane, of whichever half, has its share in every outcome.

// Bounds of the choice, as on a board that is analogue alone.
const (
	mostOutcomes = 40
	leastBits    = 0.02
	nearMass     = 0.998 // faults beyond it do not call for readings without power beside them
	lanes        = 70    // lanes that a check is reckoned for; the others are taken to show anything
	dearLanes    = 24    // and one with solutions of its own
	dearMass     = 0.98
)

// Theirs tells whether volts and ohms at a net are weighed here.
func (l *log) Theirs(net int) bool { return net != circuit.None && l.b.Theirs(net) }

// Key names the check of a reading, however the logic stood.
func (l *log) Key(reading int) string { return key(l.s.Obs[reading].Check) }

func key(k analog.Check) string {
	k.Cond.Drive = ""
	return fmt.Sprint(k)
}

// Offers lists checks: first those that cost no new solution; those with a solution of their own only if these leave half of the doubt; and those under
// another condition of the whole board, a control moved or a bench supply, only if they leave two thirds of it.
func (l *log) Offers(ctx context.Context, q advise.Lanes) ([]advise.Offer, error) {
	costs := q.Costs
	costs.PowerDown, costs.ScopeSetUp, costs.MeterSetUp = 0, 0, 0
	var cheap, dear, moved []analog.Proposal
	for _, c := range l.s.Candidates(q.Have, costs, l.near(q)) {
		off := c.Check.PowerOff()
		if q.Unpowered && !off {
			continue
		}
		switch k := c.Check.Kind; {
		case k == analog.Wiper || c.Check.Cond.Bench:
			moved = append(moved, c)
		case off || k == analog.AC || k == analog.Gain:
			dear = append(dear, c)
		default:
			cheap = append(cheap, c)
		}
	}
	var out []advise.Offer
	most := 0.0
	weigh := func(list []analog.Proposal) error {
		for i := range list {
			o, bits, err := l.offer(ctx, &list[i], q)
			if err != nil {
				return err
			}
			most = max(most, bits)
			if bits >= leastBits {
				out = append(out, o)
			}
		}
		return nil
	}
	q.Ask = leading(q, lanes, nearMass)
	if err := weigh(cheap); err != nil {
		return nil, err
	}
	q.Ask = leading(q, dearLanes, dearMass)
	doubt := entropy(q.P)
	if most < doubt/2 {
		if err := weigh(dear); err != nil {
			return nil, err
		}
	}
	if most < doubt/3 {
		if err := weigh(moved); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// leading tells the heaviest lanes.
func leading(q advise.Lanes, most int, mass float64) func(int) bool {
	on := map[int]bool{}
	held := 0.0
	for k, i := range byWeight(q.P) {
		if k == most || held > mass {
			break
		}
		held += q.P[i]
		on[q.On[i]] = true
	}
	return func(lane int) bool { return on[lane] }
}

// byWeight lists the places of a distribution by falling probability.
func byWeight(p []float64) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[b], p[a]) })
	return order
}

// near lists the analogue faults of the lanes that count, likeliest first.
func (l *log) near(q advise.Lanes) []int {
	var out []int
	held := 0.0
	for _, i := range byWeight(q.P) {
		if held > nearMass {
			break
		}
		held += q.P[i]
		for _, w := range q.Hyps[q.On[i]] {
			if w.F.Kind == fault.Other && !slices.Contains(out, w.F.A) {
				out = append(out, w.F.A)
			}
		}
	}
	return out
}

// offer lays a check out over the lanes.
func (l *log) offer(ctx context.Context, c *analog.Proposal, q advise.Lanes) (advise.Offer, float64, error) {
	all, err := l.shows(ctx, c.Check, circuit.None, q.Question, 0)
	if err != nil {
		return advise.Offer{}, 0, err
	}
	shown := make([]analog.Prediction, len(q.On))
	for k, lane := range q.On {
		shown[k] = all[lane]
	}
	outcomes, like := analog.Cut(c.Check, q.P, shown)
	if len(outcomes) < 2 || len(outcomes) > mostOutcomes {
		return advise.Offer{}, 0, nil
	}
	o := advise.Offer{Key: key(c.Check), Kind: advise.Kind(c.Check.Kind.String()), At: c.At, Net: circuit.None, Minutes: c.Minutes, Scope: c.Check.Scope(),
		Off: c.Check.PowerOff(), Rail: c.Rail, Like: like, Ref: c.Check}
	if p, _ := l.b.C.FindPlace(c.At); p.Net != circuit.None {
		o.Net = p.Net
	}
	for _, x := range outcomes {
		o.Names = append(o.Names, analog.Between(c.Check, x))
	}
	good, err := l.one(ctx, c.Check, l.goodDrive(c.Check), nil, true)
	o.Good = analog.About(c.Check, good)
	return o, gain(q.P, like), err
}

// goodDrive is how the logic of a sound board stands at rest.
func (l *log) goodDrive(k analog.Check) string {
	if k.PowerOff() {
		return analog.Dead(l.b.Lab.Rest)
	}
	return l.b.Lab.Rest
}

func entropy(p []float64) float64 {
	h := 0.0
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log2(x)
		}
	}
	return h
}

// gain is the doubt in bits that a check is expected to remove.
func gain(p []float64, like [][]float64) float64 {
	out := make([]float64, len(like[0]))
	g := 0.0
	for i, row := range like {
		for k, x := range row {
			out[k] += p[i] * x
		}
		g -= p[i] * entropy(row)
	}
	return max(0, g+entropy(out))
}
