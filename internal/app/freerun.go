package app

import (
	"fmt"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/unit"
)

// A free run as a technician is told it: how the adapter is fitted, and how fast each address line has to be.

// freeRunOf is the processor that runs free in the last of some actions, or None.
func freeRunOf(c *circuit.Circuit, actions []int) int {
	if len(actions) == 0 {
		return circuit.None
	}
	return c.Actions[actions[len(actions)-1]].FreeRun
}

// rateAt is how fast a net runs in a free run, when it is an address line: "clock / 4", with the frequency where the board gives the clock's.
func rateAt(c *circuit.Circuit, pi, net int) string {
	for _, r := range c.Rates(pi) {
		if r.Net == net {
			s := fmt.Sprintf("clock / %d", r.Divide)
			if hz := clockOf(c, pi); hz > 0 {
				s += ", " + unit.Format(hz/float64(r.Divide)) + "Hz"
			}
			return s
		}
	}
	return ""
}

// clockOf is the frequency at a processor's clock pin in Hz: the value of the oscillator that drives it, 0 when the board does not say.
func clockOf(c *circuit.Circuit, pi int) float64 {
	pin := c.Parts[pi].NodePin[c.Parts[pi].Type.FreeRun.Clock]
	if pin == circuit.None {
		return 0
	}
	for _, d := range c.Nets[c.Pins[pin].Net].Drivers {
		if src := c.Parts[c.Drivers[d].Part].Src; c.Drivers[d].Stmt.Kind == part.ClockOut && src.HasValue {
			return src.Value
		}
	}
	return 0
}

// freeRunSetUp is how the run is set up and what a net has to look like in it.
func freeRunSetUp(c *circuit.Circuit, pi, net int, instrument string) string {
	v := freeRun(c.Parts[pi].Type)
	ref := c.Parts[pi].Ref
	levels := func(ps []PinLevel) string {
		var out []string
		for _, p := range ps {
			out = append(out, fmt.Sprintf("%s %d", p.Name, p.Level))
		}
		return strings.Join(out, ", ")
	}
	s := fmt.Sprintf("Power off. %s out of its socket and into the no-operation adapter, which cuts it off the board's data lines and feeds it %s: %s", ref, v.Opcode, levels(v.Data))
	if len(v.Hold) > 0 {
		s += "; these pins have to be right: " + levels(v.Hold)
	}
	s += ". Power on; it counts through all addresses by itself. " + instrument
	slow := v.Lines[len(v.Lines)-1]
	if rate := rateAt(c, pi, net); rate != "" {
		return s + " This is an address line and has to run at " + rate + ", half as fast as the one below it: one that stands still is stuck or its driver is dead, one that stops " +
			"between the levels or shows another's rate as well is bridged."
	}
	s += fmt.Sprintf(" The slowest line, %s, takes %d clocks a period: watch for longer than that", slow.Name, slow.Divide)
	if hz := clockOf(c, pi); hz > 0 {
		s += fmt.Sprintf(" (%ss)", unit.Format(float64(slow.Divide)/hz))
	}
	return s + "."
}
