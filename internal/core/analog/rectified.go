package analog

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"halfsplit/internal/core/elec"
)

// A board on the mains is a waveform, but most of it rests: behind its reservoirs everything stands nearly still. This file puts a source with
// an inner resistance in the place of each rectifier and reservoir, taken from the good board at its own load, a lighter and a heavier one, so that
// a fault behind the reservoirs costs two operating points instead of periods of the mains. A fault before the reservoirs or in one is followed as a
// waveform once, and stands for every state of what lies behind. Where all this does not hold (a load far from that, a regulator that drops out in
// the valleys, a node that nothing holds) the answer is left to the waveform.

// rectified is a board on the mains as one at rest.
type rectified struct {
	before  []bool  // node: alternates
	tank    []bool  // elec device: a reservoir
	top     float64 // volts that nothing on a board reaches, and below which nothing lies
	bottom  float64
	good    *fed
	solvers sync.Pool
	mu      sync.Mutex
	faulty  map[string]*fed // by the patch of what lies before the reservoirs
}

// fed is what the mains make of the reservoirs, under one fault before them or none, and what the board then shows.
type fed struct {
	once   sync.Once
	steady *elec.Steady // where the waveform has settled
	raws   []raw
	volts  []float64 // of every node on the mains: mean
	ripple []float64
	follow []float64      // node: its ripple over what it moves from the valley to the mean at rest; 0 where it does not move
	point  *elec.Solution // nil: only the waveform will do
}

// raw is a node that rectifiers feed and a reservoir holds.
type raw struct {
	node             int
	mean, ripple, is float64     // volts, volts peak to peak, amperes
	side             [2]thevenin // for loads lighter than is, and heavier ones
}

// thevenin is a source behind a resistance.
type thevenin struct{ volts, ohms float64 }

const lighter, heavier = 0, 1

// Limits of what is taken as at rest.
const (
	rawSwing  = 0.08  // share by which a reservoir's mean may differ from where its source was taken
	sameMean  = 0.004 // share by which a board at rest may differ from its waveform
	deepest   = 2     // times the good board's ripple: above, the inner resistance is another
	stillMean = 0.02  // volts, for what is near ground
	valley    = 0.006 // share by which what does not follow the reservoirs may give way in their valleys
)

// newRectified is nil where no such thing stands for the board.
func newRectified(l *Lab) *rectified {
	m := l.U.M
	volts, ripple, ok := volume(l.steady.Levels)
	if !ok {
		return nil
	}
	g := &fed{volts: volts, ripple: ripple}
	r := &rectified{before: make([]bool, len(volts)), good: g, faulty: map[string]*fed{}}
	r.solvers.New = func() any { return m.E.NewSolver() }
	for n := range volts {
		r.before[n] = n > 0 && ripple[n] > 0.2 && ripple[n] > math.Abs(volts[n])
	}
	for i, d := range m.Devices {
		for len(r.tank) <= d.Index {
			r.tank = append(r.tank, false)
		}
		nodes := m.nodesOf(i)
		if d.Kind != elec.Diode && d.Kind != elec.Rectifier {
			continue
		}
		for _, n := range nodes {
			if n > 0 && !r.before[n] && r.alternates(nodes) && math.Abs(volts[n]) > 1 && !r.isRaw(n) {
				g.raws = append(g.raws, raw{node: n, mean: volts[n], ripple: ripple[n]})
			}
		}
	}
	for i, d := range m.Devices {
		if d.Kind == elec.Capacitor {
			for _, n := range m.nodesOf(i) {
				r.tank[d.Index] = r.tank[d.Index] || r.isRaw(n)
			}
		}
	}
	r.bottom, r.top = 1.15*slices.Min(volts)-1, 1.15*slices.Max(volts)+1
	if len(g.raws) == 0 || !r.load(l) || !r.check(g, elec.Patch{}) {
		return nil
	}
	return r
}

func (r *rectified) alternates(nodes []int) bool {
	for _, n := range nodes {
		if r.before[n] {
			return true
		}
	}
	return false
}

func (r *rectified) isRaw(node int) bool {
	for _, x := range r.good.raws {
		if x.node == node {
			return true
		}
	}
	return false
}

