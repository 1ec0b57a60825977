package bench

import (
	"fmt"
	"slices"
)

// A section of an invented board: decoders for its addresses, registers and counters behind them, logic over what they hold, and ways
// to see it: read-back buffers, LEDs, a wired interrupt line.

type section struct {
	l   *layout
	n   int
	bus busNets
	sel string // low when the section is addressed

	writes  []int    // ports that hold something when written
	reads   []int    // ports that answer
	signals []string // nets that carry a known level once the board has been reset
	control []string // outputs of the control register
	unseen  []string // signals that nothing shows yet
	gates   int
}

func (s *section) net(name string) string          { return fmt.Sprintf("S%d%s", s.n, name) }
func (s *section) low(name string) string          { return "/" + s.net(name) }
func (s *section) data(i int) string               { return fmt.Sprint(s.bus.d, i) }
func (s *section) outs(base string) []string       { return s.many(base, 8) }
func (s *section) pick(from []string) string       { return from[s.l.r.IntN(len(from))] }
func (s *section) any() string                     { return s.pick(s.signals) }
func (s *section) chip(t string, p ...string) bool { return s.l.chip(t, p...) }

func (s *section) many(base string, n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = s.net(fmt.Sprint(base, i))
	}
	return out
}

// known makes nets available to what is placed later.
func (s *section) known(nets ...string) {
	s.signals = append(s.signals, nets...)
	s.unseen = append(s.unseen, nets...)
}

// show takes n signals, those first that nothing shows yet.
func (s *section) show(n int) []string {
	var out []string
	for len(out) < n {
		if len(s.unseen) > 0 {
			i := s.l.r.IntN(len(s.unseen))
			out = append(out, s.unseen[i])
			s.unseen = slices.Delete(s.unseen, i, i+1)
			continue
		}
		out = append(out, s.any())
	}
	return out
}

// pins pairs pin names with nets.
func pins(names []string, nets []string) []string {
	var out []string
	for i, n := range names {
		out = append(out, n+"="+nets[i])
	}
	return out
}

func numbered(format string, from, to int) []string {
	var out []string
	for i := from; i <= to; i++ {
		out = append(out, fmt.Sprintf(format, i))
	}
	return out
}

// build places the section as far as the board has room.
func (s *section) build() {
	for _, block := range []func(){s.writeDecoder, s.control273, s.counter, s.readDecoder, s.readBack, s.lamps, s.selector, s.register, s.counterHigh,
		s.compare, s.glue, s.flipFlops, s.interrupt, s.upDown, s.ripple, s.choose, s.pipeline, s.hold, s.add, s.shift, s.cmos, s.bits, s.glue, s.readBack} {
		block()
	}
}

func (s *section) decoder(strobe, base string) {
	p := []string{"A=" + s.bus.a + "0", "B=" + s.bus.a + "1", "C=" + s.bus.a + "2", "/G2A=" + s.sel, "/G2B=" + strobe, "G1=VCC"}
	for y := range 8 {
		p = append(p, fmt.Sprintf("/Y%d=%s", y, s.low(fmt.Sprint(base, y))))
	}
	s.chip(s.l.of("74LS138", "74S138"), p...)
}

func (s *section) writeDecoder() { s.decoder(s.bus.wr, "W") }
func (s *section) readDecoder()  { s.decoder(s.bus.rd, "R") }

// latch273 is an eight-bit register written from the bus at a port.
func (s *section) latch273(port int, base string) []string {
	q := s.outs(base)
	p := append(pins(numbered("%dQ", 1, 8), q), "CLK="+s.low(fmt.Sprint("W", port)), "/CLR="+s.bus.reset)
	for i := range 8 {
		p = append(p, fmt.Sprintf("%dD=%s", i+1, s.data(i)))
	}
	if !s.chip(s.l.of("74LS273", "74LS273", "74273"), p...) {
		return nil
	}
	s.writes = append(s.writes, port)
	s.known(q...)
	return q
}

func (s *section) control273() { s.control = s.latch273(0, "C") }
func (s *section) register()   { s.latch273(1, "B") }

// counter counts while control bit 0 is set, and loads while bit 1 is not.
func (s *section) counter() {
	q := s.many("Q", 4)
	if s.control != nil && s.chip(s.l.of("74LS161", "74161", "74LS163"), append(pins([]string{"QA", "QB", "QC", "QD"}, q), "CLK="+s.bus.clk, "/CLR="+s.bus.reset, "/LOAD="+s.control[1],
		"ENP="+s.control[0], "ENT=VCC", "A="+s.control[4], "B="+s.control[5], "C="+s.control[6], "D="+s.control[7], "RCO="+s.net("RC"))...) {
		s.known(append(q, s.net("RC"))...)
	}
}

