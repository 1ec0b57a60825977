package predict_test

// The free run takes a few dozen moments where the processor takes 65536 addresses. On random logic over ten address lines it must show what
// counting through all of them shows.

import (
	"context"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

const lines = 10

// decoders are drawn at random: what stands between address lines and chip selects.
var decoders = []string{"74LS138", "74LS139", "74LS00", "74LS02", "74LS04", "74LS08", "74LS32", "74LS30", "74LS20", "74LS10", "74LS27", "74LS85", "74LS42", "74LS86", "74LS155"}

// selects makes random parts over the address lines; the inputs of later ones may be outputs of earlier ones.
func selects(t *testing.T, r *rand.Rand, lib *part.Library, n int) []board.Part {
	t.Helper()
	var nets []string
	for i := range lines {
		nets = append(nets, "A"+strconv.Itoa(i))
	}
	var out []board.Part
	for i := range n {
		typ := decoders[r.IntN(len(decoders))]
		m, err := lib.Find(typ)
		if err != nil {
			t.Fatal(err)
		}
		p := board.Part{Ref: "U" + strconv.Itoa(i+10), Type: typ}
		var made []string
		for k, node := range m.Type.Nodes {
			net := nets[r.IntN(len(nets))]
			switch {
			case node.Supply && node.Name == "GND":
				net = "GND"
			case node.Supply:
				net = "VCC"
			case node.Use&part.Driven != 0:
				net = "N" + strconv.Itoa(i) + "_" + strconv.Itoa(k)
				made = append(made, net)
			case r.IntN(5) == 0:
				net = []string{"GND", "VCC"}[r.IntN(2)]
			}
			p.Pins = append(p.Pins, board.Pin{Pin: strconv.Itoa(node.Pins[0]), Net: net})
		}
		nets = append(nets, made...)
		out = append(out, p)
	}
	return out
}

// counted is the same logic without the processor, its lines counted from outside.
func counted(parts []board.Part) *board.Board {
	b := &board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}}, Parts: parts}
	bus := board.Bus{Name: "ADR"}
	for i := range lines {
		n := board.Name{Text: "A" + strconv.Itoa(i)}
		b.Inputs = append(b.Inputs, n)
		bus.Nets = append([]board.Name{n}, bus.Nets...)
	}
	b.Buses = []board.Bus{bus}
	set := func(w uint64) board.Step {
		return board.Step{Sets: []board.Set{{Net: "ADR", Value: board.Value{Number: w}}}}
	}
	a := board.Action{Name: "count"}
	for w := range uint64(1 << lines) {
		a.Steps = append(a.Steps, set(w))
	}
	b.Actions = []board.Action{{Name: "zero", Steps: []board.Step{set(0)}}, a}
	b.Start = []board.Name{{Text: "zero"}}
	return b
}

// freeRunning adds the processor and its oscillator.
func freeRunning(parts []board.Part) *board.Board {
	cpu := board.Part{Ref: "U1", Type: "Z80"}
	wire := func(pin, net string) { cpu.Pins = append(cpu.Pins, board.Pin{Pin: pin, Net: net}) }
	for _, hold := range []string{"/INT", "/NMI", "/WAIT", "/BUSREQ", "/RESET"} {
		wire(hold, "VCC")
	}
	wire("CLK", "CLK")
	for i := range lines {
		wire("A"+strconv.Itoa(i), "A"+strconv.Itoa(i))
	}
	return &board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}},
		Parts: append(slices.Clone(parts), cpu, board.Part{Ref: "X1", Type: "oscillator", Pins: []board.Pin{{Pin: "OUT", Net: "CLK"}}})}
}

func words(t *testing.T, b *board.Board, lib *part.Library, action string) map[string]predict.Word {
	t.Helper()
	c, fl := circuit.Build(b, lib)
	if c == nil {
		t.Fatal(fl)
	}
	a, ok := c.ActionByName(action)
	if !ok {
		t.Fatalf("no action %s", action)
	}
	var places []circuit.Place
	var names []string
	for i, n := range c.Nets {
		if !n.Hidden && !n.Rail {
			places, names = append(places, circuit.Place{Pin: circuit.None, Net: i}), append(names, n.Name)
		}
	}
	shapes, err := predict.New(c, 1).Expect(context.Background(), nil, predict.Setting{Actions: []int{a}}, places)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]predict.Word{}
	for i, s := range shapes {
		out[names[i]] = s.Word
	}
	return out
}

func TestFreeRunShowsWhatCountingShows(t *testing.T) {
	lib, fl := part.Embedded()
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	compared, unknown := 0, 0
	for seed := range uint64(24) {
		r := rand.New(rand.NewPCG(seed, 6502))
		parts := selects(t, r, lib, 1+int(seed)%8)
		want, got := words(t, counted(parts), lib, "count"), words(t, freeRunning(parts), lib, "free-run")
		for net, w := range want {
			switch g := got[net]; {
			case g == predict.Unknown && w != predict.Unknown:
				unknown++
			case g != w:
				t.Errorf("seed %d: %s shows %v in the free run, %v when every address is counted", seed, net, g, w)
			}
			compared++
		}
	}
	if compared < 600 || unknown*5 > compared {
		t.Errorf("%d nets compared, of %d the free run claims nothing", compared, unknown)
	}
}
