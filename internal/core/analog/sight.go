package analog

import (
	"context"
	"math"
	"slices"

	"halfsplit/internal/core/elec"
)

// This file computes what faults show as a straight line: the reading in the middle, how every tolerance of the board moves it, and how the next
// severity moves it. With it readings that one tolerance moves together count as what they are, not as so many witnesses.

// subject is what is wrong at once: up to two hypotheses in order, 0 for none, and the state of the board's tolerances (an index into Lab.states, 0 for
// the middle of all).
type subject [3]int

func subjectOf(hyps []int) subject {
	var u subject
	copy(u[:2], hyps)
	if u[0] > u[1] && u[1] > 0 {
		u[0], u[1] = u[1], u[0]
	}
	return u
}

func (u subject) hyps() []int {
	switch {
	case u[0] == 0:
		return nil
	case u[1] == 0:
		return u[:1]
	}
	return u[:2]
}

// sight is what a subject shows in a check, on the check's scale.
type sight struct {
	known bool
	mu    float64
	noise float64   // one standard deviation of what is no tolerance of the board: the meter, and what the model does not know
	slope []float32 // what each uncertain parameter moves by its half range; nil where that is not known, and then noise holds the tolerances too
	less  float64   // from here to the next severity below, 0 without
	more  float64   // and above
}

// keptSights are how many sights are kept from one run to the next: some tens of megabytes on a large board.
const keptSights = 60000

// tidyUp forgets sights when there are too many; they are computed again when they are asked for.
func (l *Lab) tidyUp() {
	n := 0
	for _, m := range l.sights {
		n += len(m)
	}
	if n > keptSights {
		clear(l.sights)
	}
}

// look computes what subjects show in checks, each once.
func (l *Lab) look(ctx context.Context, subs []subject, checks []Check) error {
	hyps := []int{} // nil would be all of them
	for _, u := range subs {
		if l.sights[u] == nil {
			l.sights[u] = map[Check]sight{}
		}
		hyps = append(hyps, u.hyps()...)
	}
	slices.Sort(hyps)
	hyps = slices.Compact(hyps)
	cols := make([]*column, len(checks))
	for i, k := range checks {
		if _, err := l.Predict(ctx, k, hyps); err != nil {
			return err
		}
		cols[i] = l.column[k]
	}
	worlds := map[Condition][]*world{}
	for _, k := range checks {
		if k.solved() && worlds[k.Cond] == nil {
			ws, err := l.world(ctx, k.Cond, hyps)
			if err != nil {
				return err
			}
			worlds[k.Cond] = ws
		}
	}
	return l.parallel(ctx, len(subs), func(s *elec.Solver, i int) {
		u := subs[i]
		mine := l.sights[u]
		lines := map[Condition]*slopes{}
		var order []int
		for j, k := range checks {
			if _, ok := mine[k]; !ok {
				order = append(order, j)
			}
		}
		// a solver holds one straight line at a time
		slices.SortStableFunc(order, func(a, b int) int { return compareConditions(checks[a].Cond, checks[b].Cond) })
		for _, j := range order {
			k := checks[j]
			if u[1] > 0 || u[2] > 0 && k.stateful() { // elsewhere the states are taken as alike
				mine[k] = l.joint(s, u, k, cols[j], worlds[k.Cond], lines)
				continue
			}
			h := u[0]
			x := sight{known: cols[j].p[h].Known, mu: cols[j].p[h].Mu, noise: l.base(k, cols[j].p[h], h)}
			if x.known && h > 0 {
				x.less, x.more = l.neighbours(cols[j], h)
			}
			if x.known && k.solved() {
				l.incline(s, u, k, worlds[k.Cond][h], worlds[k.Cond][0], lines, &x)
			}
			mine[k] = x
		}
	})
}

func compareConditions(a, b Condition) int {
	switch {
	case a == b:
		return 0
	case a.Bench != b.Bench:
		if b.Bench {
			return -1
		}
		return 1
	}
	for _, d := range []float64{float64(a.At - b.At), a.Volts - b.Volts, a.OhmsIn - b.OhmsIn, float64(a.Control - b.Control), a.Position - b.Position} {
		if d != 0 {
			return int(math.Copysign(1, d))
		}
	}
	if a.Drive+"/"+a.Lifted < b.Drive+"/"+b.Lifted {
		return -1
	}
	return 1
}

// solved tells checks that are read off the solution of the whole board.
func (k Check) solved() bool {
	return k.Kind == Volts || k.Kind == Ripple || k.Kind == Current || k.Kind == Wiper
}

// stateful tells checks for which the state of the tolerances is followed: volts as the machine usually stands.
func (k Check) stateful() bool { return k.solved() && k.Cond.Control < 0 && !k.Cond.Bench }

// neighbours are the distances to the next severities of the same fault.
func (l *Lab) neighbours(col *column, h int) (less, more float64) {
	if h >= len(l.Hyps) {
		return 0, 0
	}
	y := l.Hyps[h]
	ways := l.U.Ways[y.Fault]
	if len(ways) < 2 || !ways[y.Way].Smear {
		return 0, 0
	}
	if y.Way > 0 && col.p[h-1].Known {
		less = col.p[h].Mu - col.p[h-1].Mu
	}
	if y.Way+1 < len(ways) && col.p[h+1].Known {
		more = col.p[h+1].Mu - col.p[h].Mu
	}
	return less, more
}

