package analog

import (
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/unit"
)

// This file turns the entries of a log into checks and readings on their scales.

// Obs is one reading of the log.
type Obs struct {
	Entry int // index into the log
	Check Check
	Y     float64 // on the check's scale
	At    string  // the place as it was written
	Sure  float64
}

// Seen is the reading as a person writes it.
func (o Obs) Seen() string { return Show(o.Check.Kind, scales[o.Check.Kind].out(o.Y)) }

// Show prints a figure with the unit of its kind of check.
func Show(k CheckKind, x float64) string {
	switch k {
	case Ohms, ESR:
		if x >= openOhms*0.9 {
			return "open"
		}
		return unit.With(x, "Ω")
	case Current:
		return unit.With(tidy(x), "A")
	case Gain:
		return unit.Format(x) + " times"
	case Ripple:
		return unit.With(x, "V p-p")
	case AC:
		return unit.With(x, "V rms")
	}
	if x = tidy(x); math.Abs(x) < 0.1 {
		return unit.With(x, "V")
	}
	return fmt.Sprintf("%.2f V", x)
}

func tidy(x float64) float64 {
	if math.Abs(x) < 5e-7 {
		return 0
	}
	return x
}

// Add takes in one more entry of the log. With an error among the findings nothing was taken in.
func (s *Session) Add(e evidence.Entry) finding.List {
	k := *s.Case
	k.Log = append(slices.Clone(s.Case.Log), e)
	before, lifted, obs := s.Case, slices.Clone(s.lifted), len(s.Obs)
	s.Case, s.fl = &k, nil
	i := len(k.Log) - 1
	k.Log[i].Index = i + 1
	s.observe(i)
	if s.fl.Errors() {
		s.Case, s.lifted, s.Obs = before, lifted, s.Obs[:obs]
	}
	return s.fl
}

// Try says what is wrong with an entry, as Add would, and takes nothing in. It may be called while the session is at work.
func (m *Model) Try(e evidence.Entry) finding.List {
	t := &Session{M: m, Case: &evidence.Case{Log: []evidence.Entry{e}}}
	t.observe(0)
	return t.fl
}

// observe reads an entry of the log. What only the digital half understands is warned of.
func (s *Session) observe(i int) {
	e := &s.Case.Log[i]
	where := fmt.Sprintf("log entry %d", e.Index)
	if len(e.Read)+len(e.See)+len(e.Do) > 0 {
		s.fl.Warnf(e.Pos, where, "volts, ohms, ripple, current, ac, gain, esr and wiper are weighed here", "what was seen of logic levels is not weighed on a board with an `analog:` section")
	}
	s.repairs(e, where)
	c := Usual()
	for _, p := range s.lifted {
		c = s.M.lift(c, p)
	}
	if f := e.Feed; f != nil {
		if n := s.node(f.At, f.Pos, where); n >= 0 {
			c.Bench, c.At, c.Volts, c.OhmsIn = true, n, f.Volts, f.Ohms
		}
	}
	s.entry(i, e, c, where)
}

// repairs takes in what was done to the board: only what it has can be lifted, replaced or cleared.
func (s *Session) repairs(e *evidence.Entry, where string) {
	gone := func(is func(pin int) bool) { s.lifted = slices.DeleteFunc(s.lifted, is) }
	for _, w := range e.Lifted {
		if p := s.place(w, e.Pos, where); p.Pin != circuit.None && !slices.Contains(s.lifted, p.Pin) {
			s.lifted = append(s.lifted, p.Pin)
		} else if p.Net != circuit.None && p.Pin == circuit.None {
			s.fl.Errorf(e.Pos, where, "write a pin, such as C5.1", "%s is a net; a pin is lifted", w)
		}
	}
	for _, w := range e.Refitted {
		p := s.place(w, e.Pos, where)
		gone(func(pin int) bool { return pin == p.Pin })
	}
	for _, w := range append(slices.Clone(e.Replaced), e.Reseated...) {
		part, ok := s.M.C.PartByRef(w)
		if !ok {
			s.fl.Errorf(e.Pos, where, "", "no part %s on this board", w)
			continue
		}
		gone(func(pin int) bool { return s.M.C.Pins[pin].Part == part }) // the new one stands on its nets with every leg
	}
	for _, w := range append(slices.Clone(e.Resolder), e.Cleared...) {
		s.place(w, e.Pos, where)
	}
}

