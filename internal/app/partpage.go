package app

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/part"
	"halfsplit/internal/core/substitute"
)

// PartPage is the page of one part: everything PartView has, and what a technician looks up beside it.
type PartPage struct {
	PartView
	Marking  string        `json:"marking"` // as it is printed on the part: 74LS138
	Family   string        `json:"family,omitempty"`
	Timing   string        `json:"timing,omitempty"`
	Limits   []LimitView   `json:"limits,omitempty"` // the ordinary pins first, then those that differ
	Failures []FailureView `json:"failures"`
	StandIns []string      `json:"stand_ins,omitempty"` // the same pin-out and function, by name
	Known    []string      `json:"known_stand_ins,omitempty"`
	FreeRun  *FreeRunView  `json:"free_run,omitempty"`
}

// LimitView is the guaranteed figures of some pins at 5 V: volts, milliamperes and nanoseconds. A figure of 0 is not given.
type LimitView struct {
	Pins      string  `json:"pins"` // inputs, outputs, or names
	SupplyMin float64 `json:"supply_min"`
	SupplyMax float64 `json:"supply_max"`
	VIL       float64 `json:"vil"`
	VIH       float64 `json:"vih"`
	VOL       float64 `json:"vol"`
	VOH       float64 `json:"voh"`
	IIL       float64 `json:"iil_ma"`
	IIH       float64 `json:"iih_ma"`
	IOL       float64 `json:"iol_ma"`
	IOH       float64 `json:"ioh_ma"`
	Delay     float64 `json:"delay_ns,omitempty"`
	Source    string  `json:"source"`
}

// FailureView is one way in which such a part fails, with where that is said.
type FailureView struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

// Page looks up what stands in `type:` and gathers the part's page; the error names the nearest right word.
func Page(lib *part.Library, name string) (PartPage, error) {
	v, err := Part(lib, name)
	if err != nil {
		return PartPage{}, err
	}
	m, err := lib.Find(name)
	if err != nil {
		return PartPage{}, err
	}
	p := PartPage{PartView: v, Marking: m.Name(), Family: string(m.Family), Timing: m.Type.Timing, Known: m.Type.Equivalents, FreeRun: freeRun(m.Type)}
	p.Limits = limitViews(m)
	for _, f := range m.Type.Failures {
		p.Failures = append(p.Failures, FailureView{f, m.Type.Source})
	}
	p.Failures = append(p.Failures, usualFailures(m.Type)...)
	for _, s := range substitute.Candidates(lib, m) {
		if n := s.Name(); n != p.Marking && s.Family != "" && !slices.Contains(p.StandIns, n) {
			p.StandIns = append(p.StandIns, n)
		}
	}
	return p, nil
}

// limitViews gives the figures of the ordinary pins and of each group of pins that differs from them.
func limitViews(m part.Match) []LimitView {
	common, ok := m.Limits(-1, 5)
	if !ok {
		return nil
	}
	out := []LimitView{limitView("all pins", common)}
	for k, n := range m.Type.Nodes {
		if n.Supply || n.Use&(part.Heard|part.Driven) == 0 {
			continue
		}
		l, _ := m.Limits(k, 5)
		if l == common {
			continue
		}
		v := limitView("", l)
		i := slices.IndexFunc(out[1:], func(o LimitView) bool { o.Pins = ""; return o == v })
		if i < 0 {
			v.Pins = n.Name
			out = append(out, v)
		} else {
			out[i+1].Pins += " " + n.Name
		}
	}
	return out
}

func limitView(pins string, l part.Limits) LimitView {
	return LimitView{pins, l.SupplyMin, l.SupplyMax, l.VIL, l.VIH, l.VOL, l.VOH, l.IIL * 1e3, l.IIH * 1e3, l.IOL * 1e3, l.IOH * 1e3, l.Delay * 1e9, l.Source}
}

const (
	fmd      = "MIL-HDBK-338B and FMD-91, from memory"
	handbook = "a semiconductor failure-modes handbook chapter"
	service  = "a service periodical on failure modes of digital ICs, 1996"
	practice = "common practice, no source"
)

