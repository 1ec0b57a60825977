package elec

import (
	"fmt"
	"slices"

	"halfsplit/internal/core/finding"
)

// This file compiles a netlist: parameters from model records, elements, unknowns, the matrix pattern and its pivots.

// Circuit is a compiled netlist. It is read-only.
type Circuit struct {
	nodes   []string
	devices []Device
	models  *Models
	specs   []*kindSpec
	devPar  []float64 // parameters of all devices
	devAt   []int32   // where the parameters of each begin
	pinAt   []int32   // where the terminals of each begin, one more entry than devices
	elems   []element
	first   []int32 // elements of device d are first[d] up to first[d+1]
	fills   []fill
	par     []float64
	mems    int
	n       int // unknowns; vectors have n+1 entries, the last stands for the reference
	names   []string
	current []bool // unknowns that are currents
	slots   []int32
	groups  [][]int32 // windings on one core
	gslots  [][]int32 // m*m slots each
	pat     *pattern  // its last slot, len(pat.col), is a dump for the reference
	diag    []int32   // slots of the diagonal of node unknowns, the dump for currents
	ord     *order
	byName  map[string]int
	byDev   map[string]int
}

// Compile checks a netlist and prepares it. The circuit is nil if a finding is an error.
func Compile(nl Netlist, models *Models) (*Circuit, finding.List) {
	var fs finding.List
	c := &Circuit{nodes: slices.Clone(nl.Nodes), devices: slices.Clone(nl.Devices), models: models, byName: map[string]int{}, byDev: map[string]int{}}
	c.checkNames(&fs)
	for i := range c.devices {
		c.parameters(i, &fs)
	}
	if fs.Errors() {
		fs.Sort()
		return nil, fs
	}
	for _, name := range c.nodes[1:] {
		c.newUnknown(name, false)
	}
	b := builder{c: c}
	for i := range c.devices {
		d := &c.devices[i]
		c.first = append(c.first, int32(len(c.elems)))
		b.dev, b.d, b.p, b.part = i, d, c.paramsOf(i, c.devPar), 0
		b.build()
	}
	c.first = append(c.first, int32(len(c.elems)))
	c.checkPaths(&fs)
	if fs.Errors() {
		fs.Sort()
		return nil, fs
	}
	c.layout(b.pairs)
	if err := c.pivots(); err != nil {
		fs.Errorf(finding.Pos{}, "", "look for sources or windings that contradict each other", "%v", err)
		fs.Sort()
		return nil, fs
	}
	fs.Sort()
	return c, fs
}

func (c *Circuit) unknownOf(node int) int32 { return int32(node) - 1 }

func (c *Circuit) newUnknown(name string, current bool) int32 {
	c.names = append(c.names, name)
	c.current = append(c.current, current)
	c.n++
	return int32(c.n - 1)
}

func (c *Circuit) paramsOf(dev int, all []float64) []float64 {
	return all[c.devAt[dev]:][:len(c.specs[dev].params)]
}

// layout builds the pattern and turns pairs into slots.
func (c *Circuit) layout(pairs [][2]int32) {
	for _, g := range c.groups {
		for _, i := range g {
			for _, j := range g {
				pairs = append(pairs, [2]int32{c.elems[i].t[2], c.elems[j].t[2]})
			}
		}
	}
	for i := int32(0); i < int32(c.n); i++ {
		pairs = append(pairs, [2]int32{i, i})
	}
	masked := c.mask(pairs)
	var real [][2]int32
	var at []int
	for k, p := range pairs {
		if p[0] != ground && p[1] != ground && !masked[k] {
			real = append(real, p)
			at = append(at, k)
		}
	}
	var slot []int32
	c.pat, slot = newPattern(c.n, real)
	dump := int32(len(c.pat.col))
	c.slots = make([]int32, len(pairs))
	for k := range c.slots {
		c.slots[k] = dump
	}
	for i, k := range at {
		c.slots[k] = slot[i]
	}
	k := len(pairs) - c.n
	c.diag = c.slots[k:]
	for i, isCurrent := range c.current {
		if isCurrent {
			c.diag[i] = dump
		}
	}
	for g := len(c.groups) - 1; g >= 0; g-- {
		m := len(c.groups[g])
		k -= m * m
		c.gslots = append(c.gslots, c.slots[k:k+m*m])
	}
	slices.Reverse(c.gslots)
	for i := range c.elems {
		e := &c.elems[i]
		for t := range e.t {
			if t >= int(e.nt) || e.t[t] == ground {
				e.t[t] = int32(c.n)
			}
		}
	}
}

// mask tells which pairs of nonlinear elements can never hold anything, even with terminals open.
func (c *Circuit) mask(pairs [][2]int32) []bool {
	out := make([]bool, len(pairs))
	for i := range c.elems {
		e := &c.elems[i]
		u := shapes[e.kind].uses
		if e.linear() || len(u) == 0 {
			continue
		}
		n := int(e.nt)
		var used [maxTerms][maxTerms]bool
		for r := 0; r < n; r++ {
			used[r][r] = true
			for q := 0; q < n; q++ {
				used[r][q] = used[r][q] || u[r][q] == '1'
			}
		}
		for p := 0; p < n; p++ { // a joint at p lets every row that uses p use what p's row uses
			if e.pin[p] < 0 {
				continue
			}
			for r := 0; r < n; r++ {
				for q := 0; q < n; q++ {
					used[r][q] = used[r][q] || used[r][p] && used[p][q]
				}
			}
		}
		for r := 0; r < n; r++ {
			for q := 0; q < n; q++ {
				out[int(e.slot)+r*n+q] = !used[r][q]
			}
		}
	}
	return out
}

// pivots chooses the order of elimination from the matrix with every element a little conducting.
func (c *Circuit) pivots() error {
	s := c.newSolver()
	s.begin(Options{}.filled(), Patch{})
	s.gmin = 1e-6
	s.assemble(1, 1e-9, nil)
	ord, stuck, ok := choose(c.pat, s.a)
	if !ok {
		return fmt.Errorf("the equations of %s do not determine it", c.names[stuck])
	}
	c.ord = ord
	return nil
}

// Nodes returns the node names; index 0 is the reference.
func (c *Circuit) Nodes() []string { return slices.Clone(c.nodes) }

// Node returns the index of a node, or -1.
func (c *Circuit) Node(name string) int { return find(c.byName, name) }

// Device returns the index of a device, or -1.
func (c *Circuit) Device(name string) int { return find(c.byDev, name) }

func find(m map[string]int, name string) int {
	if i, ok := m[name]; ok {
		return i
	}
	return -1
}

// Unknowns is the size of the system of equations.
func (c *Circuit) Unknowns() int { return c.n }

// Param returns a parameter of a device as compiled; ok is false if there is none of that name.
func (c *Circuit) Param(dev int, name string) (v float64, ok bool) {
	i := c.specs[dev].index(name)
	if i < 0 {
		return 0, false
	}
	return c.paramsOf(dev, c.devPar)[i], true
}
