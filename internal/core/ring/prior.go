package ring

// How likely two pins are joined, before anything was rung. All odds here are from memory of boards of the TTL and early micro era, not
// from a published source: they only order the questions, no answer rests on them.

import (
	"regexp"
	"strconv"
	"strings"

	"halfsplit/internal/core/part"
)

// kind is what a pin is for, as far as its name and direction tell.
type kind uint8

const (
	passive kind = iota
	rail
	supply
	address
	data
	latched // a data pin of a latch, buffer or transceiver: one of the bus, not known which
	enable
	decoded // an output of a decoder
	control // a strobe or reset of a processor or peripheral
	input
	output
	shared // an output that lets go
)

// never marks a pair that can hardly be joined.
const never Stage = -1

// The odds.
const (
	oddsSupply  = 0.98 // a supply pin and the rail of its voltage
	oddsBus     = 0.85 // lines of one name between processor, memories and peripherals
	oddsCrossed = 0.02 // lines of one bus with different numbers (data lines of a memory are sometimes swapped)
	oddsLatch   = 0.6  // a latch or buffer hangs on the bus at all; spread over its lines
	oddsName    = 0.5  // strobes and resets of one name
	oddsEnable  = 0.7  // an enable comes from a decoder; spread over the decoders' outputs
	oddsInput   = 0.8  // an input comes from an output; spread over the outputs
	oddsTied    = 0.08 // an input is tied to a rail
	oddsPull    = 0.3  // one end of a resistor or capacitor is on a given rail
	oddsHardly  = 0.002
)

// weight is how many answers the odds of a bus between two parts count for.
const weight = 2

// tallyKey is a bus between two parts; the smaller index first.
type tallyKey struct {
	a, b int
	bus  string
}

var (
	busName   = regexp.MustCompile(`^(A|D|AD|DB|AB|DQ|I/O|IO)([0-9]{1,2})$`)
	latchName = regexp.MustCompile(`^([0-9]?[ABDQY][0-9]{0,2}|[0-9]{1,2}[ABDQY][0-9]?)$`)
	// functions of the 74 line that stand between a bus and the rest
	busDrivers = regexp.MustCompile(`^74x(24[0-5]|24[1-4]|37[3-47]|273|374|377|373|57[34]|54[01]|64[0-5]|36[5-8]|574|573|646)$`)
	decoders   = regexp.MustCompile(`^74x(13[789]|154|155|156|42)$`)
	enables    = regexp.MustCompile(`^/?(CS[0-9]?|CE[0-9]?|G[0-9]?[AB]?|[0-9]G|E[0-9]?|S[0-9]|OE)$`)
	strobes    = regexp.MustCompile(`^/?(RD|WR|WE|OE|MREQ|IORQ|M1|RESET|RES|RST|INT|IRQ|NMI|CLK|PHI|PHI[0-9]|RW|R_W|RFSH|WAIT|HALT|E|VMA)$`)
)

// classify says what a pin is for.
func (e *end) classify(m part.Match, n part.Node) {
	name := m.Type.Name
	wide := m.Type.Prior == "memory" || m.Type.Prior == "cpu" || m.Type.Prior == "lsi" || m.Type.Opaque
	both := n.Use&part.Heard != 0 && n.Use&part.Driven != 0
	switch {
	case n.Supply:
		e.kind = supply
		switch {
		case n.HasV:
			e.volts, e.hasVolts = n.Volts, true
		case n.Name == "GND" || n.Name == "VSS":
			e.hasVolts = true
		case n.Name == "VCC" || n.Name == "VDD":
			e.volts, e.hasVolts = 5, true
		}
	case wide && busName.MatchString(n.Name):
		g := busName.FindStringSubmatch(n.Name)
		e.bus, e.kind = "D", data
		if g[1] == "A" || g[1] == "AB" {
			e.bus, e.kind = "A", address
		}
		e.bit, _ = strconv.Atoi(g[2])
	case n.Use&(part.Heard|part.Driven) == 0:
		e.kind = passive
	case busDrivers.MatchString(name) && latchName.MatchString(n.Name):
		e.kind = latched
	case decoders.MatchString(name) && n.Use&part.Driven != 0:
		e.kind = decoded
	case wide && (strobes.MatchString(n.Name)) && !enables.MatchString(n.Name):
		e.kind = control
	case n.Use&part.Driven == 0 && enables.MatchString(n.Name):
		e.kind = enable
	case both:
		e.kind = shared
	case n.Use&part.Driven != 0:
		e.kind = output
	default:
		e.kind = input
	}
}

