package circuit_test

// The free run as an action: when it is there, what of it hangs on clock and reset, which lines are counted together, how fast each is.

import (
	"slices"
	"strconv"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

func named(ref, typ string, pins ...string) board.Part {
	p := board.Part{Ref: ref, Type: typ}
	for i := 0; i+1 < len(pins); i += 2 {
		p.Pins = append(p.Pins, board.Pin{Pin: pins[i], Net: pins[i+1]})
	}
	return p
}

// controller is a 6502 with its address lines on nets of their names; clock and further parts are added by the caller.
func controller(more ...board.Part) *board.Board {
	cpu := named("U1", "6502", "RDY", "VCC", "/IRQ", "VCC", "/NMI", "VCC", "SO", "VCC", "/RES", "/RST", "PHI0", "CLK", "RW", "RW")
	for i := range 16 {
		cpu.Pins = append(cpu.Pins, board.Pin{Pin: "A" + strconv.Itoa(i), Net: "A" + strconv.Itoa(i)})
	}
	return &board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}}, Inputs: []board.Name{{Text: "/RST"}}, Parts: append([]board.Part{cpu}, more...)}
}

func freeRunOf(t *testing.T, b *board.Board, name string) (*circuit.Circuit, circuit.Action) {
	t.Helper()
	c, fl := circuit.Build(b, library(t))
	if c == nil {
		t.Fatal(fl)
	}
	i, ok := c.ActionByName(name)
	if !ok {
		t.Fatalf("no action %s", name)
	}
	return c, c.Actions[i]
}

func TestFreeRunIsThereForAProcessorOnly(t *testing.T) {
	c, a := freeRunOf(t, controller(named("X1", "oscillator", "OUT", "CLK")), "free-run")
	if c.Parts[a.FreeRun].Ref != "U1" || !a.Whole || len(a.Prelude) != 1 || c.Actions[a.Prelude[0]].Name != "" {
		t.Errorf("%+v", a)
	}
	if got := c.Sequence([]int{1}); !slices.Equal(got, []int{0, 1}) {
		t.Errorf("an experiment runs %v, want the prelude first", got)
	}
	rates := c.Rates(a.FreeRun)
	if len(rates) != 16 || rates[0].Divide != 4 || rates[15].Divide != 131072 || c.NetName(rates[13].Net) != "A13" {
		t.Errorf("rates %+v; 1 MHz gives 250 kHz at A0 and 7.63 Hz at A15 (from the cycle counts)", rates)
	}
	plain, fl := circuit.Build(&board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}}, Parts: []board.Part{named("U1", "74LS04", "1A", "A", "1Y", "Y")}}, library(t))
	if plain == nil || len(plain.Actions) != 0 {
		t.Errorf("a board without a processor: %v", fl)
	}
}

func TestABoardsOwnFreeRunIsKept(t *testing.T) {
	b := controller(named("X1", "oscillator", "OUT", "CLK"))
	b.Actions = []board.Action{{Name: "free-run", Title: "my own", Steps: []board.Step{{Sets: []board.Set{{Net: "/RST", Value: board.Value{Number: 1}}}}}}}
	_, a := freeRunOf(t, b, "free-run")
	if a.Title != "my own" || a.FreeRun != circuit.None {
		t.Errorf("%+v", a)
	}
	if _, a = freeRunOf(t, b, "free-run-U1"); a.FreeRun == circuit.None {
		t.Errorf("%+v", a)
	}
}

