package analog

import (
	"context"
	"math"
	"slices"
	"sync"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
)

// This file computes what every hypothesis shows. A hypothesis is one way of one fault, or the good board, which is number 0.

// Hypothesis is one severity of one fault; the good board has Fault -1.
type Hypothesis struct{ Fault, Way int }

// Lab keeps what has been computed for a board. It is for one goroutine; inside it works in parallel.
type Lab struct {
	U         *Universe
	Hyps      []Hypothesis
	first     []int // fault → its first hypothesis
	worlds    map[Condition][]*world
	column    map[Check]*column
	golden    map[int]float64 // node → volts of a known-good machine
	on        *elec.Solution  // the good board, powered; nil when it has no operating point
	off       *elec.Solution  // and with its sources off
	steady    *elec.Steady    // the good board on the mains after it has settled; nil without
	atRest    *rectified      // stands for the waveform where it can
	Rest      string          // how the logic of a sound board stands after start; "" on a board without
	sights    map[subject]map[Check]sight
	pairs     map[pairWorld]*world
	pairsLock sync.Mutex
	tones     map[tone][]float64 // volts rms of all nodes
	tonesLock sync.Mutex
	fineFirst []int                 // fault → its first severity between the ways, see fine.go
	total     int                   // hypotheses, severities between the ways among them
	states    []elec.Patch          // of the board's tolerances; the first is the middle of all
	statesOf  map[int][]state       // hypothesis → the states that it can be in
	drawn     []*elec.Solution      // the good board as it was drawn by chance a few times
	hanging   []bool                // hypotheses that rest only with leakage
	sets      map[string]Prediction // what several faults at once show, see joined.go
	setWorlds map[string]*world
	Failed    int // hypotheses without an operating point, over all conditions
}

// world is one condition under one hypothesis.
type world struct {
	known  bool
	volts  []float64
	ripple []float64
	sigma  []float64
	across []float64 // sigma of the voltage across each device with two terminals
	// point is where the circuit rests; nil on the mains. effects are volts of every node for the half range of each uncertain parameter and, last, of the
	// mains; only the good board on the mains has them.
	point   *elec.Solution
	bare    bool    // sigma is left out
	leak    float64 // that it needs to rest, 0 for none
	effects [][]float64
}

type column struct {
	have []bool
	p    []Prediction
}

// NewLab lays out the hypotheses of a universe.
func NewLab(u *Universe) *Lab {
	l := &Lab{U: u, Hyps: []Hypothesis{{-1, 0}}, worlds: map[Condition][]*world{}, column: map[Check]*column{}, golden: map[int]float64{}, sights: map[subject]map[Check]sight{}, pairs: map[pairWorld]*world{}, sets: map[string]Prediction{}, setWorlds: map[string]*world{}}
	for f, ways := range u.Ways {
		l.first = append(l.first, len(l.Hyps))
		for w := range ways {
			l.Hyps = append(l.Hyps, Hypothesis{f, w})
		}
	}
	l.layFine()
	l.hanging, l.tones = make([]bool, l.total), map[tone][]float64{}
	s := u.M.E.NewSolver()
	if p, err := s.OP(elec.Options{}, elec.Patch{}); err == nil {
		l.on = p
	}
	if p, err := s.OP(elec.Options{SourcesOff: true}, elec.Patch{}); err == nil {
		l.off = p
	}
	if u.M.Mains {
		if st, err := u.M.E.Steady(elec.RippleOptions{Period: u.M.Period, Periods: 60, Accept: 4e-3}, elec.Patch{}); err == nil {
			l.steady = st
			l.atRest = newRectified(l)
		}
	}
	return l
}

// leakage is from every node to ground, in siemens, where a board has no operating point without: it gives what hangs in the air a place to rest (an
// estimate of what a board's surface lets through).
const leakage = 1e-9

// from is where the search for an operating point begins: what a fault changes is little.
func (l *Lab) from(off bool) elec.Options {
	if off {
		return elec.Options{SourcesOff: true, From: l.off}
	}
	return elec.Options{From: l.on}
}

// patch is a hypothesis in electrical terms. A short inside a part is gone from the board once a leg of it is lifted.
func (l *Lab) patch(h int, c Condition) elec.Patch {
	if h == 0 {
		return elec.Patch{}
	}
	if h >= len(l.Hyps) {
		f, p := l.fine(h)
		return l.U.freed(f, p, c)
	}
	y := l.Hyps[h]
	return l.U.freed(y.Fault, l.U.Ways[y.Fault][y.Way].Patch, c)
}

