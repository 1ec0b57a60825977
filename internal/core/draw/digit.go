package draw

import "strings"

// A seven-segment digit: lit segments are filled, dark ones only outlined.

// DigitPicture draws a digit with the segments lit that segs names: letters a to g, and p or dp for the point.
func DigitPicture(segs string, title string) Picture {
	lit := map[string]bool{}
	for _, r := range strings.ReplaceAll(segs, "dp", "p") {
		lit[string(r)] = true
	}
	s := digitShapes(lit, 72)
	var on []string
	for _, n := range segmentNames {
		if lit[n] {
			on = append(on, strings.Replace(n, "p", "point", 1))
		}
	}
	desc := "lit: " + strings.Join(on, " ")
	if len(on) == 0 {
		desc = "dark"
	}
	b := boundsOf(s)
	return pad(Picture{W: b.x1, H: b.y1, Title: title, Desc: desc, Shapes: s}, 8)
}

var segmentNames = []string{"a", "b", "c", "d", "e", "f", "g", "p"}

// digitShapes draws the eight segments in a box w wide, its upper left at 0, 0. With lit nil every segment bears its letter instead.
func digitShapes(lit map[string]bool, w float64) []Shape {
	t := w / 6      // thickness of a segment
	l := w*0.75 - t // its length
	gap := t * 0.12
	bar := func(x, y float64, upright bool) []float64 { // from its first end
		h, g := t/2, gap+t/2
		if upright {
			return []float64{x, y + gap, x + h, y + g, x + h, y + l - g, x, y + l - gap, x - h, y + l - g, x - h, y + g}
		}
		return []float64{x + gap, y, x + g, y - h, x + l - g, y - h, x + l - gap, y, x + l - g, y + h, x + g, y + h}
	}
	o := t / 2
	at := [][]float64{
		bar(o, o, false), bar(o+l, o, true), bar(o+l, o+l, true), bar(o, o+2*l, false), bar(o, o+l, true), bar(o, o, true), bar(o, o+l, false),
	}
	var out []Shape
	for i, n := range segmentNames {
		on := lit[n]
		class := Grid
		if on {
			class = Mark
		}
		var s Shape
		if n == "p" {
			s = circle(class, l+t*2.2, o+2*l, t*0.6)
		} else {
			s = area(class, at[i]...)
		}
		out = append(out, s)
		if lit == nil && n != "p" {
			b := s.bounds()
			out = append(out, text((b.x0+b.x1)/2, (b.y0+b.y1)/2+4.5, n, smallSize, Label).bold().at("middle"))
		}
	}
	return out
}
