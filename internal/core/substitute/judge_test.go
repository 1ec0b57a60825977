package substitute

import (
	"strings"
	"testing"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/loading"
	"halfsplit/internal/core/part"
)

// bench builds a board from lines  REF TYPE PIN=NET …  with 5 V on VCC and 0 V on GND; a line  REF=VALUE TYPE …  gives ohms.
func bench(t *testing.T, inputs string, lines ...string) (*circuit.Circuit, *part.Library) {
	t.Helper()
	lib, fl := part.Embedded()
	b := &board.Board{Title: "bench", Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND"}}}
	for _, l := range lines {
		f := strings.Fields(l)
		p := board.Part{Ref: f[0], Type: f[1]}
		if ref, ohms, ok := strings.Cut(f[0], "="); ok {
			p.Ref, p.HasValue = ref, true
			for _, c := range ohms {
				p.Value = p.Value*10 + float64(c-'0')
			}
		}
		for _, w := range f[2:] {
			pin, net, _ := strings.Cut(w, "=")
			p.Pins = append(p.Pins, board.Pin{Pin: pin, Net: net})
		}
		b.Parts = append(b.Parts, p)
	}
	for n := range strings.FieldsSeq(inputs) {
		b.Inputs = append(b.Inputs, board.Name{Text: n})
	}
	c, more := circuit.Build(b, lib)
	if c == nil {
		t.Fatal(fl, more)
	}
	return c, lib
}

func with(t *testing.T, c *circuit.Circuit, lib *part.Library, ref, name string) Answer {
	t.Helper()
	pi, ok := c.PartByRef(ref)
	m, err := lib.Find(name)
	if !ok || err != nil {
		t.Fatal(ref, err)
	}
	return Judge(c, pi, m)
}

func says(a Answer, words ...string) bool {
	for _, r := range a.Reasons {
		all := true
		for _, w := range words {
			all = all && strings.Contains(r.Text+" "+r.Remedy, w)
		}
		if all {
			return true
		}
	}
	return false
}

const tied = " 3A=GND 4A=GND 5A=GND 6A=GND"

// LS guarantees 2.7 V (SDLS025B), HC wants 3.15 V (MM74HC04): 0.45 V short unless a resistor lifts the net.
func TestHCAfterLSNeedsAPullUp(t *testing.T) {
	lines := []string{"U1 74LS04 1A=IN 1Y=A 2A=GND" + tied, "U2 74LS04 1A=A 1Y=B 2A=B" + tied}
	c, lib := bench(t, "IN", lines...)
	a := with(t, c, lib, "U2", "74HC04")
	if a.Verdict != No || !says(a, "2.70 V", "3.15 V", "short by 0.45 V", "pull-up") {
		t.Errorf("%v: %+v", a.Verdict, a.Reasons)
	}
	c, lib = bench(t, "IN", append(lines, "R1=4700 resistor A=VCC B=A")...)
	a = with(t, c, lib, "U2", "74HC04")
	if a.Verdict == No {
		t.Errorf("refused with a pull-up: %+v", a.Reasons)
	}
	// 4.75 V less 4.7 kΩ times 1 µA.
	found := false
	for _, s := range a.Steps {
		found = found || s.What == loading.LevelHigh && s.Net == "A" && s.Verdict == loading.Holds && strings.Contains(s.Text, "= 4.75 V")
	}
	if !found {
		t.Errorf("no step shows what the pull-up does: %+v", a.Steps)
	}
	if b := with(t, c, lib, "U2", "74HCT04"); b.Verdict == No {
		t.Errorf("HCT is refused: %+v", b.Reasons)
	}
}

// Five standard inputs are what an LS output can sink (8 mA / 1.6 mA, SN54/74LS138 unit loads); a sixth is one too many.
func TestFanOutOfTheDriver(t *testing.T) {
	lines := []string{"U1 74LS04 1A=IN 1Y=A 2A=GND" + tied}
	for i := 2; i <= 6; i++ {
		lines = append(lines, "U"+string(rune('0'+i))+" 7404 1A=A 2A=GND"+tied)
	}
	lines = append(lines, "U7 74LS04 1A=GND 2A=GND"+tied)
	c, lib := bench(t, "IN", lines...)
	if a := with(t, c, lib, "U2", "7404"); a.Verdict != Yes {
		t.Errorf("five loads: %+v", a.Reasons)
	}
	lines[6] = "U7 74LS04 1A=A 2A=GND" + tied // 5 x 1.6 mA + 0.4 mA
	c, lib = bench(t, "IN", lines...)
	if a := with(t, c, lib, "U2", "7404"); a.Verdict != Care || !says(a, "over by 400µA", "already") {
		t.Errorf("already too much: %v %+v", a.Verdict, a.Reasons)
	}
	if a := with(t, c, lib, "U2", "74LS04"); a.Verdict == No || says(a, "over by") {
		t.Errorf("a lighter input is refused: %+v", a.Reasons)
	}
	lines[5] = "U6 74LS04 1A=A 2A=GND" + tied // now 4 x 1.6 + 2 x 0.4 mA
	c, lib = bench(t, "IN", lines...)
	if a := with(t, c, lib, "U7", "7404"); a.Verdict != No || !says(a, "fan-out low", "over by 400µA") { // 5 x 1.6 mA + 0.4 mA = 8.4 mA
		t.Errorf("a heavier input is let through: %v %+v", a.Verdict, a.Reasons)
	}
	// HC sinks 4 mA: ten LS loads, not five standard ones.
	if a := with(t, c, lib, "U1", "74HC04"); a.Verdict != No || !says(a, "fan-out low", "4mA") {
		t.Errorf("HC in the driver's place: %v %+v", a.Verdict, a.Reasons)
	}
}

// A 4000B output feeds one LS input at 25 °C and none when warm (TL/F/5939).
func TestStandardCMOSIntoLS(t *testing.T) {
	c, lib := bench(t, "X", "U1 4011 1A=X 1B=X 1Y=A 2A=GND 2B=GND 3A=GND 3B=GND 4A=GND 4B=GND", "U2 74LS04 1A=A 2A=GND"+tied)
	marginal := 0
	a := with(t, c, lib, "U1", "4011")
	for _, s := range a.Steps {
		if s.Verdict == loading.Marginal && s.What == loading.FanOutLow {
			marginal++
		}
	}
	if marginal != 1 || a.Verdict != Care {
		t.Errorf("%d marginal steps: %+v", marginal, a.Reasons)
	}
}

// Open collectors need a resistor within the range of TL/F/6351; push-pull outputs may not share a net.
func TestOutputsOfAnotherKind(t *testing.T) {
	plain := []string{"U1 74LS04 1A=IN 1Y=A 2A=GND" + tied, "U2 74LS04 1A=A 2A=GND" + tied}
	c, lib := bench(t, "IN", plain...)
	if a := with(t, c, lib, "U1", "74LS05"); a.Verdict != No || !says(a, "no pull-up", "a pull-up between") {
		t.Errorf("open collector without pull-up: %v %+v", a.Verdict, a.Reasons)
	}
	c, lib = bench(t, "IN", append(plain, "R1=2200 resistor A=VCC B=A")...)
	if a := with(t, c, lib, "U1", "74LS05"); a.Verdict == No {
		t.Errorf("open collector with 2.2 kΩ: %+v", a.Reasons)
	}
	c, lib = bench(t, "IN", append(plain, "R1=470 resistor A=VCC B=A")...)
	if a := with(t, c, lib, "U1", "74LS05"); a.Verdict != No {
		t.Errorf("470 Ω asks 10 mA of an 8 mA output: %+v", a.Reasons)
	}
	wired := []string{"U1 74LS05 1A=IN 1Y=A 2A=GND" + tied, "U3 74LS05 1A=IN2 1Y=A 2A=GND" + tied, "U2 74LS04 1A=A 2A=GND" + tied, "R1=2200 resistor A=VCC B=A"}
	c, lib = bench(t, "IN IN2", wired...)
	if a := with(t, c, lib, "U1", "74LS04"); a.Verdict != No || !says(a, "never lets go") {
		t.Errorf("push-pull on a shared net: %v %+v", a.Verdict, a.Reasons)
	}
}

func TestPinOutAndFunction(t *testing.T) {
	c, lib := bench(t, "IN", "U1 74LS00 1A=IN 1B=VCC 1Y=A 2A=GND 2B=GND 3A=GND 3B=GND 4A=GND 4B=GND", "U2 74LS04 1A=A 2A=GND"+tied)
	for _, w := range []struct {
		name    string
		verdict Verdict
		words   string
	}{
		{"74LS02", No, "another pin-out"}, {"74LS08", No, "another function"}, {"4011", No, "another pin-out"}, {"74LS04", No, "another pin-out"},
		{"74LS138", No, "16 pins instead of 14"},
	} {
		if a := with(t, c, lib, "U1", w.name); a.Verdict != w.verdict || !says(a, w.words) {
			t.Errorf("%s: %v %+v", w.name, a.Verdict, a.Reasons)
		}
	}
	pi, _ := c.PartByRef("U1")
	names := map[string]Verdict{}
	for _, a := range Find(c, lib, pi) {
		names[a.Match.Name()] = a.Verdict
	}
	for name, want := range map[string]Verdict{"74LS00": Yes, "74LS37": Yes, "74LS132": Yes, "74LS03": No} {
		if got, ok := names[name]; !ok || got != want {
			t.Errorf("%s: %v, found %v", name, got, ok)
		}
	}
	if _, found := names["74LS02"]; found {
		t.Error("a part with another pin-out was proposed")
	}
	if first := Find(c, lib, pi)[0].Match.Name(); first != "74LS00" {
		t.Errorf("the part itself is not first: %s", first)
	}
}

// An open TTL input is heard as high; an open CMOS input is not allowed.
func TestOpenInputs(t *testing.T) {
	c, lib := bench(t, "IN", "U1 74LS04 1A=IN 1Y=A", "U2 74LS04 1A=A 2A=GND"+tied)
	if a := with(t, c, lib, "U1", "74HCT04"); a.Verdict != No || !says(a, "open input", "tie it") {
		t.Errorf("%v %+v", a.Verdict, a.Reasons)
	}
	if a := with(t, c, lib, "U1", "7404"); a.Verdict == No {
		t.Errorf("%+v", a.Reasons)
	}
}

// Every record has the function and pin-out of itself when read a second time.
func TestEveryRecordEqualsItself(t *testing.T) {
	one, _ := part.Embedded()
	two, _ := part.Embedded()
	checked := 0
	for i, x := range one.Types() {
		y := two.Types()[i]
		want := same
		if x.Opaque {
			want = unmodelled
		}
		if d := pinDifferences(x, y); len(d) > 0 || sameFunction(x, y) != want {
			t.Errorf("%s: %v %d", x.Name, d, sameFunction(x, y))
		}
		checked++
	}
	if checked < 400 {
		t.Errorf("only %d records compared", checked)
	}
}
