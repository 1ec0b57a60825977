package draw

import (
	"fmt"
	"strings"
)

// The four ways a package lies before the eye: two rows of legs, one row, two ends, standing on its legs.

// window cuts n rows down to the neighbours of the probed one; at is -1 when nothing is probed.
func (d *packageDrawing) window(n, at int) (from, to int) {
	if d.o.Around <= 0 || at < 0 || 2*d.o.Around+1 >= n {
		return 0, n
	}
	from = max(0, min(at-d.o.Around, n-2*d.o.Around-1))
	return from, from + 2*d.o.Around + 1
}

// rowHeights gives the height of each leg above the top of the body, and the height of all.
func rowHeights(rows [][]leg) (ys []float64, h float64) {
	h = 10
	for _, r := range rows {
		for _, l := range r {
			if l.probe {
				h += probeExtra
				break
			}
		}
		ys = append(ys, h+pitch/2)
		h += pitch
	}
	return ys, h + 10
}

// dual draws the two rows of a DIP, pin 1 at the upper left, numbers running around against the clock.
func (d *packageDrawing) dual() Picture {
	n := len(d.legs)
	var rows [][]leg
	at := -1
	for i := range n / 2 {
		rows = append(rows, []leg{d.legs[i], d.legs[n-1-i]})
		if d.legs[i].probe || d.legs[n-1-i].probe {
			at = i
		}
	}
	from, to := d.window(n/2, at)
	rows = rows[from:to]
	var left, right []leg
	for _, r := range rows {
		left, right = append(left, r[0]), append(right, r[1])
	}
	ys, h := rowHeights(rows)
	sideL, sideR := sideWidth(left), sideWidth(right)
	inL, inR := nameWidth(left)+18, nameWidth(right)+18
	x0 := sideL + legW + 12
	x1 := x0 + inL + inR + 40
	p := Picture{W: x1 + legW + 12 + sideR, H: h}
	m := x0 + inL + 20
	p.Shapes = append(p.Shapes, rect(Body, x0, 0, x1-x0, h, 6).thick(2))
	if from == 0 {
		p.Shapes = append(p.Shapes, line(Body, m-14, 0, m-12, 8, m-6, 13, m+6, 13, m+12, 8, m+14, 0).thick(2), circle(Mark, x0+12, 13, 5))
	} else {
		p.Shapes = append(p.Shapes, torn(x0, x1, 0)...)
	}
	if to < n/2 {
		p.Shapes = append(p.Shapes, torn(x0, x1, h)...)
	}
	if len(rows) >= 3 {
		ref := text(m, h/2, d.p.Ref, 18, Faint).bold().at("middle")
		ref.Turn = -90
		ref.X += 6
		p.Shapes = append(p.Shapes, ref)
	}
	for i, r := range rows {
		p.Shapes = append(p.Shapes, d.row(r[0], true, x0, ys[i], inL, sideL), d.row(r[1], false, x1, ys[i], inR, sideR))
	}
	var cut []string
	if from > 0 {
		cut = append(cut, span(1, from), span(n-from+1, n))
	}
	if to < n/2 {
		cut = append(cut, span(to+1, n-to))
	}
	return d.under(p, cut)
}

// torn is the broken edge of a package that goes on beyond the drawing.
func torn(x0, x1, y float64) []Shape {
	edge := line(Body)
	for x, up := x0, 4.0; ; x, up = x+10, -up {
		edge.Points = append(edge.Points, Point{min(x, x1), y + up})
		if x >= x1 {
			break
		}
	}
	return []Shape{rect(Paper, x0-2, y-5, x1-x0+4, 10, 0), edge.thick(2)}
}

func span(a, b int) string {
	if a == b {
		return fmt.Sprint(a)
	}
	return fmt.Sprintf("%d to %d", a, b)
}

