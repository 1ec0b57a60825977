package yamlfile

import (
	"strings"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// The fuse map of a part: what is read, and what is said of a map that is damaged, of the wrong part, or not there.
func TestFuseMapBesideBoard(t *testing.T) {
	lib, lf := part.Embedded()
	if lf.Errors() {
		t.Fatal(lf)
	}
	const good = "t*QF2048*F0*L0000 11111111111111111111111111111111*L0032 01111111111111111111111111111111*C07F7*"
	cases := []struct {
		typ, contents, file string
		fuses               int
		say                 string // "" when nothing of the map is to be said
		severity            finding.Severity
	}{
		{"PAL16L8", "u1.jed", good, 2048, "", finding.Warning},
		{"PAL16L8ACN", "u1.JED", good, 2048, "", finding.Warning},
		{"PAL16L8", "u1.jed", strings.Replace(good, "C07F7", "C07F8", 1), 0, "fuse map \"u1.jed\" line 1: the fuse checksum is 07F8, but the fuses add up to 07F7", finding.Error},
		{"PAL16L8", "u1.jed", strings.Replace(good, "*C07F7", "", 1), 2048, "no fuse checksum", finding.Warning},
		{"PAL16L8", "u1.jed", "t*QF320*F1*C27D8*", 320, "the fuse map has 320 fuses, a 16L8 has 2048; it fits a 10H8, 10L8", finding.Error},
		{"GAL16V8", "u1.jed", good, 2048, "it fits a 16L8, 16R4, 16R6, 16R8", finding.Error},
		{"PAL16L8", "u1.hex", ":0100000001FE\n:00000001FF\n", 0, "takes a fuse map", finding.Error},
		{"2716", "u1.jed", good, 2048, "is no programmable logic", finding.Error},
		{"PAL16L8", "", "", 0, "no fuse map given, so what it computes is unknown (add  contents: FILE.jed", finding.Warning},
	}
	for _, c := range cases {
		text := "board: T\nrails: {VCC: 5 V, GND: 0 V}\nparts:\n  U1: {type: " + c.typ + ", pins: {}"
		if c.contents != "" {
			text += ", contents: " + c.contents
		}
		b, fl := ParseBoard("b.yaml", []byte(text+"}\nactions: {a: {steps: []}}\n"), func(string) ([]byte, error) { return []byte(c.file), nil })
		if !fl.Errors() {
			_, more := circuit.Build(b, lib)
			fl = append(fl, more...)
		}
		if len(b.Parts[0].Fuses) != c.fuses {
			t.Errorf("%s %s: %d fuses, expected %d", c.typ, c.contents, len(b.Parts[0].Fuses), c.fuses)
		}
		said := ""
		for _, f := range fl {
			if s := f.String(); strings.Contains(s, "fuse") || strings.Contains(s, "programmable") {
				said += s + "\n"
				if f.Severity != c.severity {
					t.Errorf("%s: %v", s, f.Severity)
				}
			}
		}
		if c.say == "" && said != "" || !strings.Contains(said, c.say) {
			t.Errorf("%s %s: said %q, expected %q", c.typ, c.contents, said, c.say)
		}
	}
	if len(cases) != 9 {
		t.Error(len(cases))
	}
}
