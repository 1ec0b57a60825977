package bench

import (
	"reflect"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/sim"
)

// Invented boards are what they are meant to be: as many chips as asked for, about forty actions of two to twenty moments, nearly every level
// known in every action, and on 200 packages about 20,000 single faults.
func TestBoards(t *testing.T) {
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	levels, known := 0, 0
	for _, packages := range []int{5, 6, 11, 24, 25, 50, 100, 200, 400} {
		b := Generate(3, packages)
		if !reflect.DeepEqual(b, Generate(3, packages)) {
			t.Errorf("%d packages: two boards of one seed differ", packages)
		}
		c, fl := circuit.Build(b, lib)
		if c == nil {
			t.Fatal(packages, fl)
		}
		chips := 0
		for _, p := range c.Parts {
			if len(p.Type.Pins) > 4 {
				chips++
			}
		}
		if chips != packages || len(c.Actions) != actionsPerBoard {
			t.Errorf("%d packages: %d chips, %d actions", packages, chips, len(c.Actions))
		}
		n := len(fault.Universe(c))
		if per := n / packages; per < 85 || per > 125 {
			t.Errorf("%d packages: %d single faults", packages, n)
		}
		start := sim.Compile(c).Unknown(nil).Extend(c.Start()...)
		for a, act := range c.Actions {
			x := start
			if a != c.Start()[0] {
				x = start.Extend(a)
			}
			if len(act.Moments) < 2 || len(act.Moments) > 20 {
				t.Errorf("%d packages: %s has %d moments", packages, act.Name, len(act.Moments))
			}
			for i, v := range x.Settled(x.Moments() - 1) {
				if !c.Nets[i].Hidden {
					levels++
					if v == 1 || v == 2 || v == 4 {
						known++
					}
				}
			}
		}
	}
	if levels < 150_000 || float64(known) < 0.98*float64(levels) {
		t.Errorf("%d levels looked at, %d known", levels, known)
	}
}
