// Package bench invents boards of any size and cases on them, and measures what the engine needs for them: time, memory, growth
// with the board, the log and the number of faults, and speed against a Verilog simulator that takes the faults one after another.
//
// The boards stand for what was built of TTL and CMOS parts around 1980: a bus from outside, address decoders, registers, counters,
// selectors, read-back buffers, indicators. They are no machine's.
package bench

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"halfsplit/internal/core/board"
)

// MinPackages is the smallest board that Generate makes.
const MinPackages = 5

// perSection is how many packages a section of the board has when it is complete.
const perSection = 24

// perGroup is how many sections share the drivers of a buffered bus.
const perGroup = 4

// Generate invents a board of so many packages (chips; resistors and LEDs come on top). Equal arguments give equal boards. Fewer
// packages than MinPackages count as MinPackages.
func Generate(seed uint64, packages int) *board.Board {
	packages = max(packages, MinPackages)
	l := &layout{r: rand.New(rand.NewPCG(seed, uint64(packages))), left: packages, b: &board.Board{
		Title: fmt.Sprintf("Invented board %d of %d packages", seed, packages),
		Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND", Volts: 0}},
	}}
	l.outside()
	l.sections(packages)
	l.bridges()
	l.actions()
	return l.b
}

// layout is a board in the making.
type layout struct {
	r     *rand.Rand
	b     *board.Board
	left  int // packages still to be placed
	chips int
	loose map[string]int // resistors and LEDs so far, by letter
	made  []*section
}

// outside names the lines that come from outside.
func (l *layout) outside() {
	l.bus("A", "A", 9)
	l.bus("D", "D", 8)
	for _, n := range []string{"/WR", "/RD", "CLK", "/RESET"} {
		l.b.Inputs = append(l.b.Inputs, board.Name{Text: n})
	}
}

func (l *layout) bus(name, prefix string, n int) {
	bus := board.Bus{Name: name}
	for i := n - 1; i >= 0; i-- {
		net := fmt.Sprint(prefix, i)
		bus.Nets = append(bus.Nets, board.Name{Text: net})
		l.b.Inputs = append(l.b.Inputs, board.Name{Text: net})
	}
	l.b.Buses = append(l.b.Buses, bus)
}

// chip places a package; pins are written NAME=NET. It returns false when the board is full: then nothing was placed.
func (l *layout) chip(typ string, pins ...string) bool {
	if l.left == 0 {
		return false
	}
	l.left--
	l.chips++
	p := board.Part{Ref: fmt.Sprint("U", l.chips), Type: typ}
	for _, w := range pins {
		pin, net, _ := strings.Cut(w, "=")
		p.Pins = append(p.Pins, board.Pin{Pin: pin, Net: net})
	}
	l.b.Parts = append(l.b.Parts, p)
	return true
}

func (l *layout) resistor(ohms float64, a, b string) {
	l.two("R", board.Part{Type: "resistor", Value: ohms, HasValue: true}, a, b)
}

// lamp hangs an LED with its resistor from the supply to an output that sinks.
func (l *layout) lamp(sink string) {
	anode := fmt.Sprint("LED", l.loose["DS"]+1)
	l.resistor(330, "VCC", anode)
	l.two("DS", board.Part{Type: "led"}, anode, sink)
}

func (l *layout) two(letter string, p board.Part, a, b string) {
	if l.loose == nil {
		l.loose = map[string]int{}
	}
	l.loose[letter]++
	p.Ref, p.Listed = fmt.Sprint(letter, l.loose[letter]), true
	p.Pins = []board.Pin{{Net: a}, {Net: b}}
	l.b.Parts = append(l.b.Parts, p)
}

// sections fills the board section by section. Boards of more than one section get a select decoder for every eight, and a buffered bus
// for every group of four.
func (l *layout) sections(packages int) {
	n := (packages + perSection - 1) / perSection
	for i := 0; l.left > 0; i++ {
		s := &section{l: l, n: i, sel: "GND", bus: busNets{a: "A", d: "D", wr: "/WR", rd: "/RD", clk: "CLK", reset: "/RESET"}}
		if n > 1 {
			if i%8 == 0 && !l.selects(i/8, n) || i%perGroup == 0 && !l.group(i/perGroup, n) {
				return
			}
			s.sel = fmt.Sprint("/SEL", i)
			s.bus = groupBus(i / perGroup)
		}
		s.build()
		l.made = append(l.made, s)
	}
}

