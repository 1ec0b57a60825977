package analog

import "math"

// This file is about reading once more: how a second reading of the same thing is weighed, and when one is worth proposing. A slip of the hand or the pen
// is independent each time; what the board, its tolerances and the meter do is the same both times.

// fresh is the variance that comes anew with each reading of a check around mu; the rest of the noise is there every time (estimate: half of the meter's).
func (k Check) fresh(mu float64) float64 {
	m := scales[k.Kind].spread(mu, 0, k.Cond)
	return m * m / 2
}

// repeated is what a second reading shows where the first one stands.
func (o *Obs) repeated() Prediction {
	return Prediction{o.Y, math.Sqrt(2 * o.Check.fresh(o.Y)), true}
}

// before is the last reading before i of the same check for which the machine stood the same way, as at says; -1 without.
func (s *Session) before(i int, at []subject) int {
	for j := i - 1; j >= 0; j-- {
		if s.Obs[j].Check == s.Obs[i].Check && at[j] == at[i] {
			return j
		}
	}
	return -1
}

// lasting is the covariance of two readings of one check by what the meter and the model do alike both times.
func lasting(k Check, x *sight) float64 { return max(0, x.noise*x.noise-k.fresh(x.mu)) }

// stray is the probability that a reading which a strand expected at p, and did not take in, is no slip all the same: the model errs.
func (o *Obs) stray(p Prediction) float64 {
	if !p.Known {
		return o.Sure
	}
	sc := scales[o.Check.Kind]
	return 0.005 * o.Sure * normal(o.Y-p.Mu, 6*p.Sigma) / sc.density(p, o.Y, o.Sure)
}

// agrees tells readings that say what the one before says.
func (o *Obs) agrees(first *Obs) bool {
	p := first.repeated()
	return math.Abs(o.Y-p.Mu) <= misfit*p.Sigma
}

// How often a thing is read again, and what it tells (estimates, as on boards of logic): what makes the same slip twice makes a second look worth less, and
// a third is taken only while the log does not add up.
const (
	secondLook = 0.7
	thirdLook  = 0.25
	doubted    = 0.01 // probability of stories to which a reading is odd from which on it is worth another look
)

// repeats are readings of the log to take once more: those that some story worth naming calls a slip.
func (s *Session) repeats(top []Story, price func(Check) float64) []Proposal {
	var out []Proposal
	from := s.sinceRepair()
	count := map[Check]int{}
	for _, o := range s.Obs {
		if o.Entry >= from {
			count[o.Check]++
		}
	}
	whole := len(s.Stories) > 0 && s.Stories[0].joint && s.Stories[0].explained()
	for i := range s.Obs {
		o := &s.Obs[i]
		n := count[o.Check]
		if o.Entry < from || n == 0 || n > 2 || n == 2 && whole || !s.allows(o.Check) {
			continue
		}
		odd := 0.0
		for k := range top {
			if top[k].joint && top[k].best().odd[i] {
				odd += top[k].P
			}
		}
		if odd < doubted {
			continue
		}
		worth := secondLook
		if n == 2 {
			worth = thirdLook
		}
		out = append(out, Proposal{Check: o.Check, At: o.At, Minutes: price(o.Check), Again: n, worth: worth})
		count[o.Check] = 0
	}
	return out
}

// sinceRepair is the entry of the log from which on the board has been as it is.
func (s *Session) sinceRepair() int {
	for i := len(s.Case.Log) - 1; i >= 0; i-- {
		e := &s.Case.Log[i]
		if len(e.Lifted)+len(e.Refitted)+len(e.Replaced)+len(e.Reseated)+len(e.Resolder)+len(e.Cleared) > 0 {
			return i
		}
	}
	return 0
}

// dull makes a view tell only a share of what it would.
func (v *view) dull(p []float64, worth float64) {
	for k := range v.like[0] {
		all := 0.0
		for i, q := range p {
			all += q * v.like[i][k]
		}
		for i := range p {
			v.like[i][k] = worth*v.like[i][k] + (1-worth)*all
		}
	}
}
