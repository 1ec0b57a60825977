package analog_test

import (
	"context"
	"math"
	"testing"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// A change-over switch joins its pole to the throw that it rests on: 10 kΩ from 12 V against 4.7 kΩ to ground on that side.
func TestContactsRestWhereTheyAre(t *testing.T) {
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	for _, k := range []struct {
		to         string
		up, across float64
	}{{"up", 12 * 4.7 / 14.7, 12}, {"down", 12, 12 * 4.7 / 14.7}} {
		b := &board.Board{Title: k.to, Rails: []board.Rail{{Net: "+12V", Volts: 12}, {Net: "GND"}}, Analog: &board.Analog{Ground: "GND"}}
		two := func(ref string, ohms float64, a, z string) {
			b.Parts = append(b.Parts, board.Part{Ref: ref, Type: "resistor", Listed: true, Value: ohms, HasValue: true, Pins: []board.Pin{{Net: a}, {Net: z}}})
		}
		two("R1", 10e3, "+12V", "A")
		two("R2", 10e3, "+12V", "B")
		two("R3", 4.7e3, "C", "GND")
		b.Parts = append(b.Parts, board.Part{Ref: "S1", Type: "switch-spdt", Listed: true, Pins: []board.Pin{{Net: "A"}, {Net: "C"}, {Net: "B"}}, Rests: []board.Rest{{To: k.to}}})
		c, fl := circuit.Build(b, lib)
		if c == nil {
			t.Fatal(fl)
		}
		m, fl := analog.New(c, 1)
		if m == nil || len(m.Silent) > 0 {
			t.Fatal(fl)
		}
		rows, err := analog.NewLab(analog.NewUniverse(m)).Table(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for _, r := range rows {
			want, ok := map[string]float64{"A": k.up, "B": k.across}[c.NetName(r.Net)]
			if !ok {
				continue
			}
			seen++
			if math.Abs(r.Volts-want) > 0.01 {
				t.Errorf("%s: net %s at %.3f V, want %.3f", k.to, c.NetName(r.Net), r.Volts, want)
			}
		}
		if seen < 4 {
			t.Errorf("%s: %d pins on A and B in the table", k.to, seen)
		}
	}
}
