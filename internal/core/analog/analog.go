// Package analog asks the question of the digital half of the analogue one: these volts, ohms, ripples and currents were read; which fault
// explains them, and where to put the probe next? It joins a board with the electrical models of elec, lays out what can be wrong, computes
// what a meter would show under each fault and how far tolerances spread it, and ranks faults and checks.
//
// What a hypothesis shows in one condition of the bench is computed once and kept; a new reading costs no new solution. Everything here is
// deterministic: work runs in parallel into places of its own.
package analog

import (
	"embed"
	"math"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/finding"
)

//go:embed data/models.yaml
var data embed.FS

// Model is a board as the electrical solver sees it. It is read-only after New.
type Model struct {
	C       *circuit.Circuit
	E       *elec.Circuit
	Devices []Device
	Mains   bool     // some source is the mains: what the board shows is a waveform
	Period  float64  // seconds of the mains, 0 without
	Ground  int      // circuit net
	Silent  []string // parts that carry no model: taken as not there
	Split   *Split   // how a mixed board is shared out; nil on one without logic

	node     []int // circuit net → node of E, -1 when nothing electrical is on it
	nets     []int // node → circuit net, -1 for inner ones
	control  map[int]float64
	supplies []int // elec devices that stand for rails and sources
	rails    []int // circuit nets that feed others: declared rails and outputs of regulators
	signals  []signal
	workers  int
}

// Device is one electrical device of the board: a part, or one section of it.
type Device struct {
	Name   string
	Kind   elec.Kind
	Part   int   // circuit part, circuit.None for a source
	Index  int   // in E
	Pins   []int // circuit pin of each terminal, circuit.None where there is none
	Value  float64
	Class  string // for priors: resistor, electrolytic, …
	Source *board.Source
}

type signal struct {
	dev       int // Devices
	frequency float64
}

// New joins a board with its electrical models. The model is nil when a finding is an error. workers bounds the goroutines, 0 is 2.
func New(c *circuit.Circuit, workers int) (*Model, finding.List) {
	models, fl := elec.Embedded()
	text, err := data.ReadFile("data/models.yaml")
	if err != nil {
		fl.Errorf(finding.Pos{}, "", "", "%v", err)
		return nil, fl
	}
	models.Add("models.yaml", text, &fl)
	if workers <= 0 {
		workers = 2
	}
	b := &mapper{m: &Model{C: c, Ground: circuit.None, control: map[int]float64{}, workers: workers}, models: models}
	b.ground(&fl)
	if fl.Errors() {
		return nil, fl
	}
	b.m.node = make([]int, len(c.Nets))
	for i := range b.m.node {
		b.m.node[i] = -1
	}
	b.at(b.m.Ground)
	b.controls()
	b.m.Split = b.split()
	for pi := range c.Parts {
		if b.m.Split == nil || b.m.Split.Mine[pi] || b.m.Split.There[pi] && !b.m.Split.Logic[pi] {
			b.part(pi)
		}
	}
	if b.m.Split != nil {
		b.chips()
	}
	b.sources(&fl)
	e, more := elec.Compile(b.nl, models)
	for _, f := range more {
		if f.Severity == finding.Error { // a node that only leakage holds is common where a board is described in part
			fl = append(fl, f)
		}
	}
	if e == nil || fl.Errors() {
		return nil, fl
	}
	b.m.E = e
	b.m.findRails()
	return b.m, fl
}

type mapper struct {
	m      *Model
	nl     elec.Netlist
	models *elec.Models
}

func (b *mapper) ground(fl *finding.List) {
	c := b.m.C
	name := ""
	pos := finding.Pos{}
	if a := c.Board.Analog; a != nil {
		name, pos = a.Ground, a.Pos
	}
	for _, try := range []string{name, "GND", "0V", "AGND"} {
		if n, ok := c.Net(try); ok && try != "" && b.m.Ground == circuit.None {
			b.m.Ground = n
		}
	}
	for i, n := range c.Nets {
		if b.m.Ground == circuit.None && n.Rail && n.Volts == 0 {
			b.m.Ground = i
		}
	}
	if b.m.Ground == circuit.None {
		fl.Errorf(pos, "analog", "write `ground: NET` under `analog:`", "no net is the one that voltages are against")
	}
}

// at is the node of a net.
func (b *mapper) at(net int) int {
	if b.m.node[net] < 0 {
		b.m.node[net] = len(b.nl.Nodes)
		b.nl.Nodes = append(b.nl.Nodes, b.m.C.NetName(net))
		b.m.nets = append(b.m.nets, net)
	}
	return b.m.node[net]
}

// loose is a node of its own for a terminal that the board leaves open.
func (b *mapper) loose(name string) int {
	b.nl.Nodes = append(b.nl.Nodes, name)
	b.m.nets = append(b.m.nets, circuit.None)
	return len(b.nl.Nodes) - 1
}

func (b *mapper) controls() {
	a := b.m.C.Board.Analog
	if a == nil {
		return
	}
	for _, k := range a.Controls {
		if pi, ok := b.m.C.PartByRef(k.Ref); ok {
			b.m.control[pi] = k.Position
		}
	}
}

