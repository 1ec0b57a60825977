package sim_test

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"sync"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// Random boards, actions and faults. Everything is kept by name, so that a part can be taken out of a case that
// fails and the rest still means the same.

// trial is one board with what is done to it: lane by lane the faults, and the pins lifted in all lanes.
type trial struct {
	parts   []board.Part
	inputs  []string
	actions [][]board.Step
	bench   []fault
	lanes   [][]fault
}

// fault is a primitive fault at a pin (U1.3), a net, a link (part and number), a lamp or an input. kind is an index into faultKinds.
type fault struct {
	kind      int
	at, other string
	number    int
}

func (f fault) String() string {
	return strings.TrimSpace(fmt.Sprintf("%s %s %s", faultKinds[f.kind].name, f.at, f.other)) + map[bool]string{true: fmt.Sprintf(" #%d", f.number)}[f.number > 0]
}

var library = sync.OnceValue(func() *part.Library {
	lib, _ := part.Embedded()
	types, fl := part.Parse("feedback", []byte(feedback))
	if fl = append(fl, lib.Add(types, false)...); fl.Errors() {
		panic(fl)
	}
	return lib
})

// feedback hears at its own output, as programmable logic does.
const feedback = `
- part: feedback
  title: hears its own output
  families: [74]
  package: DIP8
  pins: A B C GND EN Y Z VCC
  logic: |
    tri Y = A & B when EN
    Z = !Y | C & B
  prior: ssi
  source: made up for the test
`

// pick draws one of a list.
func pick[T any](r *rand.Rand, list []T) T { return list[r.IntN(len(list))] }

var gateTypes = strings.Fields("7400 74LS00 74HC00 74LS02 74HC02 7404 74LS04 74HC04 74HCT04 74LS08 74S10 74LS10 74LS32 74LS86 74HC86 74LS20 74LS51 4001 4011 4069 4070 4081")
var openTypes = strings.Fields("7405 74LS05 7407 7438 74LS38 74LS03 74HC03 74LS125 74HC125 74LS126 74LS240 74LS241 74HC244 74LS245")
var bitTypes = strings.Fields("7474 74LS74 74HC74 74LS76 74LS109 74LS112 74LS93 7490 74LS393 74LS161 74LS163 74HC161 74LS191 74LS193 74LS164 74LS165 74LS194 74LS75 74LS373 74LS374 74LS175 74LS279 74LS123 74121 4013 4017 4020 4040 4042 4043 4060 4076")
var middleTypes = strings.Fields("74LS138 74LS139 74LS151 74LS153 74LS157 74LS85 74LS83 74LS47 7447 74LS48 74LS148 74LS280 74LS181 4028 4051 4053 4066 4067 4511 74LS145 7489 74LS189 2114 2102 74188 74S287 feedback feedback oscillator opaque-dip8")
var looseTypes = strings.Fields("resistor resistor resistor resistor diode led led lamp npn pnp nmos pmos njfet 2N3904 switch button switch-dpst switch-spdt switch-spdt-centre-off switch-dpdt button-spdt dip-switch-2 dip-switch-4 rotary-4p3 switch-bcd relay relay-nc relay-spdt fuse jumper capacitor zener resnet-sip5 resnet-iso-sip4 potentiometer digit-ca digit-cc test-point bridge-rectifier clock")

// randomType draws a type that the library has; now and then any at all that is not too big for the slow simulator.
func randomType(r *rand.Rand) string {
	for {
		var name string
		switch n := r.IntN(20); {
		case n < 6:
			name = pick(r, gateTypes)
		case n < 8:
			name = pick(r, openTypes)
		case n < 11:
			name = pick(r, bitTypes)
		case n < 13:
			name = pick(r, middleTypes)
		case n < 14:
			name = pick(r, library().Names())
		default:
			name = pick(r, looseTypes)
		}
		if m, err := library().Find(name); err == nil && smallEnough(m.Type) {
			return name
		}
	}
}

func smallEnough(t *part.Type) bool {
	for _, s := range t.Stmts {
		if s.Words > 1024 {
			return false
		}
	}
	return true
}

