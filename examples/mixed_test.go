package examples_test

// The machine with both halves: its board loads, every case is explained by what was hidden in it.

import (
	"context"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"

	"halfsplit/examples"
	"halfsplit/internal/app"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/fault"
)

const mixedMachine = "water-tower"

func hiddenIn(t *testing.T, dir string) map[string][]string {
	t.Helper()
	data, err := fs.ReadFile(examples.Files, dir+"/hidden.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var out map[string][]string
	if err := yaml.Unmarshal(data, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestMixedCases(t *testing.T) {
	c, fl := loadBoard(t, mixedMachine)
	if len(fl) > 0 || len(c.Parts) != 33 {
		t.Errorf("%d parts, %v", len(c.Parts), fl)
	}
	files, err := fs.Glob(examples.Files, mixedMachine+"/*.case.yaml")
	hidden := hiddenIn(t, mixedMachine)
	if err != nil || len(files) != 5 || len(hidden) != 5 {
		t.Fatalf("cases %v, %d hidden", files, len(hidden))
	}
	lab, fl := app.NewBoardLab(c, nil, 0) // one for all cases: what a fault shows is computed once
	if lab == nil {
		t.Fatal(fl)
	}
	for _, name := range slices.Sorted(maps.Keys(hidden)) {
		b, fl := app.NewWorkbench(lab, loadCase(t, mixedMachine+"/"+name), 0, advise.Costs{})
		if b == nil {
			t.Fatal(name, fl)
		}
		d, err := b.Diagnose(context.Background(), 0, 0)
		if err != nil || len(d.Suspects) == 0 {
			t.Fatal(name, err)
		}
		at := -1
		for i, s := range d.Suspects[:min(6, len(d.Suspects))] {
			var got []string
			for _, f := range s.Faults {
				got = append(got, f.Kind+"@"+f.At)
			}
			slices.Sort(got)
			if at < 0 && slices.Equal(got, slices.Sorted(slices.Values(hidden[name]))) {
				at = i
			}
		}
		if at < 0 || !d.Explained {
			t.Errorf("%s: %v is not among the first, or nothing explains the log (%v)", name, hidden[name], d.Explained)
		}
		for _, n := range d.Next {
			if n.Kind == "" || len(n.Entries) == 0 || n.Where == "" || n.Minutes <= 0 {
				t.Errorf("%s: an empty check %+v", name, n)
			}
		}
		for _, a := range d.Suspects[0].Account {
			if !a.Fits {
				t.Errorf("%s: %s %s, the leader predicts %s", name, a.What, a.Seen, a.Predicted)
			}
		}
	}
}

// One answer holds checks of both halves, and a log line of both kinds of reading is taken.
func TestMixedChecks(t *testing.T) {
	files := one{embedded{}, mixedMachine + "/start.case.yaml", "case: Pump lamp dark\nboard: board.yaml\nhave: [scope, meter]\nlog:\n  - see: {LD2: dark, LD1: lit}\n"}
	d, fl, err := app.Diagnose(context.Background(), files, app.DiagnoseRequest{Case: files.name, Workers: 1})
	if err != nil || fl.Errors() {
		t.Fatal(err, fl)
	}
	logic, solved := 0, 0
	for _, n := range d.Next {
		switch n.Kind {
		case "see", "read":
			logic++
		case "volts":
			if strings.Contains(n.Setup, "black lead on GND.") {
				solved++
			}
		}
	}
	if logic == 0 || solved == 0 {
		t.Errorf("%d checks of levels and lamps, %d of what is solved", logic, solved)
	}
	whole := false
	for _, s := range d.Suspects {
		for _, f := range s.Faults {
			whole = whole || f.Kind == "junction-open" && f.Part == "Q1"
		}
	}
	if !whole {
		t.Error("the lamp's transistor is no suspect")
	}
}

// Whoever practises on such a board gets faults of either half, and the advice knows both.
func TestMixedPractice(t *testing.T) {
	c, _ := loadBoard(t, mixedMachine)
	var logic []string
	for _, f := range fault.Universe(c) {
		logic = append(logic, f.Text(c))
	}
	ctx := context.Background()
	analogue, digital := 0, 0
	for seed := range uint64(3) {
		p, err := app.NewPractice(ctx, c, 1, seed)
		if err != nil {
			t.Fatal(err)
		}
		do, err := p.Wrong(ctx)
		if err != nil || do == "" {
			t.Fatalf("seed %d: nothing shows (%v)", seed, err)
		}
		if seen, err := p.See(ctx, do); err != nil || len(seen) == 0 {
			t.Errorf("seed %d: nothing to see after %s (%v)", seed, do, err)
		}
		if d, err := p.Advice(ctx); err != nil || len(d.Suspects) == 0 || len(d.Next) == 0 {
			t.Errorf("seed %d: no advice (%v)", seed, err)
		}
		if slices.Contains(logic, p.Truth()[0]) {
			digital++
		} else {
			analogue++
		}
	}
	if analogue == 0 || digital == 0 {
		t.Errorf("%d analogue faults, %d of logic", analogue, digital)
	}
}

func TestMixedReadme(t *testing.T) {
	if blocks := readme(t, mixedMachine, []string{"silent.case.yaml", "full-when-empty.case.yaml", "two-at-once.case.yaml"}); blocks != 4 {
		t.Errorf("%d blocks compared", blocks)
	}
}
