package main

// The machines that everybody has and drawn boards: the true fault ends up in the first group, groups stay small, and the number of checks stays near
// the bounds. The limits are close to what the command measures with more drills (docs/analogue-boards.md).

import (
	"os"
	"strings"
	"testing"

	"halfsplit/internal/core/part"
)

func TestDrills(t *testing.T) {
	t.Chdir("../..")
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	list, err := machines()
	if err != nil {
		t.Fatal(err)
	}
	*count = 6
	all := sum{}
	for _, m := range list {
		if m.name != "bench-supply" && m.name != "string-voice" && m.name != "drawn 20-2" && m.name != "drawn 50-2" {
			continue
		}
		s, err := drills(m, lib, true)
		if err != nil {
			t.Fatal(err)
		}
		if s.found < s.n-1 {
			t.Errorf("%s: true fault in the first group in %d of %d", m.name, s.found, s.n)
		}
		t.Log(s.row(m.name, kind(true)))
		all.add(s)
	}
	n := float64(all.n)
	if all.n != 24 || all.found < 22 {
		t.Errorf("true fault in the first group in %d of %d", all.found, all.n)
	}
	if r := all.checks / all.bound; r > 1.6 {
		t.Errorf("%.2f times the bound on checks", r)
	}
	if r := all.checks / all.expect; r > 1.05 {
		t.Errorf("%.2f times the doubt over the most telling check", r)
	}
	if all.groupFaults/n > 2.2 || all.groupParts/n > 1.8 {
		t.Errorf("a group holds %.1f faults in %.1f parts", all.groupFaults/n, all.groupParts/n)
	}
	if all.stated/n < 0.93 {
		t.Errorf("ended at %.2f", all.stated/n)
	}
}

func TestTheTableIsReplaced(t *testing.T) {
	file := t.TempDir() + "/x.md"
	if err := os.WriteFile(file, []byte("a\n"+tableFrom+"\nold\n"+tableTo+"\nz\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := replace(file, "new\n"); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(file)
	if err != nil || !strings.Contains(string(text), "new") || strings.Contains(string(text), "old") || !strings.HasPrefix(string(text), "a\n") || !strings.HasSuffix(string(text), "\nz\n") {
		t.Errorf("%q, %v", text, err)
	}
	if err := replace("drills_test.go", ""); err == nil {
		t.Error("a file without the lines was written")
	}
}
