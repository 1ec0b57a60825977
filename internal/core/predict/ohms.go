package predict

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
)

// What an ohmmeter shows between two places with the power off: the resistors and shorts of a hypothesis as a network,
// junctions taken as open (the meter stays below their knee). Values of shorts: a copper short is the leads' ohms, one inside a part
// keeps a few ohms (common practice, no source; spreads are estimates).
const (
	copperOhms   = 0.4
	insideOhms   = 6.0
	stuckOhms    = 20.0
	railsOhms    = 120.0 // from rail to rail through a populated board: tens to hundreds of ohms
	junctionOhms = 30e3  // above this the chips on the net decide, and they differ
)

// Ohms is what the meter shows: a bell over log10 of the ohms, or Wide when only the parts' junctions are in the way.
type Ohms struct {
	Log10, SD float64
	Wide      bool
}

// Density is the density over log10 ohms. An open reading counts as 10 MΩ.
func (o Ohms) Density(ohms float64) float64 {
	x := math.Log10(max(ohms, 0.01))
	if o.Wide {
		if x < 2.3 {
			return 0.01
		}
		return 1 / 5.2
	}
	z := (x - o.Log10) / o.SD
	return math.Exp(-z*z/2) / (o.SD * math.Sqrt(2*math.Pi))
}

// OhmBands are ranges that a person would call one reading.
var OhmBands = [...]Band{{2, "below 2 Ω"}, {60, "2 to 60 Ω"}, {600, "60 to 600 Ω"}, {15e3, "600 Ω to 15 kΩ"}, {math.Inf(1), "above 15 kΩ"}}

// InBands is the probability of each band.
func (o Ohms) InBands() [len(OhmBands)]float64 {
	var out [len(OhmBands)]float64
	if o.Wide {
		return [len(OhmBands)]float64{0.005, 0.01, 0.085, 0.4, 0.5}
	}
	last := 0.0
	for i, b := range OhmBands {
		c := 1.0
		if !math.IsInf(b.To, 1) {
			c = 0.5 * (1 + math.Erf((math.Log10(b.To)-o.Log10)/(o.SD*math.Sqrt2)))
		}
		out[i] = c - last
		last = c
	}
	return out
}

// branch is one conducting element; link is its circuit index or None. inside tells that the current runs through a chip.
type branch struct {
	a, b   int
	ohms   float64
	inside bool
	link   int
}

// ohmNet is the good board with the power off: what each net is joined to.
type ohmNet struct {
	br  []branch
	adj [][]int // net → branches
}

func (m *Model) ohmNet() *ohmNet {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.ohms != nil {
		return m.ohms
	}
	c := m.C
	o := &ohmNet{adj: make([][]int, len(c.Nets))}
	for li, l := range c.Links {
		ohms := math.Inf(1)
		switch l.Kind {
		case circuit.Joint:
			ohms = 0.01
		case circuit.Resistor:
			ohms = max(l.Ohms, 0.1)
		case circuit.Closed:
			ohms = 0.2
		case circuit.Contact1:
			if c.Contacts[l.Contact].Closed {
				ohms = 0.3
			}
		case circuit.RelayContact:
			if l.Normally {
				ohms = 0.3
			}
		}
		if !math.IsInf(ohms, 1) && l.A != l.B {
			o.add(branch{l.A, l.B, ohms, false, li})
		}
	}
	low := rail(c, false)
	for i, n := range c.Nets {
		if n.Rail && i != low && low != circuit.None {
			o.add(branch{i, low, railsOhms, true, circuit.None})
		}
	}
	m.ohms = o
	return o
}

func (o *ohmNet) add(b branch) {
	o.adj[b.a] = append(o.adj[b.a], len(o.br))
	o.adj[b.b] = append(o.adj[b.b], len(o.br))
	o.br = append(o.br, b)
}

// rail is the rail that a short to ground, or to the supply, reaches: 0 V, or the one nearest to 5 V.
func rail(c *circuit.Circuit, high bool) int {
	best := circuit.None
	for i, n := range c.Nets {
		if n.Rail && n.High == high && (best == circuit.None || math.Abs(n.Volts-5) < math.Abs(c.Nets[best].Volts-5)) {
			best = i
		}
	}
	return best
}

