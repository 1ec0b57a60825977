package draw_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/draw"
)

// segment is a piece of wire of a neighbourhood.
type segment struct{ x0, y0, x1, y1 float64 }

func (s segment) has(x, y float64) bool {
	const e = 0.01
	return x >= min(s.x0, s.x1)-e && x <= max(s.x0, s.x1)+e && y >= min(s.y0, s.y1)-e && y <= max(s.y0, s.y1)+e
}

// touch tells whether two pieces of wire are joined: an end of one lies on the other. Wires that merely cross are not.
func (s segment) touch(o segment) bool {
	return s.has(o.x0, o.y0) || s.has(o.x1, o.y1) || o.has(s.x0, s.y0) || o.has(s.x1, s.y1)
}

// readBack finds out from the geometry alone which pins a neighbourhood joins, and compares with the board: pins joined by wire are on
// one net, every piece of wire bears its net's name, no wire runs through lettering of another net. It returns the joined pins.
func readBack(t *testing.T, what string, c *circuit.Circuit, p draw.Picture) (joined int) {
	t.Helper()
	type lettered struct {
		box   [4]float64
		text  string
		place string
	}
	var segs []segment
	var owner []string
	var words []lettered
	pinAt := map[string][4]float64{}
	walk(p.Shapes, func(s draw.Shape, place string) {
		_, isNet := c.Net(place)
		switch {
		case s.Kind == draw.Line && (s.Class == draw.Wire || s.Class == draw.WireHot || s.Class == draw.PathMark) && (isNet || strings.Contains(place, ".")):
			g := segment{s.Points[0].X, s.Points[0].Y, s.Points[1].X, s.Points[1].Y}
			if g.x0 != g.x1 && g.y0 != g.y1 {
				return // the stroke through a bus
			}
			segs = append(segs, g)
			owner = append(owner, place)
		case s.Kind == draw.Text && place != "":
			words = append(words, lettered{draw.TextBox(s), s.Text, place})
		case s.Place != "" && !isNet:
			if at := strings.LastIndex(place, "."); at > 0 {
				pinAt[place] = draw.Bounds(s.Inner[0])
			}
		}
	})
	root := make([]int, len(segs))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	for i, a := range segs {
		for j, b := range segs[:i] {
			if a.touch(b) {
				root[find(i)] = find(j)
			}
		}
	}
	name := map[int]string{}
	for i := range segs {
		r := find(i)
		if name[r] != "" && name[r] != owner[i] {
			t.Errorf("%s: wires of %s and %s touch at %v", what, name[r], owner[i], segs[i])
		}
		name[r] = owner[i]
	}
	perWire := map[int]int{}
	for pin, hit := range pinAt {
		place, hint := c.FindPlace(pin)
		if hint != "" {
			t.Errorf("%s: %s", what, hint)
			continue
		}
		y := (hit[1] + hit[3]) / 2
		found := -1
		for i, g := range segs {
			for _, x := range []float64{g.x0, g.x1} {
				if g.y0 == g.y1 && math.Abs(g.y0-y) < 0.01 && x > hit[0] && x < hit[2] {
					found = find(i)
				}
			}
		}
		if found < 0 {
			continue // one of the lines of a bus
		}
		if want := c.NetName(place.Net); name[found] != want {
			t.Errorf("%s: %s is drawn on %s, is on %s", what, pin, name[found], want)
		}
		perWire[found]++
		joined++
	}
	for r, pins := range perWire {
		near := false
		for _, w := range words {
			near = near || w.place == name[r]
		}
		if !near || pins == 0 {
			t.Errorf("%s: the wire of %s bears no name", what, name[r])
		}
	}
	for i, g := range segs {
		for _, w := range words {
			if w.place != owner[i] && min(g.x0, g.x1) < w.box[2]-1 && max(g.x0, g.x1) > w.box[0]+1 && min(g.y0, g.y1) < w.box[3]-1 && max(g.y0, g.y1) > w.box[1]+3 {
				t.Errorf("%s: the wire of %s runs through %q of %s", what, owner[i], w.text, w.place)
			}
		}
	}
	return joined
}

// Around every part of the examples and of generated boards: what is drawn is what the board says.
func TestWiresJoinWhatTheBoardJoins(t *testing.T) {
	drawn, joined := 0, 0
	for name, c := range boards(t) {
		for i := range c.Parts {
			if len(c.Parts) > 100 && i%7 != 0 {
				continue
			}
			levels := map[int]draw.Level{}
			var path []int
			for _, id := range c.Parts[i].Pins {
				n := c.Pins[id].Net
				levels[n] = []draw.Level{{Seen: "low", Expected: "pulses"}, {Expected: "high"}, {Seen: "low"}, {Seen: "high", Expected: "high"}}[n%4]
				if !c.Nets[n].Rail && len(path) < 3 {
					path = append(path, n)
				}
			}
			for hops := 1; hops <= 2; hops++ {
				o := draw.NeighbourhoodOptions{Parts: []int{i}, Hops: hops}
				if hops == 2 {
					o.Levels, o.Path, o.Probe = levels, path, c.Parts[i].Pins[:1]
				}
				p := draw.Neighbourhood(c, o)
				if p.W == 0 {
					continue
				}
				what := name + " " + c.Parts[i].Ref
				checkPicture(t, what, p)
				joined += readBack(t, what, c, p)
				drawn++
			}
		}
	}
	if drawn < 250 || joined < 10000 {
		t.Errorf("only %d drawings with %d pins on wires", drawn, joined)
	}
}

