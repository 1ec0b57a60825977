package draw_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
	"halfsplit/internal/core/part"
)

// legNumbers lists the numbers written on legs, with where they stand.
func legNumbers(p draw.Picture) map[string][]draw.Shape {
	out := map[string][]draw.Shape{}
	walk(p.Shapes, func(s draw.Shape, _ string) {
		if s.Kind == draw.Text && (s.Class == draw.PinMark || s.Class == draw.PinHot) && s.Text != "probe here" {
			out[s.Text] = append(out[s.Text], s)
		}
	})
	return out
}

// Every part of the library: each pin once, nothing on anything else, the solder side the mirror image of the other.
func TestEveryPartOfTheLibrary(t *testing.T) {
	lib, fl := part.Embedded()
	if fl.Errors() {
		t.Fatal(fl)
	}
	types, pins, mirrored := 0, 0, 0
	for _, tp := range lib.Types() {
		name := tp.Name
		if len(tp.Families) > 0 && strings.HasPrefix(name, "74x") {
			name = "74" + strings.TrimPrefix(tp.Families[len(tp.Families)-1], "74") + strings.TrimPrefix(name, "74x")
		}
		c := alone(t, lib, "U1", name, tp)
		levels := map[int]draw.Level{}
		for i := range c.Nets {
			levels[i] = []draw.Level{{}, {Seen: "low", Expected: "high"}, {Expected: "pulses"}, {Seen: "floating", Expected: "floating"}}[i%4]
		}
		for _, probe := range []int{circuit.None, types % len(c.Parts[0].Pins)} {
			o := draw.PackageOptions{Pin: probe, Levels: levels}
			if probe != circuit.None {
				o.Pin = c.Parts[0].Pins[probe]
			}
			front := draw.Package(c, 0, o)
			o.Solder = true
			back := draw.Package(c, 0, o)
			taps, _ := checkPicture(t, name, front)
			checkPicture(t, name+" solder side", back)
			if taps != len(c.Parts[0].Pins)+1 {
				t.Errorf("%s: %d tap targets for %d pins and the part", name, taps, len(c.Parts[0].Pins))
			}
			numbers := legNumbers(front)
			if n := len(numbers); n != len(tp.Pins) && n != 0 {
				t.Errorf("%s: %d of %d pins drawn", name, n, len(tp.Pins))
			}
			behind := legNumbers(back)
			for i := range tp.Pins {
				key := strconv.Itoa(i + 1)
				if len(numbers) == 0 || len(numbers[key]) != 1 {
					continue
				}
				pins++
				if len(behind[key]) != 1 {
					t.Errorf("%s: pin %s is drawn %d times on the solder side", name, key, len(behind[key]))
					continue
				}
				one, other := numbers["1"], behind["1"]
				if dx, back := numbers[key][0].X-one[0].X, behind[key][0].X-other[0].X; dx+back > 0.01 || dx+back < -0.01 {
					t.Errorf("%s: pin %s is %v right of pin 1, and %v on the solder side", name, key, dx, back)
				} else if dx != 0 {
					mirrored++
				}
			}
			if !strings.Contains(back.SVG(), "SOLDER side, mirrored") || strings.Contains(front.SVG(), "SOLDER") {
				t.Errorf("%s does not say which side it shows", name)
			}
			if got := strings.Count(front.SVG(), ">probe here<"); got != map[bool]int{true: 1}[probe != circuit.None] {
				t.Errorf("%s: %d arrows", name, got)
			}
		}
		types++
	}
	if types < 400 || pins < 10000 || mirrored < 5000 {
		t.Errorf("only %d types, %d pins, %d mirrored", types, pins, mirrored)
	}
}

// Numbers run against the clock from the upper left, seen from above.
func TestPinOne(t *testing.T) {
	lib, _ := part.Embedded()
	checked := 0
	for _, x := range []struct {
		name string
		pins int
	}{{"LM358", 8}, {"74LS00", 14}, {"74LS138", 16}, {"74LS244", 20}, {"2716", 24}, {"6116", 24}, {"opaque-dip40", 40}} {
		m, err := lib.Find(x.name)
		if err != nil || len(m.Type.Pins) != x.pins {
			t.Fatal(x, err)
		}
		c := alone(t, lib, "U1", x.name, m.Type)
		for _, solder := range []bool{false, true} {
			n := legNumbers(draw.Package(c, 0, draw.PackageOptions{Pin: circuit.None, Solder: solder}))
			at := func(k int) draw.Shape { return n[strconv.Itoa(k)][0] }
			first, half, over, last := at(1), at(x.pins/2), at(x.pins/2+1), at(x.pins)
			if (first.X < last.X) == solder || first.Y != last.Y || half.Y != over.Y || first.X != half.X || first.Y >= half.Y {
				t.Errorf("%s, solder side %v: pins 1 %v,%v  %d %v,%v  %d %v,%v", x.name, solder, first.X, first.Y, x.pins/2, half.X, half.Y, x.pins, last.X, last.Y)
			}
			checked++
		}
	}
	if checked != 14 {
		t.Errorf("%d checked", checked)
	}
}

// With Around only the neighbours are drawn, and the drawing says what is missing.
func TestNeighboursOfThePin(t *testing.T) {
	lib, _ := part.Embedded()
	m, _ := lib.Find("opaque-dip40")
	c := alone(t, lib, "U1", "opaque-dip40", m.Type)
	checked := 0
	for _, id := range c.Parts[0].Pins {
		p := draw.Package(c, 0, draw.PackageOptions{Pin: id, Around: 3})
		checkPicture(t, c.PinName(id), p)
		n := legNumbers(p)
		if len(n) != 14 || len(n[strconv.Itoa(c.Pins[id].Number)]) != 1 {
			t.Errorf("%s: %d pins drawn", c.PinName(id), len(n))
		}
		var missing []string
		for k := 1; k <= 40; k++ {
			if n[strconv.Itoa(k)] == nil {
				missing = append(missing, strconv.Itoa(k))
			}
		}
		svg := p.SVG()
		if len(missing) != 26 || !strings.Contains(svg, "not drawn: pins ") {
			t.Errorf("%s leaves out %v", c.PinName(id), missing)
		}
		checked++
	}
	if checked < 35 {
		t.Errorf("%d pins", checked)
	}
	m, _ = lib.Find("conn-50")
	c = alone(t, lib, "J1", "conn-50", m.Type)
	n := legNumbers(draw.Package(c, 0, draw.PackageOptions{Pin: c.Parts[0].Pins[30], Around: 2}))
	if len(n) != 5 || !slices.Contains([]string{"31"}, n["31"][0].Text) {
		t.Errorf("a row of 50: %d drawn", len(n))
	}
}

// Equal questions get equal bytes, whatever the order of maps.
func TestSameBytes(t *testing.T) {
	n := 0
	for name, c := range boards(t) {
		var first string
		for round := range 3 {
			var b strings.Builder
			for i := range min(len(c.Parts), 20) {
				b.WriteString(draw.Package(c, i, draw.PackageOptions{Pin: circuit.None}).SVG())
				b.WriteString(draw.Neighbourhood(c, draw.NeighbourhoodOptions{Parts: []int{i}, Hops: 2}).Standalone())
			}
			b.WriteString(draw.Board(c, draw.BoardOptions{Pin: circuit.None}).SVG())
			if round > 0 && b.String() != first {
				t.Errorf("%s: another drawing each time", name)
			}
			first = b.String()
			n++
		}
	}
	if n != 18 {
		t.Error(fmt.Sprint(n, " rounds"))
	}
}
