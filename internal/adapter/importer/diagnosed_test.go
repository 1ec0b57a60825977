package importer

// Imported circuits of gates are diagnosed: a fault that shows is found, and one that no test can show is never claimed.

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
)

// stand is an imported circuit with one action for each vector.
type stand struct {
	c       *circuit.Circuit
	outputs []string
	actions []string
}

func mount(t *testing.T, file File, vectors []uint64) stand {
	t.Helper()
	res, _ := read(t, file)
	s := stand{outputs: slices.Compact(slices.Sorted(slices.Values(res.Outputs)))}
	b := *res.Board
	for k, v := range vectors {
		a := board.Action{Name: fmt.Sprint("v", k)}
		var step board.Step
		for i, in := range b.Inputs {
			step.Sets = append(step.Sets, board.Set{Net: in.Text, Value: board.Value{Number: v >> i & 1}})
		}
		a.Steps = []board.Step{step}
		b.Actions = append(b.Actions, a)
		s.actions = append(s.actions, a.Name)
	}
	lib, _ := library()
	c, fl := circuit.Build(&b, lib)
	if fl.Errors() {
		t.Fatal(fl)
	}
	s.c = c
	return s
}

// shows are the settled levels of all outputs under all vectors.
func (s stand) shows(t *testing.T, faults ...string) []map[string]string {
	t.Helper()
	var out []map[string]string
	for _, a := range s.actions {
		e, err := app.Expect(context.Background(), s.c, app.ExpectRequest{Do: []string{a, a}, At: s.outputs, Faults: faults})
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]string{}
		for at, v := range e.At {
			got[at] = v.Reading
		}
		out = append(out, got)
	}
	return out
}

// diagnose logs what was seen and asks for the suspects.
func (s stand) diagnose(t *testing.T, seen []map[string]string) app.Diagnosis {
	t.Helper()
	text := "case: t\nboard: b.yaml\nhave: [scope]\nlog:\n"
	for k, m := range seen {
		var words []string
		for _, at := range s.outputs {
			words = append(words, at+": "+m[at])
		}
		text += fmt.Sprintf("  - do: [%s, %s]\n    read: {%s}\n", s.actions[k], s.actions[k], strings.Join(words, ", "))
	}
	c, fl := yamlfile.ParseCase("t.yaml", []byte(text))
	if fl.Errors() {
		t.Fatal(fl)
	}
	b, fl := app.NewBench(s.c, c, 1, advise.Costs{})
	if b == nil {
		t.Fatal(fl)
	}
	d, err := b.Diagnose(context.Background(), 500, 6)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func differs(a, b []map[string]string) bool {
	for k := range a {
		for at := range a[k] {
			if a[k][at] != b[k][at] {
				return true
			}
		}
	}
	return false
}

func TestImportedCircuitsAreDiagnosed(t *testing.T) {
	rnd := rand.New(rand.NewPCG(13, 55))
	diagnosed := 0
	for _, name := range []string{"c17", "c880", "c1355"} {
		text, ok := benchmark(t, "iscas85/"+name+".v")
		if !ok && name == "c17" {
			text, ok = c17, true
		}
		if !ok {
			continue
		}
		var vectors []uint64
		for range 8 {
			vectors = append(vectors, rnd.Uint64())
		}
		s := mount(t, File{name + ".v", []byte(text)}, vectors)
		good := s.shows(t)
		for done := 0; done < 3; {
			p := s.c.Parts[rnd.IntN(len(s.c.Parts))]
			fault := []string{"output-low@", "output-high@"}[rnd.IntN(2)] + p.Ref + ".Y"
			seen := s.shows(t, fault)
			if !differs(good, seen) {
				continue
			}
			done++
			diagnosed++
			d := s.diagnose(t, seen)
			found := false
			for _, x := range d.Suspects {
				for _, f := range x.Faults {
					found = found || f.Part == p.Ref || f.Net == s.c.Nets[s.c.Pins[p.Pins[0]].Net].Name
				}
				var names []string
				for _, f := range x.Faults {
					names = append(names, f.Kind+"@"+f.At)
				}
				if len(names) == 1 && x.Probability > 0.001 && !differs(good, s.shows(t, names...)) {
					t.Errorf("%s with %s: %s is a suspect, and shows nothing", name, fault, names[0])
				}
			}
			if !d.Explained || !found {
				t.Errorf("%s with %s: explained %v, found %v", name, fault, d.Explained, found)
			}
		}
	}
	if diagnosed < 3 {
		t.Errorf("%d faults diagnosed", diagnosed)
	}
}

// In y = a | (a & b) the gate g cannot be seen to be stuck low: no vector shows it (the usual example of a redundant fault). Whatever else
// is wrong and seen, that fault alone is never what explains it.
func TestUntestableFaultIsNeverClaimed(t *testing.T) {
	const redundant = "module m (a, b, y, z);\ninput a, b;\noutput y, z;\nand g (w, a, b);\nor o (y, a, w);\nnot n (z, a);\nendmodule\n"
	s := mount(t, File{"m.v", []byte(redundant)}, []uint64{0, 1, 2, 3})
	good := s.shows(t)
	untestable := []string{"output-low@g.Y", "net-low@w"}
	for _, f := range untestable {
		if differs(good, s.shows(t, f)) {
			t.Fatalf("%s can be seen", f)
		}
	}
	checked := 0
	for _, f := range []string{"output-high@g.Y", "output-low@o.Y", "output-high@o.Y", "output-low@n.Y", "output-high@n.Y", "net-low@a", "net-high@b", "input-high@g.I2", "net-high@a"} {
		seen := s.shows(t, f)
		if !differs(good, seen) {
			continue
		}
		checked++
		for _, x := range s.diagnose(t, seen).Suspects {
			if len(x.Faults) == 1 && slices.Contains(untestable, x.Faults[0].Kind+"@"+x.Faults[0].At) && x.Probability > 0.001 { // what is left is the chance that a reading was wrong
				t.Errorf("%s: %s@%s is claimed with %g", f, x.Faults[0].Kind, x.Faults[0].At, x.Probability)
			}
		}
	}
	if checked < 6 {
		t.Errorf("%d faults checked", checked)
	}
}
