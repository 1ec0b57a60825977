package analog

import (
	"cmp"
	"context"
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// This file ranks: likelihood of every reading under every hypothesis, times the prior; where no single fault accounts for the log,
// pairs, completed greedily from what the best single ones leave unexplained.

// Weights of stories before anything was seen.
const (
	healthyPrior = 0.03 // a machine on the bench has mostly something wrong
	pairPrior    = 0.15 // of a second fault beside a first one
	misfit       = 3.5  // standard deviations beyond which a reading is not explained
	pairLeaders  = 5
	pairSeconds  = 40
)

// Session is one case in work.
type Session struct {
	Lab     *Lab
	M       *Model
	Case    *evidence.Case
	Obs     []Obs
	Stories []Story // likeliest first, after Run
	fl      finding.List
	lifted  []int // pins off their nets at the next entry, in the order of lifting

	Fewest    bool         // Plan looks for the fewest checks instead of the fewest minutes
	Unpowered bool         // Plan proposes nothing that needs the power on
	blocked   map[int]bool // nodes out of reach
	unreached map[int]bool // devices out of reach
}

// Story is a set of faults (one or two hypotheses, or none) with its probability. Alive tells for each whether it is still there after the
// repairs of the log.
type Story struct {
	Hyps  []int
	Alive []bool
	P     float64
	log   float64

	joint       bool    // weighed as a whole
	before      float64 // log before any reading
	weighedDown bool    // by brought
	now         subject
	trail       []float64 // log after each reading
	strands     []strand
}

// NewSession starts on a case; the findings hold what could not be read of the log.
func NewSession(l *Lab, c *evidence.Case) (*Session, finding.List) {
	s := &Session{Lab: l, M: l.U.M, Case: c}
	for i := range c.Log {
		s.observe(i)
	}
	if s.fl.Errors() {
		return nil, s.fl
	}
	return s, s.fl
}

// Run ranks the stories of the log so far.
func (s *Session) Run(ctx context.Context) error {
	l := s.Lab
	l.tidyUp()
	logs, err := s.singles(ctx)
	if err != nil {
		return err
	}
	s.Stories = s.Stories[:0]
	for h := range l.Hyps {
		st := Story{log: logs[h] - unweighed}
		if h > 0 {
			st.Hyps = []int{h}
			st.Alive = []bool{s.alive(h, len(s.Case.Log))}
		}
		s.Stories = append(s.Stories, st)
	}
	var list []*Story
	first := leading(logs)
	if !slices.Contains(first, 0) { // what has shown and what has not is told by the sound board
		first = append(first, 0)
	}
	for _, h := range first {
		list = append(list, &s.Stories[h])
	}
	if err := s.weigh(ctx, list); err != nil {
		return err
	}
	if len(s.Obs) > 0 {
		most := refined
		if s.M.Mains {
			most = slowly
		}
		if err := s.refine(ctx, closest(list, most)); err != nil {
			return err
		}
	}
	s.brought()
	s.normalise()
	if s.Stories[0].explained() || len(s.Obs) < 2 {
		return nil
	}
	if err := s.pairs(ctx); err != nil {
		return err
	}
	s.brought()
	s.normalise()
	return nil
}

// unweighed is put on stories that are not weighed as a whole, in nats: counting readings as so many witnesses they were hopeless.
const unweighed = 15.0

// storyPrior is the logarithm of the probability of a story before anything was seen.
func (s *Session) storyPrior(st *Story) float64 {
	if len(st.Hyps) == 2 {
		return math.Log(pairPrior * 2 * s.prior(st.Hyps[0]) * s.prior(st.Hyps[1]))
	}
	return math.Log(s.prior(subjectOf(st.Hyps)[0]))
}

func (s *Session) prior(h int) float64 {
	if h == 0 {
		return healthyPrior
	}
	y := s.Lab.Hyps[h]
	return (1 - healthyPrior) * s.Lab.U.Weight[y.Fault] / float64(len(s.Lab.U.Ways[y.Fault]))
}

// singles are the logarithms of prior times likelihood of every hypothesis.
func (s *Session) singles(ctx context.Context) ([]float64, error) {
	l := s.Lab
	all := make([]int, len(l.Hyps))
	logs := make([]float64, len(l.Hyps))
	for h := range logs {
		all[h] = h
		logs[h] = math.Log(s.prior(h))
	}
	whole := make([]subject, len(s.Obs))
	for i, o := range s.Obs {
		if j := s.before(i, whole); j >= 0 && s.Obs[j].Entry >= s.sinceRepair() && o.agrees(&s.Obs[j]) {
			continue
		}
		p, err := l.Predict(ctx, o.Check, all)
		if err != nil {
			return nil, err
		}
		for h := range logs {
			g := h
			if h > 0 && !s.alive(h, o.Entry) {
				g = 0
			}
			logs[h] += math.Log(scales[o.Check.Kind].density(p[g], o.Y, o.Sure))
		}
	}
	return logs, nil
}

// alive tells whether a hypothesis is still there at an entry of the log: repairs before it may have ended it.
func (s *Session) alive(h, entry int) bool {
	f := s.Lab.U.Faults[s.Lab.Hyps[h].Fault]
	part, net := s.M.Part(f), s.M.Net(f)
	for i := range s.Case.Log[:min(entry, len(s.Case.Log))] {
		e := &s.Case.Log[i]
		for _, ref := range append(slices.Clone(e.Replaced), e.Reseated...) {
			if part != circuit.None && s.M.C.Parts[part].Ref == ref && (f.Kind == JointOpen || slices.Contains(e.Replaced, ref)) {
				return false
			}
		}
		for _, pin := range e.Resolder {
			if p, _ := s.M.C.FindPlace(pin); f.Kind == JointOpen && p.Pin != circuit.None && p.Pin == s.M.Devices[f.Device].Pins[f.Pin] {
				return false
			}
		}
		for _, name := range e.Cleared {
			if n, ok := s.M.C.Net(name); ok && ((f.Kind == NetShort || f.Kind == Bridge) && (n == net || n == f.B) || s.M.feeds(f, name)) {
				return false
			}
		}
	}
	return true
}

// feeds tells whether a fault is one of a source or load on a net.
func (m *Model) feeds(f Fault, net string) bool {
	if f.Device < 0 || m.Devices[f.Device].Source == nil {
		return false
	}
	x := m.Devices[f.Device].Source
	return x.Plus == net || x.Minus == net
}

func (s *Session) normalise() {
	top := math.Inf(-1)
	for _, st := range s.Stories {
		top = max(top, st.log)
	}
	total := 0.0
	for i := range s.Stories {
		s.Stories[i].P = math.Exp(s.Stories[i].log - top)
		total += s.Stories[i].P
	}
	for i := range s.Stories {
		s.Stories[i].P /= total
	}
	slices.SortStableFunc(s.Stories, func(a, b Story) int { return cmp.Compare(b.P, a.P) })
}

// Show is what a story shows in a check at an entry of the log.
func (s *Session) Show(ctx context.Context, st Story, k Check, entry int) (Prediction, error) {
	var left []int
	for _, h := range st.Hyps {
		if s.alive(h, entry) {
			left = append(left, h)
		}
	}
	switch len(left) {
	case 2:
		u := subjectOf(left)
		if err := s.Lab.look(ctx, []subject{u}, []Check{k}); err != nil {
			return Prediction{}, err
		}
		x := s.Lab.sights[u][k]
		return Prediction{x.mu, math.Sqrt(x.noise*x.noise + covary(&x, &x)), x.known}, nil
	case 1:
		p, err := s.Lab.Predict(ctx, k, left)
		if err != nil {
			return Prediction{}, err
		}
		return p[left[0]], nil
	}
	p, err := s.Lab.Predict(ctx, k, nil)
	if err != nil {
		return Prediction{}, err
	}
	return p[0], nil
}

// Line is what a story shows for one reading of the log.
type Line struct {
	Obs      int
	Shown    Prediction
	Fits     bool
	Surprise bool // a good board would have shown something else
}

// Account compares a story with every reading.
func (s *Session) Account(ctx context.Context, st Story) ([]Line, error) {
	var out []Line
	for i, o := range s.Obs {
		p, err := s.Show(ctx, st, o.Check, o.Entry)
		if err != nil {
			return nil, err
		}
		good, err := s.Show(ctx, Story{}, o.Check, o.Entry)
		if err != nil {
			return nil, err
		}
		out = append(out, Line{i, p, fits(p, o.Y), !fits(good, o.Y)})
	}
	return out, nil
}

func fits(p Prediction, y float64) bool { return !p.Known || math.Abs(y-p.Mu) <= misfit*p.Sigma }

// pairs adds stories of two faults: the best single ones, each with those that best account for what it leaves.
func (s *Session) pairs(ctx context.Context) error {
	l := s.Lab
	var leaders []Story
	for _, st := range s.Stories {
		if st.joint && len(st.Hyps) == 1 && len(leaders) < pairLeaders {
			leaders = append(leaders, st)
		}
	}
	seen := map[subject]bool{}
	var list []*Story
	for _, lead := range leaders {
		lines, err := s.Account(ctx, lead)
		if err != nil {
			return err
		}
		for i, odd := range lead.best().odd {
			lines[i].Fits = lines[i].Fits && !odd
		}
		for _, h := range s.seconds(lead, lines) {
			key := subjectOf([]int{lead.Hyps[0], h})
			if seen[key] || l.Hyps[h].Fault == l.Hyps[lead.Hyps[0]].Fault {
				continue
			}
			seen[key] = true
			st := &Story{Hyps: []int{key[0], key[1]}}
			for _, g := range st.Hyps {
				st.Alive = append(st.Alive, s.alive(g, len(s.Case.Log)))
			}
			list = append(list, st)
		}
	}
	if err := s.weigh(ctx, list); err != nil {
		return err
	}
	for _, st := range list {
		s.Stories = append(s.Stories, *st)
	}
	return nil
}

// seconds ranks what may stand beside a leader by prior and by how well it accounts alone for what the leader does not. What the log has already
// computed is enough for that.
func (s *Session) seconds(lead Story, lines []Line) []int {
	type scored struct {
		h   int
		log float64
	}
	var list []scored
	for h := 1; h < len(s.Lab.Hyps); h++ {
		x := scored{h, math.Log(s.prior(h))}
		for _, ln := range lines {
			if ln.Fits {
				continue
			}
			o := s.Obs[ln.Obs]
			p := s.Lab.column[o.Check].p[h]
			good := s.Lab.column[o.Check].p[0]
			if p.Known && good.Known { // what it moves, from where the leader has put it: either may be the truth when both act
				moved := p
				moved.Mu += ln.Shown.Mu - good.Mu
				x.log += math.Log(max(scales[o.Check.Kind].density(p, o.Y, o.Sure), scales[o.Check.Kind].density(moved, o.Y, o.Sure)))
			} else {
				x.log += math.Log(scales[o.Check.Kind].density(p, o.Y, o.Sure))
			}
		}
		list = append(list, x)
	}
	slices.SortStableFunc(list, func(a, b scored) int { return cmp.Compare(b.log, a.log) })
	var out []int
	for _, x := range list[:min(pairSeconds, len(list))] {
		out = append(out, x.h)
	}
	return out
}
