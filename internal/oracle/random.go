package oracle

// Random stimuli, boards and faults for comparing simulators. The source of randomness is the caller's, so that a
// seed names a case.

import (
	"fmt"
	"math/rand"
	"sort"
	"strings"
)

// Stimulate gives the board random steps. Most moments change one to three inputs; unknowns adds unknown levels,
// and inputs in free also let go ('Z').
func Stimulate(b *Board, random *rand.Rand, moments int, unknowns bool, free map[string]bool) {
	b.Steps = nil
	level := func(net string) byte {
		switch r := random.Intn(16); {
		case unknowns && r == 0:
			return 'X'
		case free[net] && r < 6:
			return 'Z'
		}
		return '0' + byte(random.Intn(2))
	}
	for m := 0; m < moments; m++ {
		step := map[string]byte{}
		if m == 0 || random.Intn(12) == 0 {
			for _, net := range b.Inputs {
				step[net] = level(net)
			}
		} else if len(b.Inputs) > 0 {
			for k := 1 + random.Intn(3); k > 0; k-- {
				net := b.Inputs[random.Intn(len(b.Inputs))]
				step[net] = level(net)
			}
		}
		b.Steps = append(b.Steps, step)
	}
}

// KeepDecades changes the steps of a single part's board so that no preset is over 9, where makers differ.
func KeepDecades(m *Model, b *Board) {
	for _, s := range m.Record.Sections {
		if len(s.Decade) != 3 {
			continue
		}
		now := map[string]byte{}
		unit := s.Units[0]
		high := PinNet(unit[s.Decade[0]])
		for _, step := range b.Steps {
			for net, level := range step {
				now[net] = level
			}
			for _, name := range s.Decade[1:] {
				if net := PinNet(unit[name]); now[high] != '0' && now[net] != '0' {
					step[net], now[net] = '0', '0'
				}
			}
		}
	}
}

// Decade tells whether a part is a decade counter with a preset.
func (m *Model) Decade() bool {
	for _, s := range m.Record.Sections {
		if len(s.Decade) > 0 {
			return true
		}
	}
	return false
}

// Free gives the inputs of a single part's board at which the part may itself drive or switch.
func Free(m *Model) map[string]bool {
	free := map[string]bool{}
	for _, pin := range append(m.Driven(), m.Switched()...) {
		free[PinNet(pin)] = true
	}
	return free
}

// TypeName is a part name with a family, as the boards use them: {"7400", "LS"}.
type TypeName struct{ Name, Family string }

// boardMaker lays out a random board.
type boardMaker struct {
	random *rand.Rand
	b      *Board
	nets   []string // nets something may listen to
	shared []string // nets with several drivers
	// switched are nets at analogue switches: no resistor goes there, for the Verilog model tries all combinations
	// of switches and levels around a resistor.
	switched map[string]bool
}

// RandomBoard lays out a board of so many parts of the given types (a type may occur more often by standing in the
// list more often), with pull-ups, buses, feedback, open inputs and, if wanted, series resistors between nets.
func (l *Library) RandomBoard(random *rand.Rand, parts int, types []TypeName, series bool) (*Board, error) {
	k := &boardMaker{random: random, switched: map[string]bool{}, b: &Board{Rails: map[string]byte{"+5": '1', "GND": '0'}}}
	for i := 0; i < 3+parts/4; i++ {
		net := fmt.Sprintf("in%d", i)
		k.b.Inputs = append(k.b.Inputs, net)
		k.nets = append(k.nets, net)
	}
	var models []*Model
	for i := 0; i < parts; i++ {
		t := types[random.Intn(len(types))]
		m, err := l.Model(t.Name, t.Family)
		if err != nil {
			return nil, err
		}
		models = append(models, m)
		p := Part{Ref: fmt.Sprintf("U%d", i+1), Type: t.Name, Family: t.Family, Pins: map[int]string{}}
		for pin, volts := range m.Record.Supply {
			p.Pins[pin] = "+5"
			if volts == "0" {
				p.Pins[pin] = "GND"
			}
		}
		k.b.Parts = append(k.b.Parts, p)
		k.outputs(&k.b.Parts[i], m)
	}
	for i, m := range models {
		k.inputsOf(&k.b.Parts[i], m)
	}
	k.resistors(series)
	return k.b, nil
}

