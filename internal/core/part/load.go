package part

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"halfsplit/internal/core/finding"
)

// Records are read here: YAML to Type, with every mistake as a finding.

//go:embed data/*.yaml
var embedded embed.FS

type record struct {
	Part     string              `yaml:"part"`
	Title    string              `yaml:"title"`
	Families []string            `yaml:"families"`
	Package  string              `yaml:"package"`
	Pins     string              `yaml:"pins"`
	Names    map[string][]string `yaml:"names"`
	Supply   map[string]float64  `yaml:"supply"`
	Logic    string              `yaml:"logic"`
	Opaque   *opaque             `yaml:"opaque"`
	Beside   *unmodelled         `yaml:"unmodelled"`
	Aka      []string            `yaml:"aka"`
	Prior    string              `yaml:"prior"`
	Access   string              `yaml:"access"`
	Source   string              `yaml:"source"`
	Notes    string              `yaml:"notes"`

	Equivalents []string       `yaml:"equivalents"`
	Failures    []string       `yaml:"failures"`
	Timing      string         `yaml:"timing"`
	Limits      []limitRecord  `yaml:"limits"`
	FreeRun     *freeRunRecord `yaml:"free-run"`
	Fuses       string         `yaml:"fuses"`
}

type opaque struct {
	Inputs    []string `yaml:"inputs"`
	Outputs   []string `yaml:"outputs"`
	Both      []string `yaml:"both"`
	Open      []string `yaml:"open"`      // open-collector or open-drain outputs
	Terminals []string `yaml:"terminals"` // neither input nor output
}

// unmodelled are pins beside the logic that it says nothing of.
type unmodelled struct {
	Inputs    []string `yaml:"inputs"`
	Outputs   []string `yaml:"outputs"`
	Terminals []string `yaml:"terminals"`
}

// Parse reads the records of one file. What could be read is returned beside the findings; a record with an
// error is left out.
func Parse(file string, data []byte) ([]*Type, finding.List) {
	var fs finding.List
	var recs []record
	if len(data) > 4<<20 {
		fs.Errorf(finding.Pos{File: file}, file, "split it", "part file of %d bytes; the limit is 4 MiB", len(data))
		return nil, fs
	}
	if err := unmarshal(data, &recs); err != nil {
		pos := finding.Pos{File: file}
		var se yaml.Error
		msg := err.Error()
		if errors.As(err, &se) {
			if t := se.GetToken(); t != nil && t.Position != nil {
				pos.Line, pos.Col = t.Position.Line, t.Position.Column
			}
			msg = se.GetMessage()
		}
		fs.Errorf(pos, file, "see docs/part-language.md", "not a list of part records: %s", msg)
		return nil, fs
	}
	lines := recordLines(string(data))
	var out []*Type
	for i, r := range recs {
		pos := finding.Pos{File: file}
		if i < len(lines) {
			pos.Line, pos.Col = lines[i], 1
		}
		t, err := r.build(pos)
		if err != nil {
			fs.Errorf(pos, r.Part, "see docs/part-language.md", "part %q: %v", r.Part, err)
			continue
		}
		out = append(out, t)
	}
	return out, fs
}

// unmarshal guards against a panic of the YAML library on hostile input: a broken part file must not end a bench session.
func unmarshal(data []byte, into any) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the YAML could not be read (%v)", r)
		}
	}()
	return yaml.UnmarshalWithOptions(data, into, yaml.Strict())
}

var recordStart = regexp.MustCompile(`(?m)^- `)

func recordLines(s string) []int {
	var out []int
	for _, m := range recordStart.FindAllStringIndex(s, -1) {
		out = append(out, 1+strings.Count(s[:m[0]], "\n"))
	}
	return out
}

var supplyNames = map[string]bool{"VCC": true, "VDD": true, "VEE": true, "VSS": true, "VBB": true, "GND": true}

func (r record) build(pos finding.Pos) (*Type, error) {
	t := &Type{Name: r.Part, Aka: r.Aka, Title: r.Title, Families: r.Families, Package: r.Package, Prior: r.Prior,
		Socketed: r.Access == "socketed", Source: r.Source, Notes: r.Notes, Opaque: r.Opaque != nil, Pos: pos, nodeIndex: map[string]int{},
		Equivalents: r.Equivalents, Failures: r.Failures, Timing: r.Timing}
	switch {
	case r.Part == "":
		return nil, fmt.Errorf("no part name")
	case r.Title == "" || r.Source == "":
		return nil, fmt.Errorf("title and source are needed (write  source: from memory  where that is the truth)")
	case r.Access != "" && r.Access != "socketed":
		return nil, fmt.Errorf("access: %q; the only word here is socketed", r.Access)
	}
	if err := t.addPins(r); err != nil {
		return nil, err
	}
	if err := parseLogic(t, r.Logic); err != nil {
		return nil, err
	}
	if r.Opaque != nil {
		if err := t.addOpaque(r.Opaque); err != nil {
			return nil, err
		}
	}
	if r.Beside != nil {
		for side, names := range map[string][]string{"input": r.Beside.Inputs, "output": r.Beside.Outputs, "terminal": r.Beside.Terminals} {
			if err := t.addSide(side, names); err != nil {
				return nil, err
			}
		}
	}
	if err := t.addLimits(r.Limits); err != nil {
		return nil, err
	}
	if r.FreeRun != nil {
		if err := t.addFreeRun(r.FreeRun); err != nil {
			return nil, err
		}
	}
	if r.Fuses != "" {
		if err := t.addArray(r.Fuses); err != nil {
			return nil, err
		}
	}
	return t, nil
}

