package sim_test

import (
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

// The free run of a processor, fast against slow: a 6502 and a Z80 with a decoder, memories and a clock that comes through gates, with random
// faults in 63 lanes.

func wired(ref, typ, pins string) board.Part {
	p := board.Part{Ref: ref, Type: typ}
	for w := range strings.FieldsSeq(pins) {
		pin, net, _ := strings.Cut(w, "=")
		p.Pins = append(p.Pins, board.Pin{Pin: pin, Net: net})
	}
	return p
}

func bus(pin, net string, n int) string {
	var out []string
	for i := range n {
		out = append(out, pin+strconv.Itoa(i)+"="+net+strconv.Itoa(i))
	}
	return strings.Join(out, " ")
}

// freeRunning is a board with a processor; the oscillator goes through an inverter, the reset through a pull-up.
func freeRunning(cpu string) *trial {
	u1 := wired("U1", "6502", "VSS=GND RDY=VCC /IRQ=VCC /NMI=VCC VCC=VCC SO=VCC /RES=/RST PHI0=CLK RW=RW SYNC=SYNC "+bus("A", "A", 16)+" "+bus("D", "D", 8))
	if cpu == "Z80" {
		u1 = wired("U1", "Z80", "GND=GND VCC=VCC /INT=VCC /NMI=VCC /WAIT=VCC /BUSREQ=VCC /RESET=/RST CLK=CLK /WR=RW /MREQ=SYNC "+bus("A", "A", 16)+" "+bus("D", "D", 8))
	}
	return &trial{
		parts: []board.Part{
			u1,
			wired("X1", "oscillator", "OUT=OSC GND=GND VCC=VCC"),
			wired("U2", "74LS04", "1A=OSC 1Y=CLK 2A=SYNC 2Y=EN GND=GND VCC=VCC"),
			wired("U3", "74LS138", "A=A13 B=A14 C=A15 /G2A=GND /G2B=SYNC G1=VCC /Y7=/CE7 /Y0=/CE0 /Y3=/CE3 GND=GND VCC=VCC"),
			wired("U4", "74LS00", "1A=A0 1B=A1 1Y=N1 2A=A5 2B=N1 2Y=N2 3A=EN 3B=N2 3Y=N3 GND=GND VCC=VCC"),
			wired("U5", "6116", bus("A", "A", 11)+" "+strings.ReplaceAll(bus("D", "D", 8), " ", " ")+" /CS=/CE0 /OE=GND /WE=RW GND=GND VCC=VCC"),
			{Ref: "R1", Type: "resistor", Listed: true, Pins: []board.Pin{{Net: "VCC"}, {Net: "/RST"}}, Value: 4700, HasValue: true},
			{Ref: "S1", Type: "button", Listed: true, Pins: []board.Pin{{Net: "/RST"}, {Net: "GND"}}},
		},
		actions: [][]board.Step{{{Press: []board.Name{{Text: "S1"}}}, {Release: []board.Name{{Text: "S1"}}}}},
	}
}

func TestFreeRunAgainstTheSlowSimulator(t *testing.T) {
	compared := 0
	for i, cpu := range []string{"6502", "Z80"} {
		tr := freeRunning(cpu)
		c := tr.build()
		if c == nil {
			t.Fatal("the board is refused")
		}
		if n := len(c.Actions); n != 3 || c.Actions[2].Name != "free-run" || c.Actions[2].FreeRun == circuit.None {
			t.Fatalf("%s: %d actions, the last should be the free run", cpu, n)
		}
		for seed := range uint64(3) {
			tr.bench = nil
			tr.randomFaults(rand.New(rand.NewPCG(seed, uint64(i))), c)
			lane, how, signs := tr.compare(c, int(seed))
			if how != "" {
				t.Fatalf("%s seed %d lane %d: %s; faults %v", cpu, seed, lane, how, tr.lanes[lane])
			}
			compared += signs
		}
	}
	if compared < 500_000 {
		t.Errorf("only %d signs compared", compared)
	}
}