// device adds one device; pins are circuit pins, circuit.None for a terminal that is left open.
func (b *mapper) device(d Device, model string, value, tol float64, params map[string]float64) {
	e := elec.Device{Name: d.Name, Kind: d.Kind, Value: value, Model: model, Params: params, Tol: tol}
	for i, p := range d.Pins {
		if p == circuit.None {
			e.Nodes = append(e.Nodes, b.loose(d.Name+"."+elec.Terminals(d.Kind)[i]))
		} else {
			e.Nodes = append(e.Nodes, b.at(b.m.C.Pins[p].Net))
		}
	}
	d.Index, d.Value = len(b.nl.Devices), value
	b.nl.Devices = append(b.nl.Devices, e)
	b.m.Devices = append(b.m.Devices, d)
}

// sources adds what feeds the board: declared sources, and a supply for every rail that none of them and no regulator makes.
func (b *mapper) sources(fl *finding.List) {
	c := b.m.C
	made := map[int]bool{b.m.Ground: true}
	for _, d := range b.m.Devices {
		if d.Kind == elec.Regulator && d.Pins[1] != circuit.None {
			made[c.Pins[d.Pins[1]].Net] = true
		}
	}
	if a := c.Board.Analog; a != nil {
		for i := range a.Sources {
			b.source(&a.Sources[i], made, fl)
		}
	}
	for i, n := range c.Nets {
		if n.Rail && !made[i] {
			s := &board.Source{Name: n.Name, Kind: board.DC, Plus: n.Name, Minus: c.NetName(b.m.Ground), Volts: n.Volts, Tolerance: 0.02}
			b.between(s, i, b.m.Ground, elec.VoltageSource, n.Volts, 0.02, map[string]float64{"ohms": 0.05})
		}
	}
}

func (b *mapper) source(s *board.Source, made map[int]bool, fl *finding.List) {
	plus, ok1 := b.m.C.Net(s.Plus)
	minus, ok2 := b.m.C.Net(s.Minus)
	if !ok1 || !ok2 {
		fl.Errorf(s.Pos, s.Name, "", "source %s: no part is on %s or %s", s.Name, s.Plus, s.Minus)
		return
	}
	tol := func(usual float64) float64 {
		if s.Tolerance > 0 {
			return s.Tolerance
		}
		return usual
	}
	r := max(s.Ohms, 0.01)
	switch s.Kind {
	case board.Mains:
		f := s.Frequency
		if f == 0 {
			f = 50
		}
		b.m.Mains = true
		b.m.Period = max(b.m.Period, 1/f)
		b.between(s, plus, minus, elec.VoltageSource, 0, 0, map[string]float64{"amplitude": s.Volts * math.Sqrt2, "frequency": f, "ohms": r})
	case board.Signal:
		f := s.Frequency
		if f == 0 {
			f = 1000
		}
		b.m.signals = append(b.m.signals, signal{len(b.m.Devices), f})
		b.between(s, plus, minus, elec.VoltageSource, 0, 0, map[string]float64{"ac": s.Volts, "ohms": r})
	case board.DC:
		if s.Minus == b.m.C.NetName(b.m.Ground) {
			made[plus] = true
		}
		b.between(s, plus, minus, elec.VoltageSource, s.Volts, tol(0.02), map[string]float64{"ohms": r})
	case board.Load:
		if s.Ohms > 0 && s.Amperes == 0 {
			b.between(s, plus, minus, elec.Resistor, s.Ohms, tol(0.1), nil)
			return
		}
		b.between(s, plus, minus, elec.CurrentSource, s.Amperes, tol(0.1), nil)
	}
}

func (b *mapper) between(s *board.Source, plus, minus int, k elec.Kind, value, tol float64, params map[string]float64) {
	e := elec.Device{Name: "source " + s.Name, Kind: k, Nodes: []int{b.at(plus), b.at(minus)}, Value: value, Params: params, Tol: tol}
	b.m.supplies = append(b.m.supplies, len(b.m.Devices))
	b.m.Devices = append(b.m.Devices, Device{Name: s.Name, Kind: k, Part: circuit.None, Index: len(b.nl.Devices), Value: value, Class: "source", Source: s})
	b.nl.Devices = append(b.nl.Devices, e)
}

// findRails lists the nets that others hang on: declared rails but ground, and what regulators hold.
func (m *Model) findRails() {
	seen := map[int]bool{m.Ground: true}
	add := func(n int) {
		if !seen[n] && m.node[n] >= 0 {
			seen[n] = true
			m.rails = append(m.rails, n)
		}
	}
	for i, n := range m.C.Nets {
		if n.Rail {
			add(i)
		}
	}
	for _, d := range m.Devices {
		if d.Kind == elec.Regulator && d.Pins[1] != circuit.None {
			add(m.C.Pins[d.Pins[1]].Net)
		}
	}
}

// Node is the node of a net, or -1.
func (m *Model) Node(net int) int { return m.node[net] }

// Rails are the nets that others hang on, in the order of the board.
func (m *Model) Rails() []int { return m.rails }

// name of a type as written, upper case, without a maker's letters where they say nothing.
func typeName(s string) string { return strings.ToUpper(strings.TrimSpace(s)) }
