package app

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

// What a board with an analogue half knows of its supply: the winding behind a reservoir, what is drawn from it, the regulator on it.

// reservoir is a capacitor between ground and a net that a rectifier fills.
type reservoir struct {
	part    circuit.Part
	raw     int           // net
	winding *board.Source // nil when none is found
	bridge  bool
	diodes  int // in series in the charging path
	current float64
	loads   []string
	output  float64 // volts of the regulator on it, 0 without
	reg     string
}

// groundNet is the net that the board's voltages are against, or circuit.None.
func groundNet(c *circuit.Circuit) int {
	names := []string{"GND", "0V", "AGND"}
	if a := c.Board.Analog; a != nil && a.Ground != "" {
		names = []string{a.Ground}
	}
	for _, name := range names {
		if n, ok := c.Net(name); ok {
			return n
		}
	}
	return circuit.None
}

// reservoirAt finds the reservoir that is meant: the capacitor itself, the regulator behind it, or the net.
func reservoirAt(c *circuit.Circuit, at string) (reservoir, error) {
	ground := groundNet(c)
	var p circuit.Part
	net := circuit.None
	if n, ok := c.Net(at); ok {
		net = n
	} else {
		var err error
		if p, err = partAt(c, at); err != nil {
			return reservoir{}, err
		}
		if in := pinNet(c, p, "IN"); isRegulator(p) && in != circuit.None {
			net = in
		}
	}
	if net != circuit.None { // the largest capacitor from it to ground
		for _, q := range others(c, net, "") {
			a, b, err := twoEnds(c, q)
			if isCapacitor(q) && err == nil && (a == ground || b == ground) && (p.Type == nil || !isCapacitor(p) || q.Src.Value > p.Src.Value) {
				p = q
			}
		}
	}
	if p.Type == nil || !isCapacitor(p) {
		return reservoir{}, fmt.Errorf("no capacitor from %s to ground on this board; name the reservoir, such as C1", at)
	}
	a, b, err := twoEnds(c, p)
	if err != nil {
		return reservoir{}, err
	}
	r := reservoir{part: p, raw: a}
	if a == ground {
		r.raw = b
	}
	r.feed(c, ground)
	r.draw(c)
	return r, nil
}

// feed looks for the winding: from the reservoir through rectifiers, fuses, switches and chokes.
func (r *reservoir) feed(c *circuit.Circuit, ground int) {
	if c.Board.Analog == nil {
		return
	}
	seen := map[int]bool{r.raw: true}
	queue := []int{r.raw}
	for len(queue) > 0 && r.winding == nil {
		net := queue[0]
		queue = queue[1:]
		for i := range c.Board.Analog.Sources {
			s := &c.Board.Analog.Sources[i]
			if name := c.NetName(net); s.Kind == board.Mains && (s.Plus == name || s.Minus == name) && r.winding == nil {
				r.winding = s
			}
		}
		for _, p := range others(c, net, "") {
			kind := p.Type.Prior
			isBridge := p.Type.Name == "bridge-rectifier"
			if !isBridge && !slices.Contains([]string{"diode", "fuse", "switch", "inductor", "jumper"}, kind) {
				continue
			}
			r.bridge = r.bridge || isBridge
			for _, q := range p.Pins {
				if n := c.Pins[q].Net; n != circuit.None && n != ground && !seen[n] {
					seen[n] = true
					queue = append(queue, n)
				}
			}
		}
	}
	if r.winding == nil {
		return
	}
	r.diodes = 1
	if g := c.NetName(ground); r.bridge && r.winding.Plus != g && r.winding.Minus != g {
		r.diodes = 2
	}
}

// draw adds up what is drawn from the reservoir: its own loads, and those behind its regulator.
func (r *reservoir) draw(c *circuit.Circuit) {
	r.take(c, r.raw, 0)
	for _, p := range others(c, r.raw, "") {
		if isRegulator(p) && pinNet(c, p, "IN") == r.raw && r.reg == "" {
			r.reg, r.output = p.Ref, fixedVolts(p)
			if out := pinNet(c, p, "OUT"); out != circuit.None {
				r.take(c, out, r.output)
			}
		}
	}
}

// take adds the loads on a net and on what tracks and links join it with.
func (r *reservoir) take(c *circuit.Circuit, net int, volts float64) {
	if c.Board.Analog == nil {
		return
	}
	seen := map[int]bool{net: true}
	queue := []int{net}
	for len(queue) > 0 {
		n := queue[0]
		queue = queue[1:]
		for _, s := range c.Board.Analog.Sources {
			if name := c.NetName(n); s.Kind == board.Load && (s.Plus == name || s.Minus == name) {
				switch {
				case s.Amperes != 0:
					r.current += math.Abs(s.Amperes)
				case s.Ohms > 0 && volts != 0:
					r.current += math.Abs(volts) / s.Ohms
				default:
					continue
				}
				r.loads = append(r.loads, s.Name)
			}
		}
		for _, p := range others(c, n, "") {
			if p.Type.Name != "jumper" {
				continue
			}
			for _, q := range p.Pins {
				if m := c.Pins[q].Net; m != circuit.None && !seen[m] {
					seen[m] = true
					queue = append(queue, m)
				}
			}
		}
	}
}

