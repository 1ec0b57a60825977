package app

import (
	"fmt"
	"strings"

	"halfsplit/internal/core/circuit"
)

// What a board knows of capacitors, RC times, one-shots, dividers and single values.

// fillRC takes a resistor and a capacitor that meet on a net: at is either of them, or the net.
func fillRC(c *circuit.Circuit, at string) ([]Taken, error) {
	net := -1
	var p circuit.Part
	if i, ok := c.Net(at); ok {
		net = i
	} else {
		var err error
		if p, err = partAt(c, at); err != nil {
			return nil, err
		}
	}
	nets := []int{net}
	if net < 0 {
		a, b, err := twoEnds(c, p)
		if err != nil {
			return nil, err
		}
		nets = []int{a, b}
	}
	for _, n := range nets {
		if c.Nets[n].Rail {
			continue
		}
		var r, k circuit.Part
		for _, q := range append(others(c, n, p.Ref), p) {
			switch {
			case q.Type == nil:
			case isResistor(q) && (r.Type == nil || q.Ref == p.Ref):
				r = q
			case isCapacitor(q) && (k.Type == nil || q.Ref == p.Ref):
				k = q
			}
		}
		if r.Type == nil || k.Type == nil {
			continue
		}
		rv, err := valued(r)
		if err != nil {
			return nil, err
		}
		kv, err := valued(k)
		if err != nil {
			return nil, err
		}
		return []Taken{{"resistor", rv, isWorth(r)}, {"capacitance", kv, isWorth(k) + ", on " + c.NetName(n)}}, nil
	}
	return nil, fmt.Errorf("no resistor and capacitor meet at %s on this board", at)
}

// fillOneShot takes the part of a one-shot and the components at its timing pins; U4/2 means its second half.
func fillOneShot(c *circuit.Circuit, at string) ([]Taken, error) {
	ref, half, _ := strings.Cut(at, "/")
	p, err := partAt(c, ref)
	if err != nil {
		return nil, err
	}
	word := oneShotWord(p)
	if word == "" {
		return nil, fmt.Errorf("%s (%s) is no one-shot that is known here", ref, p.Src.Type)
	}
	out := []Taken{{"part", word, fmt.Sprintf("%s is a %s", p.Ref, p.Src.Type)}}
	if half == "" {
		half = "1"
	}
	var timing []int
	for _, id := range p.Pins {
		name := p.Type.Nodes[c.Pins[id].Node].Name
		if (strings.Contains(name, "EXT") || strings.HasSuffix(name, "CX") || strings.HasSuffix(name, "RCX") || strings.Contains(name, "THRES") || name == "TH") && (!startsWithDigit(name) || strings.HasPrefix(name, half)) {
			timing = append(timing, c.Pins[id].Net)
		}
	}
	for _, n := range timing {
		if c.Nets[n].Rail {
			continue
		}
		for _, q := range others(c, n, p.Ref) {
			v, err := valued(q)
			if err != nil {
				continue
			}
			switch {
			case isResistor(q) && !has(out, "resistor"):
				out = append(out, Taken{"resistor", v, isWorth(q)})
			case isCapacitor(q) && !has(out, "capacitance"):
				out = append(out, Taken{"capacitance", v, isWorth(q)})
			}
		}
	}
	return out, nil
}

func startsWithDigit(s string) bool { return s != "" && s[0] >= '0' && s[0] <= '9' }

func has(ts []Taken, name string) bool {
	for _, t := range ts {
		if t.Name == name {
			return true
		}
	}
	return false
}

// oneShotWord is the calculator's word for a part, "" when it has none.
func oneShotWord(p circuit.Part) string {
	num, is74 := strings.CutPrefix(p.Type.Name, "74x")
	if !is74 {
		switch p.Type.Name {
		case "4047", "4098", "4528", "4538", "555", "556":
			return p.Type.Name
		}
		return ""
	}
	fam := string(p.Family)
	if fam == "74" {
		fam = ""
	}
	switch word := "74" + fam + num; word {
	case "74121", "74221", "74LS221", "74122", "74123", "74LS122", "74LS123", "74HC123", "74HC4538":
		return word
	case "74LS423":
		return "74LS123"
	case "74HCT123", "74HC423", "74HCT423":
		return "74HC123"
	}
	return ""
}

// fillCapacitor takes a capacitor's value and the voltage across it when both ends are rails.
func fillCapacitor(c *circuit.Circuit, at string) ([]Taken, error) {
	p, err := partAt(c, at)
	if err != nil {
		return nil, err
	}
	if !isCapacitor(p) {
		return nil, fmt.Errorf("%s (%s) is no capacitor", at, p.Src.Type)
	}
	v, err := valued(p)
	if err != nil {
		return nil, err
	}
	return []Taken{{"capacitance", v, isWorth(p)}}, nil
}

// fillDivider takes the two resistors from rails that meet on a net; at is the net, or either resistor.
func fillDivider(c *circuit.Circuit, at string) ([]Taken, error) {
	nets := []int{}
	if i, ok := c.Net(at); ok {
		nets = append(nets, i)
	} else {
		p, err := partAt(c, at)
		if err != nil {
			return nil, err
		}
		a, b, err := twoEnds(c, p)
		if err != nil {
			return nil, err
		}
		nets = append(nets, a, b)
	}
	for _, n := range nets {
		if c.Nets[n].Rail {
			continue
		}
		type leg struct {
			p     circuit.Part
			rail  string
			volts float64
		}
		var legs []leg
		for _, q := range others(c, n, "") {
			if !isResistor(q) || !q.Src.HasValue {
				continue
			}
			a, b, err := twoEnds(c, q)
			if err != nil {
				continue
			}
			for _, m := range []int{a, b} {
				if m != n && c.Nets[m].Rail {
					legs = append(legs, leg{q, c.Nets[m].Name, c.Nets[m].Volts})
				}
			}
		}
		if len(legs) != 2 || legs[0].volts == legs[1].volts {
			continue
		}
		if legs[0].volts < legs[1].volts {
			legs[0], legs[1] = legs[1], legs[0]
		}
		out := []Taken{}
		for i, l := range legs {
			v, err := valued(l.p)
			if err != nil {
				return nil, err
			}
			out = append(out, Taken{[]string{"r1", "r2"}[i], v, isWorth(l.p)},
				Taken{[]string{"input", "bottom"}[i], plainNumber(l.volts), fmt.Sprintf("from %s, %g V", l.rail, l.volts)})
		}
		return out, nil
	}
	return nil, fmt.Errorf("no two resistors from two rails meet at %s on this board", at)
}

func fillMark(c *circuit.Circuit, at string) ([]Taken, error) { return single(c, at, "mark") }

func fillValue(c *circuit.Circuit, at string) ([]Taken, error) { return single(c, at, "value") }

func single(c *circuit.Circuit, at, field string) ([]Taken, error) {
	p, err := partAt(c, at)
	if err != nil {
		return nil, err
	}
	v, err := valued(p)
	if err != nil {
		return nil, err
	}
	u := ""
	if field == "mark" {
		switch {
		case isResistor(p):
			u = " Ω"
		case isCapacitor(p):
			u = " F"
		}
	}
	return []Taken{{field, v + u, isWorth(p)}}, nil
}