// slopes is a board as a straight line; line is nil where there is none.
type slopes struct{ line *elec.Linear }

// incline gives a sight the slopes of a solved board, and takes the tolerances out of its noise.
func (l *Lab) incline(s *elec.Solver, u subject, k Check, w, good *world, lines map[Condition]*slopes, x *sight) {
	if k.Kind == Ripple || w == nil || !w.known {
		return
	}
	scale := 1.0
	if k.Kind == Current {
		scale = 1 / l.seriesOhms(k.Device)
	}
	mu := (w.volts[k.A] - w.volts[k.B]) * scale
	meter := scales[k.Kind].spread(mu, 0, k.Cond)
	if l.U.M.Mains && !k.Cond.Bench {
		if good == nil || good.effects == nil {
			return
		}
		for _, n := range []int{k.A, k.B} {
			if changed(w, good, n) { // tolerances move it in a way of its own
				return
			}
		}
		x.noise = math.Hypot(math.Hypot(meter, l.U.M.driveSigma(k.A, k.Cond.Drive)), wavering(w, k)*scale)
		x.slope = make([]float32, len(good.effects))
		for i, e := range good.effects {
			if e != nil {
				x.slope[i] = float32((e[k.A] - e[k.B]) * scale)
			}
		}
		return
	}
	if w.point == nil {
		return
	}
	at, ok := lines[k.Cond]
	if !ok {
		clear(lines)
		at = &slopes{}
		opt := l.from(k.Cond.Bench)
		opt.Leak = w.leak
		if line, err := s.Linear(opt, l.patchOf(u, k.Cond), w.point); err == nil {
			at.line = line
		}
		lines[k.Cond] = at
	}
	if at.line == nil {
		return
	}
	g := make([]float64, len(at.line.Uncertain()))
	at.line.Gradient(k.A, k.B, g)
	sum := 0.0
	for _, v := range g {
		sum += v * v / 3
	}
	linear := math.Sqrt(sum) * scale
	switch own := x.noise; {
	case w.bare && !(linear <= 2+0.1*math.Abs(mu)):
		x.noise = math.Hypot(own, min(linear, 5))
		return
	case !w.bare && !(linear <= 1.5*own+3*meter): // too steep for a straight line
		return
	}
	x.noise = math.Hypot(meter, l.U.M.driveSigma(k.A, k.Cond.Drive))
	x.slope = make([]float32, len(g))
	for i, v := range g {
		x.slope[i] = float32(v * scale)
	}
}

// changed tells that a fault moves a node away from where it is on a good board.
func changed(w, good *world, n int) bool {
	return math.Abs(w.volts[n]-good.volts[n]) > 0.03*math.Abs(good.volts[n])+0.02
}

// patchOf is the patch of a subject under a condition.
func (l *Lab) patchOf(u subject, c Condition) elec.Patch {
	return l.wrong(u, c).And(c.patch(l.U.M))
}

// wrong is a subject in electrical terms.
func (l *Lab) wrong(u subject, c Condition) elec.Patch {
	p := l.states[u[2]]
	for _, h := range u.hyps() {
		p = p.And(l.patch(h, c))
	}
	return p
}

// joint is what two faults at once show.
func (l *Lab) joint(s *elec.Solver, u subject, k Check, col *column, ws []*world, lines map[Condition]*slopes) sight {
	var p Prediction
	var w *world
	patch := l.wrong(u, k.Cond)
	if k.solved() {
		l.pairsLock.Lock()
		w = l.pairs[pairWorld{u, k.Cond}]
		l.pairsLock.Unlock()
		if w == nil {
			clear(lines) // the solver is used for something else
			if u[2] > 0 {
				w = l.rest(s, u, k.Cond)
			} else {
				w = l.solve(s, k.Cond, patch, ws[0], l.begin(u[0], k.Cond))
			}
			l.pairsLock.Lock()
			l.pairs[pairWorld{u, k.Cond}] = w
			l.pairsLock.Unlock()
		}
		p = l.fromWorld(k, w, ws[0])
	} else {
		clear(lines)
		p = l.probe(s, k, patch, u[0])
	}
	x := sight{known: p.Known, mu: p.Mu, noise: p.Sigma}
	if !p.Known {
		return x
	}
	if k.solved() {
		l.incline(s, u, k, w, ws[0], lines, &x)
	}
	for _, h := range u.hyps() { // severities are samples here too
		if u[1] == 0 {
			break
		}
		a, b := l.neighbours(col, h)
		x.noise = math.Hypot(x.noise, max(math.Abs(a), math.Abs(b))/math.Sqrt(12))
	}
	return x
}

// rest is a board in a state of its tolerances, without their spread. The search begins at the good board in that state.
func (l *Lab) rest(s *elec.Solver, u subject, c Condition) *world {
	w := &world{bare: true}
	opt := l.begin(u[0], c)
	if from := l.drawn[u[2]-1]; from != nil {
		opt.From = from
	}
	w.leak = opt.Leak
	point, err := s.OP(opt, l.patchOf(u, c))
	if err != nil {
		return w
	}
	w.known, w.point, w.volts = true, point, point.Voltages()
	w.sigma, w.across = make([]float64, len(w.volts)), make([]float64, len(l.U.M.Devices))
	return w
}

type pairWorld struct {
	u subject
	c Condition
}
