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
	h          int     // hypothesis, or severity between two of them, whose readings these are; 0 on a story of none or two
	state      int     // of the board's tolerances
	t          float64 // where h lies, in ways
	prev, next int     // strands at the neighbouring severities, whose distance is the gap; equal where the ways themselves have it
	seen       []*sight
	trail      []float64 // log after each reading
	weight     float64   // probability: before the log its share of the story, after it that given the story
	used       []int     // readings taken in
	rows       [][]float64
	rest       []float64 // what each brought that was new, in standard deviations
	odd        []bool    // readings that it does not account for
	stray      []float64 // for those not taken in: the probability that the reading stands all the same
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
func (x *strand) given(now *sight, with []float64, self float64) (mean, variance float64, row []float64) {
	g := x.length * x.gap(now)
	mean = now.mu + x.at*x.gap(now)
	variance = self + g*g/12
	row = make([]float64, len(x.used), len(x.used)+1)
	for r, j := range x.used {
		c := with[j] + g*x.length*x.gap(x.seen[j])/12
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
	var subs []subject
	for _, st := range list {
		for _, o := range s.Obs {
			subs = append(subs, s.stands(st, o.Entry))
		}
		subs = append(subs, s.stands(st, len(s.Case.Log)))
	}
	if err := l.look(ctx, distinct(subs), checks); err != nil {
		return err
	}
	for _, st := range list {
		st.now = s.stands(st, len(s.Case.Log))
		st.strands = l.strands(subjectOf(st.Hyps))
		s.judgeStory(st)
	}
	return nil
}

// refine looks closer at stories: at more severities, and at the states that tolerances can bring the board into.
func (s *Session) refine(ctx context.Context, list []*Story) error {
	l := s.Lab
	var hyps []int
	for _, st := range list {
		hyps = append(hyps, subjectOf(st.Hyps)[0])
	}
	if err := l.explore(ctx, hyps); err != nil {
		return err
	}
	var checks []Check
	var subs []subject
	for _, o := range s.Obs {
		if !slices.Contains(checks, o.Check) {
			checks = append(checks, o.Check)
		}
	}
	var closer []*Story
	for i, st := range list {
		var out []strand
		points := l.points(hyps[i])
		for _, x := range l.statesOf[hyps[i]] {
			first := len(out)
			for k, q := range points {
				y := strand{h: q.h, state: x.index, t: q.t, length: q.length, weight: q.weight * x.weight}
				y.prev, y.next = first+max(0, k-1), first+min(len(points)-1, k+1)
				out = append(out, y)
			}
		}
		if len(out) == 1 {
			continue
		}
		st.strands = out
		closer = append(closer, st)
		for k := range out {
			for _, o := range s.Obs {
				subs = append(subs, out[k].subject(s.stands(st, o.Entry)))
			}
			subs = append(subs, out[k].subject(st.now))
		}
	}
	if err := l.look(ctx, distinct(subs), checks); err != nil {
		return err
	}
	for _, st := range closer {
		s.judgeStory(st)
	}
	return nil
}

// subject is what a strand of a story has in place of what the story has.
func (x *strand) subject(u subject) subject {
	if u[0] > 0 && u[1] == 0 && x.h > 0 {
		u[0] = x.h
	}
	u[2] = x.state
	return u
}

// sight is what strand k of a story shows where the story stands as u; look has been called.
func (s *Session) sight(st *Story, k int, u subject, c Check) *sight {
	x := &st.strands[k]
	y := s.Lab.sights[x.subject(u)][c]
	if x.prev != x.next {
		y.less, y.more = 0, 0
		a, b := &st.strands[x.prev], &st.strands[x.next]
		p, q := s.Lab.sights[a.subject(u)][c], s.Lab.sights[b.subject(u)][c]
		if p.known && q.known && u[0] > 0 {
			y.less = (q.mu - p.mu) / (b.t - a.t)
			y.more = y.less
		}
	}
	return &y
}

func distinct(subs []subject) []subject {
	slices.SortFunc(subs, func(a, b subject) int { return slices.Compare(a[:], b[:]) })
	return slices.Compact(subs)
}

// judgeStory takes the readings in.
func (s *Session) judgeStory(st *Story) {
	at := make([]subject, len(s.Obs))
	for i, o := range s.Obs {
		at[i] = s.stands(st, o.Entry)
	}
	var with [][]float64
	st.trail = make([]float64, len(s.Obs))
	for k := range st.strands {
		x := &st.strands[k]
		x.seen, x.trail = make([]*sight, len(s.Obs)), make([]float64, len(s.Obs))
		for i, o := range s.Obs {
			x.seen[i] = s.sight(st, k, at[i], o.Check)
		}
		if k == 0 || x.h != st.strands[k-1].h || x.state != st.strands[k-1].state {
			with = s.together(x.seen, at)
		}
		s.judgeStrand(x, with, at)
	}
	for i := range st.trail {
		st.trail[i] = s.storyPrior(st) + mean(st.strands, func(x *strand) float64 { return x.trail[i] })
	}
	st.log = s.storyPrior(st) + mean(st.strands, func(x *strand) float64 { return x.log })
	for k := range st.strands {
		x := &st.strands[k]
		x.weight = math.Exp(s.storyPrior(st) + x.log - st.log)
	}
	st.before = s.storyPrior(st)
	st.joint = true
}

// mean is the logarithm of a sum of exponentials.
func mean(list []strand, log func(*strand) float64) float64 {
	top := math.Inf(-1)
	for k := range list {
		top = max(top, log(&list[k]))
	}
	sum := 0.0
	for k := range list {
		sum += math.Exp(log(&list[k]) - top)
	}
	return top + math.Log(sum)
}

// together are the covariances of readings with those before them and with themselves: by tolerances, and of one check by what the meter does each time.
func (s *Session) together(seen []*sight, at []subject) [][]float64 {
	with := make([][]float64, len(seen))
	for i := range seen {
		with[i] = make([]float64, i+1)
		if seen[i].known {
			for j := range i + 1 {
				if seen[j].known {
					with[i][j] = covary(seen[i], seen[j])
					if j < i && s.Obs[i].Check == s.Obs[j].Check && at[i] == at[j] {
						with[i][j] += lasting(s.Obs[i].Check, seen[i])
					}
				}
			}
		}
	}
	return with
}

func (s *Session) judgeStrand(x *strand, with [][]float64, at []subject) {
	x.log = math.Log(x.weight)
	x.odd = make([]bool, len(x.seen))
	x.stray = make([]float64, len(x.seen))
	x.used, x.rows, x.rest = nil, nil, nil
	for i, now := range x.seen {
		o := &s.Obs[i]
		sc := scales[o.Check.Kind]
		var p Prediction
		var row []float64
		if now.known {
			m, v, r := x.given(now, with[i], with[i][i])
			p, row = Prediction{m, math.Sqrt(v), true}, r
			x.odd[i] = !fits(p, o.Y)
		}
		density := sc.density(p, o.Y, o.Sure)
		x.stray[i] = o.stray(p)
		if j := s.before(i, at); j >= 0 && x.stray[j] > 0 { // what stood there, though nobody expected it, stands there again
			there := x.stray[j] * sc.density(s.Obs[j].repeated(), o.Y, o.Sure)
			density = there + (1-x.stray[j])*density
			x.stray[i] = max(x.stray[i], there/density)
		}
		x.log += math.Log(density)
		x.trail[i] = x.log
		if now.known && o.Sure*normal(o.Y-p.Mu, p.Sigma) > (1-o.Sure)/sc.width {
			x.used = append(x.used, i)
			x.rows = append(x.rows, append(row, p.Sigma))
			x.rest = append(x.rest, (o.Y-p.Mu)/p.Sigma)
			x.stray[i] = 0
		}
	}
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
	var out []bell
	for i := range st.strands {
		y := &st.strands[i]
		if y.weight < 0.02 {
			continue
		}
		j, stray := s.last(st, k), 0.0
		if j >= 0 && !made {
			stray = y.stray[j]
		}
		if stray > 0.01 {
			p := s.Obs[j].repeated()
			out = append(out, bell{y.weight * stray, p.Mu, p.Sigma})
		}
		x := s.sight(st, i, st.now, k)
		if !x.known {
			continue
		}
		if made {
			y = &strand{at: y.at, length: y.length, below: y.below, weight: y.weight}
		}
		with := make([]float64, len(y.seen))
		for _, i := range y.used {
			with[i] = covary(x, y.seen[i])
			if s.Obs[i].Check == k && s.stands(st, s.Obs[i].Entry) == st.now {
				with[i] += lasting(k, x)
			}
		}
		m, v, _ := y.given(x, with, covary(x, x))
		out = append(out, bell{y.weight * (1 - stray), m, math.Sqrt(v)})
	}
	return out
}

// last is the last reading of a check while the board stood as it does now under a story; -1 without.
func (s *Session) last(st *Story, k Check) int {
	for j := len(s.Obs) - 1; j >= 0; j-- {
		if s.Obs[j].Check == k && s.stands(st, s.Obs[j].Entry) == st.now {
			return j
		}
	}
	return -1
}

// ask makes look ready for foresee.
func (s *Session) ask(ctx context.Context, top []Story, checks []Check) error {
	subs := []subject{{}}
	for i := range top {
		st := &top[i]
		for k := range st.strands {
			x := &st.strands[k]
			if x.weight < 0.02 {
				continue
			}
			subs = append(subs, x.subject(st.now))
			if x.prev != x.next {
				subs = append(subs, st.strands[x.prev].subject(st.now), st.strands[x.next].subject(st.now))
			}
		}
	}
	return s.Lab.look(ctx, distinct(subs), checks)
}

const (
	weighed  = 260  // stories that are weighed jointly
	hopeless = 30.0 // how far, in nats, a story may lie behind the best before it is not
	near     = 11.0 // how near the best, after any of the readings, a story is looked at closer
	refined  = 48   // stories that are looked at closer
	slowly   = 12   // the same on the mains, where each costs a transient
)

// closest are the stories that were among the best after some reading: what the straight line then says against them may be wrong.
func closest(list []*Story, most int) []*Story {
	far := make([]float64, len(list))
	for i := range far {
		far[i] = math.Inf(1)
	}
	for r := range list[0].trail {
		top := math.Inf(-1)
		for _, st := range list {
			top = max(top, st.trail[r])
		}
		for i, st := range list {
			far[i] = min(far[i], top-st.trail[r])
		}
	}
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(far[a], far[b]) })
	var out []*Story
	for _, i := range order[:min(most, len(order))] {
		if far[i] < near {
			out = append(out, list[i])
		}
	}
	return out
}

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
