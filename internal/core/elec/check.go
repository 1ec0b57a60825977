package elec

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/unit"
)

// This file finds what is wrong with a netlist before anything is computed, and names the nodes.

func (c *Circuit) checkNames(fs *finding.List) {
	if len(c.nodes) == 0 {
		fs.Errorf(finding.Pos{}, "", "the first node is the reference", "the netlist has no nodes")
		c.nodes = []string{"0"}
	}
	for i, n := range c.nodes {
		if _, twice := c.byName[n]; twice || n == "" {
			fs.Errorf(finding.Pos{}, n, "", "node %d is called %q, like another or not at all", i, n)
		}
		c.byName[n] = i
	}
	for i := range c.devices {
		d := &c.devices[i]
		if _, twice := c.byDev[d.Name]; twice || d.Name == "" {
			fs.Errorf(finding.Pos{}, d.Name, "", "device %d is called %q, like another or not at all", i, d.Name)
		}
		c.byDev[d.Name] = i
	}
}

// between names the nodes of a device.
func (c *Circuit) between(d *Device) string {
	var names []string
	for _, n := range d.Nodes {
		if n >= 0 && n < len(c.nodes) && !slices.Contains(names, c.nodes[n]) {
			names = append(names, c.nodes[n])
		}
	}
	return strings.Join(names, ", ")
}

// parameters resolves and checks those of device i and appends them to devPar.
func (c *Circuit) parameters(i int, fs *finding.List) {
	d := &c.devices[i]
	c.devAt = append(c.devAt, int32(len(c.devPar)))
	if i == 0 {
		c.pinAt = append(c.pinAt, 0)
	}
	c.pinAt = append(c.pinAt, c.pinAt[i]+int32(len(d.Nodes)))
	spec := kinds[d.Kind]
	c.specs = append(c.specs, spec)
	none := finding.Pos{}
	if spec == nil {
		var known []string
		for _, k := range Kinds() {
			known = append(known, string(k))
		}
		c.specs[i] = &kindSpec{}
		fs.Errorf(none, d.Name, finding.DidYouMean(string(d.Kind), known), "%s is of unknown kind %q", d.Name, d.Kind)
		return
	}
	n := len(d.Nodes)
	if n < spec.min || spec.max > 0 && n > spec.max || spec.repeat > 0 && (n-spec.min)%spec.repeat != 0 {
		fs.Errorf(none, d.Name, strings.Join(spec.terminals, ", "), "%s has %d nodes; a %s has %d", d.Name, n, d.Kind, len(spec.terminals))
	}
	for _, at := range d.Nodes {
		if at < 0 || at >= len(c.nodes) {
			fs.Errorf(none, d.Name, "", "%s is on node %d; there are %d", d.Name, at, len(c.nodes))
		}
	}
	p, trouble := c.models.resolve(d, spec)
	if trouble != "" {
		fs.Errorf(none, d.Name, "", "%s: %s", d.Name, trouble)
	}
	for k := range spec.params {
		c.believe(d, &spec.params[k], &p[k], fs)
	}
	c.devPar = append(c.devPar, p...)
	for _, name := range slices.Sorted(maps.Keys(d.Params)) {
		if spec.index(name) < 0 {
			fs.Errorf(none, d.Name, finding.DidYouMean(name, Params(d.Kind)), "%s: a %s has no parameter %q", d.Name, d.Kind, name)
		}
	}
	if !(d.Tol >= 0 && d.Tol < 1) {
		fs.Errorf(none, d.Name, "0.05 means ±5 %", "%s has a tolerance of %v", d.Name, d.Tol)
	}
}

// believe checks one value against what there can be.
func (c *Circuit) believe(d *Device, q *param, v *float64, fs *finding.List) {
	if *v == 0 && q.isValue && d.Kind == Resistor {
		fs.Warnf(finding.Pos{}, d.Name, "it is taken as 1 mΩ", "%s between %s has 0 Ω", d.Name, c.between(d))
		*v = 1e-3
		return
	}
	if math.IsNaN(*v) || math.IsInf(*v, 0) || *v < q.lo || *v > q.hi {
		hint := fmt.Sprintf("believed are %s%s to %s%s; is the unit or prefix right?", short(q.lo), q.unit, short(q.hi), q.unit)
		fs.Errorf(finding.Pos{}, d.Name, hint, "%s between %s: %s is %v%s", d.Name, c.between(d), q.name, *v, q.unit)
		*v = q.def
	}
}

func short(v float64) string {
	if v != 0 && (abs(v) >= 1e12 || abs(v) < 1e-12) {
		return fmt.Sprintf("%g", v)
	}
	return unit.Format(v)
}

// ReadValue reads the main value of a kind as written: "4k7", "100n", "5V". A capacitor or inductor needs a unit or a prefix,
// because 100 may be microfarads or picofarads; ohms, volts and amperes may stand bare. The error says what was expected.
func ReadValue(k Kind, text string) (float64, error) {
	v, err := unit.Parse(text)
	if err != nil {
		return 0, err
	}
	bare := strings.Trim(strings.TrimSpace(text), "+-0123456789.,eE") == ""
	if bare && (k == Capacitor || k == Inductor) && v >= 1e-3 {
		return 0, fmt.Errorf("%q has no unit: write 100n, 100uF or 100p for a %s", text, k)
	}
	return v, nil
}

// checkPaths finds loops of sources and nodes without a path for direct current.
func (c *Circuit) checkPaths(fs *finding.List) {
	dc, hard := newSets(c.n+1), newSets(c.n+1)
	at := func(t int32) int {
		if t == ground {
			return c.n
		}
		return int(t)
	}
	for i := range c.elems {
		e := &c.elems[i]
		switch e.kind {
		case eCap, eIsrc:
			continue
		case eVsrc, eWinding:
			a, b := at(e.t[0]), at(e.t[1])
			if c.par[e.par+1] == 0 {
				d := &c.devices[e.dev]
				if hard.find(a) == hard.find(b) {
					fs.Errorf(finding.Pos{}, d.Name, "give one of them a resistance", "%s closes a loop of sources or windings without resistance through %s", d.Name, c.between(d))
				}
				hard.join(a, b)
			}
			dc.join(a, b)
			continue
		}
		for t := 1; t < int(e.nt); t++ {
			dc.join(at(e.t[0]), at(e.t[t]))
		}
	}
	islands := map[int][]string{}
	for i, name := range c.nodes {
		if i > 0 && dc.find(i-1) != dc.find(c.n) {
			root := dc.find(i - 1)
			islands[root] = append(islands[root], name)
		}
	}
	for _, root := range slices.Sorted(maps.Keys(islands)) {
		names := islands[root]
		fs.Warnf(finding.Pos{}, names[0], "its voltage is set by leakage only", "no path for direct current leads from %s to %s", strings.Join(names, ", "), c.nodes[0])
	}
}

// sets is union-find.
type sets []int

func newSets(n int) sets {
	s := make(sets, n)
	for i := range s {
		s[i] = i
	}
	return s
}

func (s sets) find(i int) int {
	for s[i] != i {
		s[i] = s[s[i]]
		i = s[i]
	}
	return i
}

func (s sets) join(a, b int) { s[s.find(a)] = s.find(b) }