func (t *Type) addPins(r record) error {
	names := strings.Fields(r.Pins)
	if len(names) == 0 || len(names) > 128 {
		return fmt.Errorf("%d pins; expected 1 to 128 names in the order of the pin numbers", len(names))
	}
	for i, n := range names {
		if n == "-" {
			t.Pins = append(t.Pins, Pin{"-", -1})
			continue
		}
		if sc := (scanner{s: n}); sc.next() != n || n == "0" || n == "1" {
			return fmt.Errorf("pin %d: %q is not a pin name", i+1, n)
		}
		k, ok := t.nodeIndex[n]
		if !ok {
			k = len(t.Nodes)
			v, sup := r.Supply[n]
			t.Nodes = append(t.Nodes, Node{Name: n, Supply: sup || r.Supply == nil && supplyNames[n], Volts: v, HasV: sup})
			t.nodeIndex[n] = k
		}
		t.Nodes[k].Pins = append(t.Nodes[k].Pins, i+1)
		t.Pins = append(t.Pins, Pin{n, k})
	}
	for n := range r.Supply {
		if _, ok := t.nodeIndex[n]; !ok {
			return fmt.Errorf("supply: no pin %s", n)
		}
	}
	own := len(t.nodeIndex)
	for k := range t.Nodes[:own] {
		for _, a := range r.Names[t.Nodes[k].Name] {
			if _, taken := t.nodeIndex[a]; taken {
				return fmt.Errorf("names: %s stands for two pins", a)
			}
			t.nodeIndex[a] = k
			t.Nodes[k].Also = append(t.Nodes[k].Also, a)
		}
	}
	for n := range r.Names {
		if k, ok := t.nodeIndex[n]; !ok || t.Nodes[k].Name != n {
			return fmt.Errorf("names: no pin %s", n)
		}
	}
	return nil
}

func (t *Type) addOpaque(o *opaque) error {
	if err := t.addSide("terminal", o.Terminals); err != nil {
		return err
	}
	for _, g := range []struct {
		names []string
		use   Use
		kind  Kind
	}{{o.Inputs, Heard, DriveTri}, {o.Outputs, Driven, DriveTri}, {o.Both, Heard | Driven, DriveTri}, {o.Open, Driven, DriveLow}} {
		for _, n := range g.names {
			k, ok := t.nodeIndex[n]
			if !ok {
				return fmt.Errorf("opaque: no pin %s; %s", n, finding.DidYouMean(n, t.PinWords()))
			}
			t.Nodes[k].Use |= g.use
			if g.use&Driven != 0 {
				t.Stmts = append(t.Stmts, Stmt{Kind: g.kind, Node: k, Expr: Expr{Op: OpConst, Val: 2}, Cond: Expr{Op: OpConst, Val: 2}, Bit: -1, A: -1, B: -1, Ctl: -1, Ctl2: -1})
			}
		}
	}
	return nil
}

func (t *Type) addSide(side string, names []string) error {
	for _, n := range names {
		k, ok := t.nodeIndex[n]
		if !ok {
			return fmt.Errorf("%s: no pin %s; %s", side, n, finding.DidYouMean(n, t.PinWords()))
		}
		t.Nodes[k].Side = side
	}
	return nil
}

// Bits is how many stored and memory-output bits the part has.
func (t *Type) Bits() int {
	n := 0
	for _, s := range t.Stmts {
		switch s.Kind {
		case Store:
			n = max(n, s.Bit+1)
		case RAM, ROM:
			n = max(n, s.Bit+s.Width)
		}
	}
	return n
}

// Embedded reads the library that is built into the program. Findings are mistakes in the library itself
// and there are none in a release: a test asserts it.
func Embedded() (*Library, finding.List) {
	lib := &Library{byName: map[string][]*Type{}}
	var all finding.List
	names, err := fs.Glob(embedded, "data/*.yaml")
	if err != nil {
		all.Errorf(finding.Pos{}, "library", "", "%v", err)
	}
	slices.Sort(names)
	for _, n := range names {
		data, err := embedded.ReadFile(n)
		if err != nil {
			all.Errorf(finding.Pos{File: n}, n, "", "%v", err)
			continue
		}
		ts, fl := Parse(n, data)
		all = append(all, fl...)
		all = append(all, lib.Add(ts, false)...)
	}
	return lib, all
}