// randomTrial makes a board of n parts with its actions; faults come later, because they need the circuit.
func randomTrial(r *rand.Rand, n int) *trial {
	tr := &trial{}
	nets := make([]string, 3+n*2)
	for i := range nets {
		nets[i] = "N" + strconv.Itoa(i)
	}
	driven := map[string]bool{}
	free := 0 // nets below this have been given to an output
	output := func() string {
		if r.IntN(8) == 0 || free == len(nets) {
			return pick(r, nets) // shared, or a fight
		}
		net := nets[free]
		free++
		driven[net] = true
		return net
	}
	for i := range n {
		m, name := part.Match{}, ""
		for m.Type == nil {
			name = randomType(r)
			m, _ = library().Find(name)
		}
		p := board.Part{Ref: "U" + strconv.Itoa(i+1), Type: name}
		p.Closed, p.Rests = randomRest(r, m.Type)
		if r.IntN(4) > 0 {
			p.Value, p.HasValue = pick(r, []float64{0, 100, 330, 1000, 2000, 10000, 15000, 100000}), true
		}
		for _, s := range m.Type.Stmts {
			if s.Kind == part.ROM && r.IntN(4) > 0 {
				p.Contents = make([]byte, s.Words-r.IntN(2)*s.Words/4)
				for k := range p.Contents {
					p.Contents[k] = byte(r.IntN(256))
				}
			}
		}
		railed := false
		for _, node := range m.Type.Nodes {
			net := pick(r, nets)
			switch {
			case node.Supply:
				net = railFor(node)
			case node.Use&part.Driven != 0:
				if net = output(); r.IntN(10) == 0 {
					net = "-"
				}
			case node.Use&part.Linked != 0:
				if !railed && r.IntN(3) == 0 {
					net, railed = pick(r, []string{"VCC", "GND"}), true
				}
			case r.IntN(6) == 0:
				net = pick(r, []string{"VCC", "GND"})
			case r.IntN(12) == 0:
				net = "-"
			}
			p.Pins = append(p.Pins, board.Pin{Pin: strconv.Itoa(node.Pins[0]), Net: net})
		}
		tr.parts = append(tr.parts, p)
	}
	for _, net := range nets {
		if !driven[net] && r.IntN(3) > 0 || r.IntN(40) == 0 {
			tr.inputs = append(tr.inputs, net)
		}
	}
	tr.randomActions(r)
	return tr
}

// railFor is the rail that a supply pin goes to.
func railFor(node part.Node) string {
	switch {
	case node.HasV && node.Volts < 0 || node.Name == "VEE" || node.Name == "VBB":
		return "MINUS"
	case node.HasV && node.Volts == 0 || !node.HasV && (node.Name == "GND" || node.Name == "VSS"):
		return "GND"
	}
	return "VCC"
}

// randomActions makes a first action that sets most inputs, then a few that change little.
func (tr *trial) randomActions(r *rand.Rand) {
	var levers []lever
	for _, p := range tr.parts {
		m, _ := library().Find(p.Type)
		for _, sec := range m.Type.Sections() {
			levers = append(levers, lever{p.Ref, m.Type.PositionsOf(sec)})
			if sec != "" {
				levers = append(levers, lever{p.Ref + "." + sec, m.Type.PositionsOf(sec)})
			}
		}
	}
	set := func(in string) board.Set {
		v := board.Value{Number: uint64(r.IntN(2))}
		if r.IntN(15) == 0 {
			v.Letter = pick(r, []byte("xz"))
		}
		return board.Set{Net: in, Value: v}
	}
	var first board.Step
	for _, in := range tr.inputs {
		if r.IntN(10) > 0 {
			first.Sets = append(first.Sets, set(in))
		}
	}
	tr.actions = append(tr.actions, []board.Step{first})
	for range 2 + r.IntN(3) {
		var steps []board.Step
		for range 1 + r.IntN(4) {
			var s board.Step
			if len(tr.inputs) > 0 && r.IntN(4) == 0 {
				s.Pulse = board.Name{Text: pick(r, tr.inputs)}
				steps = append(steps, s)
				continue
			}
			for range 1 + r.IntN(3) {
				if len(tr.inputs) > 0 {
					s.Sets = append(s.Sets, set(pick(r, tr.inputs)))
				}
			}
			if len(levers) > 0 && r.IntN(3) == 0 {
				l := pick(r, levers)
				switch name := (board.Name{Text: l.name}); {
				case r.IntN(2) == 0 || len(l.positions) > 2:
					s.Moves = append(s.Moves, board.Move{Switch: l.name, To: pick(r, l.positions)})
				case r.IntN(2) == 0:
					s.Press = append(s.Press, name)
				default:
					s.Release = append(s.Release, name)
				}
			}
			steps = append(steps, s)
		}
		tr.actions = append(tr.actions, steps)
	}
}

// lever is what an action may move, and where to.
type lever struct {
	name      string
	positions []string
}

