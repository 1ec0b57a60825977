package analog

import (
	"fmt"
	"math"
	"math/rand/v2"

	"halfsplit/internal/core/board"
)

// This file draws analogue boards at random, as they are found in old instruments: chains of amplifier stages, followers, dividers, references and
// comparators between two rails. They serve drills only.

type generator struct {
	b    *board.Board
	rng  *rand.Rand
	nets int
	refs map[string]int
}

// Generate draws a board with about the number of parts asked for.
func Generate(rng *rand.Rand, parts int) *board.Board {
	g := &generator{b: &board.Board{Title: fmt.Sprintf("drawn board, %d parts", parts)}, rng: rng, refs: map[string]int{}}
	g.b.Rails = []board.Rail{{Net: "+12V", Volts: 12}, {Net: "-12V", Volts: -12}, {Net: "GND"}}
	g.b.Analog = &board.Analog{Ground: "GND", Age: 40}
	in := ""
	for len(g.b.Parts) < parts {
		if in == "" || rng.Float64() < 0.15 {
			in = g.source()
		}
		switch rng.IntN(8) {
		case 0, 1:
			in = g.inverting(in)
		case 2:
			in = g.direct(in)
		case 3:
			in = g.follower(in)
		case 4:
			in = g.commonEmitter(in)
		case 5:
			in = g.divider(in)
		case 6:
			g.comparator(in)
		case 7:
			in = g.slider(in)
		}
	}
	return g.b
}

func (g *generator) net() string {
	g.nets++
	return fmt.Sprintf("N%d", g.nets)
}

func (g *generator) part(letter, typ string, value float64, nets ...string) {
	g.refs[letter]++
	p := board.Part{Ref: fmt.Sprintf("%s%d", letter, g.refs[letter]), Type: typ, Listed: true, Value: value, HasValue: value > 0}
	for _, n := range nets {
		p.Pins = append(p.Pins, board.Pin{Net: n})
	}
	g.b.Parts = append(g.b.Parts, p)
}

// value is one of the E12 series (IEC 60063) between two bounds.
func (g *generator) value(low, high float64) float64 {
	series := []float64{1, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2}
	decades := math.Log10(high / low)
	x := low * math.Pow(10, math.Floor(g.rng.Float64()*decades))
	return x * series[g.rng.IntN(len(series))]
}

// source begins a chain: a reference from a Zener diode, a divider from a rail, or a regulator.
func (g *generator) source() string {
	n := g.net()
	switch g.rng.IntN(3) {
	case 0:
		g.part("R", "resistor", 1e3, "+12V", n)
		g.part("ZD", "zener", 5.1, "GND", n)
		g.part("C", "electrolytic", 10e-6, n, "GND")
	case 1:
		g.part("R", "resistor", g.value(10e3, 100e3), "+12V", n)
		g.part("R", "resistor", g.value(1e3, 10e3), n, "GND")
	default:
		g.refs["U"]++
		g.b.Parts = append(g.b.Parts, board.Part{Ref: fmt.Sprintf("U%d", g.refs["U"]), Type: "78L05",
			Pins: []board.Pin{{Pin: "IN", Net: "+12V"}, {Pin: "GND", Net: "GND"}, {Pin: "OUT", Net: n}}})
		g.part("C", "tantalum", 10e-6, n, "GND")
		g.part("R", "resistor", 1e3, n, "GND")
	}
	return n
}

func (g *generator) opamp(plus, minus, out string) {
	g.refs["U"]++
	g.b.Parts = append(g.b.Parts, board.Part{Ref: fmt.Sprintf("U%d", g.refs["U"]), Type: "TL071", Pins: []board.Pin{{Pin: "IN+", Net: plus}, {Pin: "IN-", Net: minus},
		{Pin: "OUT", Net: out}, {Pin: "VCC", Net: "+12V"}, {Pin: "VEE", Net: "-12V"}, {Pin: "OFF1", Net: "-"}, {Pin: "OFF2", Net: "-"}}})
}

func (g *generator) inverting(in string) string {
	sum, out := g.net(), g.net()
	r := g.value(10e3, 100e3)
	g.part("R", "resistor", r, in, sum)
	g.part("R", "resistor", r*(0.4+0.8*g.rng.Float64()), sum, out)
	g.opamp("GND", sum, out)
	if g.rng.IntN(2) == 0 {
		g.part("C", "capacitor", 100e-12, sum, out)
	}
	return out
}

func (g *generator) direct(in string) string {
	out := g.net()
	g.opamp(in, out, out)
	return out
}

func (g *generator) follower(in string) string {
	base, out := g.net(), g.net()
	g.part("R", "resistor", 4.7e3, in, base)
	g.part("Q", "npn", 0, base, "+12V", out) // B C E
	g.part("R", "resistor", g.value(4.7e3, 10e3), out, "-12V")
	return out
}

func (g *generator) commonEmitter(in string) string {
	base, e, c := g.net(), g.net(), g.net()
	g.part("R", "resistor", 10e3, in, base)
	g.part("Q", "npn", 0, base, c, e)
	g.part("R", "resistor", 4.7e3, e, "-12V")
	g.part("R", "resistor", 2.2e3, "+12V", c)
	return c
}

func (g *generator) divider(in string) string {
	out := g.net()
	g.part("R", "resistor", g.value(10e3, 30e3), in, out)
	g.part("R", "resistor", g.value(10e3, 100e3), out, "GND")
	if g.rng.IntN(2) == 0 {
		g.part("C", "electrolytic", 4.7e-6, out, "GND")
	}
	return out
}

func (g *generator) comparator(in string) {
	ref, out, led := g.net(), g.net(), g.net()
	g.part("R", "resistor", 22e3, "+12V", ref)
	g.part("R", "resistor", 4.7e3, ref, "GND")
	g.refs["U"]++
	g.b.Parts = append(g.b.Parts, board.Part{Ref: fmt.Sprintf("U%d", g.refs["U"]), Type: "LM393", Pins: []board.Pin{{Pin: "1IN+", Net: in}, {Pin: "1IN-", Net: ref},
		{Pin: "1OUT", Net: out}, {Pin: "VCC", Net: "+12V"}, {Pin: "GND", Net: "-12V"}, {Pin: "2IN+", Net: "GND"}, {Pin: "2IN-", Net: "GND"}, {Pin: "2OUT", Net: "-"}}})
	g.part("R", "resistor", 2.2e3, "+12V", out)
	g.part("R", "resistor", 2.2e3, out, led)
	g.part("LD", "led", 0, led, "GND")
}

func (g *generator) slider(in string) string {
	out := g.net()
	g.part("RV", "slider", 10e3, in, out, "GND")
	return out
}
