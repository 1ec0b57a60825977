package rules

import (
	"go/ast"
	"slices"
	"strings"
	"testing"
)

// Imports only point inward: cmd → adapter → app → core.
func TestRings(t *testing.T) {
	checked := 0
	for _, s := range files(t) {
		for _, i := range s.imports {
			checked++
			outward := below(s.dir, "internal/core") && below(i, "internal/app", "internal/adapter", "internal/oracle", "cmd") ||
				below(s.dir, "internal/app") && below(i, "internal/adapter", "internal/oracle", "cmd") ||
				below(s.dir, "internal/adapter") && below(i, "internal/oracle", "cmd")
			if outward && !s.test {
				t.Errorf("%s imports %s: imports only point inward", s.name, i)
			}
		}
	}
	if checked < 300 {
		t.Errorf("only %d imports checked", checked)
	}
}

// apart lists who must not know whom, in code that ships.
var apart = []struct{ who, whom, why string }{
	{"internal/core/board", "internal/core/part", "a board with an unknown part still loads"},
	{"internal/core/part", "internal/core/board", "the library knows of no board"},
	{"internal/core/sim", "internal/core/fault", "the simulator never learns kinds of fault"},
	{"internal/core/sim", "internal/core/evidence", "the simulator knows of no readings"},
	{"internal/core/sim/ref", "internal/core/sim", "the reference shares no code with what it checks"},
	{"internal/core/evidence", "internal/core/fault", "readings outlive every change of the ranking mathematics"},
	{"internal/core/evidence", "internal/core/diagnose", "readings outlive every change of the ranking mathematics"},
	{"internal/core/diagnose", "internal/core/advise", "the ranking does not depend on what can be measured next"},
	{"internal/core/finding", "internal/core", "findings are at the bottom"},
	{"internal/core/unit", "internal/core", "units are at the bottom"},
}

func TestApart(t *testing.T) {
	checked := make([]int, len(apart))
	for _, s := range files(t) {
		for k, a := range apart {
			if s.test || s.dir != a.who {
				continue
			}
			checked[k]++
			for _, i := range s.imports {
				if i == a.whom || a.whom == "internal/core" && below(i, a.whom) {
					t.Errorf("%s imports %s: %s", s.name, i, a.why)
				}
			}
		}
	}
	for k, n := range checked {
		if n == 0 {
			t.Errorf("no file of %s was checked", apart[k].who)
		}
	}
}

// The slow reference is for tests alone.
func TestReferenceIsForTests(t *testing.T) {
	used := 0
	for _, s := range files(t) {
		if !slices.Contains(s.imports, "internal/core/sim/ref") {
			continue
		}
		used++
		if !s.test {
			t.Errorf("%s imports the reference simulator; only tests may", s.name)
		}
	}
	if used == 0 {
		t.Error("no test uses the reference simulator")
	}
}

// outside are packages through which the world could reach the core.
var outside = []string{"os", "net", "log", "syscall", "io/ioutil", "math/rand", "crypto/rand", "database/sql"}

// allowed are the libraries that a package of the core may use: pure computation, without files or network.
var allowed = []string{
	"internal/core/part github.com/goccy/go-yaml",            // reads part records from memory
	"internal/core/predict gonum.org/v1/gonum/mat",           // solves the node equations behind ohms and volts
	"internal/core/elec github.com/goccy/go-yaml",            // reads device models from memory
	"internal/core/weak github.com/crillab/gophersat/solver", // satisfiability of clauses in memory
}

// The core has no files, network, clock or log; randomness comes in as a seeded source.
func TestCoreIsPure(t *testing.T) {
	checked := 0
	for _, s := range files(t) {
		if s.test || !below(s.dir, "internal/core") {
			continue
		}
		checked++
		for _, i := range s.imports {
			if below(i, outside...) && i != "math/rand/v2" {
				t.Errorf("%s imports %s, which the core must not", s.name, i)
			}
			if first, _, _ := strings.Cut(i, "/"); strings.Contains(first, ".") && !slices.Contains(allowed, s.dir+" "+i) {
				t.Errorf("%s imports %s: beyond the standard library the core uses only %v", s.name, i, allowed)
			}
		}
		if slices.Contains(s.imports, "math/rand/v2") {
			seeded(t, s)
		}
		if slices.Contains(s.imports, "time") {
			clockless(t, s)
		}
	}
	if checked < 50 {
		t.Errorf("only %d files of the core checked", checked)
	}
}

// clockless refuses the functions of package time that read a clock or wait; times and durations as values may come in.
func clockless(t *testing.T, s source) {
	ast.Inspect(s.ast, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains([]string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTicker", "NewTimer"}, sel.Sel.Name) {
			t.Errorf("%s calls time.%s: a time comes in as an argument", s.name, sel.Sel.Name)
		}
		return true
	})
}

// seeded refuses the functions of math/rand/v2 that draw from the process's own source.
func seeded(t *testing.T, s source) {
	ast.Inspect(s.ast, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		if x, ok := sel.X.(*ast.Ident); ok && x.Name == "rand" && !slices.Contains([]string{"New", "NewPCG", "NewChaCha8", "NewZipf", "Rand", "Source", "PCG", "ChaCha8", "Zipf"}, sel.Sel.Name) {
			t.Errorf("%s uses rand.%s: randomness comes in as a seeded source", s.name, sel.Sel.Name)
		}
		return true
	})
}
