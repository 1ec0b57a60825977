package draw

import (
	"fmt"
	"hash/fnv"
	"math"
	"strconv"
	"strings"
)

// Pictures as SVG: for the page with classes and presentation attributes only, for a file with a style sheet inside.

// smallestTarget is the least width and height of a tap target, in units: 24 CSS pixels is the floor of WCAG 2.2, success
// criterion 2.5.8.
const smallestTarget = 24

// SVG is the picture for the page: no style attribute, no script. A picture with tap targets has the role of a group, because the
// content of an image is hidden from a screen reader.
func (p Picture) SVG() string { return p.svg("") }

// Standalone is the same with a small style sheet inside, for files and print: black on white, nothing said by colour.
func (p Picture) Standalone() string { return p.svg(ownStyle) }

const ownStyle = `text{font-family:"DejaVu Sans","Helvetica Neue",Arial,sans-serif}
svg{background:#fff;color:#000}
rect.body,circle.body,polygon.body,rect.body-hot{fill:#f6f6f6}
rect.pin,rect.pin-hot,circle.pin,circle.pin-hot,rect.paper,circle.paper{fill:#fff}
.faint{color:#5a5a5a}.grid{color:#bebebe}`

func (p Picture) svg(style string) string {
	w := &svgWriter{}
	for i := range p.Shapes {
		w.shape(&p.Shapes[i])
	}
	sum := fnv.New64a()
	sum.Write([]byte(p.Title + "\x00" + p.Desc + "\x00" + w.b.String()))
	id := "d" + strconv.FormatUint(sum.Sum64(), 36)
	role := "img"
	if w.taps > 0 {
		role = "group"
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="0 0 %s %s" width="%s" height="%s" role="%s" aria-labelledby="%s-t"`, num(p.W), num(p.H), num(p.W), num(p.H), role, id)
	if p.Desc != "" {
		fmt.Fprintf(&b, ` aria-describedby="%s-d"`, id)
	}
	fmt.Fprintf(&b, `><title id="%s-t">%s</title>`, id, escape(p.Title))
	if p.Desc != "" {
		fmt.Fprintf(&b, `<desc id="%s-d">%s</desc>`, id, escape(p.Desc))
	}
	if style != "" {
		b.WriteString("<style>" + style + "</style>")
	}
	b.WriteString(w.b.String())
	b.WriteString("</svg>\n")
	return b.String()
}

type svgWriter struct {
	b    strings.Builder
	taps int
}

func (w *svgWriter) shape(s *Shape) {
	switch s.Kind {
	case Group:
		w.group(s)
	case Line, Area:
		w.b.WriteString(map[string]string{Line: `<polyline points="`, Area: `<polygon points="`}[s.Kind])
		for i, p := range s.Points {
			if i > 0 {
				w.b.WriteByte(' ')
			}
			w.b.WriteString(num(p.X) + "," + num(p.Y))
		}
		w.b.WriteByte('"')
		w.paint(s)
	case Rect:
		fmt.Fprintf(&w.b, `<rect x="%s" y="%s" width="%s" height="%s"`, num(s.X), num(s.Y), num(s.W), num(s.H))
		if s.R > 0 {
			fmt.Fprintf(&w.b, ` rx="%s"`, num(s.R))
		}
		w.paint(s)
	case Circle:
		fmt.Fprintf(&w.b, `<circle cx="%s" cy="%s" r="%s"`, num(s.X), num(s.Y), num(s.R))
		w.paint(s)
	case Text:
		w.text(s)
	}
}

func (w *svgWriter) text(s *Shape) {
	fmt.Fprintf(&w.b, `<text class="%s" x="%s" y="%s" font-size="%s" fill="currentColor"`, s.Class, num(s.X), num(s.Y), num(s.Size))
	if s.Anchor != "" && s.Anchor != "start" {
		fmt.Fprintf(&w.b, ` text-anchor="%s"`, s.Anchor)
	}
	if s.Bold {
		w.b.WriteString(` font-weight="bold"`)
	}
	if s.Turn != 0 {
		fmt.Fprintf(&w.b, ` transform="rotate(%s %s %s)"`, num(s.Turn), num(s.X), num(s.Y))
	}
	w.b.WriteString(">" + escape(s.Text) + "</text>")
}

// paint ends an element with its class and with attributes that any style sheet overrules.
func (w *svgWriter) paint(s *Shape) {
	fmt.Fprintf(&w.b, ` class="%s"`, s.Class)
	ink := InkOf(*s)
	fill := "none"
	if ink.Fill != NoInk && ink.Fill < 128 {
		fill = "currentColor"
	}
	if s.Class == Hit {
		if s.Thick > 0 {
			w.b.WriteString(` stroke-width="` + num(s.Thick) + `"`)
		}
		w.b.WriteString(` fill="none" stroke="none" pointer-events="all"/>`)
		return
	}
	w.b.WriteString(` fill="` + fill + `"`)
	if ink.Stroke != NoInk {
		thick := s.Thick
		if thick == 0 {
			thick = 1.5
		}
		fmt.Fprintf(&w.b, ` stroke="currentColor" stroke-width="%s"`, num(thick))
		if s.Dash {
			fmt.Fprintf(&w.b, ` stroke-dasharray="%s %s"`, num(4*max(1, thick/2)), num(3*max(1, thick/2)))
		}
		if s.Kind == Line {
			w.b.WriteString(` stroke-linejoin="round" stroke-linecap="round"`)
		}
	}
	w.b.WriteString("/>")
}

func (w *svgWriter) group(s *Shape) {
	class := s.Class
	if s.Place == "" {
		if class != "" {
			fmt.Fprintf(&w.b, `<g class="%s">`, class)
		} else {
			w.b.WriteString("<g>")
		}
	} else {
		w.taps++
		fmt.Fprintf(&w.b, `<g class="%s" data-place="%s" role="button" tabindex="0" aria-label="%s">`, strings.TrimSpace("tap "+class), escape(s.Place), escape(s.Say))
		if !hasHit(s.Inner) {
			h := hitArea(*s)
			w.shape(&h)
		}
	}
	for i := range s.Inner {
		w.shape(&s.Inner[i])
	}
	w.b.WriteString("</g>")
}

func hasHit(in []Shape) bool {
	for _, s := range in {
		if s.Class == Hit {
			return true
		}
	}
	return false
}

// hitArea is the rectangle around a tap target, at least smallestTarget wide and high.
func hitArea(s Shape) Shape {
	b := boundsOf([]Shape{s})
	if dx := smallestTarget - b.w(); dx > 0 {
		b.x0, b.x1 = b.x0-dx/2, b.x1+dx/2
	}
	if dy := smallestTarget - b.h(); dy > 0 {
		b.y0, b.y1 = b.y0-dy/2, b.y1+dy/2
	}
	return Shape{Kind: Rect, X: b.x0, Y: b.y0, W: b.w(), H: b.h(), Class: Hit}
}

// num prints a length with at most two decimals. What is not a number prints as 0, so that a picture is always well formed.
func num(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "0"
	}
	s := strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

// escape makes text safe inside an element or a double-quoted attribute; control characters, which XML forbids, become blanks.
func escape(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&quot;")
		case r < 0x20 || r == 0xFFFE || r == 0xFFFF:
			b.WriteByte(' ')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
