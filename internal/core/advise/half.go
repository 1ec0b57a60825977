package advise

import (
	"context"
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/predict"
)

// What the other half of a mixed board offers to check. It says for each lane how likely every outcome is; from there its checks are judged like
// those of the logic, so that bits a minute compare.

// Half is the log of another half, as far as the planner needs it.
type Half interface {
	// Offers lists the checks that tell the lanes apart.
	Offers(ctx context.Context, q Lanes) ([]Offer, error)
	// Key names the check of a reading as its Offer does.
	Key(reading int) string
	// Theirs tells whether volts and ohms at a net are the half's business.
	Theirs(net int) bool
}

// Lanes are the hypotheses to be told apart. The question holds what the logic shows after start; On are the lanes that count, the first of
// which is the healthy board when it counts at all, and P their probabilities.
type Lanes struct {
	diagnose.Question
	On        []int
	P         []float64
	Have      evidence.Bench
	Costs     Costs
	Unpowered bool
}

// Offer is a check of the other half. Like is, per lane of On, the probability of each outcome of Names.
type Offer struct {
	Key     string // tells offers apart
	Kind    Kind
	At      string
	Net     int     // where the probe goes; None for a part
	Minutes float64 // of the work, without setting up
	Scope   bool    // else a meter
	Off     bool    // made with the power off
	Rail    bool    // of a supply that was not read yet: it comes before what hangs on it
	Names   []string
	Like    [][]float64
	Good    string
	Ref     any // the half's own description of it
}

// railFirst is how much a supply that nobody has read is worth over another check (practice, no source).
const railFirst = 3

// half is the other half of the board, or nil.
func (b *Bench) half() Half {
	h, _ := b.S.Other().(Half)
	return h
}

// theirs tells whether the other half measures volts and ohms at a net.
func (b *Bench) theirs(net int) bool {
	h := b.half()
	return h != nil && h.Theirs(net)
}

// others collects what the other half offers.
func (b *Bench) others(ctx context.Context, keep func(Check)) error {
	h := b.half()
	if h == nil {
		return nil
	}
	q := Lanes{Have: b.Have, Costs: b.Costs, Unpowered: b.Unpowered}
	q.Hyps = b.hyps
	for w := range b.words {
		q.Shown = append(q.Shown, b.batch(0, w))
	}
	b.lanes(func(i int) {
		q.On = append(q.On, i)
		q.P = append(q.P, b.p[i])
	})
	on := map[int]bool{}
	for _, i := range q.On {
		on[i] = true
	}
	q.Ask = func(hyp int) bool { return on[hyp] }
	offers, err := h.Offers(ctx, q)
	for i := range offers {
		keep(b.offered(&offers[i], q.On))
	}
	return err
}

// offered turns an offer into a check.
func (b *Bench) offered(o *Offer, on []int) Check {
	ck := b.blank(o.Kind, predict.Setting{Lifted: b.S.Lifted}, circuit.Place{Pin: circuit.None, Net: o.Net})
	ck.Other = o
	ck.names(o.Names)
	index := map[string]int{}
	for k, lane := range on {
		key := ""
		for _, x := range o.Like[k] {
			key += fmt.Sprintf("%.0f ", math.Round(200*x))
		}
		c, ok := index[key]
		if !ok {
			c = len(ck.cells)
			index[key] = c
			ck.cells = append(ck.cells, cell{make([]uint64, b.words), o.Like[k]})
		}
		ck.cells[c].lanes[lane>>6] |= 1 << (lane & 63)
	}
	return ck
}

// bonus is what a check is worth more than its bits.
func (c *Check) bonus() float64 {
	if c.Other != nil && c.Other.Rail {
		return railFirst
	}
	return 1
}

// otherMinutes is what an offer takes from a standing.
func (b *Bench) otherMinutes(o *Offer, s standing) (t float64, setUp bool) {
	t = o.Minutes
	switch {
	case o.Off && s.powered:
		t += b.Costs.PowerDown
	case !o.Off && !s.powered:
		t += b.Costs.PowerUp
	}
	if o.Scope && !s.scope {
		return t + b.Costs.ScopeSetUp, true
	}
	if !o.Scope && !s.meter {
		return t + b.Costs.MeterSetUp, true
	}
	return t, false
}

func (s *standing) takeOther(o *Offer, setting string) {
	s.scope, s.meter, s.powered = s.scope || o.Scope, s.meter || !o.Scope, !o.Off
	if !o.Off {
		s.action = setting
	}
}

// otherOf is the offer that a reading of the log answered, as far as its instrument and power go.
func otherOf(o diagnose.Obs) *Offer {
	return &Offer{Scope: slices.Contains([]string{"ripple", "ac"}, o.What), Off: slices.Contains([]string{"ohms", "esr"}, o.What)}
}