// odds gives the stage at which two ends are asked and how likely they are joined.
func (s *Session) odds(a, b *end) (Stage, float64, string) {
	if a.kind > b.kind {
		a, b = b, a
	}
	if a.part >= 0 && a.part == b.part {
		return s.samePart(a, b)
	}
	switch {
	case a.kind == rail:
		return toRail(a, b)
	case b.kind == rail: // a is passive: the only kind before
		return Glue, oddsPull, "one end of a resistor or capacitor is often on a rail"
	case a.kind == supply && b.kind == supply && a.hasVolts && b.hasVolts && a.volts == b.volts:
		if s.rails > 0 {
			return Glue, oddsSupply, "supply pins of the same voltage"
		}
		return Rails, oddsSupply, "supply pins of the same voltage"
	case a.kind == supply || b.kind == supply:
		return never, oddsHardly, ""
	case a.bus != "" && a.bus == b.bus:
		if a.bit != b.bit {
			return Glue, oddsCrossed, "lines of one bus, crossed"
		}
		return Buses, s.learnt(a, b, oddsBus), a.bus + strconv.Itoa(a.bit) + " of both"
	case (a.kind == data) && b.kind == latched, a.kind == address && b.kind == latched:
		return Buses, s.learnt(a, b, oddsLatch) / 16, "a latch or buffer beside a bus"
	case a.kind == enable && b.kind == decoded:
		return Enables, oddsEnable / float64(max(s.outs, 2)), "an enable often comes from a decoder"
	case a.kind == address && (b.kind == enable || b.kind == input):
		return Enables, s.spread(0.3), "high address lines are often decoded"
	case b.kind == control && strobe(a.word) == strobe(b.word), a.kind == enable && strobe(a.word) == strobe(b.word) && b.kind == control:
		return Enables, oddsName, "pins of one name"
	case b.kind == control && alike(a.word, b.word), a.kind == control && alike(a.word, b.word):
		return Enables, oddsName, "read and write strobes of processor and memory"
	}
	return s.glue(a, b)
}

func (s *Session) spread(p float64) float64 { return p / float64(max(s.inputs, s.outs, 4)) }

// glue is any other pair.
func (s *Session) glue(a, b *end) (Stage, float64, string) {
	drives := func(e *end) bool { return e.kind == output || e.kind == decoded }
	hears := func(e *end) bool { return e.kind == input || e.kind == enable }
	switch {
	case drives(a) && drives(b):
		return never, oddsHardly, ""
	case drives(a) && hears(b) || hears(a) && drives(b):
		return Glue, oddsInput / float64(max(s.outs, 2)), "an input comes from some output"
	case hears(a) && hears(b):
		return Glue, oddsInput / float64(max(s.inputs, 4)), "inputs often share a line"
	}
	return Glue, 0.5 / float64(max(len(s.ends), 20)), "nothing speaks for it or against it"
}

// samePart is a pair of pins of one part.
func (s *Session) samePart(a, b *end) (Stage, float64, string) {
	switch {
	case a.kind == supply && b.kind == supply && a.word == b.word:
		return Rails, oddsSupply, "supply pins of one name"
	case a.kind == input && b.kind == input || a.kind == enable && b.kind == enable:
		return Glue, s.spread(1), "inputs of one part are sometimes tied together"
	case (a.kind == input && b.kind == output):
		return Glue, s.spread(0.5), "a gate may feed its neighbour"
	}
	return never, oddsHardly, ""
}

func toRail(r, e *end) (Stage, float64, string) {
	switch {
	case e.kind == supply && e.hasVolts && r.volts-e.volts < 0.6 && e.volts-r.volts < 0.6:
		return Rails, oddsSupply, "a supply pin and the rail of its voltage"
	case e.kind == supply && !e.hasVolts:
		return Rails, 0.5, "a supply pin whose voltage the type does not say"
	case e.kind == input || e.kind == enable || e.kind == control:
		return Glue, oddsTied, "an input may be tied"
	case e.kind == passive:
		return Glue, oddsPull, "one end of a resistor or capacitor is often on a rail"
	}
	return never, oddsHardly, ""
}

// learnt moves the odds of a bus between two parts with what was heard of its other lines.
func (s *Session) learnt(a, b *end, odds float64) float64 {
	t := s.tally[key(a, b)]
	return (odds*weight + float64(t[0])) / (weight + float64(t[0]+t[1]))
}

func key(a, b *end) tallyKey {
	bus := a.bus
	if bus == "" {
		bus = b.bus
	}
	return tallyKey{min(a.part, b.part), max(a.part, b.part), bus}
}

func strobe(word string) string { return strings.ToUpper(strings.TrimPrefix(word, "/")) }

// alike are strobes that go by different names at both ends of their line.
func alike(a, b string) bool {
	pair := [2]string{strobe(a), strobe(b)}
	for _, p := range [][2]string{{"RD", "OE"}, {"WR", "WE"}, {"RW", "WE"}, {"R_W", "WE"}, {"RES", "RESET"}, {"RST", "RESET"}, {"INT", "IRQ"}, {"PHI", "CLK"}} {
		if pair == p || pair == [2]string{p[1], p[0]} {
			return true
		}
	}
	return false
}
