package draw

import "math"

// Small marks that several drawings share. Each is made of plain shapes, so that every reader draws it the same.

func text(x, y float64, s string, size float64, class string) Shape {
	return Shape{Kind: Text, X: x, Y: y, Text: s, Size: size, Class: class}
}

func (s Shape) bold() Shape { s.Bold = true; return s }

func (s Shape) at(anchor string) Shape { s.Anchor = anchor; return s }

func (s Shape) thick(t float64) Shape { s.Thick = t; return s }

func (s Shape) dashed() Shape { s.Dash = true; return s }

func line(class string, xy ...float64) Shape {
	s := Shape{Kind: Line, Class: class}
	for i := 0; i+1 < len(xy); i += 2 {
		s.Points = append(s.Points, Point{xy[i], xy[i+1]})
	}
	return s
}

func area(class string, xy ...float64) Shape {
	s := line(class, xy...)
	s.Kind = Area
	return s
}

func rect(class string, x, y, w, h, r float64) Shape {
	return Shape{Kind: Rect, Class: class, X: x, Y: y, W: w, H: h, R: r}
}

func circle(class string, x, y, r float64) Shape {
	return Shape{Kind: Circle, Class: class, X: x, Y: y, R: r}
}

func hit(x, y, w, h float64) Shape { return rect(Hit, x, y, w, h, 0) }

func tap(place, say string, inner ...Shape) Shape {
	return Shape{Kind: Group, Place: place, Say: say, Inner: inner}
}

// notEqual is the sign for "differs", drawn rather than written because not every font has it. x, y is its middle.
func notEqual(x, y, size float64) Shape {
	d := size / 2
	return Shape{Kind: Group, Class: Sign, Inner: []Shape{
		line(Wrong, x-d, y-d*0.4, x+d, y-d*0.4).thick(2.5),
		line(Wrong, x-d, y+d*0.4, x+d, y+d*0.4).thick(2.5),
		line(Wrong, x+d*0.6, y-d*1.1, x-d*0.6, y+d*1.1).thick(2.5),
	}}
}

// arrowHead points from a towards b, with its tip at b.
func arrowHead(class string, ax, ay, bx, by, size float64) Shape {
	l := math.Hypot(bx-ax, by-ay)
	if l == 0 {
		l = 1
	}
	ux, uy := (bx-ax)/l*size, (by-ay)/l*size
	return area(class, bx, by, bx-ux-uy*0.5, by-uy+ux*0.5, bx-ux+uy*0.5, by-uy-ux*0.5)
}

// hatch fills a box with slanting lines that stay inside it.
func hatch(b box, step float64) []Shape {
	var out []Shape
	for s := b.x0 + b.y0 + step; s < b.x1+b.y1; s += step {
		x0, x1 := max(b.x0, s-b.y1), min(b.x1, s-b.y0)
		if x1-x0 > 1 {
			out = append(out, line(Wrong, x0, s-x0, x1, s-x1).thick(1))
		}
	}
	return out
}
