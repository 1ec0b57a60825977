package bench

import "fmt"

// The further blocks of a section.

// interrupt pulls lines that all sections share, through open collectors.
func (s *section) interrupt() {
	if s.chip("74LS38", "1A="+s.net("F0"), "1B="+s.control[3], "1Y=/INT", "2A="+s.net("F2"), "2B="+s.control[3], "2Y=/INT",
		"3A="+s.any(), "3B="+s.any(), "3Y=/BUSY", "4A="+s.any(), "4B=VCC", "4Y="+s.low("ACK")) {
		if s.n == 0 {
			s.l.resistor(2200, "VCC", "/INT")
			s.l.resistor(2200, "VCC", "/BUSY")
			s.l.lamp("/BUSY")
		}
		s.l.resistor(4700, "VCC", s.low("ACK"))
		s.known("/INT", "/BUSY", s.low("ACK"))
	}
}

// upDown counts the bus clock, or loads from the bus at port 2.
func (s *section) upDown() {
	q := s.many("U", 4)
	inv := s.many("I", 6)
	if !s.chip("74LS04", "1A="+s.bus.reset, "1Y="+inv[0], "2A="+s.bus.clk, "2Y="+inv[1], "3A="+s.any(), "3Y="+inv[2], "4A="+s.any(), "4Y="+inv[3],
		"5A="+s.any(), "5Y="+inv[4], "6A=GND", "6Y="+inv[5]) {
		return
	}
	s.known(inv...)
	if s.chip("74LS193", append(pins([]string{"QA", "QB", "QC", "QD"}, q), "UP="+s.bus.clk, "DOWN=VCC", "CLR="+inv[0], "/LOAD="+s.low("W2"),
		"A="+s.data(0), "B="+s.data(1), "C="+s.data(2), "D="+s.data(3), "/CO="+s.low("CO"), "/BO="+s.low("BO"))...) {
		s.writes = append(s.writes, 2)
		s.known(append(q, s.low("CO"))...)
	}
}

func (s *section) ripple() {
	q := s.many("P", 8)
	if s.chip("74LS393", append(pins([]string{"1QA", "1QB", "1QC", "1QD", "2QA", "2QB", "2QC", "2QD"}, q), "1CLK="+s.net("U0"), "1CLR="+s.net("I0"),
		"2CLK="+q[3], "2CLR="+s.net("I0"))...) {
		s.known(q...)
	}
}

// choose puts one of eight signals, and one of four twice, on a net.
func (s *section) choose() {
	y := s.many("Y", 2)
	p := []string{"Y=" + y[0], "W=" + y[1], "/G=GND", "A=" + s.control[5], "B=" + s.control[6], "C=" + s.control[7]}
	for i, net := range s.show(8) {
		p = append(p, fmt.Sprintf("D%d=%s", i, net))
	}
	if s.chip(s.l.of("74LS151", "74151"), p...) {
		s.known(y...)
	}
}

// pipeline keeps eight signals for a clock.
func (s *section) pipeline() {
	q := s.many("T", 8)
	p := append(pins(numbered("%dQ", 1, 8), q), "CLK="+s.bus.clk, "/OC=GND")
	for i := range 8 {
		p = append(p, fmt.Sprintf("%dD=%s", i+1, s.any()))
	}
	if s.chip(s.l.of("74LS374", "74S374"), p...) {
		s.known(q...)
	}
}

// hold is a latch that follows while the clock is high and answers at the next read port.
func (s *section) hold() {
	if s.l.left == 0 {
		return
	}
	port := len(s.reads)
	p := []string{"C=" + s.bus.clk, "/OC=" + s.low(fmt.Sprint("R", port))}
	for i, net := range s.show(8) {
		p = append(p, fmt.Sprintf("%dD=%s", i+1, net), fmt.Sprintf("%dQ=%s", i+1, s.data(i)))
	}
	s.chip("74LS373", p...)
	s.reads = append(s.reads, port)
}

func (s *section) add() {
	y := s.many("E", 5)
	if s.chip("74LS283", append(pins([]string{"S1", "S2", "S3", "S4", "C4"}, y), "C0="+s.control[2], "A1="+s.net("U0"), "A2="+s.net("U1"), "A3="+s.net("U2"), "A4="+s.net("U3"),
		"B1="+s.net("P0"), "B2="+s.net("P1"), "B3="+s.net("P2"), "B4="+s.net("P3"))...) {
		s.known(y...)
	}
}

func (s *section) shift() {
	q := s.many("V", 8)
	if s.chip("74LS164", append(pins([]string{"QA", "QB", "QC", "QD", "QE", "QF", "QG", "QH"}, q), "A="+s.any(), "B=VCC", "CLK="+s.bus.clk, "/CLR="+s.bus.reset)...) {
		s.known(q...)
	}
}

// cmos is a slow divider of a CMOS family.
func (s *section) cmos() {
	q := s.many("K", 12)
	if s.chip("4040", append(pins(numbered("Q%d", 1, 12), q), "CLK="+s.bus.clk, "RST="+s.net("I0"))...) {
		s.known(q[:5]...) // the others do not move in so few clocks
	}
}

// bits is an addressable latch at port 5 with its LEDs.
func (s *section) bits() {
	q := s.many("O", 8)
	if s.chip("74LS259", append(pins(numbered("Q%d", 0, 7), q), "S0="+s.data(1), "S1="+s.data(2), "S2="+s.data(3), "D="+s.data(0), "/G="+s.low("W5"), "/CLR="+s.bus.reset)...) {
		s.writes = append(s.writes, 5)
		s.known(q...)
	}
}
