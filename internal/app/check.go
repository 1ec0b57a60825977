package app

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// A check as a technician would be told it.

func (v *viewer) check(c advise.Check) Check {
	if c.Other != nil {
		return v.otherCheck(c)
	}
	x := Check{Kind: string(c.Kind), Minutes: round(c.Minutes, 1), Bits: round(c.Bits, 3), Good: c.Good, Outcomes: []Outcome{}}
	for _, a := range c.Setting.Actions {
		x.Do = append(x.Do, v.c.Actions[a].Name)
		x.Title = v.c.Actions[a].Title
	}
	if len(c.Setting.Actions) == 0 {
		for _, a := range v.c.Start() {
			x.Title = v.c.Actions[a].Title
		}
	}
	v.where(&x, c)
	v.outcomes(&x, c)
	x.Setup = v.setup(c)
	x.Why = v.why(c)
	x.Entries = v.entries(c)
	x.Cautions = v.cautions(c)
	return x
}

func (v *viewer) outcomes(x *Check, c advise.Check) {
	for _, o := range c.Outcomes {
		if o.P < 0.0005 {
			continue
		}
		y := Outcome{Is: o.Is, Probability: round(o.P, 4)}
		for _, i := range o.Suspects {
			y.Suspects = append(y.Suspects, v.b.S.Key(v.res.Suspects[i]))
		}
		x.Outcomes = append(x.Outcomes, y)
	}
}

func round(f float64, digits int) float64 {
	m := math.Pow(10, float64(digits))
	return math.Round(f*m) / m
}

// word is a place as a log entry names it.
func (v *viewer) word(p circuit.Place) string {
	if p.Pin != circuit.None {
		return v.c.PinName(p.Pin)
	}
	return v.c.NetName(p.Net)
}

func (v *viewer) indicator(c advise.Check) string {
	if c.Digit != circuit.None {
		return v.c.Parts[v.c.Digits[c.Digit].Part].Ref
	}
	return v.c.Lamps[c.Lamp].Name
}

func (v *viewer) spell(p circuit.Place) string {
	if p.Pin == circuit.None {
		return "net " + v.c.NetName(p.Net)
	}
	return v.c.PinText(p.Pin) + ", net " + v.c.NetName(p.Net)
}

func (v *viewer) where(x *Check, c advise.Check) {
	switch c.Kind {
	case advise.See:
		x.At = v.indicator(c)
		x.Where = x.At
		return
	case advise.Replace, advise.Reseat:
		x.At = v.c.Parts[c.Part].Ref
		x.Where = x.At + " (" + v.c.Parts[c.Part].Src.Type + ")"
		return
	case advise.Resolder:
		x.At = v.c.PinName(c.Pin)
		x.Where = v.c.PinText(c.Pin) + ", net " + v.c.NetName(v.c.Pins[c.Pin].Net)
		x.Net = v.c.NetName(v.c.Pins[c.Pin].Net)
		return
	case advise.Lift:
		x.At = v.c.PinName(c.Pin)
		x.Where = v.c.PinText(c.Pin) + ", net " + v.c.NetName(v.c.Pins[c.Pin].Net)
		x.Net = v.c.NetName(c.Place.Net)
		return
	case advise.Ohms:
		x.To = v.word(c.To)
		x.Where = v.spell(c.Place) + ", to " + v.spell(c.To)
	default:
		x.Where = v.spell(c.Place)
	}
	x.At = v.word(c.Place)
	x.Net = v.c.NetName(c.Place.Net)
}

// threshold is the trigger level for what drives or hears a net: TTL 1.4 V, CMOS half its supply (common practice, no source).
func (v *viewer) threshold(net int) string {
	cmos, supply := false, 5.0
	for _, q := range v.c.Nets[net].Pins {
		p := v.c.Parts[v.c.Pins[q].Part]
		if p.Family.Bipolar() || p.Family == "HCT" || p.Family == "nmos" {
			return "1.4 V (TTL)"
		}
		if p.Family != "" {
			cmos = true
			for _, s := range p.Pins {
				if v.c.Pins[s].Supply {
					supply = max(supply, v.c.Nets[v.c.Pins[s].Net].Volts)
				}
			}
		}
	}
	if cmos {
		return fmt.Sprintf("%.3g V (CMOS)", supply/2)
	}
	return "1.4 V (TTL)"
}