// freed is the patch of a fault without the shorts that end at a lifted leg of its part.
func (u *Universe) freed(fault int, p elec.Patch, c Condition) elec.Patch {
	dev := u.Faults[fault].Device
	if len(c.Lifted) == 0 || len(p.Bridges) == 0 || dev < 0 || u.M.Devices[dev].Part == circuit.None {
		return p
	}
	d := u.M.Devices[dev]
	off := map[int]bool{}
	for i := 0; i+2 < len(c.Lifted); i += 3 {
		if int(c.Lifted[i])<<8|int(c.Lifted[i+1]) == d.Index && d.Pins[c.Lifted[i+2]] != circuit.None {
			off[u.M.node[u.M.C.Pins[d.Pins[c.Lifted[i+2]]].Net]] = true
		}
	}
	p.Bridges = slices.DeleteFunc(slices.Clone(p.Bridges), func(b elec.Bridge) bool { return off[b.A] || off[b.B] })
	return p
}

// begin is where the search begins for a hypothesis: on the same machine as it usually stands, if that is known.
func (l *Lab) begin(h int, c Condition) elec.Options {
	o := l.from(c.Bench)
	if l.hanging[h] {
		o.Leak = leakage
	}
	if ws := l.worlds[l.usual(c.Drive)]; h > 0 && !c.Bench && ws != nil && ws[h] != nil && ws[h].point != nil {
		o.From = ws[h].point
	}
	return o
}

// parallel runs f for 0 … n-1 with a solver per goroutine.
func (l *Lab) parallel(ctx context.Context, n int, f func(s *elec.Solver, i int)) error {
	var wg sync.WaitGroup
	workers := min(l.U.M.workers, n)
	for w := range workers {
		wg.Go(func() {
			s := l.U.M.E.NewSolver()
			for i := w; i < n && ctx.Err() == nil; i += workers {
				f(s, i)
			}
		})
	}
	wg.Wait()
	return ctx.Err()
}

// world computes one condition for the hypotheses named (nil: all), the good board always first.
func (l *Lab) world(ctx context.Context, c Condition, want []int) ([]*world, error) {
	ws := l.worlds[c]
	if ws == nil {
		ws = make([]*world, l.total)
		l.worlds[c] = ws
	}
	if ws[0] == nil {
		s := l.U.M.E.NewSolver()
		ws[0] = l.solve(s, c, elec.Patch{}, l.usualWorld(c), l.from(c.Bench))
	}
	var todo []int
	if want == nil {
		for h := range l.Hyps {
			if ws[h] == nil {
				todo = append(todo, h)
			}
		}
	}
	for _, h := range want {
		if ws[h] == nil {
			todo = append(todo, h)
		}
	}
	if u := l.usual(c.Drive); c != u && !c.Bench && !l.U.M.Mains && len(todo) > 0 { // it begins there
		if _, err := l.world(ctx, u, todo); err != nil {
			return nil, err
		}
	}
	good := ws[0]
	err := l.parallel(ctx, len(todo), func(s *elec.Solver, i int) {
		h := todo[i]
		ws[h] = l.solve(s, c, l.patch(h, c), good, l.begin(h, c))
		l.hanging[h] = l.hanging[h] || ws[h].leak > 0
		if h > 0 && h < len(l.Hyps) && ws[h].known && ws[h].ripple != nil {
			y := l.Hyps[h]
			if w := l.U.Ways[y.Fault][y.Way]; w.Ripple > 0 && math.Abs(ws[h].volts[w.RippleNode]) > 0.5 {
				ws[h].ripple[w.RippleNode] += w.Ripple
			}
		}
	})
	for _, h := range todo {
		if ws[h] != nil && !ws[h].known {
			l.Failed++
		}
	}
	return ws, err
}

// usualWorld is the sound board at rest, when that is known and c is another state of its logic: what tolerances do is much the same.
func (l *Lab) usualWorld(c Condition) *world {
	if c.Drive == l.Rest || !l.U.M.Mains {
		return nil
	}
	c.Drive = l.Rest
	if ws := l.worlds[c]; ws != nil {
		return ws[0]
	}
	return nil
}

