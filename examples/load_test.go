package examples_test

// Reading the machines of this folder, for the other tests.

import (
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"halfsplit/examples"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
)

// machines are the folders, with what their boards must hold.
var machines = []struct {
	dir                   string
	parts, actions, cases int
}{
	{"keyboard-scanner", 55, 16, 9},
	{"lift-panel", 42, 15, 9},
}

// embedded reads the files that are built into the program.
type embedded struct{}

func (embedded) Board(name string) (*board.Board, finding.List) {
	data, err := fs.ReadFile(examples.Files, name)
	if err != nil {
		return nil, finding.List{{Severity: finding.Error, Text: err.Error()}}
	}
	return yamlfile.ParseBoard(name, data, func(contents string) ([]byte, error) {
		return fs.ReadFile(examples.Files, path.Join(path.Dir(name), contents))
	})
}

func (embedded) Case(name string) (*evidence.Case, finding.List) {
	data, err := fs.ReadFile(examples.Files, name)
	if err != nil {
		return nil, finding.List{{Severity: finding.Error, Text: err.Error()}}
	}
	return yamlfile.ParseCase(name, data)
}

func (embedded) Bytes(name string) ([]byte, error) { return fs.ReadFile(examples.Files, name) }

func loadBoard(t *testing.T, dir string) (*circuit.Circuit, finding.List) {
	t.Helper()
	c, fl := app.LoadBoard(embedded{}, dir+"/board.yaml", nil)
	if c == nil {
		t.Fatalf("%s: %v", dir, fl)
	}
	return c, fl
}

// boardOf is loadBoard for those who have seen the findings.
func boardOf(t *testing.T, dir string) *circuit.Circuit {
	t.Helper()
	c, _ := loadBoard(t, dir)
	return c
}

func loadCase(t *testing.T, name string) *evidence.Case {
	t.Helper()
	k, fl := embedded{}.Case(name)
	if len(fl) > 0 {
		t.Fatalf("%s: %v", name, fl)
	}
	return k
}

// answers gives the hidden faults of each case of a machine, and the case files in the order of their names.
func answers(t *testing.T, c *circuit.Circuit, dir string) (map[string][]fault.Fault, []string) {
	t.Helper()
	data, err := fs.ReadFile(examples.Files, dir+"/answers.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var words map[string][]string
	if err := yaml.Unmarshal(data, &words); err != nil {
		t.Fatal(err)
	}
	out := map[string][]fault.Fault{}
	for name, list := range words {
		for _, w := range list {
			f, err := fault.Parse(c, w)
			if err != nil {
				t.Errorf("%s/answers.yaml: %v", dir, err)
				continue
			}
			out[name] = append(out[name], f)
		}
	}
	names := slices.Sorted(maps.Keys(out))
	files, err := fs.ReadDir(examples.Files, dir)
	if err != nil {
		t.Fatal(err)
	}
	var cases []string
	for _, f := range files {
		if strings.HasSuffix(f.Name(), ".case.yaml") {
			cases = append(cases, f.Name())
		}
	}
	if !slices.Equal(names, cases) {
		t.Fatalf("%s: answers for %v, cases %v", dir, names, cases)
	}
	return out, names
}
