package importer

// Places that come from a netlist with y upwards, in the drawing of the board with y downwards: what is above in the one is above in the other,
// and each part is turned as its pads lie, from both sides of the board.

import (
	"path/filepath"
	"testing"

	"golang.org/x/tools/txtar"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
)

// legOf is where a pin is drawn.
func legOf(t *testing.T, c *circuit.Circuit, ref string, number int, solder bool) (x, y float64) {
	t.Helper()
	pi, _ := c.PartByRef(ref)
	for _, id := range c.Parts[pi].Pins {
		if c.Pins[id].Number != number {
			continue
		}
		rings := 0
		var in func([]draw.Shape)
		in = func(shapes []draw.Shape) {
			for _, s := range shapes {
				if s.Class == draw.Ring {
					x, y, rings = s.X, s.Y, rings+1
				}
				in(s.Inner)
			}
		}
		in(draw.Board(c, draw.BoardOptions{Pin: id, Solder: solder}).Shapes)
		if rings != 1 {
			t.Fatalf("%s pin %d: %d rings", ref, number, rings)
		}
		return x, y
	}
	t.Fatalf("no pin %s.%d", ref, number)
	return 0, 0
}

func TestPlacesAndTheDrawingAgree(t *testing.T) {
	a, err := txtar.ParseFile(filepath.Join("testdata/corpus", "ipc356.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	lib, _ := library()
	res := Import([]File{{a.Files[0].Name, a.Files[0].Data}, {a.Files[1].Name, a.Files[1].Data}}, lib)
	c, fl := circuit.Build(res.Board, lib)
	if c == nil {
		t.Fatal(fl)
	}
	// the pads of the file, in inches, y upwards
	pads := map[string]map[int][2]float64{"U1": {1: {1, 2}, 2: {1, 1.9}, 3: {1, 1.8}, 7: {1.3, 1.4}, 14: {1, 2}}, "R1": {1: {1.5, 2}, 2: {1.5, 2.1}}}
	sign := func(v float64) int {
		switch {
		case v > 0.5:
			return 1
		case v < -0.5:
			return -1
		}
		return 0
	}
	checked := 0
	for _, solder := range []bool{false, true} {
		for _, x := range []struct {
			ref  string
			a, b int
		}{{"U1", 1, 2}, {"U1", 2, 3}, {"R1", 1, 2}} {
			ax, ay := legOf(t, c, x.ref, x.a, solder)
			bx, by := legOf(t, c, x.ref, x.b, solder)
			right, up := pads[x.ref][x.b][0]-pads[x.ref][x.a][0], pads[x.ref][x.b][1]-pads[x.ref][x.a][1]
			if solder {
				right = -right
			}
			if sign(bx-ax) != sign(100*right) || sign(by-ay) != sign(-100*up) {
				t.Errorf("%s pins %d and %d, solder side %v: drawn %.0f to the right and %.0f down, in the file %g and %g up", x.ref, x.a, x.b, solder, bx-ax, by-ay, right, up)
			}
			checked++
		}
		// the second row of U1 is to the right, from the component side; R1 is to the right of U1 and above its middle
		x1, _ := legOf(t, c, "U1", 1, solder)
		x14, y14 := legOf(t, c, "U1", 14, solder)
		xr, yr := legOf(t, c, "R1", 1, solder)
		if (x14 > x1) == solder || (xr > x1) == solder || yr > y14+100 {
			t.Errorf("solder side %v: U1.1 at %.0f, U1.14 at %.0f %.0f, R1.1 at %.0f %.0f", solder, x1, x14, y14, xr, yr)
		}
		checked++
	}
	if checked != 8 {
		t.Errorf("%d comparisons", checked)
	}
}