// solve computes one world, from where opt begins. With good, what no linear answer exists for takes over from the good board.
func (l *Lab) solve(s *elec.Solver, c Condition, p elec.Patch, good *world, opt elec.Options) *world {
	m := l.U.M
	p = p.And(c.patch(m))
	if m.Mains && !c.Bench {
		return l.wave(p, good)
	}
	w := &world{leak: opt.Leak}
	sp, err := s.Spread(opt, p)
	if err != nil {
		point, err := s.OP(opt, p)
		if err != nil && opt.Leak == 0 {
			opt.Leak, w.leak = leakage, leakage
			point, err = s.OP(opt, p)
		}
		if err != nil {
			return w
		}
		w.known, w.volts, w.point = true, point.Voltages(), point
		w.sigma, w.across = l.guess(w.volts, good)
		return w
	}
	w.known, w.volts, w.sigma, w.point = true, sp.Point.Voltages(), sp.Sigma, sp.Point
	w.across = make([]float64, len(m.Devices))
	for i, d := range m.Devices {
		if a, b, ok := m.ends(i); ok && (d.Class == "fuse" || d.Class == "jumper" || d.Kind == elec.Resistor) {
			sum := 0.0
			for u := range sp.Uncertain {
				e := sp.Effect(u, a) - sp.Effect(u, b)
				sum += e * e / 3
			}
			w.across[i] = math.Sqrt(sum)
		}
	}
	return w
}

// guess is the spread of a board whose sensitivities are not to be had.
func (l *Lab) guess(volts []float64, good *world) (sigma, across []float64) {
	sigma = make([]float64, len(volts))
	for i, v := range volts {
		sigma[i] = 0.04*math.Abs(v) + 0.01
		if good != nil && good.known {
			d := math.Abs(v - good.volts[i])
			sigma[i] = good.sigma[i]
			if d > 0.03*math.Abs(good.volts[i])+0.02 {
				sigma[i] = math.Sqrt(sigma[i]*sigma[i] + 0.04*0.04*v*v)
			}
		}
	}
	across = make([]float64, len(l.U.M.Devices))
	for i := range across {
		if a, b, ok := l.U.M.ends(i); ok {
			across[i] = 0.08 * math.Abs(volts[a]-volts[b])
		}
	}
	return sigma, across
}

// wave computes the steady state of a board on the mains: mean and ripple of every node over one period.
func (l *Lab) wave(p elec.Patch, good *world) *world {
	w := &world{}
	volts, ripple, ok := l.levels(p)
	if !ok {
		return w
	}
	w.known, w.volts, w.ripple = true, volts, ripple
	if good != nil {
		w.sigma, w.across = l.guess(volts, good)
		return w
	}
	w.sigma, w.across = l.guess(volts, nil)
	m := l.U.M
	all := m.E.Uncertain()
	sum := make([]float64, len(volts))
	effects := make([][]float64, len(all)+1)
	err := l.parallel(context.Background(), len(effects), func(_ *elec.Solver, i int) {
		ch := m.mains(1 + mainsTolerance)
		if i < len(all) {
			v, _ := m.E.Param(all[i].Device, all[i].Param)
			ch = []elec.Change{{Device: all[i].Device, Do: elec.Set, Param: all[i].Param, Value: v + all[i].Half}}
		}
		if v, _, ok := l.levels(p.And(elec.Patch{Changes: ch})); ok {
			effects[i] = v
		}
	})
	if err != nil {
		return w
	}
	for _, e := range effects {
		for n := range e {
			e[n] -= volts[n]
			sum[n] += e[n] * e[n] / 3
		}
	}
	w.effects = effects
	for n := range sum {
		w.sigma[n] = math.Sqrt(sum[n])
	}
	return w
}

// mainsTolerance is half the range of the mains, and of what a transformer makes of it (common practice, no source).
const mainsTolerance = 0.08

// mains changes what all windings give by one factor: they sit on one transformer.
func (m *Model) mains(factor float64) []elec.Change {
	var out []elec.Change
	for _, i := range m.supplies {
		if d := m.Devices[i]; d.Source.Kind == board.Mains {
			out = append(out, elec.Change{Device: d.Index, Do: elec.Scale, Param: "amplitude", Value: factor})
		}
	}
	return out
}

// levels are the mean and the ripple of every node on the mains.
func (l *Lab) levels(p elec.Patch) (volts, ripple []float64, ok bool) {
	if volts, ripple, ok := l.atRest.levels(l, p); ok {
		return volts, ripple, ok
	}
	return l.periods(p, l.atRest.near(l, p))
}

