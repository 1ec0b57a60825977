package part

import (
	"fmt"
	"slices"
)

// Limits are the guaranteed static figures of one input or output of a part: volts, amperes and seconds. Currents are
// magnitudes; which way they flow is said by their name. A zero current of an output means that it has none that way.
type Limits struct {
	SupplyMin, SupplyMax float64
	VIL, VIH             float64 // an input hears low up to VIL and high from VIH
	VOL, VOH             float64 // an output that sinks IOL or gives IOH
	VOLLight, VOHLight   float64 // an output that feeds nothing but CMOS inputs
	IIL, IIH             float64 // what one input gives to a low and takes from a high
	IOL, IOH             float64 // what an output sinks when low and gives when high, over the temperature range
	IOL25                float64 // IOL at 25 °C where the sheet gives more there, else 0
	Leak                 float64 // what an open collector that is off still takes
	Off                  float64 // the same of a three-state output
	PullMax              float64 // highest voltage an open collector may be pulled to; 0 when that is the supply
	Delay                float64 // longest delay of an ordinary gate
	Source               string
}

// LightLoad is the current up to which VOLLight and VOHLight hold (MM74HC02: 20 µA).
const LightLoad = 20e-6

const (
	ma = 1e-3
	ua = 1e-6
	ns = 1e-9
)

var ttl = Limits{SupplyMin: 4.75, SupplyMax: 5.25, VIL: 0.8, VIH: 2.0}

// Limits returns the figures of an ordinary gate of the family at a supply voltage; ok is false for parts without a family.
func (f Family) Limits(supply float64) (l Limits, ok bool) {
	l = ttl
	switch f {
	case "74":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.4, 2.4, 1.6*ma, 40*ua, 16*ma, 0.4*ma, 250*ua, 40*ua, 22*ns
		l.Source = "DS006613 (7400); open collector TL/F/6351"
	case "ttl":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.4, 2.4, 1.6*ma, 40*ua, 16*ma, 0.4*ma, 250*ua, 40*ua, 22*ns
		l.Source = "as 7400, DS006613"
	case "LS":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.5, 2.7, 0.4*ma, 20*ua, 8*ma, 0.4*ma, 100*ua, 20*ua, 15*ns
		l.Source = "TI SDLS025B and DS006439 (74LS00)"
	case "S":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.5, 2.7, 2*ma, 50*ua, 20*ma, 1*ma, 250*ua, 50*ua, 5*ns
		l.Source = "DS006489 (74S00); input currents and delay from memory"
	case "H":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.4, 2.4, 2*ma, 50*ua, 20*ma, 0.5*ma, 250*ua, 50*ua, 10*ns
		l.Source = "from memory of the 74H00"
	case "L":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.4, 2.4, 0.18*ma, 10*ua, 3.6*ma, 0.2*ma, 50*ua, 20*ua, 60*ns
		l.Source = "from memory of the 74L00"
	case "ALS":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.5, 2.7, 0.1*ma, 20*ua, 8*ma, 0.4*ma, 100*ua, 20*ua, 11*ns
		l.VOH = 2.5 // the sheets say VCC-2, which is this at 4.5 V
		l.SupplyMin, l.SupplyMax, l.Source = 4.5, 5.5, "SDAS187A (74ALS00A) and DM74ALS165; leakage and delay from memory"
	case "AS":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.5, 2.7, 0.5*ma, 20*ua, 20*ma, 2*ma, 100*ua, 50*ua, 4.5*ns
		l.VOH = 2.5 // VCC-2
		l.SupplyMin, l.SupplyMax, l.Source = 4.5, 5.5, "SDAS187A (74AS00) and SDAS071B; leakage and delay from memory"
	case "F":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Leak, l.Off, l.Delay = 0.5, 2.7, 0.6*ma, 20*ua, 20*ma, 1*ma, 250*ua, 50*ua, 6*ns
		l.VOH = 2.5 // 2.7 at 4.75 V
		l.SupplyMin, l.SupplyMax, l.Source = 4.5, 5.5, "Philips 74F00 (October 1990); leakage and delay from memory"
	case "HC", "HCT":
		l = highSpeed(f, supply)
	case "4000":
		l = standardCMOS(supply)
	case "nmos":
		l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Off, l.Leak = 0.4, 2.4, 10*ua, 10*ua, 1.6*ma, 0.2*ma, 10*ua, 10*ua
		l.Source = "from memory of NMOS memory and processor sheets"
	case "cmos":
		l.VIH, l.VOL, l.VOH, l.IIL, l.IIH, l.IOL, l.IOH, l.Off, l.Leak = 2.2, 0.4, 2.4, 1*ua, 1*ua, 2*ma, 1*ma, 1*ua, 10*ua
		l.SupplyMin, l.SupplyMax, l.Source = 4.5, 5.5, "from memory of CMOS memory sheets (TTL levels)"
	default:
		return Limits{}, false
	}
	if l.VOLLight == 0 {
		l.VOLLight, l.VOHLight = l.VOL, l.VOH
	}
	return l, true
}

