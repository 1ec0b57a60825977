package part

import (
	"math"
	"testing"
)

// Rates by cycle counts: Z80 and 8080 four clocks for a no-operation, 6502, 6800 and 6809 two.
func TestFreeRunRates(t *testing.T) {
	lib, _ := Embedded()
	checked := 0
	for _, w := range []struct {
		name   string
		opcode uint8
		clock  float64
		a0     float64
		a15    float64
	}{{"Z80", 0x00, 4e6, 500e3, 15.26}, {"6502", 0xEA, 1e6, 250e3, 7.63}, {"8080", 0x00, 2e6, 250e3, 7.63}, {"6800", 0x01, 1e6, 250e3, 7.63},
		{"6809", 0x12, 1e6, 250e3, 7.63}, {"8085", 0x00, 4e6, 500e3, 15.26}} {
		m, err := lib.Find(w.name)
		if err != nil || m.Type.FreeRun == nil {
			t.Errorf("%s: no free run (%v)", w.name, err)
			continue
		}
		f := m.Type.FreeRun
		top := w.clock / float64(f.Divide(len(f.Address)-1))
		bottom := w.clock / float64(f.Divide(0)) * float64(int(1)<<f.First)
		if f.Opcode != w.opcode || math.Abs(bottom-w.a0) > 1 || math.Abs(top-w.a15) > 0.005 {
			t.Errorf("%s: %02X, A0 %g Hz, A15 %g Hz", w.name, f.Opcode, bottom, top)
		}
		checked++
	}
	if checked != 6 {
		t.Error(checked)
	}
}

// Every record says what its part is, where that is known from, and what every pin is for.
func TestEveryPinHasADirection(t *testing.T) {
	lib, _ := Embedded()
	pins := 0
	for _, ty := range lib.Types() {
		if ty.Prior == "connector" || ty.Prior == "opaque" {
			continue // what is behind them is not known
		}
		for _, n := range ty.Nodes {
			pins++
			if n.Direction() == "none" {
				t.Errorf("%s pin %d (%s) is neither input, output, supply nor terminal", ty.Name, n.Pins[0], n.Name)
			}
		}
		if ty.Title == "" || ty.Source == "" || ty.Prior == "" {
			t.Errorf("%s: title, source or prior is missing", ty.Name)
		}
	}
	if pins < 7000 {
		t.Errorf("only %d pins", pins)
	}
}