// selects places the decoder of eight sections; where there are more than eight, address lines above choose among such decoders.
func (l *layout) selects(k, sections int) bool {
	enable := "GND"
	if sections > 8 {
		if k == 0 && !l.chip("74LS139", "1A=A6", "1B=A7", "/1G=A8", "/1Y0=/ROW0", "/1Y1=/ROW1", "/1Y2=/ROW2", "/1Y3=/ROW3", "2A=GND", "2B=GND", "/2G=VCC") {
			return false
		}
		enable = fmt.Sprint("/ROW", k)
	}
	pins := []string{"A=A3", "B=A4", "C=A5", "G1=VCC", "/G2A=GND", "/G2B=" + enable}
	for y := range 8 {
		if s := 8*k + y; s < sections {
			pins = append(pins, fmt.Sprintf("/Y%d=/SEL%d", y, s))
		}
	}
	return l.chip("74LS138", pins...)
}

// busNets are the names of the bus that a section hangs on.
type busNets struct{ a, d, wr, rd, clk, reset string }

func groupBus(g int) busNets {
	p := fmt.Sprintf("G%d", g)
	return busNets{a: p + "A", d: p + "D", wr: "/" + p + "WR", rd: "/" + p + "RD", clk: p + "CLK", reset: "/" + p + "RES"}
}

// group places the drivers of a buffered bus: one for address and control, one both ways for data, with pull-ups. Where there are several
// groups, a gate lets only the one with the selected section talk on the data bus.
func (l *layout) group(g, sections int) bool {
	b := groupBus(g)
	if !l.chip(l.of("74LS244", "74S244"), "/1G=GND", "1A1=A0", "1Y1="+b.a+"0", "1A2=A1", "1Y2="+b.a+"1", "1A3=A2", "1Y3="+b.a+"2", "1A4=CLK", "1Y4="+b.clk,
		"/2G=GND", "2A1=/WR", "2Y1="+b.wr, "2A2=/RD", "2Y2="+b.rd, "2A3=/RESET", "2Y3="+b.reset, "2A4=GND") {
		return false
	}
	enable := "GND"
	if sections > perGroup {
		enable = fmt.Sprintf("/G%dEN", g)
		pins := []string{"1Y=G" + fmt.Sprint(g) + "SEL", "2A=G" + fmt.Sprint(g) + "SEL", "2B=VCC", "2C=VCC", "2D=VCC", "2Y=" + enable}
		for k, pin := range []string{"1A", "1B", "1C", "1D"} {
			net := "VCC"
			if s := g*perGroup + k; s < sections {
				net = fmt.Sprint("/SEL", s)
			}
			pins = append(pins, pin+"="+net)
		}
		if !l.chip("74LS20", pins...) {
			return false
		}
	}
	pins := []string{"DIR=/RD", "/OE=" + enable}
	for i := range 8 {
		pins = append(pins, fmt.Sprintf("A%d=D%d", i+1, i), fmt.Sprintf("B%d=%s%d", i+1, b.d, i))
	}
	if !l.chip("74LS245", pins...) {
		return false
	}
	for i := range 8 {
		l.resistor(4700, "VCC", fmt.Sprint(b.d, i))
	}
	return true
}

// of picks one of several makes.
func (l *layout) of(types ...string) string { return types[l.r.IntN(len(types))] }

// bridges declares neighbouring lines of the buses near each other, and some pairs of other nets.
func (l *layout) bridges() {
	var nets []string
	seen := map[string]bool{"VCC": true, "GND": true}
	for _, p := range l.b.Parts {
		for _, w := range p.Pins {
			if !seen[w.Net] {
				seen[w.Net] = true
				nets = append(nets, w.Net)
			}
		}
	}
	near := func(a, b string) {
		if a != b {
			l.b.Near = append(l.b.Near, [2]board.Name{{Text: a}, {Text: b}})
		}
	}
	for i, n := range nets { // copper runs beside that of the parts placed next
		near(n, nets[min(i+1, len(nets)-1)])
		for from := 3; from <= 12; from += 9 {
			if i+from+9 < len(nets) {
				near(n, nets[i+from+l.r.IntN(9)])
			}
		}
	}
}