// usualFailures says how parts of a kind fail; shares are of all failures of the kind.
func usualFailures(t *part.Type) []FailureView {
	switch t.Prior {
	case "electrolytic":
		return []FailureView{{"short 53 %, open 35 %, leaking 10 %, low capacitance 2 %", fmd}, {"dries out: life halves with each 10 °C", practice}}
	case "tantalum":
		return []FailureView{{"short 57 %, open 32 %, value 11 %, often a dead short across a rail", fmd}}
	case "capacitor":
		return []FailureView{{"cracked ceramic: short or leaking", practice}}
	case "resistor":
		return []FailureView{{"open, or drifted up (carbon composition)", practice}}
	case "diode":
		return []FailureView{{"high reverse current 60 to 70 %, open 20 to 25 %, short 10 to 15 %", handbook}}
	case "zener":
		return []FailureView{{"open 50 %, short 50 %", handbook}}
	case "transistor":
		return []FailureView{{"open 30 %, short 30 %, leaking 20 %, low gain 20 %", handbook}}
	case "led", "digit":
		return []FailureView{{"a segment open at its bond; dim with age", practice}}
	case "switch", "relay":
		return []FailureView{{"contact oxidised or worn: closes badly or not at all", practice}}
	case "connector":
		return []FailureView{{"open 61 %, intermittent 23 %, short 16 %", fmd}}
	case "socket":
		return []FailureView{{"contact oxidised or spread, above all single-wipe sockets", practice}}
	case "crystal":
		return []FailureView{{"does not start after a drop; frequency off with age", practice}}
	case "fuse":
		return []FailureView{{"blown by a fault elsewhere, or tired", practice}}
	case "ssi", "msi", "lsi", "memory", "cpu", "linear", "opaque", "":
		out := []FailureView{{"output stuck high 28 %, stuck low 28 %, input open 22 %, output open 22 % (digital bipolar)", fmd},
			{"a bond open at an input or output, a pin shorted to ground, to the supply or to another pin, or the inside failed", service}}
		if t.Prior == "memory" && strings.Contains(strings.ToUpper(t.Title), "PROM") {
			out = append(out, FailureView{"charge lost: bits drift to 1, first at high or low supply", practice})
		}
		return out
	}
	return []FailureView{{"open or short", practice}}
}

// BuiltIn tells whether a type is one of the library that comes with the program, and so has a page there; a technician's own type and a bare gate
// have none.
func BuiltIn(t *part.Type) bool { return strings.HasPrefix(t.Pos.File, "data/") }

// FreeRunView is a processor's run through all addresses with nothing but no-operations at its data pins.
type FreeRunView struct {
	Opcode string       `json:"opcode"` // hexadecimal
	Data   []PinLevel   `json:"data"`
	Hold   []PinLevel   `json:"hold,omitempty"`
	Clock  string       `json:"clock"` // pin
	Clocks int          `json:"clocks_per_fetch"`
	Lines  []FreeRunPin `json:"lines"` // A0 first
	Notes  string       `json:"notes,omitempty"`
}

// PinLevel is a pin that is held at 0 or 1.
type PinLevel struct {
	Number int    `json:"number"`
	Name   string `json:"name"`
	Level  int    `json:"level"`
}

// FreeRunPin is one address line: its period is Divide clocks.
type FreeRunPin struct {
	Number int    `json:"number"`
	Name   string `json:"name"`
	Divide int    `json:"divide"`
}

// Rate is the frequency of the line in Hz at a clock in Hz.
func (l FreeRunPin) Rate(clock float64) float64 { return clock / float64(l.Divide) }

func freeRun(t *part.Type) *FreeRunView {
	f := t.FreeRun
	if f == nil {
		return nil
	}
	v := &FreeRunView{Opcode: fmt.Sprintf("%02X", f.Opcode), Clock: t.Nodes[f.Clock].Name, Clocks: f.Clocks, Notes: f.Notes}
	pin := func(k, level int) PinLevel { return PinLevel{t.Nodes[k].Pins[0], t.Nodes[k].Name, level} }
	for i, k := range f.Data {
		v.Data = append(v.Data, pin(k, int(f.Opcode>>(7-i)&1)))
	}
	for _, h := range f.Hold {
		level := 0
		if h.High {
			level = 1
		}
		v.Hold = append(v.Hold, pin(h.Node, level))
	}
	for i := range f.Address {
		k := f.Address[len(f.Address)-1-i]
		v.Lines = append(v.Lines, FreeRunPin{t.Nodes[k].Pins[0], t.Nodes[k].Name, f.Divide(i)})
	}
	return v
}