// highSpeed gives the 4.5 V column of the sheets for a supply of about 5 V, and for others the ratios of the 2 V and 6 V columns.
func highSpeed(f Family, supply float64) Limits {
	l := Limits{SupplyMin: 2, SupplyMax: 6, VIL: 1.35, VIH: 3.15, VOL: 0.33, VOH: 3.84, VOLLight: 0.1, VOHLight: 4.4,
		IIL: 1 * ua, IIH: 1 * ua, IOL: 4 * ma, IOH: 4 * ma, Off: 5 * ua, Leak: 5 * ua, Delay: 23 * ns, Source: "MM74HC02, 4.5 V column, 85 °C"}
	if f == "HCT" {
		l.SupplyMin, l.SupplyMax, l.VIL, l.VIH, l.Source = 4.5, 5.5, 0.8, 2.0, "MM74HCT00, 85 °C"
		return l
	}
	if supply < 4.4 || supply > 5.6 {
		l.VIL, l.VIH = 0.3*supply, 0.7*supply
		l.VOLLight, l.VOHLight, l.VOL, l.VOH = 0.1, supply-0.1, 0.33, supply-0.66
		l.Source = "MM74HC02, 2 V and 6 V columns by ratio"
	}
	return l
}

// standardCMOS gives the 5, 10 and 15 V columns of the B-series sheets and the straight line between them for the levels.
func standardCMOS(supply float64) Limits {
	if supply == 0 {
		supply = 5
	}
	l := Limits{SupplyMin: 3, SupplyMax: 15, VIL: 0.3 * supply, VIH: 0.7 * supply, VOL: 0.4, VOH: supply - 0.4, VOLLight: 0.05, VOHLight: supply - 0.05,
		IIL: 0.3 * ua, IIH: 0.3 * ua, IOL: 0.36 * ma, IOL25: 0.44 * ma, IOH: 0.36 * ma, Off: 1 * ua, Leak: 1 * ua, Delay: 250 * ns, Source: "TL/F/5939 (CD4001B, CD4011B)"}
	switch {
	case supply > 12.5:
		l.VIL, l.VIH, l.VOL, l.VOH = 4.0/15*supply, 11.0/15*supply, 1.5, supply-1.5
		l.IOL, l.IOL25, l.IOH, l.Delay = 2.4*ma, 3.0*ma, 2.4*ma, 70*ns
	case supply > 7.5:
		l.VOL, l.VOH, l.IOL, l.IOL25, l.IOH, l.Delay = 0.5, supply-0.5, 0.9*ma, 1.1*ma, 0.9*ma, 100*ns
	}
	return l
}

// CMOS reports whether an open input of the family floats anywhere and may not be left open.
func (f Family) CMOS() bool { return f == "4000" || f == "HC" || f == "HCT" }

// Override is where a part differs from the ordinary gate of its family. Figures that are nil do not differ.
type Override struct {
	Of                                            []string // families; all when empty
	Nodes                                         []int    // pins; all when empty
	IIL, IIH, IOL, IOH, Leak, Off, PullMax, Delay *float64
	VOL, VOH, VIL, VIH, SupplyMin, SupplyMax      *float64
	Source                                        string
}

