package examples_test

// The analogue machines: their boards load, every case is explained by what was hidden in it, and the tables and checks are in order.

import (
	"context"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"halfsplit/examples"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

var analogMachines = []struct {
	dir          string
	parts, cases int
}{{"bench-supply", 41, 4}, {"string-voice", 46, 4}}

// hidden is what a folder says of one of its cases.
type hidden struct {
	Hidden  []string
	Brought int
}

func truth(t *testing.T, dir string) map[string]hidden {
	t.Helper()
	data, err := fs.ReadFile(examples.Files, dir+"/truth.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var out map[string]hidden
	if err := yaml.Unmarshal(data, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestAnalogCases(t *testing.T) {
	checked := 0
	for _, m := range analogMachines {
		c, fl := loadBoard(t, m.dir)
		if fl.Errors() || len(c.Parts) != m.parts {
			t.Errorf("%s: %d parts, %v", m.dir, len(c.Parts), fl)
		}
		truth := truth(t, m.dir)
		files, err := fs.Glob(examples.Files, m.dir+"/*.case.yaml")
		if err != nil || len(files) != m.cases || len(truth) != m.cases {
			t.Errorf("%s: cases %v, truth of %d", m.dir, files, len(truth))
		}
		lab, fl := app.NewAnalogLab(c, 0) // one for all cases of the machine: what a fault shows is computed once
		if lab == nil {
			t.Fatal(fl)
		}
		for _, name := range slices.Sorted(maps.Keys(truth)) {
			b, fl := app.NewAnalogBench(lab, loadCase(t, m.dir+"/"+name), nil, advise.Costs{})
			if b == nil {
				t.Fatalf("%s/%s: %v", m.dir, name, fl)
			}
			d, err := b.Diagnose(context.Background(), 0, 0)
			if err != nil || len(d.Suspects) == 0 {
				t.Fatalf("%s/%s: %v", m.dir, name, err)
			}
			var first []string // the leading look-alikes
			held, found := 0.0, false
			for _, x := range d.Suspects {
				if x.Lookalikes != d.Suspects[0].Lookalikes {
					continue
				}
				var got []string
				for _, f := range x.Faults {
					got = append(got, f.Kind+"@"+f.At)
				}
				held += x.Probability
				found = found || slices.Equal(got, truth[name].Hidden)
				first = append(first, app.SuspectKey(x))
			}
			if !found || !d.Explained || held < 0.5 {
				t.Errorf("%s/%s: %v with %.2f, explained %v; hidden was %v", m.dir, name, first, held, d.Explained, truth[name].Hidden)
			}
			for _, n := range d.Next {
				if n.Kind == "" || len(n.Entries) == 0 || n.Where == "" {
					t.Errorf("%s/%s: an empty check %+v", m.dir, name, n)
				}
			}
			checked++
		}
	}
	if checked != 8 {
		t.Errorf("%d cases checked", checked)
	}
}

// The table of a good supply holds the nominal rails between its bounds, and ripple where there is mains.
func TestExpectVolts(t *testing.T) {
	v, fl, err := app.ExpectVolts(context.Background(), embedded{}, "bench-supply/board.yaml", nil)
	if err != nil || fl.Errors() {
		t.Fatal(err, fl)
	}
	nominal := map[string]float64{"+5V": 5, "+12V": 12, "-12V": -12}
	seen := 0
	for _, r := range v.Rows {
		if want, ok := nominal[r.Net]; ok {
			seen++
			if r.Low > want || r.High < want || r.Sigma <= 0 || r.Ripple == nil {
				t.Errorf("%s: %+v", r.Pin, r)
			}
		}
		if r.Low > r.Volts || r.High < r.Volts {
			t.Errorf("%s: %+v", r.Pin, r)
		}
	}
	if seen != 16 || len(v.Rows) != 89 {
		t.Errorf("%d rail pins of %d rows", seen, len(v.Rows))
	}
}

// Before anything was read the bench rules come, and a rail is read before what hangs on it.
func TestBenchRules(t *testing.T) {
	files := one{embedded{}, "string-voice/empty.case.yaml", "case: Silent\nboard: board.yaml\nhave: [meter]\nlog: []\n"}
	d, fl, err := app.Diagnose(context.Background(), files, app.DiagnoseRequest{Case: files.name})
	if err != nil || fl.Errors() || len(d.Next) == 0 {
		t.Fatal(err, fl, d.Next)
	}
	if len(d.Cautions) == 0 || !strings.Contains(d.Cautions[0], "limited current") {
		t.Errorf("cautions: %v", d.Cautions)
	}
	for _, n := range d.Next {
		if n.Kind == "ripple" || n.Kind == "ac" {
			t.Errorf("a scope is asked for: %v", n)
		}
	}
}

// A known-good machine's figure stands in the table, and moves what a suspect is expected to show where the fault changes nothing.
func TestGolden(t *testing.T) {
	files := one{embedded{}, "string-voice/golden.case.yaml", "case: Good unit\nboard: board.yaml\ngolden: true\nlog:\n  - volts: {EG: 5.61, CVF: 5.93}\n"}
	v, fl, err := app.ExpectVolts(context.Background(), files, "string-voice/board.yaml", nil)
	if err != nil || fl.Errors() {
		t.Fatal(err, fl)
	}
	seen := 0
	for _, r := range v.Rows {
		if r.Net == "EG" {
			seen++
			if r.Golden == nil || *r.Golden != 5.61 || r.Volts != 5.61 {
				t.Errorf("%+v", r)
			}
		} else if r.Golden != nil && r.Net != "CVF" {
			t.Errorf("%s is golden", r.Net)
		}
	}
	if seen != 5 {
		t.Errorf("%d pins on EG", seen)
	}
}

// one adds a file to those that are built in.
type one struct {
	embedded
	name, text string
}

func (o one) Case(name string) (*evidence.Case, finding.List) {
	if name == o.name {
		return yamlfile.ParseCase(name, []byte(o.text))
	}
	return o.embedded.Case(name)
}

func (o one) Bytes(name string) ([]byte, error) {
	if name == o.name {
		return []byte(o.text), nil
	}
	return o.embedded.Bytes(name)
}
