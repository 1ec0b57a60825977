package job

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// TestTheEstimateIsThatOfManyJobs draws the same job a hundred thousand times, each with a way, a hidden fault or none, and a log-normal
// spread, and compares the median and the 80th percentile of what they took. Points stand for the spread, and so do draws for it: within
// 3 % of the drawn figure is called the same.
func TestTheEstimateIsThatOfManyJobs(t *testing.T) {
	const drawn, tolerance = 100_000, 0.03
	cases := []Outlook{
		{Stages: 60},
		{Stages: 120, Ways: []Ahead{{P: 1, Bits: 6, Minutes: 40, Parts: 400}}},
		{Stages: 30, BitsPerMin: 0.1, Ways: []Ahead{{P: 0.6, Bits: 0.7, Minutes: 25, Parts: 250}, {P: 0.3, Bits: 1.7, Minutes: 60, Parts: 1200}, {P: 0.1, Bits: 3.3, Minutes: 180}}},
		{Stages: 15, Spread: 2, Hidden: 0.4, Ways: []Ahead{{P: 0.5, Minutes: 20, Parts: 300}, {P: 0.5, Minutes: 20, Parts: 9000}}},
		{Stages: 200, Spread: 1.2, Hidden: 0.01, Ways: []Ahead{{P: 3, Bits: 2, Minutes: 30}, {P: 1, Bits: 4, Minutes: 300}}}, // weights need no sum of 1
		{Stages: 90, Running: 45 * time.Minute, Ways: []Ahead{{P: 1, Bits: 2}}},
	}
	compared := 0
	for n, o := range cases {
		j := &Job{Terms: Terms{Rate: 5000, Fee: 2500}}
		r := j.Estimate(o)
		rnd := rand.New(rand.NewPCG(uint64(n), 1))
		var minutes, money []float64
		for range drawn {
			m, c := draw(j, o, rnd)
			minutes, money = append(minutes, m), append(money, c)
		}
		slices.Sort(minutes)
		slices.Sort(money)
		for _, q := range []struct {
			name      string
			got, want float64
		}{
			{"median minutes", r.Minutes, minutes[drawn/2]}, {"80 % minutes", r.HighMinutes, minutes[drawn*8/10]},
			{"median money", float64(r.Median), money[drawn/2]}, {"80 % money", float64(r.High), money[drawn*8/10]},
		} {
			compared++
			if math.Abs(q.got-q.want) > tolerance*q.want {
				t.Errorf("case %d, %s: %.0f, drawn %.0f", n, q.name, q.got, q.want)
			}
		}
		if r.Minutes > r.HighMinutes || r.Median > r.High || r.Median < j.Spent(o.Running) {
			t.Errorf("case %d: %+v", n, r)
		}
	}
	if compared != 24 {
		t.Errorf("%d figures compared", compared)
	}
}

// draw is one job of an outlook: what it still takes, and what it costs in all.
func draw(j *Job, o Outlook, rnd *rand.Rand) (minutes, money float64) {
	rate, spread, hidden := o.BitsPerMin, o.Spread, o.Hidden
	if rate == 0 {
		rate = usualRate
	}
	if spread == 0 {
		spread = usualSpread
	}
	if hidden == 0 {
		hidden = usualHidden
	}
	ways := o.Ways
	if len(ways) == 0 {
		ways = []Ahead{{P: 1}}
	}
	sum := 0.0
	for _, w := range ways {
		sum += w.P
	}
	x, i := rnd.Float64()*sum, 0
	for ; i < len(ways)-1 && x >= ways[i].P; i++ {
		x -= ways[i].P
	}
	m := ways[i].Bits/rate + ways[i].Minutes + o.Stages
	if rnd.Float64() < hidden {
		m += hiddenExtra
	}
	m *= math.Exp(math.Log(spread) * rnd.NormFloat64())
	return m, float64(j.Spent(o.Running)) + float64(ways[i].Parts) + m*float64(j.Terms.Rate)/60
}

func TestAnEstimateWithoutARateIsAboutTimeOnly(t *testing.T) {
	j := &Job{}
	r := j.Estimate(Outlook{Stages: 60})
	if r.Median != 0 || r.High != 0 || r.Minutes <= 0 || r.HighMinutes <= r.Minutes {
		t.Errorf("%+v", r)
	}
}