func isRegulator(p circuit.Part) bool { return p.Type.Prior == "regulator" || fixedVolts(p) != 0 }

var fixedType = regexp.MustCompile(`^[A-Z]*7[89][LM]?(\d\d)`)

// fixedVolts is what a fixed regulator holds, by the figures of its type; 0 for another part.
func fixedVolts(p circuit.Part) float64 {
	if m := fixedType.FindStringSubmatch(p.Src.Type); m != nil {
		v, err := strconv.ParseFloat(m[1], 64)
		if err == nil {
			return v
		}
	}
	return 0
}

// pinNet is the net of a part's pin by name, or circuit.None.
func pinNet(c *circuit.Circuit, p circuit.Part, name string) int {
	for _, q := range p.Pins {
		if p.Type.Nodes[c.Pins[q].Node].Name == name {
			return c.Pins[q].Net
		}
	}
	return circuit.None
}

// fillRipple takes a reservoir's value, and on a board with an analogue half its winding, its load and the diodes in its charging path.
func fillRipple(c *circuit.Circuit, at string) ([]Taken, error) {
	r, err := reservoirAt(c, at)
	if err != nil {
		return nil, err
	}
	v, err := valued(r.part)
	if err != nil {
		return nil, err
	}
	out := []Taken{{"capacitance", v, isWorth(r.part)}}
	if w := r.winding; w != nil {
		out = append(out, Taken{"secondary", plainNumber(w.Volts), fmt.Sprintf("winding %s gives %g V", w.Name, w.Volts)},
			Taken{"drop", strconv.Itoa(r.diodes), fmt.Sprintf("%d of its diodes conduct at a time", r.diodes)})
		if w.Frequency > 0 {
			out = append(out, Taken{"frequency", plainNumber(w.Frequency), fmt.Sprintf("%g Hz", w.Frequency)})
		}
	}
	if r.current > 0 {
		out = append(out, Taken{"current", plainNumber(round(r.current, 4)), fmt.Sprintf("%s: %.3g A in all", strings.Join(r.loads, ", "), r.current)})
	}
	return out, nil
}

// fillReservoir is fillRipple without the value, which is wanted.
func fillReservoir(c *circuit.Circuit, at string) ([]Taken, error) {
	out, err := fillRipple(c, at)
	return slices.DeleteFunc(out, func(t Taken) bool { return t.Name == "capacitance" }), err
}

// fillRegulator is fillRipple with what the regulator behind the reservoir holds.
func fillRegulator(c *circuit.Circuit, at string) ([]Taken, error) {
	out, err := fillRipple(c, at)
	if err != nil {
		return nil, err
	}
	if r, err := reservoirAt(c, at); err == nil && r.output != 0 {
		out = append(out, Taken{"output", plainNumber(r.output), fmt.Sprintf("%s holds %g V", r.reg, r.output)})
	}
	return out, nil
}

// fillDischarge takes a capacitor with the volts across it: between two rails, or the peak of the winding that fills it.
func fillDischarge(c *circuit.Circuit, at string) ([]Taken, error) {
	out, err := fillCapacitor(c, at)
	if err != nil {
		return nil, err
	}
	p, _ := partAt(c, at)
	if a, b, err := twoEnds(c, p); err == nil && c.Nets[a].Rail && c.Nets[b].Rail {
		if v := c.Nets[a].Volts - c.Nets[b].Volts; v != 0 {
			return append(out, Taken{"voltage", plainNumber(max(v, -v)), fmt.Sprintf("between %s and %s", c.Nets[a].Name, c.Nets[b].Name)}), nil
		}
	}
	if r, err := reservoirAt(c, at); err == nil && r.winding != nil {
		v := round(r.winding.Volts*math.Sqrt2*1.1, 1)
		out = append(out, Taken{"voltage", plainNumber(v), fmt.Sprintf("the peak of winding %s, 10 %% of high mains on top", r.winding.Name)})
	}
	return out, nil
}

// SupplyCalc is a calculator that a board's supply fills.
type SupplyCalc struct{ Name, At, Text string }

// SupplyCalcs are the calculators for the reservoirs and regulators of a board, in the order of its parts.
func SupplyCalcs(c *circuit.Circuit) []SupplyCalc {
	if c == nil || c.Board.Analog == nil {
		return nil
	}
	var out []SupplyCalc
	for i := range c.Parts {
		p := &c.Parts[i]
		if !isCapacitor(*p) {
			continue
		}
		r, err := reservoirAt(c, p.Ref)
		if err != nil || r.winding == nil || p.Src.Value < 100e-6 {
			continue
		}
		out = append(out, SupplyCalc{"ripple", p.Ref, "Ripple on " + p.Ref})
		if r.reg != "" {
			out = append(out, SupplyCalc{"regulator", r.reg, "Headroom of " + r.reg})
		}
		out = append(out, SupplyCalc{"discharge", p.Ref, "Discharge of " + p.Ref})
	}
	return out
}