// draw finds the current that each source gives, under a patch with the reservoirs held where they are.
func (r *rectified) draw(f *fed, p elec.Patch) bool {
	const clamp = 1e-3 // ohms
	held := p.And(elec.Patch{})
	for _, x := range f.raws {
		held.Bridges = append(held.Bridges, elec.Bridge{A: x.node, Ohms: clamp, Volts: x.mean})
	}
	s := r.solvers.Get().(*elec.Solver)
	defer r.solvers.Put(s)
	point, err := s.OP(elec.Options{}, held)
	if err != nil {
		return false
	}
	for i := range f.raws {
		x := &f.raws[i]
		x.is = (x.mean - point.Voltage(x.node)) / clamp
	}
	return true
}

// load finds each source on the good board: what a lighter and a heavier load make of the reservoir.
func (r *rectified) load(l *Lab) bool {
	if !r.draw(r.good, elec.Patch{}) {
		return false
	}
	for i := range r.good.raws {
		x := &r.good.raws[i]
		size := math.Abs(x.is)
		if size < 1e-3 {
			return false
		}
		for side, draw := range []float64{lighter: -0.85 * size, heavier: 0.5 * size} { // a load of so many amperes more
			b := elec.Bridge{A: x.node, Ohms: math.Abs(x.mean) / math.Abs(draw)}
			if side == lighter { // something that feeds it instead
				b.Volts = 2 * x.mean
			}
			v, _, ok := l.periods(elec.Patch{Bridges: []elec.Bridge{b}}, l.steady)
			if !ok {
				return false
			}
			is := (v[x.node] - b.Volts) / b.Ohms
			t := thevenin{ohms: (x.mean - v[x.node]) / is}
			t.volts = x.mean + x.is*t.ohms
			if !(t.ohms > 1e-3) || t.ohms > 0.5*math.Abs(x.mean)/size {
				return false
			}
			x.side[side] = t
		}
	}
	return true
}

// under is what the mains make of the reservoirs with a fault before them; its point is nil where only the waveform will do.
func (r *rectified) under(l *Lab, p elec.Patch) *fed {
	key := fmt.Sprint(p)
	r.mu.Lock()
	f := r.faulty[key]
	if f == nil {
		f = &fed{}
		r.faulty[key] = f
	}
	r.mu.Unlock()
	f.once.Do(func() {
		var ok bool
		if f.steady = l.settle(p, l.steady); f.steady == nil {
			return
		}
		if f.volts, f.ripple, ok = volume(f.steady.Levels); !ok {
			f.volts, f.steady = nil, nil
			return
		}
		f.raws = slices.Clone(r.good.raws)
		for i := range f.raws {
			x := &f.raws[i]
			x.mean, x.ripple = f.volts[x.node], f.ripple[x.node]
			if x.ripple > deepest*r.good.raws[i].ripple+stillMean {
				return
			}
		}
		if !r.draw(f, p) {
			return
		}
		for i := range f.raws {
			x := &f.raws[i]
			for k := range x.side { // what lies before the reservoir has much the same resistance
				x.side[k].volts = x.mean + x.is*x.side[k].ohms
			}
		}
		if !r.check(f, p) {
			f.point = nil
		}
	})
	return f
}

// source puts a source in the place of each rectifier: for a load as heavy as side says.
func (f *fed) source(p elec.Patch, side []int) elec.Patch {
	out := p.And(elec.Patch{})
	for i, x := range f.raws {
		t := x.side[side[i]]
		out.Bridges = append(out.Bridges, elec.Bridge{A: x.node, Ohms: t.ohms, Volts: t.volts})
	}
	return out
}

// check holds a board at rest against its waveform and notes what follows the reservoirs.
func (r *rectified) check(f *fed, p elec.Patch) bool {
	s := r.solvers.Get().(*elec.Solver)
	defer r.solvers.Put(s)
	point, low, ok := f.rest(s, p)
	if !ok {
		return false
	}
	f.point, f.follow = point, make([]float64, len(f.volts))
	for n := range f.volts {
		if r.before[n] {
			continue
		}
		v := point.Voltage(n)
		if math.Abs(v-f.volts[n]) > sameMean*math.Abs(f.volts[n])+stillMean {
			return false
		}
		d := 2 * math.Abs(v-low[n])
		if f != r.good && r.good.follow[n] == 0 && d > valley*math.Abs(v)+stillMean {
			return false // what should hold it drops out
		}
		if d > 1e-3 {
			f.follow[n] = f.ripple[n] / d
		}
	}
	return true
}

