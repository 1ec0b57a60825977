package draw

import (
	"math"
	"strings"
)

// How much room lettering takes. The fonts are the reader's, so widths are those of a wide common one (DejaVu Sans, read off its
// metrics by hand, from memory, in thousandths of the size); a narrower font leaves air.

var advance = func() (w [128]float64) {
	for i := range w {
		w[i] = 620
	}
	for _, c := range "iIl.,:;|'!jJ[]()/\\ " {
		w[c] = 400
	}
	for _, c := range "ftr-\"*" {
		w[c] = 460
	}
	for _, c := range "ABCDEGHKNOPQRUVXYZ&" {
		w[c] = 720
	}
	for _, c := range "mwMW@%+=<>~_#" {
		w[c] = 890
	}
	return w
}()

// textWidth is the room a line of text takes, in units.
func textWidth(s string, size float64, bold bool) float64 {
	sum := 0.0
	for _, r := range s {
		switch {
		case r < 128:
			sum += advance[r]
		case r < 0x2E80:
			sum += 800
		default:
			sum += 1050
		}
	}
	if bold {
		sum *= 1.1
	}
	return sum * size / 1000
}

// fit shortens text to a width; what is cut is marked by two points.
func fit(s string, size float64, bold bool, width float64) string {
	if textWidth(s, size, bold) <= width {
		return s
	}
	r := []rune(s)
	for n := len(r) - 1; n > 0; n-- {
		if t := strings.TrimRight(string(r[:n]), " ,") + ".."; textWidth(t, size, bold) <= width {
			return t
		}
	}
	return ""
}

// wrap breaks text into lines of at most a width; a word that is wider is cut.
func wrap(s string, size float64, width float64) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(s) {
		word = fit(word, size, false, width)
		switch {
		case line == "":
			line = word
		case textWidth(line+" "+word, size, false) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// box is an upright rectangle.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) w() float64 { return b.x1 - b.x0 }
func (b box) h() float64 { return b.y1 - b.y0 }

func (b box) meets(o box) bool { return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1 }

func (b box) grown(d float64) box { return box{b.x0 - d, b.y0 - d, b.x1 + d, b.y1 + d} }

func (b box) with(o box) box {
	return box{min(b.x0, o.x0), min(b.y0, o.y0), max(b.x1, o.x1), max(b.y1, o.y1)}
}

// boundsOf is the room that shapes take, hit areas included.
func boundsOf(shapes []Shape) box {
	all := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, s := range shapes {
		all = all.with(s.bounds())
	}
	if math.IsInf(all.x0, 1) {
		return box{}
	}
	return all
}

func (s Shape) bounds() box {
	switch s.Kind {
	case Rect:
		return box{s.X, s.Y, s.X + s.W, s.Y + s.H}
	case Circle:
		return box{s.X - s.R, s.Y - s.R, s.X + s.R, s.Y + s.R}
	case Text:
		return textBox(s)
	case Group:
		return boundsOf(s.Inner)
	}
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range s.Points {
		b = b.with(box{p.X, p.Y, p.X, p.Y})
	}
	return b
}

// textBox is the room of a line of text, turned ones included.
func textBox(s Shape) box {
	w := textWidth(s.Text, s.Size, s.Bold)
	x := s.X
	switch s.Anchor {
	case "middle":
		x -= w / 2
	case "end":
		x -= w
	}
	b := box{x, s.Y - 0.78*s.Size, x + w, s.Y + 0.22*s.Size}
	if s.Turn == 0 {
		return b
	}
	sin, cos := math.Sincos(s.Turn * math.Pi / 180)
	out := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range []Point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x0, b.y1}, {b.x1, b.y1}} {
		dx, dy := p.X-s.X, p.Y-s.Y
		q := Point{s.X + dx*cos - dy*sin, s.Y + dx*sin + dy*cos}
		out = out.with(box{q.X, q.Y, q.X, q.Y})
	}
	return out
}
