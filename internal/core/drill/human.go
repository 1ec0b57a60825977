package drill

import (
	"context"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// Two technicians to compare with. Both start from the wrong indicator, know what a good board reads, use the scope under the action that
// showed the symptom, and once a net is found where good goes in and bad comes out, replace what is on it: the driver first, then what
// listens, then they search the copper. One halves the signal path between what is known good and bad, the other walks back from the symptom.

// maxRestarts is how often a technician starts again when nothing that was replaced helped.
const maxRestarts = 3

func (g *game) human(ctx context.Context, u *unit, halving bool) (Play, error) {
	p := Play{Found: true}
	p.Minutes += g.o.Costs.ScopeSetUp
	for start := 0; len(u.truth) > 0; start++ {
		x, err := u.symptom(ctx)
		if err != nil || x == nil {
			p.Found = p.Found && x != nil
			return p, err
		}
		if start > maxRestarts+len(u.truth) {
			p.Found = false
			return p, nil
		}
		find := g.trace
		if halving {
			find = g.halve
		}
		net, err := find(ctx, u, x, &p)
		if err != nil {
			return p, err
		}
		if !g.shotgun(u, net, &p) {
			p.Found = false
		}
	}
	return p, nil
}

// bad reads a place and compares with a good board. Where a good board's level is unknown there is nothing to compare.
func (g *game) bad(ctx context.Context, u *unit, x *symptom, net int, p *Play) (bool, error) {
	p.Checks++
	pl := circuit.Place{Pin: circuit.None, Net: net}
	p.Minutes += g.o.Costs.Read
	good, err := u.good(ctx, x.setting, pl)
	if err != nil || good == predict.Unknown {
		return false, err
	}
	w, err := u.read(ctx, x.setting, pl)
	return w != good, err
}

// halve keeps the set of nets in which the trouble may begin, and reads the one that splits it best.
func (g *game) halve(ctx context.Context, u *unit, x *symptom, p *Play) (int, error) {
	begin := x.net
	set := g.upstream(begin)
	read := map[int]bool{begin: true}
	for {
		best, off := circuit.None, len(set)+1
		for _, n := range set {
			if read[n] {
				continue
			}
			k := len(intersect(g.upstream(n), set))
			if d := abs(2*k - len(set)); d < off {
				best, off = n, d
			}
		}
		if best == circuit.None {
			return begin, nil
		}
		read[best] = true
		wrong, err := g.bad(ctx, u, x, best, p)
		if err != nil {
			return 0, err
		}
		up := g.upstream(best)
		if wrong {
			begin = best
			set = intersect(set, up)
		} else {
			set = slices.DeleteFunc(slices.Clone(set), func(n int) bool { return n != begin && slices.Contains(up, n) })
		}
	}
}

// trace walks from the symptom backwards, always to the first input that is wrong.
func (g *game) trace(ctx context.Context, u *unit, x *symptom, p *Play) (int, error) {
	at := x.net
	seen := map[int]bool{at: true}
	for {
		next := circuit.None
		for _, n := range g.sources(at) {
			if seen[n] {
				continue
			}
			seen[n] = true
			wrong, err := g.bad(ctx, u, x, n, p)
			if err != nil {
				return 0, err
			}
			if wrong {
				next = n
				break
			}
		}
		if next == circuit.None {
			return at, nil
		}
		at = next
	}
}

// shotgun replaces what is on a net, and where that does not help, what is one step before and behind it.
func (g *game) shotgun(u *unit, net int, p *Play) bool {
	c := g.m.C
	done := map[int]bool{}
	try := func(n int) bool {
		var drivers, rest []int
		for _, q := range c.Nets[n].Pins {
			if c.Pins[q].Driver != circuit.None {
				drivers = append(drivers, c.Pins[q].Part)
			} else {
				rest = append(rest, c.Pins[q].Part)
			}
		}
		for _, pi := range append(drivers, rest...) {
			if done[pi] {
				continue
			}
			done[pi] = true
			p.Minutes += g.o.Costs.ReplaceMinutes(c, pi) + advise.Verify
			if u.mend(func(w predict.Way) bool { return w.F.Part(c) == pi }) {
				return true
			}
		}
		p.Minutes += advise.SearchMinutes
		return u.mend(func(w predict.Way) bool {
			return w.F.Part(c) == circuit.None && (w.F.Net(c) == n || w.F.Kind == "bridge" && w.F.B == n)
		})
	}
	if try(net) {
		return true
	}
	for _, n := range append(g.sources(net), g.targets(net)...) {
		if !c.Nets[n].Rail && !c.Nets[n].Hidden && try(n) {
			return true
		}
	}
	return false
}

// sources are the nets that decide a net directly: inputs of its drivers as their logic has it, and far ends and controls of its links.
func (g *game) sources(net int) []int {
	c := g.m.C
	var out []int
	add := func(n int) {
		if n != circuit.None && n != net && !c.Nets[n].Rail && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	for _, d := range c.Nets[net].Drivers {
		dr := c.Drivers[d]
		bits := map[int]bool{}
		var visit func(e part.Expr)
		visit = func(e part.Expr) {
			e.Leaves(func(l part.Expr) {
				if l.Op == part.OpPin {
					if q := c.Parts[dr.Part].NodePin[l.Index]; q != circuit.None {
						add(c.Pins[q].Net)
					}
					return
				}
				if bits[l.Index] {
					return
				}
				bits[l.Index] = true
				for _, s := range c.Parts[dr.Part].Type.Stmts {
					if s.Kind == part.Store && s.Bit == l.Index {
						for _, cl := range s.Clauses {
							visit(cl.Cond)
							visit(cl.Val)
						}
					}
					if s.Kind == part.RAM || s.Kind == part.ROM {
						for _, a := range append(slices.Clone(s.Address), s.Data...) {
							visit(a)
						}
						visit(s.Cond)
					}
				}
			})
		}
		visit(dr.Stmt.Expr)
		visit(dr.Stmt.Cond)
	}
	for _, l := range c.Nets[net].Links {
		for _, n := range []int{c.Links[l].A, c.Links[l].B, c.Links[l].Ctl, c.Links[l].Ctl2} {
			add(n)
		}
	}
	return out
}

// targets are the nets of the parts that listen to a net.
func (g *game) targets(net int) []int {
	c := g.m.C
	var out []int
	for _, q := range c.Nets[net].Pins {
		for _, d := range c.Parts[c.Pins[q].Part].Drivers {
			if n := c.Pins[c.Drivers[d].Pin].Net; n != net && !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

// upstream is a net and everything that can decide it.
func (g *game) upstream(net int) []int {
	g.mu.Lock()
	defer g.mu.Unlock()
	if v, ok := g.cones[net]; ok {
		return v
	}
	out := []int{net}
	for i := 0; i < len(out); i++ {
		for _, n := range g.sources(out[i]) {
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	g.cones[net] = out
	return out
}

func intersect(a, b []int) []int {
	var out []int
	for _, n := range a {
		if slices.Contains(b, n) {
			out = append(out, n)
		}
	}
	return out
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}