// Limits returns the figures at one node of the part as fitted, at a supply voltage.
func (m Match) Limits(node int, supply float64) (Limits, bool) {
	l, ok := m.Family.Limits(supply)
	for _, o := range m.Type.Overrides {
		if len(o.Of) > 0 && !slices.Contains(o.Of, string(m.Family)) || len(o.Nodes) > 0 && !slices.Contains(o.Nodes, node) {
			continue
		}
		ok = true
		o.put(&l)
	}
	return l, ok
}

func (o Override) put(l *Limits) {
	for _, p := range []struct {
		to   *float64
		from *float64
	}{{&l.IIL, o.IIL}, {&l.IIH, o.IIH}, {&l.IOL, o.IOL}, {&l.IOH, o.IOH}, {&l.Leak, o.Leak}, {&l.Off, o.Off}, {&l.PullMax, o.PullMax}, {&l.Delay, o.Delay},
		{&l.VOL, o.VOL}, {&l.VOH, o.VOH}, {&l.VIL, o.VIL}, {&l.VIH, o.VIH}, {&l.SupplyMin, o.SupplyMin}, {&l.SupplyMax, o.SupplyMax}} {
		if p.from != nil {
			*p.to = *p.from
		}
	}
	if o.IOL != nil {
		l.IOL25 = 0
	}
	l.VOLLight, l.VOHLight = min(l.VOL, l.VOLLight), max(l.VOH, l.VOHLight)
	if o.Source != "" {
		l.Source = o.Source
	}
}

// limitRecord is one line of a record's `limits:`; currents in mA, delays in ns.
type limitRecord struct {
	Of        []string `yaml:"of"`
	Pins      []string `yaml:"pins"`
	IIL       *float64 `yaml:"iil"`
	IIH       *float64 `yaml:"iih"`
	IOL       *float64 `yaml:"iol"`
	IOH       *float64 `yaml:"ioh"`
	Leak      *float64 `yaml:"leak"`
	Off       *float64 `yaml:"off"`
	PullMax   *float64 `yaml:"pull-max"`
	Delay     *float64 `yaml:"delay"`
	VOL       *float64 `yaml:"vol"`
	VOH       *float64 `yaml:"voh"`
	VIL       *float64 `yaml:"vil"`
	VIH       *float64 `yaml:"vih"`
	SupplyMin *float64 `yaml:"supply-min"`
	SupplyMax *float64 `yaml:"supply-max"`
	Source    string   `yaml:"source"`
}

func (t *Type) addLimits(rows []limitRecord) error {
	for _, r := range rows {
		o := Override{Of: r.Of, VOL: r.VOL, VOH: r.VOH, VIL: r.VIL, VIH: r.VIH, SupplyMin: r.SupplyMin, SupplyMax: r.SupplyMax, PullMax: r.PullMax, Source: r.Source}
		for _, f := range r.Of {
			if !slices.Contains(t.Families, f) {
				return fmt.Errorf("limits: %s is none of its families", f)
			}
		}
		for _, n := range r.Pins {
			k, ok := t.nodeIndex[n]
			if !ok {
				return fmt.Errorf("limits: no pin %s", n)
			}
			o.Nodes = append(o.Nodes, k)
		}
		for _, p := range []struct {
			from *float64
			to   **float64
			by   float64
		}{{r.IIL, &o.IIL, ma}, {r.IIH, &o.IIH, ma}, {r.IOL, &o.IOL, ma}, {r.IOH, &o.IOH, ma}, {r.Leak, &o.Leak, ma}, {r.Off, &o.Off, ma}, {r.Delay, &o.Delay, ns}} {
			if p.from == nil {
				continue
			}
			v := *p.from * p.by
			if v < 0 || v > 100 {
				return fmt.Errorf("limits: %g is no current in mA or delay in ns", *p.from)
			}
			*p.to = &v
		}
		t.Overrides = append(t.Overrides, o)
	}
	return nil
}

// SupplyRange is the guaranteed range of the supply voltage; ok is false where nothing is known.
func (m Match) SupplyRange() (low, high float64, ok bool) {
	l, ok := m.Limits(-1, 5)
	return l.SupplyMin, l.SupplyMax, ok && l.SupplyMax > 0
}
