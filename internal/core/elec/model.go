package elec

import (
	"embed"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"halfsplit/internal/core/finding"
)

// This file reads model records: parameters of a named device with where they were published. Data, so that a
// technician can add one without Go code.

//go:embed data/*.yaml
var embedded embed.FS

// Model is one record. Params are in SI units; Tol holds, per parameter, half the range as a fraction of its value
// (or, with a name that ends in "+", in the parameter's own unit, for offsets whose middle is 0).
type Model struct {
	Name   string             `yaml:"model"`
	Aka    []string           `yaml:"aka"`
	Kind   Kind               `yaml:"kind"`
	Title  string             `yaml:"title"`
	Source string             `yaml:"source"`
	Params map[string]float64 `yaml:"params"`
	Tol    map[string]float64 `yaml:"tol"`
}

// Models is a library of model records, read-only after Add.
type Models struct {
	byName map[string]*Model
	list   []*Model
}

// Embedded reads the records that come with the program.
func Embedded() (*Models, finding.List) {
	m := &Models{byName: map[string]*Model{}}
	var fs finding.List
	names, err := embedded.ReadDir("data")
	if err != nil {
		fs.Errorf(finding.Pos{}, "", "", "%v", err)
	}
	for _, e := range names {
		data, err := embedded.ReadFile("data/" + e.Name())
		if err != nil {
			fs.Errorf(finding.Pos{File: e.Name()}, "", "", "%v", err)
			continue
		}
		m.Add(e.Name(), data, &fs)
	}
	fs.Sort()
	return m, fs
}

// Add reads the records of one file; later records overrule earlier ones of the same name. A record with a mistake is left out.
func (m *Models) Add(file string, data []byte, fs *finding.List) {
	var recs []Model
	at := finding.Pos{File: file}
	if err := yaml.UnmarshalWithOptions(data, &recs, yaml.Strict()); err != nil {
		fs.Errorf(at, file, "", "%s", yaml.FormatError(err, false, false))
		return
	}
	for i := range recs {
		r := &recs[i]
		if t := r.trouble(); t != "" {
			fs.Errorf(at, r.Name, "", "model %q: %s", r.Name, t)
			continue
		}
		m.list = append(m.list, r)
		for _, n := range append([]string{r.Name}, r.Aka...) {
			m.byName[strings.ToUpper(n)] = r
		}
	}
}

func (r *Model) trouble() string {
	spec := kinds[r.Kind]
	switch {
	case r.Name == "":
		return "has no name"
	case spec == nil:
		return fmt.Sprintf("is of unknown kind %q", r.Kind)
	case strings.TrimSpace(r.Source) == "":
		return "names no source"
	}
	for _, n := range slices.Sorted(maps.Keys(r.Params)) {
		i := spec.index(n)
		if i < 0 {
			return fmt.Sprintf("a %s has no parameter %q", r.Kind, n)
		}
		if v, q := r.Params[n], spec.params[i]; math.IsNaN(v) || v < q.lo || v > q.hi {
			return fmt.Sprintf("%s is %v; believed are %v to %v", n, v, q.lo, q.hi)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(r.Tol)) {
		if spec.index(strings.TrimSuffix(n, "+")) < 0 {
			return fmt.Sprintf("a %s has no parameter %q to have a tolerance", r.Kind, n)
		}
		if v := r.Tol[n]; !(v >= 0 && v <= 10) {
			return fmt.Sprintf("the tolerance of %s is %v", n, v)
		}
	}
	return ""
}

// Find returns a record by name or other name, whatever the case; nil if there is none.
func (m *Models) Find(name string) *Model {
	if m == nil {
		return nil
	}
	return m.byName[strings.ToUpper(name)]
}

// All returns the records in the order of the files.
func (m *Models) All() []*Model {
	if m == nil {
		return nil
	}
	return slices.Clone(m.list)
}

// resolve returns the parameters of a device: defaults, then its model, then its value, then its own.
func (m *Models) resolve(d *Device, spec *kindSpec) (p []float64, trouble string) {
	p = make([]float64, len(spec.params))
	var r *Model
	if d.Model != "" {
		if r = m.Find(d.Model); r == nil {
			trouble = fmt.Sprintf("there is no model %q", d.Model)
		} else if !likeKinds(r.Kind, d.Kind) {
			trouble = fmt.Sprintf("model %s is of a %s, not of a %s", d.Model, r.Kind, d.Kind)
			r = nil
		}
	}
	for i, q := range spec.params {
		p[i] = q.def
		if r != nil {
			if v, ok := r.Params[q.name]; ok {
				p[i] = v
			}
		}
		if q.isValue {
			p[i] = d.Value
		}
		if v, ok := d.Params[q.name]; ok {
			p[i] = v
		}
	}
	return p, trouble
}

// likeKinds tells whether a record of one kind serves a device of another.
func likeKinds(a, b Kind) bool {
	diodes := []Kind{Diode, Zener, LED, Rectifier}
	transistors := []Kind{BJT, Array, Darlington}
	return a == b || slices.Contains(diodes, a) && slices.Contains(diodes, b) || slices.Contains(transistors, a) && slices.Contains(transistors, b)
}