// periods follows the waveform from where the board has settled, usually the good one's; a circuit that does not settle from there, such as a reservoir
// that nothing fills or empties, begins with empty capacitors.
func (l *Lab) periods(p elec.Patch, from *elec.Steady) (volts, ripple []float64, ok bool) {
	st := l.settle(p, from)
	if st == nil {
		return nil, nil, false
	}
	return volume(st.Levels)
}

func (l *Lab) settle(p elec.Patch, from *elec.Steady) *elec.Steady {
	r := elec.RippleOptions{Options: elec.Options{Tol: 1e-4}, Period: l.U.M.Period, Periods: 12, Steps: 40, Accept: 4e-3, Same: 1e-3, From: from}
	st, err := l.U.M.E.Steady(r, p)
	if err != nil || !st.Settled && from == l.steady && !l.atRest.fills(l, p) {
		r.From, r.Periods = nil, 30
		st, err = l.U.M.E.Steady(r, p)
	}
	if err != nil {
		return nil
	}
	return st
}

func volume(lv []elec.Level) (volts, ripple []float64, ok bool) {
	volts, ripple = make([]float64, len(lv)), make([]float64, len(lv))
	for n := range lv {
		volts[n], ripple[n] = lv[n].Mean, lv[n].PeakToPeak()
		if math.IsNaN(volts[n]) || math.IsInf(volts[n], 0) || math.IsNaN(ripple[n]) || math.IsInf(ripple[n], 0) {
			return nil, nil, false
		}
	}
	return volts, ripple, true
}

// ends are the nodes of a device with two terminals.
func (m *Model) ends(dev int) (a, b int, ok bool) {
	d := m.Devices[dev]
	if d.Part == circuit.None {
		p, ok1 := m.C.Net(d.Source.Plus)
		q, ok2 := m.C.Net(d.Source.Minus)
		if !ok1 || !ok2 {
			return 0, 0, false
		}
		return m.node[p], m.node[q], true
	}
	if len(d.Pins) != 2 || d.Pins[0] == circuit.None || d.Pins[1] == circuit.None {
		return 0, 0, false
	}
	return m.node[m.C.Pins[d.Pins[0]].Net], m.node[m.C.Pins[d.Pins[1]].Net], true
}

// Predict fills what the hypotheses named show in a check, each once.
func (l *Lab) Predict(ctx context.Context, k Check, want []int) ([]Prediction, error) {
	col := l.column[k]
	if col == nil {
		col = &column{make([]bool, l.total), make([]Prediction, l.total)}
		l.column[k] = col
	}
	missing := !col.have[0]
	for _, h := range want {
		missing = missing || !col.have[h]
	}
	if !missing {
		return col.p, nil
	}
	want = slices.DeleteFunc(append([]int{0}, l.siblings(want)...), func(h int) bool { return h > 0 && col.have[h] })
	if k.Kind == Volts || k.Kind == Ripple || k.Kind == Current || k.Kind == Wiper {
		ws, err := l.world(ctx, k.Cond, want)
		if err != nil {
			return nil, err
		}
		for _, h := range want {
			if !col.have[h] {
				col.have[h], col.p[h] = true, l.fromWorld(k, ws[h], ws[0])
			}
		}
	} else {
		var todo []int
		for _, h := range want {
			if !col.have[h] {
				todo = append(todo, h)
			}
		}
		if err := l.parallel(ctx, len(todo), func(s *elec.Solver, i int) {
			col.p[todo[i]] = l.reading(s, k, todo[i])
		}); err != nil {
			return nil, err // a run that was broken off counts as not done
		}
		for _, h := range todo {
			col.have[h] = true
		}
	}
	l.smear(k, col, want)
	return col.p, nil
}

// siblings adds the other ways of the faults that are wanted: their distance says how coarse the scale of severities is.
func (l *Lab) siblings(want []int) []int {
	seen := map[int]bool{}
	var out []int
	for _, h := range want {
		if h == 0 {
			continue
		}
		if h >= len(l.Hyps) {
			out = append(out, h)
			continue
		}
		f := l.Hyps[h].Fault
		if seen[f] {
			continue
		}
		seen[f] = true
		for w := range l.U.Ways[f] {
			out = append(out, l.first[f]+w)
		}
	}
	return out
}

