package analog

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
)

// This file says which electrical device a part of the library is.

// pin finds the circuit pin of a part by name; None when nothing is wired there.
func (b *mapper) pin(pi int, names ...string) int {
	for _, n := range names {
		if p := b.m.C.PinOf(pi, n); p != circuit.None {
			return p
		}
	}
	return circuit.None
}

// pins finds several, by name.
func (b *mapper) pins(pi int, names ...string) []int {
	var out []int
	for _, n := range names {
		out = append(out, b.pin(pi, n))
	}
	return out
}

var (
	fixedPositive = regexp.MustCompile(`^(?:LM340-|LM|UA|MC|L|78)*?78(L|M|S)?(\d{2})`)
	fixedNegative = regexp.MustCompile(`^(?:LM|UA|MC)?79(L|M)?(\d{2})`)
	lm340         = regexp.MustCompile(`^LM340-(\d{1,2})`)
)

// bipolarPNP are the markings of PNP transistors; the library gives them records of their own.
var (
	bipolarTypes = map[string]string{"npn": "an-npn", "2N3904": "an-npn", "BC547": "an-npn", "2N2222": "an-npn", "pnp": "an-pnp", "2N3906": "an-pnp", "BC557": "an-pnp",
		"2N2907": "an-pnp", "BD139": "an-npn-power", "2N3055": "an-npn-power", "TIP31": "an-npn-power", "BD140": "an-pnp-power", "MJ2955": "an-pnp-power", "TIP32": "an-pnp-power"}
	jfetInputs   = []string{"TL07", "TL08", "TL06", "LF34", "LF35", "CA3140"}
	singleSupply = []string{"LM324", "LM358", "LM2902", "LM2904", "LM224"}
)

// part adds the devices of one part; a part without an electrical model is noted and left out.
func (b *mapper) part(pi int) {
	c := b.m.C
	p := &c.Parts[pi]
	t, typ := p.Type.Name, typeName(p.Src.Type)
	d := Device{Name: p.Ref, Part: pi, Class: t}
	v := func(usual float64) float64 {
		if p.Src.HasValue && p.Src.Value > 0 {
			return p.Src.Value
		}
		return usual
	}
	one := func(k elec.Kind, model string, value, tol float64, params map[string]float64, names ...string) {
		d.Kind, d.Pins = k, b.pins(pi, names...)
		b.device(d, model, value, tol, params)
	}
	switch {
	case t == "resistor":
		one(elec.Resistor, "", v(1e4), 0.05, nil, "1", "2")
	case t == "jumper" || t == "ferrite":
		one(elec.Resistor, "", v(0.01), 0.1, nil, "1", "2")
	case t == "capacitor":
		one(elec.Capacitor, "", v(100e-9), 0.1, map[string]float64{"esr": 0.05, "leak": 1e11}, "1", "2")
	case t == "electrolytic":
		f := v(10e-6)
		one(elec.Capacitor, "", f, 0.2, map[string]float64{"esr": electrolyticESR(f), "leak": max(2e4, 20/f)}, "1", "2")
	case t == "tantalum":
		f := v(10e-6)
		one(elec.Capacitor, "", f, 0.2, map[string]float64{"esr": 1, "leak": max(1e5, 100/f)}, "1", "2")
	case t == "inductor":
		one(elec.Inductor, "", v(100e-6), 0.1, map[string]float64{"dcr": 0.5}, "1", "2")
	case t == "fuse":
		one(elec.Fuse, "", 0, 0, map[string]float64{"ohms": 0.1}, "1", "2")
	case t == "switch" || t == "button" || t == "contact":
		closed := 0.0
		if p.Src.Closed {
			closed = 1
		}
		one(elec.Switch, "", 0, 0, map[string]float64{"closed": closed}, "1", "2")
	case t == "potentiometer":
		at, known := b.m.control[pi]
		if !known {
			at = 0.5
		}
		d.Class = "potentiometer"
		one(elec.Potentiometer, "", v(1e4), 0.2, map[string]float64{"position": at}, "A", "W", "B")
	case t == "diode":
		model := "an-diode"
		switch {
		case strings.HasPrefix(typ, "1N400") || strings.HasPrefix(typ, "1N540"):
			model = "an-rectifier"
		case typ == "OA90" || typ == "1N34A":
			model = "an-germanium"
		}
		one(elec.Diode, model, 0, 0, nil, "A", "K")
	case t == "schottky":
		d.Class = "diode"
		one(elec.Diode, "an-schottky", 0, 0, nil, "A", "K")
	case t == "zener":
		one(elec.Zener, "an-zener", 0, 0, map[string]float64{"bv": v(zenerVolts(typ))}, "A", "K")
	case t == "led":
		one(elec.LED, "an-led", 0, 0, nil, "A", "K")
	case t == "bridge-rectifier":
		d.Class = "diode"
		one(elec.Rectifier, "an-bridge", 0, 0, nil, "AC1", "AC2", "POS", "NEG")
	case bipolarTypes[t] != "" && !strings.HasPrefix(typ, "TIP1"):
		d.Class = "transistor"
		one(elec.BJT, bipolarTypes[t], 0, 0, nil, "C", "B", "E")
	case t == "darlington" || strings.HasPrefix(typ, "TIP1"):
		d.Class = "transistor"
		model := "an-npn-darlington"
		if t == "TIP32" {
			model = "an-pnp-darlington"
		}
		one(elec.Darlington, model, 0, 0, nil, "C", "B", "E")
	case t == "njfet":
		d.Class = "transistor"
		one(elec.JFET, "an-njfet", 0, 0, nil, "D", "G", "S")
	case t == "nmos" || t == "2N7000" || t == "BS170":
		d.Class = "transistor"
		one(elec.MOSFET, "an-nmos", 0, 0, nil, "D", "G", "S")
	case t == "pmos":
		d.Class = "transistor"
		one(elec.MOSFET, "an-pmos", 0, 0, nil, "D", "G", "S")
	case t == "CA3046":
		b.array(pi)
	case t == "TL431":
		d.Class = "linear"
		one(elec.Reference, "an-reference", 0, 0, nil, "K", "REF", "A")
	case b.regulator(pi, d, typ), b.amplifiers(pi, typ), b.contacts(pi):
	default:
		b.m.Silent = append(b.m.Silent, p.Ref)
	}
}

