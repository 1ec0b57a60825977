package draw_test

import (
	"math"
	"strings"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
)

// chips gives the middle of every outline of a board drawing.
func chips(p draw.Picture) map[string][2]float64 {
	out := map[string][2]float64{}
	walk(p.Shapes, func(s draw.Shape, place string) {
		if s.Kind == draw.Rect && (s.Class == draw.Body || s.Class == draw.BodyHot) {
			out[place] = [2]float64{s.X + s.W/2, s.Y + s.H/2}
		}
	})
	return out
}

// Parts lie where the board file says, to scale, and mirrored on the solder side.
func TestPartsInTheirPlaces(t *testing.T) {
	checked := 0
	for _, name := range []string{"lift-panel", "keyboard-scanner"} {
		c := example(t, name)
		marks := map[int]draw.BoardMark{0: {Text: "62 %", Weight: 0.62}, 3: {Text: "21 %", Weight: 0.21}}
		front := draw.Board(c, draw.BoardOptions{Pin: c.Parts[0].Pins[0], Marks: marks})
		back := draw.Board(c, draw.BoardOptions{Pin: c.Parts[0].Pins[0], Marks: marks, Solder: true})
		checkPicture(t, name, front)
		checkPicture(t, name+", solder side", back)
		f, b := chips(front), chips(back)
		if len(f) != len(c.Parts) || len(b) != len(f) {
			t.Errorf("%s: %d and %d of %d parts", name, len(f), len(b), len(c.Parts))
		}
		at := c.Parts[0].Src.Place
		for i := range c.Parts {
			pl, ref := c.Parts[i].Src.Place, c.Parts[i].Ref
			x, y := f[ref][0]-f[c.Parts[0].Ref][0], f[ref][1]-f[c.Parts[0].Ref][1]
			if math.Abs(x-6*(pl.X-at.X)) > 0.01 || math.Abs(y-6*(pl.Y-at.Y)) > 0.01 {
				t.Errorf("%s %s: %v, %v", name, ref, x, y)
			}
			if bx := b[ref][0] - b[c.Parts[0].Ref][0]; math.Abs(bx+x) > 0.01 {
				t.Errorf("%s %s is not mirrored: %v and %v", name, ref, x, bx)
			}
			checked++
		}
		for _, want := range []string{"62 %", "21 %", "probe here, ", " mm<"} {
			if !strings.Contains(front.SVG(), want) {
				t.Errorf("%s: no %q", name, want)
			}
		}
	}
	if checked != 97 {
		t.Errorf("%d parts checked", checked)
	}
	if p := draw.Board(generated(t, 1, 12), draw.BoardOptions{Pin: circuit.None}); p.W != 0 {
		t.Error("no part has a place, and yet a drawing")
	}
}