// Ohms predicts the meter between two places for one hypothesis, with pins lifted.
func (m *Model) Ohms(hyp []Way, lifted []int, from, to circuit.Place) Ohms {
	r := &ringer{c: m.C, base: m.ohmNet(), apart: map[int]int{}}
	for _, p := range lifted {
		r.cut(p)
	}
	for _, w := range hyp {
		if w.F.Kind == fault.JointOpen {
			r.cut(w.F.A)
		}
	}
	for _, w := range hyp {
		r.fault(w.F)
	}
	ohms, inside := r.between(r.at(from), r.at(to))
	if ohms > junctionOhms {
		return Ohms{Wide: true}
	}
	sd := 0.08
	switch {
	case inside:
		sd = 0.3
	case ohms < 400:
		sd = 0.2
	}
	return Ohms{Log10: math.Log10(max(ohms, 0.05)), SD: sd}
}

// ringer is the network of one hypothesis: the good board less what is gone, plus what was added.
type ringer struct {
	c     *circuit.Circuit
	base  *ohmNet
	apart map[int]int // pin that is cut → node of its own, above all nets
	gone  []int       // links
	extra []branch
}

// cut takes a pin off its net: its links then hang on a node of their own.
func (r *ringer) cut(pin int) {
	if _, ok := r.apart[pin]; ok {
		return
	}
	own := len(r.c.Nets) + len(r.apart)
	r.apart[pin] = own
	for _, li := range r.c.Parts[r.c.Pins[pin].Part].Links {
		l := &r.c.Links[li]
		if l.PinA != pin && l.PinB != pin {
			continue
		}
		r.gone = append(r.gone, li)
		for _, bi := range r.base.adj[l.A] {
			if b := r.base.br[bi]; b.link == li {
				far := l.B
				if l.PinB == pin {
					far = l.A
				}
				r.extra = append(r.extra, branch{own, far, b.ohms, false, circuit.None})
			}
		}
	}
}

func (r *ringer) at(p circuit.Place) int {
	if p.Pin != circuit.None {
		return r.pin(p.Pin)
	}
	return p.Net
}

func (r *ringer) pin(id int) int {
	if n, ok := r.apart[id]; ok {
		return n
	}
	return r.c.Pins[id].Net
}

func (r *ringer) fault(f fault.Fault) {
	add := func(a, b int, ohms float64, inside bool) {
		if a != circuit.None && b != circuit.None && a != b {
			r.extra = append(r.extra, branch{a, b, ohms, inside, circuit.None})
		}
	}
	switch f.Kind {
	case fault.NetLow:
		add(f.A, rail(r.c, false), copperOhms, false)
	case fault.NetHigh:
		add(f.A, rail(r.c, true), copperOhms, false)
	case fault.Bridge:
		add(f.A, f.B, copperOhms, false)
	case fault.InputLow:
		add(r.pin(f.A), rail(r.c, false), insideOhms, true)
	case fault.InputHigh:
		add(r.pin(f.A), rail(r.c, true), insideOhms, true)
	case fault.OutputLow:
		add(r.pin(f.A), rail(r.c, false), stuckOhms, true)
	case fault.OutputHigh:
		add(r.pin(f.A), rail(r.c, true), 3*stuckOhms, true)
	case fault.Open:
		r.gone = append(r.gone, f.A)
	case fault.Short:
		add(r.c.Links[f.A].A, r.c.Links[f.A].B, 0.5, false)
	}
}