// rest solves the board at the mean and in the valleys of its reservoirs.
func (f *fed) rest(s *elec.Solver, p elec.Patch) (mean *elec.Solution, low []float64, ok bool) {
	opt := elec.Options{From: f.point}
	side := make([]int, len(f.raws))
	var err error
	for range 3 { // each side of the load has a source of its own
		if opt.From, err = s.OP(opt, f.source(p, side)); err != nil {
			return nil, nil, false
		}
		turned := false
		for i, x := range f.raws {
			want := heavier
			if math.Abs(opt.From.Voltage(x.node)) > math.Abs(x.mean) {
				want = lighter
			}
			turned = turned || want != side[i]
			side[i] = want
		}
		if !turned {
			break
		}
	}
	mean = opt.From
	deep := p.And(elec.Patch{})
	for i, x := range f.raws {
		v := mean.Voltage(x.node)
		if math.Abs(v-x.mean) > rawSwing*math.Abs(x.mean)+stillMean {
			return nil, nil, false
		}
		t := x.side[side[i]]
		swing := x.ripple
		if math.Abs(x.is) > 1e-3 {
			swing *= math.Abs((t.volts - v) / t.ohms / x.is)
		}
		deep.Bridges = append(deep.Bridges, elec.Bridge{A: x.node, Ohms: 1e-3, Volts: v - math.Copysign(swing/2, v)})
	}
	floor, err := s.OP(opt, deep)
	if err != nil {
		return nil, nil, false
	}
	return mean, floor.Voltages(), true
}

// part shares a patch out: what lies before the reservoirs, them included, and what lies behind.
func (r *rectified) part(l *Lab, p elec.Patch) (before, behind elec.Patch) {
	for _, c := range p.Changes {
		i := l.U.M.byIndex(c.Device)
		if c.Device < len(r.tank) && r.tank[c.Device] || i >= 0 && r.alternates(l.U.M.nodesOf(i)) {
			before.Changes = append(before.Changes, c)
		} else {
			behind.Changes = append(behind.Changes, c)
		}
	}
	for _, b := range p.Bridges {
		if r.before[b.A] || r.before[b.B] || r.isRaw(b.A) || r.isRaw(b.B) {
			before.Bridges = append(before.Bridges, b)
		} else {
			behind.Bridges = append(behind.Bridges, b)
		}
	}
	return before, behind
}

// near is where a waveform had better begin: where the same fault before the reservoirs has settled with what lies behind them sound.
func (r *rectified) near(l *Lab, p elec.Patch) *elec.Steady {
	if r == nil {
		return l.steady
	}
	before, _ := r.part(l, p)
	if len(before.Changes)+len(before.Bridges) > 0 {
		if f := r.under(l, before); f.steady != nil {
			return f.steady
		}
	}
	return l.steady
}

// fills tells that the reservoirs are fed and emptied as on the good board, so that what has not settled lies behind them.
func (r *rectified) fills(l *Lab, p elec.Patch) bool {
	if r == nil {
		return false
	}
	before, _ := r.part(l, p)
	return len(before.Changes)+len(before.Bridges) == 0
}

// levels are mean and ripple of every node under a patch; ok is false where the waveform must say.
func (r *rectified) levels(l *Lab, p elec.Patch) (volts, ripple []float64, ok bool) {
	if r == nil {
		return nil, nil, false
	}
	f := r.good
	before, behind := r.part(l, p)
	switch {
	case len(before.Changes)+len(before.Bridges) == 0:
	case len(behind.Changes)+len(behind.Bridges) == 0:
		f = r.under(l, before)
		return f.volts, f.ripple, f.volts != nil
	default:
		f = r.under(l, before)
	}
	if f.point == nil {
		return nil, nil, false
	}
	s := r.solvers.Get().(*elec.Solver)
	defer r.solvers.Put(s)
	point, low, ok := f.rest(s, p)
	if !ok {
		return nil, nil, false
	}
	volts, ripple = point.Voltages(), make([]float64, len(f.volts))
	for _, v := range volts {
		if v > r.top || v < r.bottom { // nothing holds it
			return nil, nil, false
		}
	}
	for n, v := range volts {
		moves := 2 * math.Abs(v-low[n])
		switch {
		case r.before[n]:
			volts[n], ripple[n] = f.volts[n], f.ripple[n]
		case r.isRaw(n) || f.follow[n] > 0 && moves > 1e-3:
			ripple[n] = f.follow[n] * moves
		case moves > valley*math.Abs(v)+stillMean:
			return nil, nil, false
		default:
			ripple[n] = f.ripple[n]
		}
	}
	return volts, ripple, true
}
