package app_test

import (
	"fmt"
	"io/fs"
	"testing"

	"halfsplit/examples"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// What the board of the linear supply fills in, worked out by hand from the board file: windings of 9 V across a bridge and of 15 V from a centre tap,
// 25, 25 and 30 ohms on +5 V, 60 ohms on each of the others.
func TestSupplyFillsCalculators(t *testing.T) {
	data, err := fs.ReadFile(examples.Files, "bench-supply/board.yaml")
	if err != nil {
		t.Fatal(err)
	}
	b, fl := yamlfile.ParseBoard("board.yaml", data, nil)
	if fl.Errors() {
		t.Fatal(fl)
	}
	lib, _ := part.Embedded()
	c, _ := circuit.Build(b, lib)
	checked := 0
	for _, k := range []struct{ calc, at, want string }{
		{"ripple", "C1", "capacitance=0.0047 secondary=9 drop=2 frequency=50 current=0.5667"},
		{"ripple", "V9", "capacitance=0.0047 secondary=9 drop=2 frequency=50 current=0.5667"},
		{"regulator", "U1", "capacitance=0.0047 secondary=9 drop=2 frequency=50 current=0.5667 output=5"},
		{"regulator", "U3", "capacitance=0.0022 secondary=15 drop=1 frequency=50 current=0.2 output=12"},
		{"reservoir", "U2", "secondary=15 drop=1 frequency=50 current=0.2"},
		{"discharge", "C8", "capacitance=0.0022 voltage=23.3"},
	} {
		taken, err := app.CalcFrom(c, k.calc, k.at)
		got := ""
		for i, x := range taken {
			if i > 0 {
				got += " "
			}
			got += fmt.Sprintf("%s=%s", x.Name, x.Value)
		}
		if err != nil || got != k.want {
			t.Errorf("%s at %s: %s, %v; want %s", k.calc, k.at, got, err, k.want)
		}
		if v, err := app.Calc(k.calc, nil, c, k.at); k.calc != "reservoir" && k.calc != "discharge" && (err != nil || len(v.Lines) == 0) {
			t.Errorf("%s at %s gives %v, %v", k.calc, k.at, v.Lines, err)
		}
		checked++
	}
	if _, err := app.CalcFrom(c, "ripple", "R1"); err == nil {
		t.Error("a resistor is taken for a reservoir")
	}
	if n := len(app.SupplyCalcs(c)); checked != 6 || n != 9 {
		t.Errorf("%d checked, %d links", checked, n)
	}
}
