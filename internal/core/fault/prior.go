package fault

import (
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

// How likely a fault is before anything was seen: a rate per part, shared out over its kinds of fault and over the
// pins, then changed by what is known of this machine. Only ratios matter.
//
// Rates: MIL-HDBK-217F parts-count table, ground fixed, failures per million hours, before the quality factor; entries
// that the table does not have are marked. Absolute values mean nothing for a forty-year-old board, and neither do ratios
// between chips and copper: those are estimates and marked so.
var partRate = map[string]float64{
	"ssi": .012, "msi": .020, "lsi": .028, "memory": .022, "cpu": .089, "linear": .024, // microcircuits, bipolar and MOS
	"resistor": .0027, "network": .0027, "capacitor": .0074, "electrolytic": .081, "tantalum": .0039,
	"connector": .021, "switch": .0030, "relay": .0110, "crystal": .0150, // relay, crystal: from memory of the same table
	"diode": .0038, "zener": .0056, "transistor": .0044, "led": .0026, "digit": .0052, "fuse": .0100, // from memory of the same table
	"opaque": .020, "socket": .0058,
}

const quality = 10 // commercial quality factor of microcircuits (MIL-HDBK-217F, from memory); discrete parts about 5, taken as the same

// Shares of a digital part's rate. FMD-91 in MIL-HDBK-338B gives stuck high 28, stuck low 28, input open 22, output open 22 (from
// memory). It does not tell a short at an input from one at an output, nor a dead part: part of the stuck shares is given to them here (estimate).
var chipShare = map[Kind]float64{OutputLow: 19, OutputHigh: 19, OutputOpen: 20, InputLow: 6, InputHigh: 4, InputOpen: 20, PartDead: 7, PartErratic: 5}

// Shares of discrete parts: open, short, value. Sources: FMD-91 via MIL-HDBK-338B and a semiconductor failure-mode chapter;
// resistor, switch, fuse and lamp rows are estimates.
var discreteShare = map[string][3]float64{
	"resistor": {60, 5, 35}, "network": {60, 5, 35}, "capacitor": {35, 55, 10}, "electrolytic": {35, 53, 12}, "tantalum": {32, 57, 11},
	"diode": {25, 15, 60}, "zener": {50, 50, 0}, "transistor": {30, 30, 40}, "switch": {70, 30, 0}, "relay": {60, 40, 0}, "fuse": {95, 5, 0}, "led": {70, 30, 0}, "digit": {100, 0, 0},
}

// Weights of what lies outside the parts, in the unit of partRate times quality: all estimates, kept together so that they can be argued with.
const (
	jointRate      = 0.004  // one solder joint or via of an old board
	socketRate     = 0.020  // one contact of a socket
	plugRate       = 0.020  // one contact of a connector
	netShortRate   = 0.002  // a whisker or splash from a net to a rail
	bridgeRate     = 0.0006 // between neighbouring pins
	nearRate       = 0.004  // between nets declared near
	sourceRate     = 0.020  // the rest of the machine, per input line and way
	noSupplyRate   = 0.006
	replacedJoint  = 4   // a part that somebody has soldered before: its joints
	replacedBridge = 5   // and splashes beside it
	replacedInside = 0.5 // the part itself is newer
	easyJoint      = 1.3 // parts at hand get pushed and pulled
)

// zoneFactor multiplies by the kind of damage: joints, bridges, insides of parts, contacts (switches, plugs, sockets). Estimates: water leaves
// residue and rust, a leaking battery eats tracks and vias, heat ages parts.
var zoneFactor = map[string]struct{ joint, bridge, inside, contact float64 }{
	"water":   {8, 8, 2, 10},
	"battery": {20, 3, 2, 15},
	"heat":    {3, 1, 6, 3},
}

// Priors gives the weight of each fault, in the order of fs: not yet normalised. Zones are the case's damage.
func Priors(c *circuit.Circuit, fs []Fault, zones []evidence.Zone) []float64 {
	p := pricer{c: c, parts: make([]env, len(c.Parts)), nets: make([]env, len(c.Nets)), pins: make([]shares, len(c.Parts))}
	p.survey(zones)
	out := make([]float64, len(fs))
	for i, f := range fs {
		out[i] = p.weight(f)
	}
	return out
}

type env struct{ joint, bridge, inside, contact float64 }

type shares struct{ outs, ins, lamps float64 }

type pricer struct {
	c     *circuit.Circuit
	parts []env
	nets  []env
	pins  []shares
}

func (p *pricer) survey(zones []evidence.Zone) {
	c := p.c
	for i := range p.parts {
		p.parts[i] = env{1, 1, 1, 1}
		src := c.Parts[i].Src
		if src.Replaced {
			p.parts[i] = env{replacedJoint, replacedBridge, replacedInside, 1}
		}
		if src.Access == 1 {
			p.parts[i].joint *= easyJoint
		}
	}
	for i := range p.nets {
		p.nets[i] = env{1, 1, 1, 1}
	}
	for _, z := range zones {
		f, ok := zoneFactor[z.Kind]
		if !ok {
			continue
		}
		hit := map[int]bool{}
		for _, ref := range z.Parts {
			if i, ok := c.PartByRef(ref); ok {
				e := &p.parts[i]
				e.joint, e.bridge, e.inside, e.contact = e.joint*f.joint, e.bridge*f.bridge, e.inside*f.inside, e.contact*f.contact
				for _, id := range c.Parts[i].Pins {
					hit[c.Pins[id].Net] = true
				}
			}
		}
		for _, name := range z.Nets {
			if n, ok := c.Net(name); ok {
				hit[n] = true
			}
		}
		for n := range p.nets {
			if hit[n] {
				p.nets[n].bridge *= f.bridge
			}
		}
	}
	for i := range c.Parts {
		for _, id := range c.Parts[i].Pins {
			pin := c.Pins[id]
			if pin.Driver != circuit.None {
				p.pins[i].outs++
			}
			if pin.Use&part.Heard != 0 && !pin.Supply {
				p.pins[i].ins++
			}
		}
		p.pins[i].lamps = float64(len(c.Parts[i].Lamps))
	}
}

func class(t *part.Type) string {
	if t.Prior != "" {
		return t.Prior
	}
	switch n := len(t.Pins); {
	case n <= 14:
		return "ssi"
	case n <= 24:
		return "msi"
	}
	return "lsi"
}

func (p *pricer) inside(pi int) float64 {
	r, ok := partRate[class(p.c.Parts[pi].Type)]
	if !ok {
		r = partRate["msi"]
	}
	return r * quality * p.parts[pi].inside
}

func (p *pricer) weight(f Fault) float64 {
	c := p.c
	switch f.Kind.site() {
	case atPin:
		return p.atPin(f)
	case atNet:
		return netShortRate * p.nets[f.A].bridge
	case atNets:
		r := bridgeRate
		if IsNear(c, f.A, f.B) {
			r = nearRate
		}
		return r * max(p.nets[f.A].bridge, p.nets[f.B].bridge)
	case atPart:
		if f.Kind == NoSupply {
			return noSupplyRate * p.parts[f.A].joint
		}
		return p.inside(f.A) * chipShare[f.Kind] / 100
	case atLamp:
		pi := c.Lamps[f.A].Part
		return p.inside(pi) * discreteShare["digit"][0] / 100 / p.pins[pi].lamps
	case atInput:
		return sourceRate
	case elsewhere:
		return p.other(&c.Others[f.A])
	}
	return p.element(f)
}

func (p *pricer) atPin(f Fault) float64 {
	pin := p.c.Pins[f.A]
	pi := pin.Part
	if f.Kind == JointOpen {
		r := jointRate
		t := p.c.Parts[pi].Type
		e := p.parts[pi]
		if p.c.Parts[pi].Src.Socketed {
			r += socketRate * e.contact
		}
		if strings.HasPrefix(class(t), "connector") {
			r += plugRate * e.contact
		}
		return r * e.joint
	}
	sh := p.pins[pi]
	n := sh.outs
	if f.Kind == InputLow || f.Kind == InputHigh || f.Kind == InputOpen {
		n = sh.ins
	}
	return p.inside(pi) * chipShare[f.Kind] / 100 / max(n, 1)
}

// other is a fault of the analogue half: its rate, which knows of what was replaced, times what damage does.
func (p *pricer) other(o *circuit.Other) float64 {
	switch {
	case o.Copper:
		b := 1.0
		for _, n := range []int{o.Net, o.Net2} {
			if n != circuit.None {
				b = max(b, p.nets[n].bridge)
			}
		}
		return o.Rate * b
	case o.Part == circuit.None:
		return o.Rate
	}
	e := p.parts[o.Part]
	if p.c.Parts[o.Part].Src.Replaced {
		e.joint, e.inside = e.joint/replacedJoint, e.inside/replacedInside
	}
	if o.Pin != circuit.None {
		return o.Rate * e.joint
	}
	return o.Rate * e.inside
}

func (p *pricer) element(f Fault) float64 {
	pi := p.c.Links[f.A].Part
	cl := class(p.c.Parts[pi].Type)
	sh, ok := discreteShare[cl]
	if !ok {
		sh = [3]float64{60, 20, 20}
	}
	k := map[Kind]int{Open: 0, Short: 1, Value: 2}[f.Kind]
	r := p.inside(pi) * sh[k] / 100 / float64(max(1, p.c.Elements(pi)))
	if cl == "switch" || cl == "relay" {
		r *= p.parts[pi].contact
	}
	return r
}
