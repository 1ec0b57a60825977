package analog

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// This file weighs a log as a whole. Within a story the readings are joint normal: each is its middle, plus what the tolerances of the board and the
// severity of the fault do to all of them, plus what is its own. A reading is taken in after those before it (the Cholesky factor of the covariance
// grows by a row), unless it is likelier a slip; the next one is then expected where the tolerances that were seen put it.

// strand is a stretch of the severities of a story. Readings lie at mu + at·gap in its middle; its length is in units of the gap.
type strand struct {
	at, length float64
	below      bool    // gaps are those to the next severity below
	weight     float64 // probability: before the log its share of the story, after it that given the story
	used       []int   // readings taken in
	rows       [][]float64
	rest       []float64 // what each brought that was new, in standard deviations
	odd        []bool    // readings that it does not account for
	log        float64
}

// strands shares the severities around a hypothesis out: half way to either neighbour, in straight lines.
func (l *Lab) strands(u subject) []strand {
	if u[0] == 0 || u[1] > 0 {
		return []strand{{weight: 1}}
	}
	y := l.Hyps[u[0]]
	ways := l.U.Ways[y.Fault]
	switch {
	case len(ways) < 2 || !ways[y.Way].Smear:
		return []strand{{weight: 1}}
	case y.Way == 0:
		return []strand{{at: 0.25, length: 0.5, weight: 0.7}, {at: -0.1, length: 0.2, weight: 0.3}}
	case y.Way == len(ways)-1:
		return []strand{{at: -0.25, length: 0.5, below: true, weight: 0.7}, {at: 0.1, length: 0.2, below: true, weight: 0.3}}
	}
	return []strand{{at: -0.25, length: 0.5, below: true, weight: 0.5}, {at: 0.25, length: 0.5, weight: 0.5}}
}

func (x *strand) gap(s *sight) float64 {
	if x.below {
		return s.less
	}
	return s.more
}

// curved is the part of the difference between two neighbouring gaps by which a straight line between severities errs.
const curved = 0.06

// own is the variance of a reading that it shares with no other.
func (x *strand) own(s *sight) float64 {
	c := 0.0
	if x.length > 0 && s.less != 0 && s.more != 0 {
		c = curved * (s.more - s.less)
	}
	return s.noise*s.noise + c*c
}

func covary(a, b *sight) float64 {
	sum := 0.0
	if len(a.slope) == len(b.slope) {
		bs := b.slope
		for i, v := range a.slope {
			sum += float64(v) * float64(bs[i])
		}
	}
	return sum / 3
}

// given is where a reading is expected after those taken in: with[i] is its covariance by tolerances with reading i.
func (x *strand) given(seen []*sight, now *sight, with []float64, self float64) (mean, variance float64, row []float64) {
	g := x.length * x.gap(now)
	mean = now.mu + x.at*x.gap(now)
	variance = self + g*g/12
	row = make([]float64, len(x.used), len(x.used)+1)
	for r, j := range x.used {
		c := with[j] + g*x.length*x.gap(seen[j])/12
		for q, v := range x.rows[r][:r] {
			c -= v * row[q]
		}
		row[r] = c / x.rows[r][r]
		mean += row[r] * x.rest[r]
		variance -= row[r] * row[r]
	}
	own := x.own(now)
	return mean, max(variance, 0) + own, row
}

// stands is the subject of a story at an entry of the log: what repairs before it have left.
func (s *Session) stands(st *Story, entry int) subject {
	var left []int
	for _, h := range st.Hyps {
		if s.alive(h, entry) {
			left = append(left, h)
		}
	}
	return subjectOf(left)
}

// weigh computes the joint likelihood of stories.
func (s *Session) weigh(ctx context.Context, list []*Story) error {
	l := s.Lab
	var checks []Check
	for _, o := range s.Obs {
		if !slices.Contains(checks, o.Check) {
			checks = append(checks, o.Check)
		}
	}
	at := make([][]subject, len(list))
	var subs []subject
	for i, st := range list {
		for _, o := range s.Obs {
			at[i] = append(at[i], s.stands(st, o.Entry))
		}
		subs = append(subs, at[i]...)
		subs = append(subs, s.stands(st, len(s.Case.Log)))
	}
	subs = distinct(subs)
	if err := l.look(ctx, subs, checks); err != nil {
		return err
	}
	for i, st := range list {
		seen := make([]*sight, len(s.Obs))
		for j, o := range s.Obs {
			x := l.sights[at[i][j]][o.Check]
			seen[j] = &x
		}
		st.now = s.stands(st, len(s.Case.Log))
		s.judgeStory(st, seen)
	}
	return nil
}