func (s *section) counterHigh() {
	q := s.many("H", 4)
	if s.chip(s.l.of("74LS161", "74LS163"), append(pins([]string{"QA", "QB", "QC", "QD"}, q), "CLK="+s.bus.clk, "/CLR="+s.bus.reset, "/LOAD="+s.control[1],
		"ENP="+s.control[0], "ENT="+s.net("RC"), "A="+s.net("B4"), "B="+s.net("B5"), "C="+s.net("B6"), "D="+s.net("B7"))...) {
		s.known(q...)
	}
}

// readBack lets eight signals be read at the next free port.
func (s *section) readBack() {
	port := len(s.reads)
	if s.l.left == 0 {
		return
	}
	enable := s.low(fmt.Sprint("R", port))
	p := []string{"/1G=" + enable, "/2G=" + enable}
	for i, net := range s.show(8) {
		p = append(p, fmt.Sprintf("%dA%d=%s", 1+i/4, 1+i%4, net), fmt.Sprintf("%dY%d=%s", 1+i/4, 1+i%4, s.data(i)))
	}
	s.chip(s.l.of("74LS244", "74LS244", "74LS240"), p...)
	s.reads = append(s.reads, port)
}

// lamps drives six LEDs.
func (s *section) lamps() {
	p := []string{}
	outs := s.many("L", 6)
	for i, net := range s.show(6) {
		p = append(p, fmt.Sprintf("%dA=%s", i+1, net), fmt.Sprintf("%dY=%s", i+1, outs[i]))
	}
	if s.chip(s.l.of("7406", "7407", "74LS05"), p...) {
		for _, o := range outs {
			s.l.lamp(o)
		}
	}
}

// selector chooses between the counter and the register.
func (s *section) selector() {
	y := s.many("M", 4)
	if s.chip("74LS157", append(pins([]string{"1Y", "2Y", "3Y", "4Y"}, y), "SEL="+s.control[2], "/G=GND", "1A="+s.net("Q0"), "2A="+s.net("Q1"), "3A="+s.net("Q2"), "4A="+s.net("Q3"),
		"1B="+s.control[4], "2B="+s.control[5], "3B="+s.control[6], "4B="+s.control[7])...) {
		s.known(y...)
	}
}

func (s *section) compare() {
	o := s.many("X", 3)
	if s.chip("74LS85", append(pins([]string{"AGTB", "AEQB", "ALTB"}, o), "IALTB=GND", "IAEQB=VCC", "IAGTB=GND", "A0="+s.net("M0"), "A1="+s.net("M1"), "A2="+s.net("M2"), "A3="+s.net("M3"),
		"B0="+s.net("B0"), "B1="+s.net("B1"), "B2="+s.net("B2"), "B3="+s.net("B3"))...) {
		s.known(o...)
	}
}

// glue is a package of gates over what the section knows so far.
func (s *section) glue() {
	s.gates++
	switch s.l.r.IntN(3) {
	case 0:
		y := s.many(fmt.Sprint("N", s.gates, "_"), 6)
		p := pins([]string{"1Y", "2Y", "3Y", "4Y", "5Y", "6Y"}, y)
		for i := range 6 {
			p = append(p, fmt.Sprintf("%dA=%s", i+1, s.any()))
		}
		if s.chip(s.l.of("74LS04", "7404", "74LS14"), p...) {
			s.known(y...)
		}
	case 1:
		y := s.many(fmt.Sprint("N", s.gates, "_"), 3)
		p := pins([]string{"1Y", "2Y", "3Y"}, y)
		for i := range 3 {
			p = append(p, fmt.Sprintf("%dA=%s", i+1, s.any()), fmt.Sprintf("%dB=%s", i+1, s.any()), fmt.Sprintf("%dC=%s", i+1, s.any()))
		}
		if s.chip(s.l.of("74LS10", "7410", "74LS27"), p...) {
			s.known(y...)
		}
	default:
		y := s.many(fmt.Sprint("N", s.gates, "_"), 4)
		p := pins([]string{"1Y", "2Y", "3Y", "4Y"}, y)
		for i := range 4 {
			p = append(p, fmt.Sprintf("%dA=%s", i+1, s.any()), fmt.Sprintf("%dB=%s", i+1, s.any()))
		}
		if s.chip(s.l.of("74LS00", "7400", "74LS02", "74LS08", "7408", "74LS32", "74LS86"), p...) {
			s.known(y...)
		}
	}
}

// flipFlops synchronises a signal and delays it by a clock.
func (s *section) flipFlops() {
	q := s.many("F", 3)
	if s.chip(s.l.of("74LS74", "7474"), "1D="+s.any(), "1CLK="+s.bus.clk, "/1CLR="+s.bus.reset, "/1PRE=VCC", "1Q="+q[0], "/1Q="+q[1],
		"2D="+q[0], "2CLK="+s.bus.clk, "/2CLR="+s.bus.reset, "/2PRE=VCC", "2Q="+q[2]) {
		s.known(q...)
	}
}