// contacts adds those of a switch with several, each where its lever rests. False when the part has none.
func (b *mapper) contacts(pi int) bool {
	c := b.m.C
	found := false
	for _, li := range c.Parts[pi].Links {
		l := &c.Links[li]
		if l.Contact == circuit.None {
			continue
		}
		found = true
		closed := 0.0
		if c.Contacts[l.Contact].Closed {
			closed = 1
		}
		d := Device{Name: c.ElementName(li), Part: pi, Class: "switch", Kind: elec.Switch, Pins: []int{b.end(pi, l.PinA, l.A), b.end(pi, l.PinB, l.B)}}
		b.device(d, "", 0, 0, map[string]float64{"closed": closed})
	}
	return found
}

// end is the pin of a part through which a link reaches a net: that of a shared pole lies outside the net inside the part.
func (b *mapper) end(pi, pin, net int) int {
	if pin == circuit.None {
		pin = slices.IndexFunc(b.m.C.Pins, func(p circuit.Pin) bool { return p.Part == pi && p.Inside == net })
	}
	if pin >= 0 && !b.m.C.Pins[pin].Wired {
		return circuit.None
	}
	return pin
}

// electrolyticESR is a usual figure: tan δ of 0.12 at 100 Hz gives ESR = tan δ/(2πfC); half of it at working frequencies (common practice, no source).
func electrolyticESR(f float64) float64 { return min(max(0.06/(2*3.14159*100*f), 0.03), 5) }

func zenerVolts(typ string) float64 {
	if n, err := strconv.Atoi(strings.TrimPrefix(strings.TrimRight(typ, "A"), "1N")); err == nil && n >= 4728 && n <= 4749 {
		// JEDEC registration of the series, from memory
		return []float64{3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1, 10, 11, 12, 13, 15, 16, 18, 20, 22, 24}[n-4728]
	}
	return 5.1
}

// array adds the five transistors of a CA3046; the emitter of the first is that of the second.
func (b *mapper) array(pi int) {
	ref := b.m.C.Parts[pi].Ref
	for i, e := range []string{"1E_2E", "1E_2E", "3E", "4E", "5E"} {
		n := strconv.Itoa(i + 1)
		pins := b.pins(pi, n+"C", n+"B", e)
		if pins[0] == circuit.None && pins[1] == circuit.None {
			continue
		}
		b.device(Device{Name: ref + "/" + n, Part: pi, Class: "transistor", Kind: elec.BJT, Pins: pins}, "an-npn", 0, 0, nil)
	}
}

