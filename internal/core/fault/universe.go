package fault

import (
	"cmp"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Universe lists every single fault of a board, in a fixed order. Those that are the same thing under another name are
// listed once: a bridge to a rail is net-low or net-high, an open supply joint is no-supply.
func Universe(c *circuit.Circuit) []Fault {
	var fs []Fault
	for i := range c.Parts {
		fs = append(fs, ofPart(c, i)...)
	}
	for i, n := range c.Nets {
		if !n.Rail && !n.Hidden && len(n.Pins) > 0 {
			fs = append(fs, Fault{NetLow, i, circuit.None}, Fault{NetHigh, i, circuit.None})
		}
	}
	fs = append(fs, bridges(c)...)
	for i, in := range c.Inputs {
		if in.Pin == circuit.None && !in.Imposed && len(c.Nets[in.Net].Pins) > 0 {
			fs = append(fs, Fault{SourceLow, i, circuit.None}, Fault{SourceHigh, i, circuit.None}, Fault{SourceDead, i, circuit.None})
		}
	}
	return fs
}

func ofPart(c *circuit.Circuit, pi int) []Fault {
	var fs []Fault
	p := &c.Parts[pi]
	add := func(i int, ks ...Kind) {
		for _, k := range ks {
			fs = append(fs, Fault{k, i, circuit.None})
		}
	}
	for _, id := range p.Pins {
		pin := c.Pins[id]
		if pin.Supply || !pin.Wired {
			continue
		}
		rail := c.Nets[pin.Net].Rail
		if pin.Driver != circuit.None {
			add(id, OutputLow, OutputHigh, OutputOpen)
		}
		if pin.Use&part.Heard != 0 && p.NodePin[pin.Node] == id {
			if !rail {
				add(id, InputLow, InputHigh)
			}
			add(id, InputOpen)
		}
		if p.Type.Package != "gate" {
			add(id, JointOpen)
		}
	}
	if len(p.Drivers) > 0 && p.Type.Package != "gate" {
		add(pi, PartDead, NoSupply, PartErratic)
	}
	for _, l := range p.Links {
		switch c.Links[l].Kind {
		case circuit.Joint, circuit.Switch:
		case circuit.Faint, circuit.FaintBoth:
			add(c.Links[l].Lamp, SegmentDark)
			if len(p.Lamps) == 1 {
				add(l, Short)
			}
		case circuit.Contact1, circuit.Closed, circuit.RelayContact:
			add(l, Open, Short)
		default:
			add(l, Open, Short, Value)
		}
	}
	return fs
}

// bridges lists pairs of nets whose copper runs close: neighbouring pins of one part, and what the board declares near.
func bridges(c *circuit.Circuit) []Fault {
	seen := map[[2]int]bool{}
	var fs []Fault
	add := func(a, b int) {
		na, nb := c.Nets[a], c.Nets[b]
		k := [2]int{min(a, b), max(a, b)}
		if a == b || na.Rail || nb.Rail || na.Hidden || nb.Hidden || seen[k] {
			return
		}
		seen[k] = true
		fs = append(fs, Fault{Bridge, k[0], k[1]})
	}
	for _, n := range c.Near {
		add(n[0], n[1])
	}
	for _, p := range c.Parts {
		half := 0
		if strings.HasPrefix(p.Type.Package, "DIP") {
			half = len(p.Type.Pins) / 2
		}
		if len(p.Type.Pins) < 4 || p.Type.Package == "gate" {
			continue
		}
		for i := 1; i < len(p.Pins); i++ {
			a, b := c.Pins[p.Pins[i-1]], c.Pins[p.Pins[i]]
			if b.Number == a.Number+1 && a.Number != half {
				add(a.Net, b.Net)
			}
		}
	}
	slices.SortStableFunc(fs, Compare)
	return fs
}

// IsNear reports whether the board declares the two nets near each other.
func IsNear(c *circuit.Circuit, a, b int) bool {
	_, ok := slices.BinarySearchFunc(c.Near, [2]int{min(a, b), max(a, b)}, func(x, y [2]int) int { return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1])) })
	return ok
}