// moments is how long the last action of a check is.
func (v *viewer) moments(c advise.Check) int {
	n := 0
	for _, a := range c.Setting.Actions {
		n = len(v.c.Actions[a].Moments)
	}
	return n
}

func (v *viewer) setup(c advise.Check) string {
	switch c.Kind {
	case advise.Read:
		if pi := freeRunOf(v.c, c.Setting.Actions); pi != circuit.None {
			return freeRunSetUp(v.c, pi, c.Place.Net, v.scope(c))
		}
		return v.scope(c)
	case advise.Lift:
		return "Power off and let the capacitors empty. Free the pin from its pad; do not bend it more than needed. Power on, then: " + lowerFirst(v.scope(c))
	case advise.See:
		if len(c.Setting.Actions) == 0 {
			return "No instrument: look, after start."
		}
		if v.c.Actions[c.Setting.Actions[len(c.Setting.Actions)-1]].Whole {
			return "No instrument: look while the action runs."
		}
		return "No instrument: look once the action has ended."
	case advise.Volts:
		s := "Meter on DC volts, black lead on ground at the same part; the board idle after "
		if len(c.Setting.Actions) == 0 {
			return s + "start. A pulsing net reads as an average: if the figure makes no sense, look with the scope."
		}
		return s + "the action has ended."
	case advise.Ohms:
		return "Power off, capacitors empty, unit unplugged. Meter on a low-voltage ohms range so that junctions stay off; touch the probes together first and take their ohms off."
	case advise.Replace:
		if v.c.Parts[c.Part].Src.Socketed {
			return "Power off. Swap the part for one known to be good; mind pin 1."
		}
		return "Power off. On an old board cut the old part's legs at its body and clear the holes one by one; fit a socket."
	case advise.Reseat:
		return "Power off. Lift the part out of its socket, look at legs and contacts, press it back; mind pin 1."
	}
	return "Power off. Fresh solder and flux on the joint, both sides of a plated hole."
}

