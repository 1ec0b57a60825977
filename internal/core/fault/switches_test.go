package fault_test

// Faults of switches with several contacts: one open and one short for each, named so that they read back, the part's rate shared among them.

import (
	"math"
	"slices"
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/part"
)

func one(t *testing.T, typ string, nets ...string) *circuit.Circuit {
	t.Helper()
	lib, fl := part.Embedded()
	if len(fl) > 0 {
		t.Fatal(fl)
	}
	p := board.Part{Ref: "S1", Type: typ, Listed: true}
	for _, n := range nets {
		p.Pins = append(p.Pins, board.Pin{Net: n})
	}
	c, fl := circuit.Build(&board.Board{Rails: []board.Rail{{Net: "GND"}, {Net: "VCC", Volts: 5}}, Parts: []board.Part{p}}, lib)
	if c == nil {
		t.Fatal(fl)
	}
	return c
}

func TestEachContactFailsOnItsOwn(t *testing.T) {
	plain := 0.0
	for _, x := range []struct {
		typ   string
		nets  []string
		names string
		text  string // of the last contact that never closes
	}{
		{"switch", []string{"A", "GND"}, "S1", "S1 never closes"},
		{"switch-spdt", []string{"VCC", "Y", "GND"}, "S1.A S1.B", "S1 contact COM to B (closed when down) never closes"},
		{"dip-switch-4", strings.Fields("A B C D GND GND GND GND"), "S1.1 S1.2 S1.3 S1.4", "S1 section 4 (pins 4 and 5) never closes"},
		{"switch-dpdt", strings.Fields("VCC Y GND VCC Z GND"), "S1.1 S1.4 S1.3 S1.6", "S1 contact 2COM to 2B (closed when down) never closes"},
		{"switch-bcd", strings.Fields("GND W1 W2 W4 W8"), "S1.2 S1.3 S1.4 S1.5", "S1 contact COM to W8 (closed when 8 or 9) never closes"},
	} {
		c := one(t, x.typ, x.nets...)
		var open []string
		text := ""
		fs := fault.Universe(c)
		total := 0.0
		for i, w := range fault.Priors(c, fs, nil) {
			f := fs[i]
			if f.Kind != fault.Open && f.Kind != fault.Short {
				continue
			}
			total += w
			if back, err := fault.Parse(c, f.String(c)); err != nil || back != f {
				t.Errorf("%s: %s reads back as %v (%v)", x.typ, f.String(c), back, err)
			}
			if f.Kind == fault.Open {
				open, text = append(open, f.At(c)), f.Text(c)
			}
		}
		if got := strings.Join(open, " "); got != x.names || text != x.text {
			t.Errorf("%s: contacts %q, want %q; %q, want %q", x.typ, got, x.names, text, x.text)
		}
		if plain == 0 {
			plain = total
		}
		if math.Abs(total-plain) > 1e-12 {
			t.Errorf("%s: the contacts fail %g in all, a plain switch %g", x.typ, total, plain)
		}
	}
}

func TestAContactIsKnownByEitherPin(t *testing.T) {
	c := one(t, "dip-switch-4", strings.Fields("A B C D GND GND GND GND")...)
	for word, section := range map[string]string{"open@S1.3": "S1.3", "open@S1.6": "S1.3", "short@S1.3A": "S1.3", "short@S1.1B": "S1.1", "open@S1.8": "S1.1"} {
		f, err := fault.Parse(c, word)
		if err != nil || f.At(c) != section {
			t.Errorf("%s: %v at %s, want %s", word, err, f.At(c), section)
		}
	}
	_, err := fault.Parse(c, "open@S1")
	if err == nil || !strings.Contains(err.Error(), "open@S1.1") {
		t.Errorf("which contact of S1 is meant was not asked: %v", err)
	}
	if n := len(slices.DeleteFunc(fault.Universe(c), func(f fault.Fault) bool { return f.Kind != fault.Short })); n != 4 {
		t.Errorf("%d shorts of four sections", n)
	}
}
