package job

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Ahead is what may still have to be done: one way the job can go on, with its probability.
type Ahead struct {
	P       float64 // probability; the sum need not be 1
	Bits    float64 // doubt that checks have to remove before this is known: log2(1/p) of its look-alike group
	Minutes float64 // to repair it
	Parts   Money
}

// Outlook is everything an estimate is made from.
type Outlook struct {
	Ways       []Ahead
	BitsPerMin float64       // what the next checks remove in a minute; 0 means the usual rate
	Stages     float64       // minutes of the fixed stages that are still open
	Spread     float64       // how far the fixed stages and repairs run over or under, as a factor at one sigma; 0 means the usual
	Hidden     float64       // probability that one more fault lies behind; 0 means the usual
	Running    time.Duration // of the stretch that is going on
}

// Range is an estimate as it should be told: half of such jobs cost less than the median, four of five less than High.
type Range struct {
	Minutes, HighMinutes float64 // still to come
	Median, High         Money   // in all: spent and still to come
}

// Usual values; estimates with no published source.
const (
	usualRate   = 0.35 // bits of doubt removed in a minute at the bench
	usualSpread = 1.5
	usualHidden = 0.15 // second faults behind the first
	hiddenExtra = 75.0 // minutes that one more fault costs
)

// Estimate says what the job will have cost in the end, from what it has cost so far and every way it can go on.
//
// Every way has a minutes figure: the checks that its doubt asks for, its repair, the open stages, and with the probability Hidden one more
// fault. Around each figure lies a log-normal spread, of which spreadPoints points stand for the whole; the median and the 80th percentile
// are read from the weighted points.
func (j *Job) Estimate(o Outlook) Range {
	rate, spread, hidden := o.BitsPerMin, o.Spread, o.Hidden
	if !(rate > 0) {
		rate = usualRate
	}
	if !(spread > 1) {
		spread = usualSpread
	}
	if hidden == 0 {
		hidden = usualHidden
	}
	ways, likely := o.Ways, 0.0
	for _, w := range ways {
		likely += w.P
	}
	if likely == 0 {
		ways = []Ahead{{P: 1}}
	}
	type point struct {
		p, minutes float64
		money      Money
	}
	var points []point
	sum, spent := 0.0, j.Spent(o.Running)
	for _, w := range ways {
		for k := range spreadPoints {
			f := math.Pow(spread, normal((float64(k)+0.5)/spreadPoints))
			for _, extra := range []struct{ p, m float64 }{{1 - hidden, 0}, {hidden, hiddenExtra}} {
				m := (w.Bits/rate + w.Minutes + o.Stages + extra.m) * f
				p := w.P * extra.p
				points = append(points, point{p, m, spent + w.Parts + Money(m*float64(j.Terms.Rate)/60+0.5)})
				sum += p
			}
		}
	}
	quantiles := func(by func(point) float64) (median, high float64) {
		slices.SortStableFunc(points, func(a, b point) int { return cmp.Compare(by(a), by(b)) })
		at := 0.0
		for _, x := range points {
			if at < 0.5*sum {
				median = by(x)
			}
			if at < 0.8*sum {
				high = by(x)
			}
			at += x.p
		}
		return median, high
	}
	minutes, highMinutes := quantiles(func(p point) float64 { return p.minutes })
	median, high := quantiles(func(p point) float64 { return float64(p.money) })
	return Range{minutes, highMinutes, Money(median), Money(high)}
}

// spreadPoints is how many points stand for the normal distribution: the middles of as many equal parts of it.
const spreadPoints = 41

// normal is the quantile of the standard normal distribution.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// Limit says how the cost stands to what was authorised.
type Limit struct {
	Limit, Spent Money
	Passed       bool // spent is beyond the limit
	Near         bool // spent has reached the share at which to warn
	WillPass     bool // the 80th percentile of the estimate is beyond it: time to ask the owner
}

// Limits compares the cost so far and the estimate with the authorised limit. Zero when none was agreed.
func (j *Job) Limits(spent Money, r Range) Limit {
	l := Limit{Limit: j.Terms.Limit, Spent: spent}
	if l.Limit == 0 || j.Terms.NoLimit {
		return Limit{Spent: spent}
	}
	warn := j.Terms.Warn
	if warn == 0 {
		warn = 80
	}
	l.Passed = spent > l.Limit
	l.Near = spent*100 >= l.Limit*Money(warn)
	l.WillPass = r.High > l.Limit
	return l
}