// A package falls into the units that share nothing inside; lettering follows the pins, used or not.
func TestUnits(t *testing.T) {
	c := example(t, "lift-panel")
	refs := func(parts ...string) string {
		var o draw.NeighbourhoodOptions
		for _, r := range parts {
			i, ok := c.PartByRef(r)
			if !ok {
				t.Fatal(r)
			}
			o.Parts = append(o.Parts, i)
		}
		o.Most = 100
		var names []string
		walk(draw.Neighbourhood(c, o).Shapes, func(s draw.Shape, place string) {
			if s.Class == draw.Name && strings.HasPrefix(s.Text, parts[0]) && place == parts[0] {
				names = append(names, s.Text)
			}
		})
		return strings.Join(sortedWords(names), " ")
	}
	tests := map[string]string{
		"U6": "U6a U6b U6c U6d", "U1": "U1a U1b U1c U1d", "U7": "U7", "U12": "U12a U12b", "U10": "U10a U10b", "U8": "U8", "R1": "R1",
		"RN1": "RN1a RN1b RN1c RN1d RN1e", "DS1": "DS1", "U13": "U13", "Q1": "Q1", "SW0": "SW0",
	}
	for ref, want := range tests {
		if got := refs(ref); got != want {
			t.Errorf("%s falls into %q, want %q", ref, got, want)
		}
	}
	if len(tests) != 12 {
		t.Error(len(tests))
	}
}

func sortedWords(w []string) []string {
	for i := range w {
		for j := range w[:i] {
			if w[i] < w[j] {
				w[i], w[j] = w[j], w[i]
			}
		}
	}
	return w
}

// The way of a wrong level is numbered in its order, and runs from left to right.
func TestPathRunsForward(t *testing.T) {
	c := example(t, "lift-panel")
	k := 0
	for _, names := range []string{"/AT1 /RES1 Q1 /Q1 /T0 T0 ABOVE DNGO DB KD", "T0 ABOVE DNGO /DNCK F0 /AT1 /RES1 Q1 /Q1 /T0", "F0 /AT1 /RES1 Q1 /Q1 /T0 T0 ABOVE DNGO /DNCK", "/Q1 /T0 T0 ABOVE DNGO /DNCK F0 /AT1 /RES1 Q1"} {
		var path []int
		for n := range strings.FieldsSeq(names) {
			i, ok := c.Net(n)
			if !ok {
				t.Fatal(n)
			}
			path = append(path, i)
		}
		p := draw.Neighbourhood(c, draw.NeighbourhoodOptions{Path: path, Most: 14})
		checkPicture(t, names, p)
		readBack(t, names, c, p)
		last := -1.0
		for i := range path {
			at := math.Inf(1) // the nearest one further right; a net that turns back is numbered at its far ends too
			walk(p.Shapes, func(s draw.Shape, place string) {
				if s.Kind == draw.Text && s.Text == strconv.Itoa(i+1) && s.Bold && s.Anchor == "middle" && place == c.NetName(path[i]) {
					if s.X > last {
						at = min(at, s.X)
					}
				}
			})
			if math.IsInf(at, 1) {
				t.Fatalf("%s: no %d right of %v", names, i+1, last)
			}
			last = at
			k++
		}
	}
	if k != 40 {
		t.Error(k)
	}
}

// What finds no room is named.
func TestMostBlocks(t *testing.T) {
	c := generated(t, 5, 120)
	checked := 0
	for _, most := range []int{1, 5, 24} {
		i, _ := c.PartByRef("U12")
		p := draw.Neighbourhood(c, draw.NeighbourhoodOptions{Parts: []int{i}, Hops: 3, Most: most})
		names := 0
		walk(p.Shapes, func(s draw.Shape, _ string) {
			if s.Class == draw.Name {
				names++
			}
		})
		if names != most || !strings.Contains(p.SVG(), "no room for ") {
			t.Errorf("%d blocks of at most %d", names, most)
		}
		checked++
	}
	if p := draw.Neighbourhood(c, draw.NeighbourhoodOptions{}); p.W != 0 || checked != 3 {
		t.Error("nothing was asked, and yet a drawing")
	}
}
