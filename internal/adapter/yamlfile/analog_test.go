package yamlfile

// The analogue keys of boards and cases: read, written, read again; and what is wrong with them said with its place.

import (
	"strings"
	"testing"
)

const analogBoard = `board: Supply
rails: {GND: 0 V}
parts:
  C1: {type: electrolytic, value: 4700u, pins: [VRAW, GND]}
  BR1: {type: bridge-rectifier, pins: [AC1, AC2, VRAW, GND]}
  SL1: {type: slider, value: 10k, pins: [VRAW, W, GND]}
analog:
  ground: GND
  age: 40
  sources:
    T1: {kind: mains, plus: AC1, minus: AC2, volts: 9 V, frequency: 50 Hz, ohms: 0.3, tolerance: 0.05}
    L1: {kind: load, plus: VRAW, minus: GND, amperes: 0.5 A}
    L2: {kind: load, plus: VRAW, minus: GND, ohms: 22}
    S1: {kind: signal, plus: W, minus: GND, volts: 500m, frequency: 1k, ohms: 600}
    V1: {kind: dc, plus: W, minus: GND, volts: -5 V, ohms: 1k}
  controls: {SL1: 0.25}
`

const analogCase = `case: Hum
board: board.yaml
golden: true
log:
  - volts: {VRAW: 10.1}
    current: {F1: 0.85}
    ripple: {VRAW: 1.2}
    esr: {C1: 0.3}
    ac: [{at: OUT, frequency: 1k, level: 0.5}]
    gain: {from: IN, to: OUT, frequency: 1k, is: 2.1}
    wiper: {at: SL1, position: 0.5, volts: 2.1}
  - bench: {at: VRAW, volts: 1 V, ohms: 1}
    volts: {VRAW: 31m}
`

func TestAnalogRoundTrip(t *testing.T) {
	b, l := ParseBoard("b.yaml", []byte(analogBoard), nil)
	if len(l) != 0 || b.Analog == nil || len(b.Analog.Sources) != 5 || b.Analog.Controls[0].Position != 0.25 || b.Analog.Sources[4].Volts != -5 {
		t.Fatalf("%v %+v", l, b.Analog)
	}
	text, err := WriteBoard(b)
	if err != nil {
		t.Fatal(err)
	}
	if back, l := ParseBoard("b.yaml", text, nil); len(l) != 0 || !same(b, back) {
		t.Errorf("%v\n%s", l, text)
	}
	c, l := ParseCase("c.yaml", []byte(analogCase))
	if len(l) != 0 || !c.Golden || c.Log[0].Gain[0].Is != 2.1 || c.Log[1].Feed == nil || c.Log[0].Wiper[0].Position != 0.5 {
		t.Fatalf("%v %+v", l, c)
	}
	if text, err = WriteCase(c); err != nil {
		t.Fatal(err)
	}
	if back, l := ParseCase("c.yaml", text); len(l) != 0 || !same(c, back) {
		t.Errorf("%v\n%s", l, text)
	}
}

func TestAnalogMistakes(t *testing.T) {
	checked := 0
	for _, m := range []struct{ old, new, want string }{
		{"kind: mains", "kind: main", "did you mean mains?"},
		{"plus: AC1", "plus: AC9", `no pin is on a net "AC9"`},
		{", amperes: 0.5 A", "", "either `amperes:` or `ohms:`"},
		{"volts: 9 V", "volts: 9 A", "with the unit A"},
		{"SL1: 0.25}", "SL1: 1.5}", "out of range"},
		{"SL1: 0.25}", "SL2: 0.5}", "no part SL2"},
		{"age: 40", "age: old", "expected years"},
		{"minus: AC2", "minus: AC1", "both ends"},
	} {
		checked++
		_, l := ParseBoard("b.yaml", []byte(strings.Replace(analogBoard, m.old, m.new, 1)), nil)
		if len(l) == 0 || !strings.Contains(l[0].String(), m.want) || l[0].Pos.Line < 8 {
			t.Errorf("%s: %v", m.new, l)
		}
	}
	for _, m := range []struct{ old, new, want string }{
		{"is: 2.1}", "is: }", "still to be filled in"},
		{"ohms: 1}", "ohms: 0}", "limit its current"},
		{"position: 0.5", "position: 5", "out of range"},
		{"level: 0.5}", "leve: 0.5}", "did you mean level?"},
		{"F1: 0.85", "F1: 0.85 V", "with the unit V"},
	} {
		checked++
		_, l := ParseCase("c.yaml", []byte(strings.Replace(analogCase, m.old, m.new, 1)))
		if len(l) == 0 || !strings.Contains(l[0].String()+l[len(l)-1].String(), m.want) {
			t.Errorf("%s: %v", m.new, l)
		}
	}
	if checked != 13 {
		t.Errorf("%d mistakes made", checked)
	}
}
