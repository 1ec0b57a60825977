package loading

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// Lint warns of what the data sheets do not guarantee on a board that was built without errors: fan-out, levels between families,
// pull-ups, open CMOS inputs, supplies, decoupling. What the check of the wiring says already is not repeated.
func Lint(c *circuit.Circuit) finding.List {
	l := &linting{b: New(c), c: c}
	for _, root := range l.b.Roots() {
		l.net(root)
	}
	for pi := range c.Parts {
		l.openOnPurpose(pi)
		l.supply(pi)
	}
	l.rails()
	l.decoupling()
	l.fl.Sort()
	return l.fl
}

type linting struct {
	b  *Board
	c  *circuit.Circuit
	fl finding.List
}

func (l *linting) net(root int) {
	said := map[string]bool{}
	for _, s := range l.b.Judge(root) {
		if s.Verdict < Marginal || s.Wiring || said[s.Text] {
			continue
		}
		said[s.Text] = true
		text := s.What + " on net " + s.Net + ": " + s.Text
		if s.Source != "" {
			text += " [" + s.Source + "]"
		}
		pos := l.c.Nets[root].Pos
		l.fl.Warnf(pos, s.Net, s.Remedy, "%s", text)
	}
}

// openOnPurpose finds CMOS inputs that the board file leaves open with a dash.
func (l *linting) openOnPurpose(pi int) {
	p := l.c.Parts[pi]
	if !p.Family.CMOS() {
		return
	}
	var open []string
	for _, w := range p.Src.Pins {
		if w.Net != "-" {
			continue
		}
		for _, n := range p.Type.PinByName(w.Pin) {
			node := p.Type.Pins[n-1].Node
			if node >= 0 && p.Type.Nodes[node].Use == part.Heard {
				open = append(open, fmt.Sprintf("%d (%s)", n, p.Type.Nodes[node].Name))
			}
		}
	}
	if len(open) > 0 {
		l.fl.Warnf(p.Src.Pos, p.Ref, "tie them to the supply or to ground", "%s: CMOS inputs left open: %s; they float, heat the part and may upset its other gates", p.Ref, strings.Join(open, ", "))
	}
}

// supply warns of a voltage outside the family's range, and of supply pins that are neither listed nor where one expects them.
func (l *linting) supply(pi int) {
	p := l.c.Parts[pi]
	m := part.Match{Type: p.Type, Family: p.Family}
	low, high, ok := m.SupplyRange()
	if v := l.b.Supply(pi); ok && v > 0 && (v < low || v > high) {
		l.fl.Warnf(p.Src.Pos, p.Ref, "", "%s: supply of %g V; a %s is guaranteed from %g to %g V", p.Ref, v, p.Src.Type, low, high)
	}
	listed := map[int]bool{}
	for i, w := range p.Src.Pins {
		nums := []int{i + 1}
		if !p.Src.Listed {
			nums = p.Type.PinByName(w.Pin)
		}
		for _, n := range nums {
			listed[n] = true
		}
	}
	total := len(p.Type.Pins)
	var odd []string
	for i, tp := range p.Type.Pins {
		if tp.Node < 0 || !p.Type.Nodes[tp.Node].Supply || listed[i+1] || i+1 == total || i+1 == total/2 {
			continue
		}
		odd = append(odd, fmt.Sprintf("%d (%s)", i+1, p.Type.Nodes[tp.Node].Name))
	}
	if len(odd) > 0 && strings.HasPrefix(p.Type.Package, "DIP") {
		l.fl.Warnf(p.Src.Pos, p.Ref, "list them", "%s: supply pins not at the corners and not listed: %s", p.Ref, strings.Join(odd, ", "))
	}
}

var railNames = []string{"GND", "0V", "VSS", "VCC", "VDD", "+5V", "+5", "5V", "+12V", "-12V", "-5V", "+15V", "-15V", "VEE", "VBB"}

// rails warns of a board without ground or without any supply, and of nets that carry a rail's name but are none.
func (l *linting) rails() {
	packages, ground, supply := 0, false, false
	for _, p := range l.c.Parts {
		if p.Family != "" && p.Type.Package != "gate" {
			packages++
		}
	}
	for _, n := range l.c.Nets {
		if n.Rail {
			ground, supply = ground || n.Volts == 0, supply || n.Volts > 0
		} else if slices.Contains(railNames, strings.ToUpper(n.Name)) {
			l.fl.Warnf(n.Pos, n.Name, "add it under rails:", "net %s has the name of a rail and is none", n.Name)
		}
	}
	pos := finding.Pos{File: l.c.Board.File}
	if packages > 0 && !ground {
		l.fl.Warnf(pos, "rails", "add GND: 0 V", "the board has no rail of 0 V")
	}
	if packages > 0 && !supply {
		l.fl.Warnf(pos, "rails", "add VCC: 5 V", "the board has no positive rail")
	}
}

var capacitors = []string{"capacitor", "electrolytic", "tantalum"}

// decoupling warns once for each rail that feeds packages and has no capacitor to another rail.
func (l *linting) decoupling() {
	fed, held := map[int]int{}, map[int]bool{}
	for pi, p := range l.c.Parts {
		var rails []int
		for _, id := range p.Pins {
			pin := l.c.Pins[id]
			root := l.b.group[pin.Net]
			if _, rail := l.b.rail(pin.Net); !rail || slices.Contains(rails, root) {
				continue
			}
			if slices.Contains(capacitors, p.Type.Prior) || pin.Supply && l.c.Parts[pi].Type.Package != "gate" {
				rails = append(rails, root)
			}
		}
		for _, r := range rails {
			v, _ := l.b.rail(r)
			switch {
			case slices.Contains(capacitors, p.Type.Prior):
				held[r] = held[r] || len(rails) > 1
			case v != 0:
				fed[r]++
			}
		}
	}
	for i, n := range l.c.Nets {
		if count := fed[i]; count > 0 && !held[i] {
			l.fl.Warnf(n.Pos, n.Name, "list them: a shorted one is a usual fault, and one that is not listed is never suspected", "no decoupling capacitor is listed on %s, which feeds %d packages", n.Name, count)
		}
	}
}