func distinct(subs []subject) []subject {
	slices.SortFunc(subs, func(a, b subject) int { return slices.Compare(a[:], b[:]) })
	return slices.Compact(subs)
}

// judgeStory takes the readings in.
func (s *Session) judgeStory(st *Story, seen []*sight) {
	st.seen = seen
	st.strands = s.Lab.strands(subjectOf(st.Hyps))
	with := make([][]float64, len(seen))
	for i := range seen {
		with[i] = make([]float64, i+1)
		if seen[i].known {
			for j := range i + 1 {
				if seen[j].known {
					with[i][j] = covary(seen[i], seen[j])
				}
			}
		}
	}
	top := math.Inf(-1)
	for k := range st.strands {
		x := &st.strands[k]
		x.log = math.Log(x.weight)
		x.odd = make([]bool, len(seen))
		for i, now := range seen {
			o := &s.Obs[i]
			sc := scales[o.Check.Kind]
			if !now.known {
				x.log -= math.Log(sc.width)
				continue
			}
			m, v, row := x.given(seen, now, with[i], with[i][i])
			sigma := math.Sqrt(v)
			p := Prediction{m, sigma, true}
			x.log += math.Log(sc.density(p, o.Y, o.Sure))
			x.odd[i] = !fits(p, o.Y)
			if o.Sure*normal(o.Y-m, sigma) > (1-o.Sure)/sc.width {
				x.used = append(x.used, i)
				x.rows = append(x.rows, append(row, sigma))
				x.rest = append(x.rest, (o.Y-m)/sigma)
			}
		}
		top = max(top, x.log)
	}
	sum := 0.0
	for k := range st.strands {
		sum += math.Exp(st.strands[k].log - top)
	}
	for k := range st.strands {
		st.strands[k].weight = math.Exp(st.strands[k].log-top) / sum
	}
	st.log = s.storyPrior(st) + top + math.Log(sum)
	st.joint = true
}

// best is the likeliest strand.
func (st *Story) best() *strand {
	k := 0
	for i := range st.strands {
		if st.strands[i].weight > st.strands[k].weight {
			k = i
		}
	}
	return &st.strands[k]
}

// explained tells whether a story that was weighed accounts for every reading.
func (st *Story) explained() bool { return !slices.Contains(st.best().odd, true) }

// bell is one normal part of what is expected.
type bell struct{ weight, mu, sigma float64 }

// foresee is what a story that was weighed shows in a check after the log, or with made as if there were none; nil where it has no answer. look has been called.
func (s *Session) foresee(st *Story, k Check, made bool) []bell {
	x := s.Lab.sights[st.now][k]
	if !x.known {
		return nil
	}
	with := make([]float64, len(st.seen))
	for j, o := range st.seen {
		if o.known {
			with[j] = covary(&x, o)
		}
	}
	self := covary(&x, &x)
	var out []bell
	for i := range st.strands {
		y := &st.strands[i]
		if y.weight < 0.02 {
			continue
		}
		if made {
			y = &strand{at: y.at, length: y.length, below: y.below, weight: y.weight}
		}
		m, v, _ := y.given(st.seen, &x, with, self)
		out = append(out, bell{y.weight, m, math.Sqrt(v)})
	}
	return out
}

const (
	weighed  = 260  // stories that are weighed jointly
	hopeless = 30.0 // how far, in nats, a story may lie behind the best before it is not
)

// leading are the indexes of the stories worth weighing jointly.
func leading(logs []float64) []int {
	order := make([]int, len(logs))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(logs[b], logs[a]) })
	n := 0
	for n < min(len(order), weighed) && logs[order[n]] > logs[order[0]]-hopeless {
		n++
	}
	return order[:n]
}