// reach lists the nodes that matter between a and b: a rail that is neither is only followed to other rails, because what
// else hangs on it cannot carry current between the two.
func (r *ringer) reach(a, b int) (idx map[int]int, used []branch) {
	idx = map[int]int{a: 0}
	order := []int{a}
	seen := map[int]bool{}
	for i := 0; i < len(order); i++ {
		n := order[i]
		isRail := n < len(r.c.Nets) && r.c.Nets[n].Rail
		follow := func(x branch) {
			far := x.a + x.b - n
			farRail := far < len(r.c.Nets) && r.c.Nets[far].Rail
			if isRail && n != a && !farRail && far != b || isRail && n == b {
				return
			}
			if _, ok := idx[far]; !ok {
				idx[far] = len(order)
				order = append(order, far)
			}
		}
		if n < len(r.c.Nets) {
			for _, bi := range r.base.adj[n] {
				if x := r.base.br[bi]; !seen[bi] && !slices.Contains(r.gone, x.link) {
					follow(x)
				}
			}
		}
		for _, x := range r.extra {
			if x.a == n || x.b == n {
				follow(x)
			}
		}
	}
	for _, n := range order {
		if n >= len(r.c.Nets) {
			continue
		}
		for _, bi := range r.base.adj[n] {
			x := r.base.br[bi]
			_, ok1 := idx[x.a]
			_, ok2 := idx[x.b]
			if ok1 && ok2 && !seen[bi] && !slices.Contains(r.gone, x.link) {
				seen[bi] = true
				used = append(used, x)
			}
		}
	}
	for _, x := range r.extra {
		_, ok1 := idx[x.a]
		_, ok2 := idx[x.b]
		if ok1 && ok2 {
			used = append(used, x)
		}
	}
	return idx, used
}

// between solves the network for the resistance from a to b: one ampere into a, out at b. inside tells that most of the power goes
// into a part, so that the figure is a guess.
func (r *ringer) between(a, b int) (ohms float64, inside bool) {
	if a == b {
		return 0.2, false
	}
	idx, used := r.reach(a, b)
	ib, ok := idx[b]
	if !ok {
		return math.Inf(1), false
	}
	n := len(idx)
	g, rhs := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	for _, x := range used {
		i, j, s := idx[x.a], idx[x.b], 1/x.ohms
		g.Set(i, i, g.At(i, i)+s)
		g.Set(j, j, g.At(j, j)+s)
		g.Set(i, j, g.At(i, j)-s)
		g.Set(j, i, g.At(j, i)-s)
	}
	for j := range n {
		g.Set(ib, j, 0)
	}
	g.Set(ib, ib, 1)
	rhs.SetVec(idx[a], 1)
	var v mat.VecDense
	if err := v.SolveVec(g, rhs); err != nil && v.Len() != n {
		return math.Inf(1), false
	}
	most := 0.0
	for _, x := range used {
		d := v.AtVec(idx[x.a]) - v.AtVec(idx[x.b])
		if p := d * d / x.ohms; p > most {
			most, inside = p, x.inside
		}
	}
	return v.AtVec(idx[a]), inside
}

// OhmsAll is Ohms for many hypotheses; those that cannot touch the path between the two places share one answer.
func (m *Model) OhmsAll(hyps [][]Way, lifted []int, from, to circuit.Place) []Ohms {
	r := &ringer{c: m.C, base: m.ohmNet(), apart: map[int]int{}}
	for _, p := range lifted {
		r.cut(p)
	}
	near, _ := r.reach(r.at(from), r.at(to))
	back, _ := r.reach(r.at(to), r.at(from))
	touches := func(net int) bool {
		if net == circuit.None || m.C.Nets[net].Rail {
			return false
		}
		_, a := near[net]
		_, b := back[net]
		return a || b
	}
	good := m.Ohms(nil, lifted, from, to)
	out := make([]Ohms, len(hyps))
	for i, h := range hyps {
		out[i] = good
		for _, w := range h {
			f := w.F
			hit := touches(f.Net(m.C))
			switch f.Kind {
			case fault.Bridge:
				hit = touches(f.A) || touches(f.B)
			case fault.Open, fault.Short:
				hit = touches(m.C.Links[f.A].A) || touches(m.C.Links[f.A].B)
			case fault.JointOpen: // on a rail's side it still takes away what leads to the other side
				for _, li := range m.C.Parts[m.C.Pins[f.A].Part].Links {
					l := &m.C.Links[li]
					hit = hit || (l.PinA == f.A || l.PinB == f.A) && (touches(l.A) || touches(l.B))
				}
			}
			if hit {
				out[i] = m.Ohms(h, lifted, from, to)
				break
			}
		}
	}
	return out
}