// regulator adds a three-terminal regulator; false when the part is none.
func (b *mapper) regulator(pi int, d Device, typ string) bool {
	params := map[string]float64{}
	model := "an-regulator"
	switch name := b.m.C.Parts[pi].Type.Name; name {
	case "LM317":
		model = "an-regulator-adjustable"
	case "LM337":
		model, params["sign"] = "an-regulator-adjustable", -1
	case "7805", "7808", "78L05", "7905", "79L05":
		var class, digits string
		switch {
		case lm340.MatchString(typ):
			digits = lm340.FindStringSubmatch(typ)[1]
		case fixedNegative.MatchString(typ):
			w := fixedNegative.FindStringSubmatch(typ)
			class, digits = w[1], w[2]
			params["sign"] = -1
		case fixedPositive.MatchString(typ):
			w := fixedPositive.FindStringSubmatch(typ)
			class, digits = w[1], w[2]
		}
		volts, err := strconv.ParseFloat(digits, 64)
		if err != nil || volts < 1 {
			return false
		}
		params["volts"] = volts
		if class == "L" {
			model = "an-regulator-small"
		}
	default:
		return false
	}
	d.Kind, d.Class = elec.Regulator, "regulator"
	d.Pins = []int{b.pin(pi, "IN"), b.pin(pi, "OUT"), b.pin(pi, "GND", "ADJ")}
	b.device(d, model, 0, 0, params)
	return true
}

// amplifiers adds the sections of op-amps, comparators and transconductance amplifiers; false when the part is none.
func (b *mapper) amplifiers(pi int, typ string) bool {
	c := b.m.C
	ref := c.Parts[pi].Ref
	name := c.Parts[pi].Type.Name
	sections := map[string][]string{"741": {""}, "LM358": {"1", "2"}, "LM324": {"1", "2", "3", "4"}, "RC4136": {"1", "2", "3", "4"}, "NE5534": {""},
		"LM339": {"1", "2", "3", "4"}, "LM393": {"1", "2"}, "LM311": {""}, "CA3080": {""}, "LM13700": {"1", "2"}}[name]
	if sections == nil {
		return false
	}
	plus, minus := b.pin(pi, "VCC"), b.pin(pi, "VEE", "GND")
	for i, s := range sections {
		d := Device{Name: ref, Part: pi, Class: "linear", Kind: elec.OpAmp}
		if len(sections) > 1 {
			d.Name = ref + "/" + s
		}
		d.Pins = append(b.pins(pi, s+"IN+", s+"IN-", s+"OUT"), plus, minus)
		if !slices.ContainsFunc(d.Pins[:3], func(p int) bool { return p != circuit.None && c.Pins[p].Wired }) {
			continue
		}
		model := "an-opamp"
		params := map[string]float64{}
		if i > 0 { // the package's current is drawn once
			params["iq"] = 0
		}
		switch {
		case name == "LM339" || name == "LM393" || name == "LM311":
			d.Kind, model = elec.Comparator, "an-comparator"
		case name == "CA3080" || name == "LM13700":
			d.Kind, model = elec.OTA, "an-ota"
			d.Pins = append(d.Pins[:3], b.pin(pi, s+"IABC"), plus, minus)
			params = nil
		case hasPrefix(typ, jfetInputs):
			model = "an-opamp-jfet"
		case hasPrefix(typ, singleSupply):
			model = "an-opamp-single"
		}
		b.device(d, model, 0, 0, params)
	}
	if name == "LM13700" {
		b.buffers(pi)
	}
	return true
}

// buffers adds the two Darlington followers of an LM13700.
func (b *mapper) buffers(pi int) {
	for _, s := range []string{"1", "2"} {
		pins := []int{b.pin(pi, "VCC"), b.pin(pi, s+"BUFIN"), b.pin(pi, s+"BUFOUT")}
		if pins[1] == circuit.None || !b.m.C.Pins[pins[1]].Wired {
			continue
		}
		// r1 and r2 stand for nothing in this part
		b.device(Device{Name: b.m.C.Parts[pi].Ref + "/B" + s, Part: pi, Class: "linear", Kind: elec.Darlington, Pins: pins}, "an-npn-darlington", 0, 0,
			map[string]float64{"is": 1e-14, "r1": 1e9, "r2": 1e9, "bf": 100})
	}
}

func hasPrefix(s string, list []string) bool {
	return slices.ContainsFunc(list, func(p string) bool { return strings.HasPrefix(s, p) })
}
