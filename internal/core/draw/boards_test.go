package draw_test

// The boards that the drawings are tried on.

import (
	"io/fs"
	"strings"
	"testing"

	"halfsplit/examples"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/bench"
	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/part"
)

// example reads a machine of the examples.
func example(t *testing.T, dir string) *circuit.Circuit {
	t.Helper()
	read := func(name string) ([]byte, error) { return fs.ReadFile(examples.Files, dir+"/"+name) }
	data, err := read("board.yaml")
	if err != nil {
		t.Fatal(err)
	}
	b, fl := yamlfile.ParseBoard("board.yaml", data, read)
	if b == nil || fl.Errors() {
		t.Fatal(fl)
	}
	lib, _ := part.Embedded()
	if data, err = read("parts.yaml"); err == nil {
		types, fl := part.Parse("parts.yaml", data)
		if fl.Errors() {
			t.Fatal(fl)
		}
		lib.Add(types, true)
	}
	return build(t, b, lib)
}

func build(t *testing.T, b *board.Board, lib *part.Library) *circuit.Circuit {
	t.Helper()
	c, fl := circuit.Build(b, lib)
	if c == nil {
		t.Fatal(fl)
	}
	return c
}

// generated invents a board of so many packages.
func generated(t *testing.T, seed uint64, packages int) *circuit.Circuit {
	t.Helper()
	lib, _ := part.Embedded()
	return build(t, bench.Generate(seed, packages), lib)
}

// boards are both examples three invented ones, and one of what they lack.
func boards(t *testing.T) map[string]*circuit.Circuit {
	return map[string]*circuit.Circuit{
		"lift-panel": example(t, "lift-panel"), "keyboard-scanner": example(t, "keyboard-scanner"),
		"invented 12": generated(t, 3, 12), "invented 40": generated(t, 4, 40), "invented 120": generated(t, 5, 120),
		"odd parts": oddParts(t),
	}
}

// alone puts one part of a type on a board, every pin on a net N1, N2, … of its own, supply pins on the rail that they want.
func alone(t *testing.T, lib *part.Library, ref, typ string, tp *part.Type) *circuit.Circuit {
	t.Helper()
	b := &board.Board{Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND", Volts: 0}}}
	p := board.Part{Ref: ref, Type: typ, Listed: true}
	for i, pin := range tp.Pins {
		net := "-"
		if pin.Node >= 0 {
			net = "SIGNAL" + strings.Repeat("N", i%4) + num(tp.Nodes[pin.Node].Pins[0])
		}
		p.Pins = append(p.Pins, board.Pin{Net: net})
	}
	b.Parts = []board.Part{p}
	return build(t, b, lib)
}

func num(n int) string {
	return strings.TrimLeft(string([]byte{byte('0' + n/10), byte('0' + n%10)}), "0")
}

// walk calls f for every shape of a picture, groups before what is in them.
func walk(shapes []draw.Shape, f func(s draw.Shape, place string)) {
	var in func(shapes []draw.Shape, place string)
	in = func(shapes []draw.Shape, place string) {
		for _, s := range shapes {
			at := place
			if s.Place != "" {
				at = s.Place
			}
			f(s, at)
			in(s.Inner, at)
		}
	}
	in(shapes, "")
}

// oddParts is a board of everything that is not a gate: connectors, a processor whose inside is not modelled, relays, a digit.
func oddParts(t *testing.T) *circuit.Circuit {
	t.Helper()
	lib, _ := part.Embedded()
	b := &board.Board{Rails: []board.Rail{{Net: "VCC", Volts: 5}, {Net: "GND", Volts: 0}}, Buses: []board.Bus{{Name: "B"}}}
	for i := range 16 {
		b.Buses[0].Nets = append(b.Buses[0].Nets, board.Name{Text: "B" + string(rune('A'+i))})
	}
	net := func(i int) string { return "B" + string(rune('A'+i%16)) }
	for i, name := range strings.Fields("conn-50 opaque-dip40 opaque-dip8 relay-spdt relay-dpdt digit-ca digit-cc npn pmos potentiometer resnet-iso-sip8 bridge-rectifier optocoupler dip-switch-4 crystal electrolytic zener 7805 test-point conn-2 led-bar-10 4066 ULN2003") {
		m, err := lib.Find(name)
		if err != nil {
			t.Fatal(err)
		}
		p := board.Part{Ref: "X" + num(i+1), Type: name, Listed: true}
		for k, pin := range m.Type.Pins {
			w := net(i*3 + k)
			switch {
			case pin.Node < 0 || k%7 == 6 && i < 8:
				w = "-"
			case m.Type.Nodes[pin.Node].Supply:
				w = map[bool]string{true: "GND", false: "VCC"}[strings.Contains("GND VSS VEE", pin.Name)]
			case k%5 == 4:
				w = "L" + num(i+1) + net(k)
			}
			p.Pins = append(p.Pins, board.Pin{Net: w})
		}
		b.Parts = append(b.Parts, p)
	}
	return build(t, b, lib)
}