// smear widens what a sample of a scale of severities shows by half the distance to its neighbours.
func (l *Lab) smear(k Check, col *column, want []int) {
	for _, h := range want {
		if h == 0 || h >= len(l.Hyps) || !col.p[h].Known || col.p[h].Sigma < 0 {
			continue
		}
		y := l.Hyps[h]
		ways := l.U.Ways[y.Fault]
		if y.Way != 0 || !ways[0].Smear {
			continue
		}
		mus := make([]float64, len(ways))
		for w := range ways {
			mus[w] = col.p[h+w].Mu
		}
		for w := range ways {
			gap := 0.0
			if w > 0 {
				gap = max(gap, math.Abs(mus[w]-mus[w-1]))
			}
			if w+1 < len(ways) {
				gap = max(gap, math.Abs(mus[w]-mus[w+1]))
			}
			base := l.base(k, col.p[h+w], h+w)
			col.p[h+w].Sigma = math.Sqrt(base*base + gap*gap/12)
		}
	}
}

// base is the spread of a prediction without its neighbours.
func (l *Lab) base(k Check, p Prediction, h int) float64 {
	if scales[k.Kind].log {
		return l.logSigma(k, p.Mu)
	}
	if ws := l.worlds[k.Cond]; ws != nil && ws[h] != nil {
		return l.fromWorld(k, ws[h], ws[0]).Sigma
	}
	return p.Sigma
}

// doubtfulOhms is the natural logarithm of the resistance from which on leakage makes a reading doubtful, 300 kΩ (common practice, no source).
const doubtfulOhms = 12.61

// logSigma is the spread of a check on a logarithmic scale, at mu. What chips show an ohmmeter across their supply is hardly known, nor what junctions and
// dirt let through beside high resistances.
func (l *Lab) logSigma(k Check, mu float64) float64 {
	if m := l.U.M; m.Split != nil && k.Kind == Ohms {
		for _, ld := range m.Split.Loads {
			if n := m.node[ld.High]; n == k.A || n == k.B {
				return 0.5
			}
		}
	}
	if k.Kind == Ohms && mu > doubtfulOhms {
		return math.Hypot(scales[Ohms].sigma, min(1, (mu-doubtfulOhms)/2))
	}
	return scales[k.Kind].sigma
}

// fromWorld reads a check off a solved board.
func (l *Lab) fromWorld(k Check, w, good *world) Prediction {
	if w == nil || !w.known {
		return Prediction{}
	}
	sc := scales[k.Kind]
	switch k.Kind {
	case Ripple:
		if w.ripple == nil {
			return Prediction{}
		}
		return Prediction{sc.in(w.ripple[k.A]), sc.sigma, true}
	case Current:
		if w.ripple != nil && w.ripple[k.A] > 2*math.Abs(w.volts[k.A]) { // alternating: its mean says nothing
			return Prediction{}
		}
		r := l.seriesOhms(k.Device)
		x := (w.volts[k.A] - w.volts[k.B]) / r
		return Prediction{x, sc.spread(x, w.across[k.Device]/r, k.Cond), true}
	}
	x := w.volts[k.A] - w.volts[k.B]
	tol := math.Hypot(math.Hypot(w.sigma[k.A], w.sigma[k.B]), l.U.M.driveSigma(k.A, k.Cond.Drive))
	if k.Device >= 0 && k.Kind == Volts {
		tol = w.across[k.Device]
	}
	tol = math.Hypot(tol, wavering(w, k))
	if g, ok := l.golden[k.A]; ok && k.B == 0 && k.Cond == l.usual(k.Cond.Drive) && good != nil && good.known {
		was := good.volts[k.A]
		if math.Abs(x-was) <= good.sigma[k.A] { // the fault leaves it as it is: the known-good machine says what that is
			x += g - was
		}
	}
	return Prediction{x, sc.spread(x, tol, k.Cond), true}
}

// wavering is how far a meter on direct volts errs, as one standard deviation, where what it measures alternates: half a hundredth of it (common
// practice, no source).
func wavering(w *world, k Check) float64 {
	if w.ripple == nil || k.Device >= 0 {
		return 0
	}
	return 0.005 * math.Hypot(w.ripple[k.A], w.ripple[k.B])
}

// seriesOhms is what a current is told from: the resistance of the part that it flows through.
func (l *Lab) seriesOhms(dev int) float64 {
	if r, ok := l.U.M.E.Param(l.U.M.Devices[dev].Index, "ohms"); ok && r > 0 {
		return r
	}
	return 1
}
