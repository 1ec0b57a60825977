package part

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfsplit/internal/core/pld"
)

// Programmable logic: a record names the fuse array, a board's fuse map makes a type of its own of it.

func (t *Type) addArray(name string) error {
	if pld.Total(name) == nil {
		return fmt.Errorf("fuses: no fuse array %s; there are %s", name, strings.Join(pld.Devices(), ", "))
	}
	if !t.Opaque {
		return fmt.Errorf("fuses: the record has logic of its own; write  opaque: …  for what is known without a fuse map")
	}
	t.Array = name
	return nil
}

// Programmed gives the type of a part with these fuses, one byte for each fuse: 0 intact, 1 blown. t is not changed. The error says why the map cannot be of
// this part.
func (t *Type) Programmed(fuses []byte) (*Type, error) {
	if t.Array == "" {
		return nil, fmt.Errorf("a %s has no fuses", t.Name)
	}
	name := func(pin int) string { return t.Pins[pin-1].Name }
	logic, pins, err := pld.Logic(t.Array, fuses, name)
	if err != nil {
		return nil, err
	}
	p := *t
	p.Opaque, p.Stmts = false, nil
	p.nodeIndex = maps.Clone(t.nodeIndex)
	p.Nodes = slices.Clone(t.Nodes)
	for i := range p.Nodes {
		p.Nodes[i].Use = 0
	}
	if err := parseLogic(&p, logic); err != nil {
		return nil, fmt.Errorf("the fuse map gives no logic: %w", err)
	}
	for _, pin := range pins.Inputs {
		if n := t.Pins[pin-1].Node; n >= 0 {
			p.Nodes[n].Use |= Heard
		}
	}
	return &p, nil
}
