package oracle

// Every part of the library that has a table here, pin by pin and with random stimuli, against Icarus Verilog.

import (
	"fmt"
	"math/rand"
	"testing"

	"halfsplit/internal/core/part"
)

// fitted lists the parts that both the library and the tables have, in every family of the library.
func fitted(t *testing.T, l *Library, lib *part.Library) []TypeName {
	t.Helper()
	var list []TypeName
	missing := 0
	for _, rec := range l.Records {
		for _, name := range rec.Names {
			families := []string{""}
			if name[:2] == "74" {
				families = []string{"74", "LS", "S", "ALS", "F", "HC", "HCT"}
			}
			if name[2] >= 'A' {
				families = []string{familyOf(name)}
			}
			found := 0
			for _, family := range families {
				m, err := lib.Find(printed(TypeName{name, family}))
				if err != nil {
					continue
				}
				found++
				if own, err := l.Model(name, string(m.Family)); err != nil || own.Record != rec {
					continue // this family has a pin-out of its own, which is another record
				}
				list = append(list, TypeName{name, string(m.Family)})
			}
			if found == 0 {
				t.Logf("the library has no %s", name)
				missing++
			}
		}
	}
	t.Logf("%d parts and families, %d missing", len(list), missing)
	return list
}

// TestPinsOfLibrary compares number of pins, supply pins, pins heard and pins driven.
func TestPinsOfLibrary(t *testing.T) {
	l, lib := load(t), library(t)
	pins := 0
	for _, tn := range fitted(t, l, lib) {
		m, err := l.Model(tn.Name, tn.Family)
		if err != nil {
			t.Fatal(err)
		}
		match, err := lib.Find(printed(tn))
		if err != nil {
			t.Fatal(err)
		}
		if len(match.Type.Pins) != m.Pins() {
			t.Errorf("%s: %d pins, not %d", printed(tn), len(match.Type.Pins), m.Pins())
			continue
		}
		c := built(t, lib, stepped(Single(m, tn.Name, tn.Family)))
		got := map[int][3]bool{}
		for _, i := range c.Parts[0].Pins {
			p := c.Pins[i]
			got[p.Number] = [3]bool{p.Supply, p.Use&part.Heard != 0, p.Driver >= 0}
		}
		want := map[int][3]bool{}
		for pin := 1; pin <= m.Pins(); pin++ {
			_, supply := m.Record.Supply[pin]
			want[pin] = [3]bool{supply, false, false}
		}
		for k, list := range [][]int{m.Heard(), m.Driven()} {
			for _, pin := range list {
				w := want[pin]
				w[k+1] = true
				want[pin] = w
			}
		}
		for pin := 1; pin <= m.Pins(); pin++ {
			pins++
			if got[pin] != want[pin] {
				t.Errorf("%s pin %d (%s): supply, heard, driven is %v, not %v", printed(tn), pin, match.Type.Pins[pin-1].Name, got[pin], want[pin])
			}
		}
	}
	t.Logf("%d pins", pins)
}

// stepped gives a board one step, so that it has an action.
func stepped(b *Board) *Board {
	if len(b.Inputs) > 0 {
		b.Steps = []map[string]byte{{b.Inputs[0]: '0'}}
	}
	return b
}

// TestParts drives every part at random and compares every pin in every moment: the first family of a part at
// length, with known levels only and with unknown ones, the others more shortly.
func TestParts(t *testing.T) {
	l, lib := load(t), library(t)
	var jobs []Job
	var names []string
	last := ""
	for i, tn := range fitted(t, l, lib) {
		m, err := l.Model(tn.Name, tn.Family)
		if err != nil {
			t.Fatal(err)
		}
		kinds := []bool{true}
		moments := 25
		if tn.Name != last {
			kinds, moments, last = []bool{false, true}, 100, tn.Name
		}
		for _, unknowns := range kinds {
			b := Single(m, tn.Name, tn.Family)
			if m.memory != nil && m.memory.write == nil {
				b.Parts[0].Contents = make([]byte, m.memory.words)
				for a := range b.Parts[0].Contents {
					b.Parts[0].Contents[a] = byte(word(a, 8))
				}
			}
			Stimulate(b, rand.New(rand.NewSource(int64(i))), moments, unknowns, Free(m))
			KeepDecades(m, b)
			jobs = append(jobs, Job{Board: b})
			names = append(names, fmt.Sprintf("%s (unknowns %v)", printed(tn), unknowns))
		}
	}
	want := run(t, l, jobs)
	compared := 0
	for i, j := range jobs {
		c := built(t, lib, j.Board)
		fast := simulate(t, c, j.Board, [][]Fault{nil})[0]
		if d := compare(fast, want[i]); d.first != "" {
			t.Errorf("%s: fast simulator: %d of %d differ, first %s", names[i], d.differ, d.all, d.first)
		}
		if d := compare(slowly(t, c, j.Board, nil), want[i]); d.first != "" {
			t.Errorf("%s: slow reference: %d of %d differ, first %s", names[i], d.differ, d.all, d.first)
		}
		compared += len(want[i].Nets) * (1 + len(want[i].Moments))
	}
	t.Logf("%d boards, %d levels", len(jobs), compared)
	if compared < 590_000 {
		t.Errorf("only %d levels compared", compared)
	}
}
