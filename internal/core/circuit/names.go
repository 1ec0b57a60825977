package circuit

import (
	"maps"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/finding"
)

// The way back from indices to the user's words, and from words to places.

// PinName is the pin as a file writes it: U2.4.
func (c *Circuit) PinName(pin int) string {
	p := c.Pins[pin]
	if t := c.Parts[p.Part].Type; t.Package == "" || len(t.Pins) <= 3 || c.Parts[p.Part].Lamps != nil && len(t.Pins) > 3 {
		return c.Parts[p.Part].Ref + "." + t.Nodes[p.Node].Name
	}
	return c.Parts[p.Part].Ref + "." + strconv.Itoa(p.Number)
}

// PinText is the pin as a person is told it: U2 pin 4 (/1Y0).
func (c *Circuit) PinText(pin int) string {
	p := c.Pins[pin]
	name := c.Parts[p.Part].Type.Nodes[p.Node].Name
	if n := strconv.Itoa(p.Number); n != name {
		return c.Parts[p.Part].Ref + " pin " + n + " (" + name + ")"
	}
	return c.Parts[p.Part].Ref + " pin " + name
}

// NetName is the net's own name, or that of a pin on it for a hidden one.
func (c *Circuit) NetName(net int) string {
	n := c.Nets[net]
	if n.Name != "" {
		return n.Name
	}
	if len(n.Pins) > 0 {
		return c.PinName(n.Pins[0])
	}
	return "inside net " + strconv.Itoa(net)
}

// Place is where something is read: a pin (Pin not None) or a net.
type Place struct {
	Pin int
	Net int
}

// FindPlace resolves U2.4, U2./Y1 or a net name. On failure the hint names the nearest right word.
func (c *Circuit) FindPlace(s string) (Place, string) {
	if n, ok := c.netByName[s]; ok {
		return Place{None, n}, ""
	}
	if ref, pin, ok := strings.Cut(s, "."); ok {
		if pi, ok := c.partByRef[ref]; ok {
			if i := c.PinOf(pi, pin); i != None {
				return Place{i, c.Pins[i].Net}, ""
			}
			return Place{None, None}, "no pin " + pin + " on " + ref + " (" + c.Parts[pi].Src.Type + "); " + finding.DidYouMean(pin, c.Parts[pi].Type.PinWords())
		}
		return Place{None, None}, "no part " + ref + " on this board; " + finding.DidYouMean(ref, c.refs())
	}
	known := slices.Collect(maps.Keys(c.netByName))
	hint := finding.DidYouMean(s, known)
	if pi, ok := c.partByRef[s]; ok {
		hint = "a part is not a place to probe; write " + s + ".1 for its pin 1"
		if len(c.Parts[pi].Pins) > 0 {
			hint = "a part is not a place to probe; write a pin such as " + c.PinName(c.Parts[pi].Pins[0])
		}
	}
	return Place{None, None}, "no net or pin " + s + " on this board; " + hint
}

// PinOf finds a pin of a part by number or name; None when the part has no such pin, or nothing is there.
func (c *Circuit) PinOf(part int, word string) int {
	nums := c.Parts[part].Type.PinByName(word)
	for _, wired := range []bool{true, false} {
		for _, i := range c.Parts[part].Pins {
			if c.Pins[i].Wired == wired && slices.Contains(nums, c.Pins[i].Number) {
				return i
			}
		}
	}
	return None
}

func (c *Circuit) refs() []string {
	return slices.Collect(maps.Keys(c.partByRef))
}

// FindLamp resolves an indicator name: LP1 (a lamp), DS1.a (a segment) → lamp index; DS1 → digit index.
func (c *Circuit) FindLamp(s string) (lamp, digit int, hint string) {
	for i, l := range c.Lamps {
		if l.Name == s {
			return i, None, ""
		}
	}
	var known []string
	for i, d := range c.Digits {
		if c.Parts[d.Part].Ref == s {
			return None, i, ""
		}
		known = append(known, c.Parts[d.Part].Ref)
	}
	for _, l := range c.Lamps {
		known = append(known, l.Name)
	}
	return None, None, "no indicator " + s + "; " + finding.DidYouMean(s, known)
}