// under says below a package which pins the drawing leaves out.
func (d *packageDrawing) under(p Picture, cut []string) Picture {
	if len(cut) == 0 {
		return p
	}
	said := "not drawn: pins " + strings.Join(cut, " and ")
	p.W = max(p.W, textWidth(said, smallSize, false))
	p.Shapes = append(p.Shapes, text(0, p.H+26, said, smallSize, Faint))
	p.H += 32
	return p
}

// single draws one row of legs from top to bottom, the body on the left.
func (d *packageDrawing) single() Picture {
	at := -1
	for i, l := range d.legs {
		if l.probe {
			at = i
		}
	}
	n := len(d.legs)
	from, to := d.window(n, at)
	legs := d.legs[from:to]
	var rows [][]leg
	for _, l := range legs {
		rows = append(rows, []leg{l})
	}
	ys, h := rowHeights(rows)
	inner, side := nameWidth(legs)+18, sideWidth(legs)
	lane := 34.0
	isDigit := len(d.p.Lamps) >= 7
	if isDigit {
		lane = 90
		h = max(h, 160)
	}
	x1 := lane + inner
	p := Picture{W: x1 + legW + 12 + side, H: h}
	p.Shapes = append(p.Shapes, rect(Body, 0, 0, x1, h, 6).thick(2))
	if from == 0 && d.numbered() {
		p.Shapes = append(p.Shapes, circle(Mark, x1-10, 11, 5))
	}
	if from > 0 {
		p.Shapes = append(p.Shapes, torn(0, x1, 0)...)
	}
	if to < n {
		p.Shapes = append(p.Shapes, torn(0, x1, h)...)
	}
	if isDigit {
		s := digitShapes(nil, 58)
		shift(s, 20, h/2-52)
		p.Shapes = append(p.Shapes, s...)
	} else if len(rows) >= 3 {
		ref := text(24, h/2, d.p.Ref, 18, Faint).bold().at("middle")
		ref.Turn = -90
		p.Shapes = append(p.Shapes, ref)
	}
	for i, l := range legs {
		p.Shapes = append(p.Shapes, d.row(l, false, x1, ys[i], inner, side))
	}
	var cut []string
	if from > 0 {
		cut = append(cut, span(1, from))
	}
	if to < n {
		cut = append(cut, span(to+1, n))
	}
	p = d.under(p, cut)
	if !d.numbered() {
		p = remark(p, "terminals by name: their order differs from make to make")
	}
	return p
}

// remark adds lines of small print below a drawing.
func remark(p Picture, said string) Picture {
	p.H += 8
	for _, l := range wrap(said, smallSize, max(p.W, 240)) {
		p.H += 18
		p.W = max(p.W, textWidth(l, smallSize, false))
		p.Shapes = append(p.Shapes, text(0, p.H-4, l, smallSize, Faint))
	}
	return p
}

// ends draws a part between its two terminals.
func (d *packageDrawing) ends() Picture {
	l, r := d.legs[0], d.legs[1]
	ys, h := rowHeights([][]leg{{l, r}})
	y := ys[0] + 12
	sideL, sideR := sideWidth(d.legs[:1]), sideWidth(d.legs[1:])
	in := nameWidth(d.legs) + 18
	x0 := sideL + legW + 12
	x1 := x0 + 2*in + 84
	p := Picture{W: x1 + legW + 12 + sideR, H: h + 24}
	p.Shapes = append(p.Shapes, rect(Body, x0, y-34, x1-x0, 68, 6).thick(2))
	if s := symbol(d.p.Type, x0+in, x1-in, y); s != nil {
		p.Shapes = append(p.Shapes, s...)
	} else {
		p.Shapes = append(p.Shapes, text((x0+x1)/2, y+6, d.p.Ref, 18, Faint).bold().at("middle"))
	}
	p.Shapes = append(p.Shapes, d.row(l, true, x0, y, in, sideL), d.row(r, false, x1, y, in, sideR))
	return p
}