func (v *viewer) scope(c advise.Check) string {
	if !v.b.have.Scope {
		s := "Logic probe, set for TTL"
		if !strings.Contains(v.threshold(c.Place.Net), "TTL") {
			s = "Logic probe, set for CMOS"
		}
		return s + ", its leads on the part's own supply; clear the pulse memory, then run the action."
	}
	base := "one sweep longer than the whole action"
	if n := v.moments(c); freeRunOf(v.c, c.Setting.Actions) != circuit.None {
		base = "a few periods across the screen"
	} else if n > 2 {
		base = fmt.Sprintf("the whole action (%d steps) across the screen, then one step a division", n)
	}
	return "Scope: 10× probe, DC, 2 V/div, 0 V at the bottom line, ground lead at the same part; trigger NORMAL on this channel, level " + v.threshold(c.Place.Net) +
		"; time base: " + base + ". No sweep means no edge."
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

func (v *viewer) why(c advise.Check) string {
	if c.Ends > 0 {
		return fmt.Sprintf("With %.0f %% probability this ends the job; no reading is expected to save its time.", 100*c.Ends)
	}
	var parts []string
	for _, o := range c.Outcomes {
		if len(o.Suspects) == 0 || o.P < 0.01 {
			continue
		}
		parts = append(parts, fmt.Sprintf("%s (%.0f %%) points to %s", o.Is, 100*o.P, v.places(o.Suspects)))
	}
	s := fmt.Sprintf("It is expected to remove %.2f of the bits still open, in %.1f min", c.Bits, c.Minutes)
	if len(parts) > 0 {
		s += ": " + strings.Join(parts, "; ")
	}
	return s + "."
}

// places names where the leading suspects of an outcome sit, each place once.
func (v *viewer) places(list []int) string {
	var out []string
	for _, i := range list {
		for _, f := range v.res.Suspects[i].Faults {
			if at := v.b.S.Faults[f].At(v.c); !slices.Contains(out, at) {
				out = append(out, at)
			}
		}
	}
	return strings.Join(out[:min(3, len(out))], ", ")
}

// entries are the log entries to append, with null where the reading goes.
func (v *viewer) entries(c advise.Check) []map[string]any {
	e := map[string]any{}
	if len(c.Setting.Actions) > 0 {
		var names []string
		for _, a := range c.Setting.Actions {
			names = append(names, v.c.Actions[a].Name)
		}
		e["do"] = names[0]
		if len(names) > 1 {
			e["do"] = names
		}
	}
	reading := func() {
		if c.Lamp != circuit.None || c.Digit != circuit.None {
			e["see"] = map[string]any{v.indicator(c): nil}
		} else if c.Place.Net != circuit.None {
			e["read"] = map[string]any{v.word(c.Place): nil}
		}
	}
	if len(c.Setting.Actions) == 0 && c.Ends > 0 && c.Lamp == circuit.None && c.Digit == circuit.None && c.Place.Net == circuit.None {
		e = v.again()
		reading = func() {}
	}
	switch c.Kind {
	case advise.Volts:
		e["volts"] = map[string]any{v.word(c.Place): nil}
	case advise.Ohms:
		return []map[string]any{{"ohms": map[string]any{"at": v.word(c.Place), "to": v.word(c.To), "is": nil}}}
	case advise.Lift:
		reading()
		return []map[string]any{{"lifted": []string{v.c.PinName(c.Pin)}}, e}
	case advise.Replace:
		reading()
		return []map[string]any{{"replaced": []string{v.c.Parts[c.Part].Ref}}, e}
	case advise.Reseat:
		reading()
		return []map[string]any{{"reseated": []string{v.c.Parts[c.Part].Ref}}, e}
	case advise.Resolder:
		reading()
		return []map[string]any{{"resoldered": []string{v.c.PinName(c.Pin)}}, e}
	default:
		reading()
	}
	return []map[string]any{e}
}

// cautions are shown at the check they belong to; they promise nothing and defer to local rules.
func (v *viewer) cautions(c advise.Check) []string {
	var out []string
	high := false
	for _, n := range v.c.Nets {
		high = high || n.Rail && math.Abs(n.Volts) > 60
	}
	if high && c.Kind != advise.See {
		out = append(out, "A rail of this board is above 60 V: treat it as live until measured, one hand, sleeved probes; if unsure, stop and ask a qualified person.")
	}
	switch c.Kind {
	case advise.Read, advise.Volts:
		out = append(out, "A slipped probe makes the next fault: sleeve the tip. The scope's clip is earth: never on anything live.")
	case advise.Ohms:
		out = append(out, "Unplug, wait, and measure that the rails are at 0 V before the ohms range touches the board.")
	case advise.Lift, advise.Replace, advise.Resolder:
		out = append(out, solderCaution)
		pi := c.Part
		if pi == circuit.None {
			pi = v.c.Pins[c.Pin].Part
		}
		if f := v.c.Parts[pi].Family; f != "" && !f.Bipolar() {
			out = append(out, "CMOS: strap on, iron earthed, power off.")
		}
	case advise.Reseat:
		out = append(out, "Power off and strapped to ground before a part leaves its socket.")
	}
	if c.Kind == advise.Replace && v.c.Parts[c.Part].Type.Prior == "battery" {
		out = append(out, "A leaking cell is caustic: gloves and eye protection; never charge, short or heat a lithium cell; hand it in under local rules.")
	}
	if c.Kind == advise.Lift && c.Pin != circuit.None && v.c.Pins[c.Pin].Use&part.Driven != 0 {
		out = append(out, "Put the pin back and note it: a forgotten lifted pin is the next intermittent.")
	}
	return out
}
