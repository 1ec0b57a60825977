package report

import (
	"math"

	"codeberg.org/go-pdf/fpdf"

	"halfsplit/internal/core/draw"
)

// A drawing in print: the shapes of the page's own drawing, scaled to the width of the column.

const (
	unitMM  = 0.2   // of a drawing's unit: its lettering of 13 units comes out at 7 points
	tallest = 130.0 // of a drawing in print
)

func (p *printer) picture(d *draw.Picture) {
	scale := min(unitMM, inner/d.W, tallest/d.H)
	w, h := d.W*scale, d.H*scale
	p.room(h + 9)
	c := canvas{p, margin + (inner-w)/2, p.GetY() + 1, scale}
	c.shapes(d.Shapes)
	p.SetDashPattern(nil, 0)
	p.SetDrawColor(0, 0, 0)
	p.SetTextColor(0, 0, 0)
	p.SetXY(margin, c.y+h+1)
	p.SetFont("go", "", textSize-1)
	p.MultiCell(inner, lineH-0.5, d.Title, "", "C", false)
	p.SetFont("go", "", textSize)
	p.Ln(2)
}

// canvas maps a drawing's units onto the page.
type canvas struct {
	*printer
	x, y, scale float64
}

func (c canvas) shapes(list []draw.Shape) {
	for _, s := range list {
		c.shape(s)
	}
}

func (c canvas) shape(s draw.Shape) {
	if s.Kind == draw.Group {
		c.shapes(s.Inner)
		return
	}
	ink := draw.InkOf(s)
	if s.Kind == draw.Text {
		c.text(s, ink)
		return
	}
	style := ""
	if ink.Fill != draw.NoInk {
		style = "F"
		c.SetFillColor(ink.Fill, ink.Fill, ink.Fill)
	}
	if ink.Stroke != draw.NoInk {
		style += "D"
		c.SetDrawColor(ink.Stroke, ink.Stroke, ink.Stroke)
		thick := s.Thick
		if thick == 0 {
			thick = 1.5
		}
		c.SetLineWidth(thick * c.scale)
		if s.Dash {
			c.SetDashPattern([]float64{4 * c.scale, 3 * c.scale}, 0)
		} else {
			c.SetDashPattern(nil, 0)
		}
	}
	if style == "" {
		return
	}
	switch s.Kind {
	case draw.Line:
		for i := 1; i < len(s.Points); i++ {
			c.Line(c.px(s.Points[i-1].X), c.py(s.Points[i-1].Y), c.px(s.Points[i].X), c.py(s.Points[i].Y))
		}
	case draw.Area:
		var pts []fpdf.PointType
		for _, p := range s.Points {
			pts = append(pts, fpdf.PointType{X: c.px(p.X), Y: c.py(p.Y)})
		}
		c.Polygon(pts, style)
	case draw.Rect:
		x, y, w, h := c.px(s.X), c.py(s.Y), s.W*c.scale, s.H*c.scale
		if r := min(s.R*c.scale, w/2, h/2); r > 0 {
			c.RoundedRect(x, y, w, h, r, "1234", style)
		} else {
			c.Rect(x, y, w, h, style)
		}
	case draw.Circle:
		c.Circle(c.px(s.X), c.py(s.Y), s.R*c.scale, style)
	}
}

func (c canvas) text(s draw.Shape, ink draw.Ink) {
	style := ""
	if s.Bold {
		style = "B"
	}
	const pointsPerMM = 72 / 25.4
	c.SetFont("go", style, s.Size*c.scale*pointsPerMM)
	grey := max(0, ink.Fill)
	c.SetTextColor(grey, grey, grey)
	x, y := c.px(s.X), c.py(s.Y)
	w := c.GetStringWidth(s.Text)
	dx := 0.0
	switch s.Anchor {
	case "middle":
		dx = -w / 2
	case "end":
		dx = -w
	}
	if math.Abs(s.Turn) > 0.01 {
		c.TransformBegin()
		c.TransformRotate(-s.Turn, x, y)
		c.Text(x+dx, y, s.Text)
		c.TransformEnd()
		return
	}
	c.Text(x+dx, y, s.Text)
}

func (c canvas) px(x float64) float64 { return c.x + x*c.scale }
func (c canvas) py(y float64) float64 { return c.y + y*c.scale }
