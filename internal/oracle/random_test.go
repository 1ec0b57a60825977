package oracle

// Random boards with random faults run to the end in Icarus Verilog: every net has a level in every moment, and a
// board without a fault gives the same levels alone and among faulty ones.

import (
	"math/rand"
	"testing"
)

func allTypes(l *Library) []TypeName {
	var types []TypeName
	for _, r := range l.Records {
		for _, name := range r.Names {
			family := familyOf(name)
			if family == "74" {
				types = append(types, TypeName{name, "LS"}, TypeName{name, "HC"})
			}
			types = append(types, TypeName{name, family})
		}
	}
	return types
}

func TestRandomBoards(t *testing.T) {
	l := load(t)
	var jobs []Job
	for seed := int64(1); seed <= 4; seed++ {
		random := rand.New(rand.NewSource(seed))
		b, err := l.RandomBoard(random, 5+int(seed)*5, allTypes(l), true)
		if err != nil {
			t.Fatal(err)
		}
		Stimulate(b, random, 20, true, nil)
		jobs = append(jobs, Job{Board: b})
		for k := 0; k < 6; k++ {
			f, err := l.RandomFault(random, b)
			if err != nil {
				t.Fatal(err)
			}
			jobs = append(jobs, Job{Board: b, Faults: []Fault{f}})
		}
	}
	together := run(t, l, jobs)
	known, all, differs := 0, 0, 0
	for i, j := range jobs {
		if len(j.Faults) > 0 {
			if string(together[i].Moments[19]) != string(together[i-i%7].Moments[19]) {
				differs++
			}
			continue
		}
		alone := run(t, l, []Job{j})[0]
		for m, levels := range alone.Moments {
			if string(levels) != string(together[i].Moments[m]) {
				t.Errorf("board %d moment %d: %s alone, %s among others", i, m, levels, together[i].Moments[m])
			}
			for _, level := range levels {
				all++
				if level == '0' || level == '1' {
					known++
				}
			}
		}
	}
	// Boards on which nothing is known, or faults that change nothing, would check nothing.
	t.Logf("%d of %d levels known, %d of 24 faults show", known, all, differs)
	if known < all/4 || differs < 12 {
		t.Errorf("%d of %d levels known, %d of 24 faults show in the last moment", known, all, differs)
	}
}
