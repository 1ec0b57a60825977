package analog

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// This file says what was found in terms of faults instead of hypotheses, and what a good board shows.

// Suspect is a set of faults present now, all severities together. Details belong to the likeliest. Group numbers look-alikes.
type Suspect struct {
	Faults  []int
	Details []string
	P       float64
	Group   int
	Best    Story
}

// Suspects joins the stories of one set of faults, likeliest first. The empty set is the board with nothing wrong now.
func (s *Session) Suspects(p *Plan) []Suspect {
	var out []Suspect
	at := map[string]int{}
	groups := 0
	for _, g := range p.Groups {
		groups = max(groups, g+1)
	}
	for i, st := range s.Stories {
		if st.P < 1e-9 {
			break
		}
		var x Suspect
		for k, h := range st.Hyps {
			if st.Alive[k] {
				y := s.Lab.Hyps[h]
				x.Faults = append(x.Faults, y.Fault)
				x.Details = append(x.Details, s.Lab.U.Ways[y.Fault][y.Way].Detail)
			}
		}
		key := fmt.Sprint(x.Faults)
		if len(x.Faults) == 2 && x.Faults[0] > x.Faults[1] {
			key = fmt.Sprint([]int{x.Faults[1], x.Faults[0]})
		}
		j, ok := at[key]
		if !ok {
			x.Best, x.Group = st, -1
			if i < len(p.Groups) {
				x.Group = p.Groups[i]
			}
			j = len(out)
			at[key] = j
			out = append(out, x)
		}
		out[j].P += st.P
	}
	for i := range out {
		if out[i].Group < 0 {
			out[i].Group = groups
			groups++
		}
	}
	slices.SortStableFunc(out, func(a, b Suspect) int { return cmp.Compare(b.P, a.P) })
	return out
}

// Words are the faults of a story that are still there, as KIND@WHERE with blanks between; "" for none.
func (s *Session) Words(st Story) string {
	var out []string
	for k, h := range st.Hyps {
		if st.Alive[k] {
			out = append(out, s.M.Name(s.Lab.U.Faults[s.Lab.Hyps[h].Fault]))
		}
	}
	return strings.Join(out, " ")
}

// About is a prediction as a person reads it.
func About(k Check, p Prediction) string {
	if !p.Known {
		return "unknown"
	}
	sc := scales[k.Kind]
	if sc.log {
		return "about " + Show(k.Kind, sc.out(p.Mu))
	}
	low, high := Show(k.Kind, p.Mu-2*p.Sigma), Show(k.Kind, p.Mu+2*p.Sigma)
	if low == high {
		return low
	}
	return low + " to " + high
}

// Between is the range of an outcome: what its stories show.
func Between(k Check, o Outcome) string {
	sc := scales[k.Kind]
	low, high := Show(k.Kind, sc.out(o.Low)), Show(k.Kind, sc.out(o.High))
	switch {
	case len(o.Stories) == 0:
		return "anything else"
	case low == high:
		return "about " + low
	}
	return low + " to " + high
}

// NodeName is the net of a node.
func (m *Model) NodeName(node int) string {
	if node >= 0 && node < len(m.nets) && m.nets[node] != circuit.None {
		return m.C.NetName(m.nets[node])
	}
	return "?"
}

// Golden takes the voltages of a known-good machine; they stand in for the model where a fault changes nothing.
func (l *Lab) Golden(c *evidence.Case) finding.List {
	var fl finding.List
	m := l.U.M
	for _, e := range c.Log {
		for _, v := range e.Volts {
			p, hint := m.C.FindPlace(v.At)
			switch {
			case p.Net == circuit.None:
				fl.Warnf(v.Pos, "golden", "", "%s; the reading is left out", hint)
			case m.node[p.Net] > 0 && e.Feed == nil:
				l.golden[m.node[p.Net]] = v.Volts
			}
		}
	}
	return fl
}

// Row is what a good board shows at a pin (circuit.None: at a net that no pin of a package is on), against ground. Ripple is volts peak to peak and
// NaN without mains; Golden is NaN where no known-good machine was read.
type Row struct {
	Pin, Net                int
	Volts, Sigma, Low, High float64
	Ripple, Golden          float64
	Model                   float64 // volts without the known-good machine
}

// Table is the expectation of every wired pin in the order of the parts.
func (l *Lab) Table(ctx context.Context) ([]Row, error) {
	m := l.U.M
	ws, err := l.world(ctx, l.usual(l.Rest), []int{0})
	if err != nil {
		return nil, err
	}
	w := ws[0]
	if !w.known {
		return nil, fmt.Errorf("the model of this board has no operating point")
	}
	var out []Row
	for id, p := range m.C.Pins {
		if !p.Wired || p.Net == circuit.None || m.node[p.Net] < 0 {
			continue
		}
		n := m.node[p.Net]
		r := Row{Pin: id, Net: p.Net, Volts: w.volts[n], Sigma: w.sigma[n], Model: w.volts[n], Ripple: math.NaN(), Golden: math.NaN()}
		if w.ripple != nil {
			r.Ripple = w.ripple[n]
		}
		if g, ok := l.golden[n]; ok {
			r.Golden, r.Volts = g, g
		}
		reach := 2 * scales[Volts].spread(r.Volts, r.Sigma, Usual())
		r.Low, r.High = r.Volts-reach, r.Volts+reach
		out = append(out, r)
	}
	return out, nil
}