// standing draws a transistor or regulator on its three legs.
func (d *packageDrawing) standing() Picture {
	col := 96.0
	for _, l := range d.legs {
		col = max(col, sideWidth([]leg{l})+24, textWidth(l.name, nameSize, true)+24)
	}
	const bodyH, legLen = 70.0, 40.0
	p := Picture{W: 3 * col}
	m := p.W / 2
	half := 56.0
	said := "legs drawn as named: their order differs from make to make"
	towards := "towards you"
	if d.o.Solder {
		towards = "away from you"
	}
	top := 0.0
	switch d.p.Type.Package {
	case "TO92":
		p.Shapes = append(p.Shapes, rect(Body, m-half, 0, 2*half, bodyH, 4).thick(2))
		said = "flat side " + towards + ", legs down"
	case "TO220":
		top = 34
		p.Shapes = append(p.Shapes, rect(Body, m-half, 0, 2*half, top+4, 2).thick(2), circle(Paper, m, 17, 9), circle(Ring, m, 17, 9), rect(Body, m-half, top, 2*half, bodyH, 2).thick(2))
		said = "marking " + towards + ", legs down"
	case "TO18":
		p.Shapes = append(p.Shapes, rect(Body, m-half, 0, 2*half, bodyH-8, 10).thick(2), rect(Body, m-half-8, bodyH-10, 2*half+16, 10, 3).thick(2))
		said = "metal can: seen from below the legs are counted clockwise from the tab"
	default:
		p.Shapes = append(p.Shapes, rect(Body, m-half, 0, 2*half, bodyH, 22).thick(2))
	}
	p.Shapes = append(p.Shapes, text(m, top+bodyH/2+6, d.p.Ref, 20, Name).bold().at("middle"))
	y := top + bodyH
	for i, l := range d.legs {
		p.Shapes = append(p.Shapes, d.standingLeg(l, m+float64(i-1)*36, y, col*(float64(i)+0.5), y+legLen, col))
	}
	p.H = y + legLen + 110
	for _, l := range d.legs {
		if l.probe {
			p.H += 46
			break
		}
	}
	return remark(p, said)
}

// standingLeg draws a leg from the body at x, y down to its lettering in the column about cx.
func (d *packageDrawing) standingLeg(l leg, x, y, cx, foot, col float64) Shape {
	class, thick := PinMark, 2.0
	if l.probe {
		class, thick = PinHot, 4
	}
	in := []Shape{hit(cx-col/2+2, foot-6, col-4, 110), line(class, x, y, x, y+16, cx, foot).thick(thick), rect(class, cx-legW/2, foot, legW, legH, 3)}
	num := fmt.Sprint(l.number)
	if !d.numbered() {
		num = fit(l.name, nameSize, true, legW-4)
	}
	in = append(in, text(cx, foot+17, num, nameSize, class).bold().at("middle"))
	line2 := foot + legH + 20
	if d.numbered() {
		in = append(in, text(cx, line2, l.name, nameSize, Label).at("middle"))
		line2 += 20
	}
	net := text(cx, line2, fit(l.net, netSize, true, maxNet), netSize, Label).at("middle")
	net.Bold = l.probe
	if l.faint {
		net.Class = Faint
	}
	in = append(in, net)
	if l.level != "" {
		level := text(cx, line2+20, l.level, smallSize, Expected).at("middle")
		if l.differ {
			level.Class, level.Bold = Wrong, true
			level.X += 10
			in = append(in, notEqual(cx-textWidth(l.level, smallSize, true)/2-2, line2+15, 12))
		}
		in = append(in, level)
		line2 += 20
	}
	if l.probe {
		in = append(in, rect(Ring, cx-legW/2-5, foot-5, legW+10, legH+10, 8).thick(3),
			line(PinHot, cx, line2+36, cx, line2+18).thick(3), arrowHead(Mark, cx, line2+36, cx, line2+8, 13),
			text(cx, line2+54, probeWords, 16, PinHot).bold().at("middle"))
	}
	if l.place == "" {
		return Shape{Kind: Group, Inner: in[1:]}
	}
	return tap(l.place, l.say, in...)
}