// randomRest draws where a switch rests; nothing for other parts.
func randomRest(r *rand.Rand, t *part.Type) (closed bool, rests []board.Rest) {
	sections := t.Sections()
	if sections == nil || r.IntN(2) == 0 {
		return false, nil
	}
	if sec := pick(r, sections); sec != "" && r.IntN(2) == 0 {
		return false, []board.Rest{{Section: sec, To: pick(r, t.PositionsOf(sec))}}
	}
	to := pick(r, t.PositionsOf(sections[0]))
	if to == part.ClosedWord || to == part.OpenWord {
		return to == part.ClosedWord, nil
	}
	return false, []board.Rest{{To: to}}
}

// build makes the circuit, without the inputs whose nets are gone; nil when it is refused.
func (tr *trial) build() *circuit.Circuit {
	b := &board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}, {Net: "MINUS", Volts: -5}}, Parts: tr.parts}
	for _, in := range tr.inputs {
		b.Inputs = append(b.Inputs, board.Name{Text: in})
	}
	for i, steps := range tr.actions {
		b.Actions = append(b.Actions, board.Action{Name: "a" + strconv.Itoa(i), Steps: steps})
	}
	c, _ := circuit.Build(b, library())
	return c
}

// randomFaults draws the faults of all lanes; lane 0 has none.
func (tr *trial) randomFaults(r *rand.Rand, c *circuit.Circuit) {
	tr.lanes = make([][]fault, 64)
	for lane := 1; lane < 64; lane++ {
		for range 1 + r.IntN(3) {
			if f, ok := randomFault(r, c); ok && !contradicts(tr.lanes[lane], f) {
				tr.lanes[lane] = append(tr.lanes[lane], f)
			}
		}
	}
	if r.IntN(4) == 0 {
		for range 1 + r.IntN(2) {
			if p := r.IntN(len(c.Pins)); c.Pins[p].Wired && !c.Pins[p].Supply {
				tr.bench = append(tr.bench, fault{kind: kindOf("joint-open"), at: pinText(c, p)})
			}
		}
	}
}

// contradicts: two faults at the same place that cannot both be there. Their meaning is not defined.
func contradicts(have []fault, f fault) bool {
	for _, h := range have {
		same := h.at == f.at && h.number == f.number
		x, y := faultKinds[h.kind].class, faultKinds[f.kind].class
		if same && (x == y || x == "link" && y == "lamp" || x == "lamp" && y == "link") {
			return true
		}
	}
	return false
}

func randomFault(r *rand.Rand, c *circuit.Circuit) (fault, bool) {
	k := r.IntN(len(faultKinds))
	f := fault{kind: k}
	named := func() string { return c.Nets[r.IntN(len(c.Nets))].Name }
	switch faultKinds[k].class {
	case "out":
		if len(c.Drivers) == 0 {
			return f, false
		}
		f.at = pinText(c, pick(r, c.Drivers).Pin)
	case "in", "joint":
		if len(c.Pins) == 0 {
			return f, false
		}
		p := r.IntN(len(c.Pins))
		if c.Pins[p].Supply || faultKinds[k].class == "in" && c.Pins[p].Use&part.Heard == 0 {
			return f, false
		}
		f.at = pinText(c, p)
	case "net":
		f.at = named()
	case "bridge":
		f.at, f.other = named(), named()
		if f.at == f.other || f.other == "" {
			return f, false
		}
	case "link":
		if len(c.Links) == 0 {
			return f, false
		}
		l := r.IntN(len(c.Links))
		if c.Links[l].Kind == circuit.Joint {
			return f, false
		}
		f.at, f.number = c.Parts[c.Links[l].Part].Ref, numberOf(c, l)
	case "lamp":
		if len(c.Lamps) == 0 {
			return f, false
		}
		l := pick(r, c.Lamps)
		f.at, f.number = c.Parts[l.Part].Ref, numberOf(c, l.Link)
	case "source":
		if len(c.Inputs) == 0 {
			return f, false
		}
		f.at = c.Nets[pick(r, c.Inputs).Net].Name
	}
	return f, f.at != ""
}

func pinText(c *circuit.Circuit, p int) string {
	return c.Parts[c.Pins[p].Part].Ref + "." + strconv.Itoa(c.Pins[p].Number)
}

// numberOf is a link's number within its part.
func numberOf(c *circuit.Circuit, link int) int {
	for i, l := range c.Parts[c.Links[link].Part].Links {
		if l == link {
			return i
		}
	}
	return 0
}