// A processor that waits for its clock has a stored bit for it.
func TestTheClockCountsWhereItCanBeFollowed(t *testing.T) {
	for _, x := range []struct {
		what   string
		parts  []board.Part
		stores int
	}{
		{"an oscillator", []board.Part{named("X1", "oscillator", "OUT", "CLK")}, 1},
		{"through an inverter and a resistor", []board.Part{named("X1", "oscillator", "OUT", "OSC"), named("U2", "74LS04", "1A", "OSC", "1Y", "MID"),
			{Ref: "R1", Type: "resistor", Listed: true, Pins: []board.Pin{{Net: "MID"}, {Net: "CLK"}}}}, 1},
		{"through a flip-flop whose state nobody knows", []board.Part{named("X1", "oscillator", "OUT", "OSC"), named("U2", "7474", "1CLK", "OSC", "1Q", "CLK", "/1Q", "D", "1D", "D", "/1CLR", "VCC", "/1PRE", "VCC")}, 2},
		{"a part whose inside is not modelled", []board.Part{named("U2", "6522", "CA2", "CLK")}, 0},
	} {
		c, _ := freeRunOf(t, controller(x.parts...), "free-run")
		if len(c.Stores) != x.stores {
			t.Errorf("%s: %d stored bits, want %d", x.what, len(c.Stores), x.stores)
		}
	}
}

// sweep gives how many different addresses the action sets on some lines, and whether it ends with them unknown.
func sweep(c *circuit.Circuit, a circuit.Action, mask uint64) (seen int, open bool) {
	words := map[uint64]bool{}
	lines := c.Rates(a.FreeRun)
	for _, m := range a.Moments {
		w := uint64(0)
		for _, s := range m.Sets {
			for i, l := range lines {
				if c.Inputs[s.Input].Net != l.Net {
					continue
				}
				switch s.To {
				case circuit.High:
					w |= 1 << i
				case circuit.Unknown:
					open = true
				}
			}
		}
		words[w&mask] = true
	}
	return len(words), open
}

func TestLinesThatMeetAreCountedThrough(t *testing.T) {
	clock := named("X1", "oscillator", "OUT", "CLK")
	// a decoder of A13 to A15 that a second one on A11, A12 hangs on: five lines in all
	cascade := controller(clock, named("U2", "74LS138", "A", "A13", "B", "A14", "C", "A15", "/G2A", "GND", "/G2B", "GND", "G1", "VCC", "/Y7", "HI"),
		named("U3", "74LS139", "1A", "A11", "1B", "A12", "/1G", "HI", "/1Y0", "CS"))
	c, a := freeRunOf(t, cascade, "free-run")
	if n, open := sweep(c, a, 0xF800); n != 32 || open {
		t.Errorf("cascade: %d of 32 combinations, open %v", n, open)
	}
	if n := len(a.Moments); n != 2*(32+16+2) {
		t.Errorf("cascade: %d moments", n)
	}
	// two pieces that do not meet are counted at once
	apart := controller(clock, named("U2", "74LS138", "A", "A13", "B", "A14", "C", "A15", "/G2A", "GND", "/G2B", "GND", "G1", "VCC", "/Y7", "HI"),
		named("U3", "74LS138", "A", "A0", "B", "A1", "C", "A2", "/G2A", "GND", "/G2B", "GND", "G1", "VCC", "/Y7", "LO"))
	c, a = freeRunOf(t, apart, "free-run")
	n, _ := sweep(c, a, 0xE000)
	m, _ := sweep(c, a, 0x0007)
	if n != 8 || m != 8 || len(a.Moments) != 2*(8+16+2) {
		t.Errorf("two decoders: %d and %d of 8 combinations in %d moments", n, m, len(a.Moments))
	}
	// more lines than are counted through: the run claims no steady level
	wide := controller(clock, named("U2", "74LS30", "A", "A8", "B", "A9", "C", "A10", "D", "A11", "E", "A12", "F", "A13", "G", "A14", "H", "A15", "Y", "IO"))
	c, a = freeRunOf(t, wide, "free-run")
	if n, open := sweep(c, a, 0xFE00); n < 128 || !open || len(a.Moments) > 2*(128+16+2)+1 {
		t.Errorf("eight lines: %d combinations, open %v, %d moments", n, open, len(a.Moments))
	}
}
