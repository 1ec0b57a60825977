package predict_test

import (
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// An open joint takes away what its resistor leads to, whichever end it is at and though one end is a rail; asked for many hypotheses at
// once the meter says the same as asked for each.
func TestOpenJointAtTheRailsEnd(t *testing.T) {
	lib, fl := part.Embedded()
	b := &board.Board{Title: "a pull-up", Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND"}}, Parts: []board.Part{
		{Ref: "R1", Type: "resistor", Listed: true, Value: 330, HasValue: true, Pins: []board.Pin{{Net: "VCC"}, {Net: "A"}}},
		{Ref: "R2", Type: "resistor", Listed: true, Value: 1e4, HasValue: true, Pins: []board.Pin{{Net: "A"}, {Net: "GND"}}},
	}}
	c, more := circuit.Build(b, lib)
	if fl = append(fl, more...); fl.Errors() {
		t.Fatal(fl)
	}
	m := predict.New(c, 1)
	vcc, _ := c.FindPlace("VCC")
	a, _ := c.FindPlace("A")
	var hyps [][]predict.Way
	joints := 0
	for _, f := range fault.Universe(c) {
		hyps = append(hyps, []predict.Way{{F: f}})
		if f.Kind == fault.JointOpen && f.Part(c) == 0 {
			joints++
		}
	}
	if joints != 2 {
		t.Fatalf("%d joints of R1, want 2", joints)
	}
	all := m.OhmsAll(hyps, nil, vcc, a)
	for i, h := range hyps {
		if one := m.Ohms(h, nil, vcc, a); one != all[i] {
			t.Errorf("%s: %v together, %v alone", h[0].F.String(c), all[i], one)
		}
		if h[0].F.Kind == fault.JointOpen && h[0].F.Part(c) == 0 && all[i] == m.Ohms(nil, nil, vcc, a) {
			t.Errorf("%s shows what a good board shows", h[0].F.String(c))
		}
	}
}