func (s *Session) entry(i int, e *evidence.Entry, c Condition, where string) {
	add := func(k Check, at string, x float64) {
		k.Cond = c
		s.Obs = append(s.Obs, Obs{i, k, scales[k.Kind].in(x), at, e.Sure})
	}
	for _, v := range e.Volts {
		if k, ok := s.voltsAt(v.At, v.Pos, where); ok {
			add(k, v.At, v.Volts)
		}
	}
	for _, r := range e.Ohms {
		a, b := s.node(r.At, r.Pos, where), s.node(r.To, r.Pos, where)
		x := min(r.Ohms, openOhms)
		if r.Open {
			x = openOhms
		}
		if a >= 0 && b >= 0 {
			add(Check{Kind: Ohms, A: a, B: b, Device: -1}, r.At+" to "+r.To, x)
		}
	}
	for _, v := range e.Ripple {
		if n := s.node(v.At, v.Pos, where); n >= 0 {
			if !s.M.Mains {
				s.fl.Warnf(v.Pos, where, "add a source of kind mains", "the board is on no mains in the model, so ripple says nothing")
				continue
			}
			add(Check{Kind: Ripple, A: n, Device: -1}, v.At, v.Is)
		}
	}
	for _, v := range e.Current {
		if d, a, b, ok := s.twoEnded(v.At, v.Pos, where); ok {
			add(Check{Kind: Current, A: a, B: b, Device: d}, v.At, v.Is)
		}
	}
	for _, v := range e.ESR {
		if d, a, b, ok := s.twoEnded(v.At, v.Pos, where); ok {
			add(Check{Kind: ESR, A: a, B: b, Device: d}, v.At, v.Is)
		}
	}
	for _, v := range e.AC {
		if n := s.node(v.At, v.Pos, where); n >= 0 {
			add(Check{Kind: AC, A: n, Device: -1, Frequency: v.Frequency}, v.At, v.Volts)
		}
	}
	for _, v := range e.Gain {
		a, b := s.node(v.From, v.Pos, where), s.node(v.To, v.Pos, where)
		if a >= 0 && b >= 0 {
			add(Check{Kind: Gain, A: a, B: b, Device: -1, Frequency: v.Frequency}, v.From+" to "+v.To, v.Is)
		}
	}
	for _, v := range e.Wiper {
		d := s.M.byPart(v.At)
		if d < 0 || s.M.Devices[d].Class != "potentiometer" || s.M.Devices[d].Pins[1] == circuit.None {
			s.fl.Errorf(v.Pos, where, "", "%s is no control of this board whose wiper is wired", v.At)
			continue
		}
		k := s.M.wiper(d, v.Position)
		s.Obs = append(s.Obs, Obs{i, k, v.Volts, v.At, e.Sure})
	}
}

// wiper is the check of a control's wiper at a position.
func (m *Model) wiper(dev int, position float64) Check {
	c := Usual()
	c.Control, c.Position = dev, position
	return Check{Kind: Wiper, A: m.node[m.C.Pins[m.Devices[dev].Pins[1]].Net], Device: dev, Cond: c}
}

// byIndex finds the device with an index of the electrical circuit, or -1.
func (m *Model) byIndex(index int) int {
	return slices.IndexFunc(m.Devices, func(d Device) bool { return d.Index == index })
}

// byPart finds the first device of a part, or -1.
func (m *Model) byPart(ref string) int {
	for i, d := range m.Devices {
		if d.Part != circuit.None && m.C.Parts[d.Part].Ref == ref {
			return i
		}
	}
	return -1
}

// voltsAt is a voltage at a place against ground, or across a part with two legs.
func (s *Session) voltsAt(at string, pos finding.Pos, where string) (Check, bool) {
	if _, isNet := s.M.C.Net(at); !isNet {
		if d := s.M.byPart(at); d >= 0 {
			if a, b, ok := s.M.ends(d); ok {
				return Check{Kind: Volts, A: a, B: b, Device: d}, true
			}
		}
	}
	n := s.node(at, pos, where)
	return Check{Kind: Volts, A: n, Device: -1}, n >= 0
}

func (s *Session) place(at string, pos finding.Pos, where string) circuit.Place {
	p, hint := s.M.C.FindPlace(at)
	if p.Net == circuit.None {
		s.fl.Errorf(pos, where, "", "%s", hint)
	}
	return p
}

// node finds the node of a pin or net; -1 with a finding when there is none.
func (s *Session) node(at string, pos finding.Pos, where string) int {
	p := s.place(at, pos, where)
	if p.Net == circuit.None {
		return -1
	}
	if s.M.node[p.Net] < 0 {
		s.fl.Warnf(pos, where, "", "nothing that the analogue model knows is on %s; the reading is left out", at)
	}
	return s.M.node[p.Net]
}

func (s *Session) twoEnded(at string, pos finding.Pos, where string) (dev, a, b int, ok bool) {
	if d := s.M.byPart(at); d >= 0 {
		if a, b, ok := s.M.ends(d); ok {
			return d, a, b, true
		}
	}
	s.fl.Errorf(pos, where, "name a fuse, a resistor or a capacitor", "%s is no part with two legs on this board", at)
	return 0, 0, 0, false
}