// outputs names the nets of what the part drives or switches. One in five joins an earlier shared net.
func (k *boardMaker) outputs(p *Part, m *Model) {
	pins := map[int]bool{}
	for _, pin := range append(m.Driven(), m.Switched()...) {
		pins[pin] = true
	}
	defer func() {
		for _, pin := range m.Switched() {
			k.switched[p.Pins[pin]] = true
		}
	}()
	for _, pin := range sortedKeys(pins) {
		r := k.random.Intn(40)
		switch {
		case r == 0:
			continue
		case r < 8 && len(k.shared) > 0:
			p.Pins[pin] = k.shared[k.random.Intn(len(k.shared))]
			continue
		}
		net := fmt.Sprintf("%s_%d", strings.ToLower(p.Ref), pin)
		p.Pins[pin] = net
		k.nets = append(k.nets, net)
		if r < 14 {
			k.shared = append(k.shared, net)
		}
	}
}

func (k *boardMaker) inputsOf(p *Part, m *Model) {
	for _, pin := range m.Heard() {
		if p.Pins[pin] != "" {
			continue
		}
		switch r := k.random.Intn(30); {
		case r == 0:
		case r < 4:
			p.Pins[pin] = []string{"+5", "GND"}[k.random.Intn(2)]
		case r < 12:
			p.Pins[pin] = k.b.Inputs[k.random.Intn(len(k.b.Inputs))]
		default:
			p.Pins[pin] = k.nets[k.random.Intn(len(k.nets))]
		}
	}
}

// resistors adds pull-ups and pull-downs, and a few series resistors that do not form chains.
func (k *boardMaker) resistors(series bool) {
	taken := map[string]bool{}
	add := func(a, b string) {
		ohms := []int{0, 330, 1000, 4700, 10000, 22000}[k.random.Intn(6)]
		k.b.Parts = append(k.b.Parts, Part{Ref: fmt.Sprintf("R%d", len(k.b.Parts)+1), Type: "resistor", Pins: map[int]string{1: a, 2: b}, Ohms: ohms})
	}
	for _, net := range k.shared {
		if k.random.Intn(2) == 0 && !k.switched[net] {
			add([]string{"+5", "GND"}[k.random.Intn(4)/3], net)
		}
	}
	for i := 0; series && i < len(k.nets)/12; i++ {
		a, b := k.nets[k.random.Intn(len(k.nets))], k.nets[k.random.Intn(len(k.nets))]
		if a != b && !taken[a] && !taken[b] && !k.switched[a] && !k.switched[b] {
			taken[a], taken[b] = true, true
			add(a, b)
		}
	}
}

// RandomFault gives one fault that fits the board.
func (l *Library) RandomFault(random *rand.Rand, b *Board) (Fault, error) {
	nets := b.Nets()
	signal := func() string {
		for {
			net := nets[random.Intn(len(nets))]
			if _, rail := b.Rails[net]; !rail {
				return net
			}
		}
	}
	switch random.Intn(8) {
	case 0:
		return Fault{Kind: []string{"net-low", "net-high"}[random.Intn(2)], Net: signal()}, nil
	case 1:
		f := Fault{Kind: "bridge", Net: signal(), Net2: signal()}
		for f.Net2 == f.Net {
			f.Net2 = nets[random.Intn(len(nets))]
		}
		return f, nil
	case 2:
		return Fault{Kind: []string{"source-low", "source-high", "source-dead"}[random.Intn(3)], Net: b.Inputs[random.Intn(len(b.Inputs))]}, nil
	}
	p := b.Parts[random.Intn(len(b.Parts))]
	if p.Type == "resistor" {
		return Fault{Kind: []string{"open", "short"}[random.Intn(2)], Ref: p.Ref}, nil
	}
	m, err := l.Model(p.Type, p.Family)
	if err != nil {
		return Fault{}, err
	}
	connected := func(pins []int) []int {
		var list []int
		for _, pin := range pins {
			if p.Pins[pin] != "" {
				list = append(list, pin)
			}
		}
		sort.Ints(list)
		return list
	}
	kinds := []string{"part-dead", "no-supply", "part-erratic", "joint-open", "joint-open"}
	pins := connected(m.signalPins())
	if driven := connected(m.Driven()); len(driven) > 0 && random.Intn(3) > 0 {
		kinds, pins = []string{"output-low", "output-high", "output-open"}, driven
	} else if heard := connected(m.Heard()); len(heard) > 0 && random.Intn(4) > 0 {
		kinds, pins = []string{"input-low", "input-high", "input-open"}, heard
	}
	f := Fault{Kind: kinds[random.Intn(len(kinds))], Ref: p.Ref}
	if f.Kind != "part-dead" && f.Kind != "no-supply" && f.Kind != "part-erratic" {
		if len(pins) == 0 {
			return Fault{Kind: "part-dead", Ref: p.Ref}, nil
		}
		f.Pin = pins[random.Intn(len(pins))]
	}
	return f, nil
}
