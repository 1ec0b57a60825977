package app

import (
	"strings"
	"testing"

	"halfsplit/internal/core/part"
)

func builtIn(t *testing.T) *part.Library {
	t.Helper()
	lib, fl := part.Embedded()
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	return lib
}

// Every record can be shown, and the rows of a function table cover every setting of the inputs exactly once.
func TestEveryPartCanBeShown(t *testing.T) {
	lib := builtIn(t)
	shown, tables := 0, 0
	for _, typ := range lib.Types() {
		name := typ.Name
		if num, ok := strings.CutPrefix(name, "74x"); ok {
			name = "74" + strings.TrimPrefix(typ.Families[0], "74") + num
		}
		v, err := Part(lib, name)
		if err != nil {
			t.Errorf("%s: %v", typ.Name, err)
			continue
		}
		shown++
		if v.Table == nil {
			continue
		}
		tables++
		covered := 0
		for i, r := range v.Table.Rows {
			covered += 1 << strings.Count(r.In, "-")
			for _, other := range v.Table.Rows[:i] {
				if overlap(r.In, other.In) {
					t.Errorf("%s: rows %s and %s overlap", typ.Name, r.In, other.In)
				}
			}
			if len(r.In) != len(v.Table.Inputs) || len(r.Out) != len(v.Table.Outputs) {
				t.Errorf("%s: row %v does not fit the head", typ.Name, r)
			}
		}
		if covered != 1<<len(v.Table.Inputs) {
			t.Errorf("%s: rows cover %d of %d settings", typ.Name, covered, 1<<len(v.Table.Inputs))
		}
	}
	if shown < 400 || tables < 100 {
		t.Errorf("%d parts shown, %d with a table", shown, tables)
	}
}

func overlap(a, b string) bool {
	for i := range a {
		if a[i] != b[i] && a[i] != '-' && b[i] != '-' {
			return false
		}
	}
	return true
}

// Rows as the data sheets print them.
func TestFunctionTables(t *testing.T) {
	lib := builtIn(t)
	checked := 0
	for _, want := range []struct {
		part, inputs, outputs string
		rows                  []FunctionRow
	}{
		{"7400", "1A 1B", "1Y", []FunctionRow{{"0-", "1"}, {"10", "1"}, {"11", "0"}}},                                                                       // TI SDLS025
		{"7403", "1A 1B", "1Y", []FunctionRow{{"0-", "Z"}, {"10", "Z"}, {"11", "0"}}},                                                                       // from memory
		{"74LS125", "/1G 1A", "1Y", []FunctionRow{{"00", "0"}, {"01", "1"}, {"1-", "Z"}}},                                                                   // TI SDLS044
		{"74LS139", "/1G 1A 1B", "/1Y0 /1Y1 /1Y2 /1Y3", []FunctionRow{{"1--", "1111"}, {"000", "0111"}, {"010", "1011"}, {"001", "1101"}, {"011", "1110"}}}, // TI SDLS013
	} {
		v, err := Part(lib, want.part)
		if err != nil || v.Table == nil {
			t.Errorf("%s: no table (%v)", want.part, err)
			continue
		}
		if got := strings.Join(v.Table.Inputs, " "); got != want.inputs {
			t.Errorf("%s: inputs %s, want %s", want.part, got, want.inputs)
		}
		if got := strings.Join(v.Table.Outputs, " "); got != want.outputs {
			t.Errorf("%s: outputs %s, want %s", want.part, got, want.outputs)
		}
		for _, r := range want.rows {
			checked++
			for _, got := range v.Table.Rows {
				if overlap(got.In, r.In) && got.Out != r.Out {
					t.Errorf("%s: %s gives %s, want %s", want.part, r.In, got.Out, r.Out)
				}
			}
		}
	}
	if checked != 14 {
		t.Errorf("checked %d rows", checked)
	}
}

// The text of an expression reads back as the same function: it is parsed again as a record of its own.
func TestExpressionText(t *testing.T) {
	lib := builtIn(t)
	checked := 0
	for _, typ := range lib.Types() {
		if typ.Opaque {
			continue
		}
		for _, s := range typ.Stmts {
			if _, pure := leavesOf(s); s.Kind != part.Drive || !pure || strings.Contains(statement(typ, s), "table of") || strings.Contains(statement(typ, s), "unknown") {
				continue
			}
			var names []string
			for _, n := range typ.Nodes {
				names = append(names, n.Name)
			}
			record := "- part: again\n  title: again\n  package: DIP\n  pins: " + strings.Join(names, " ") + "\n  source: this test\n  logic: |\n    " + statement(typ, s) + "\n"
			types, fl := part.Parse("again", []byte(record))
			if len(fl) > 0 || len(types) != 1 {
				t.Errorf("%s: %s: %v", typ.Name, statement(typ, s), fl)
				continue
			}
			if again := statement(types[0], types[0].Stmts[0]); again != statement(typ, s) {
				t.Errorf("%s: %s reads back as %s", typ.Name, statement(typ, s), again)
			}
			checked++
		}
	}
	if checked < 300 {
		t.Errorf("only %d expressions checked", checked)
	}
}
