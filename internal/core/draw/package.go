package draw

import (
	"strconv"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// The package around the pin to probe: legs with numbers, names and nets, as they lie before the eye.
//
// Dual in-line packages have their two rows; single rows (SIP, connectors, parts whose pins have names only) one; transistors and
// regulators stand on their legs; parts with two ends lie between them. Seen from the solder side left and right change places.

// PackageOptions says what of a package to draw.
type PackageOptions struct {
	Pin    int           // pin to probe, index into Circuit.Pins, or circuit.None
	Solder bool          // as seen from the solder side
	Around int           // so many neighbours on each side of Pin; 0 draws all
	Levels map[int]Level // by net index
}

// Package draws one part, an index into c.Parts.
func Package(c *circuit.Circuit, partIndex int, o PackageOptions) Picture {
	p := &c.Parts[partIndex]
	d := &packageDrawing{c: c, p: p, o: o, legs: legsOf(c, partIndex, o)}
	var body Picture
	switch n := len(p.Type.Pins); {
	case isDual(p.Type):
		body = d.dual()
	case n == 2:
		body = d.ends()
	case standsOnLegs(p.Type):
		body = d.standing()
	default:
		body = d.single()
	}
	if o.Solder {
		mirror(body.Shapes, body.W)
	}
	return d.titled(body)
}

func isDual(t *part.Type) bool {
	n, ok := strings.CutPrefix(t.Package, "DIP")
	return ok && n == strconv.Itoa(len(t.Pins)) && len(t.Pins)%2 == 0 && len(t.Pins) >= 4
}

func standsOnLegs(t *part.Type) bool {
	if len(t.Pins) != 3 {
		return false
	}
	if strings.HasPrefix(t.Package, "TO") {
		return true
	}
	return len(t.Stmts) == 1 && t.Stmts[0].Kind >= part.NPN && t.Stmts[0].Kind <= part.NJFET
}

// leg is one terminal with everything that is written at it.
type leg struct {
	number        int // from 1
	pin           int // index into Circuit.Pins or none
	name          string
	net           string // net, or why there is none
	faint         bool   // nothing is wired here
	level         string
	differ, probe bool
	place, say    string
}

func legsOf(c *circuit.Circuit, pi int, o PackageOptions) []leg {
	p := &c.Parts[pi]
	legs := make([]leg, len(p.Type.Pins))
	for i, tp := range p.Type.Pins {
		legs[i] = leg{number: i + 1, pin: none, name: tp.Name, net: "not wired", faint: true}
		if tp.Node < 0 {
			legs[i].name, legs[i].net = "", "no connection"
		}
	}
	for _, id := range p.Pins {
		q := &c.Pins[id]
		l := &legs[q.Number-1]
		l.pin, l.probe = id, id == o.Pin
		l.place, l.say = c.PinName(id), c.PinText(id)
		if q.Wired {
			l.net, l.faint = c.NetName(q.Net), false
			l.level, l.differ = o.Levels[q.Net].text()
		}
		l.say += ", " + map[bool]string{true: "net "}[q.Wired] + l.net
		if l.level != "" {
			l.say += ", " + l.level
		}
		if l.probe {
			l.say += ", probe here"
		}
	}
	return legs
}

type packageDrawing struct {
	c    *circuit.Circuit
	p    *circuit.Part
	o    PackageOptions
	legs []leg
}

// Sizes of a package drawing. The pitch is a finger's width.
const (
	pitch      = 44.0
	probeExtra = 34.0 // more height for the row to probe, for the words above it
	legW, legH = 36.0, 24.0
	nameSize   = 15.0
	netSize    = 15.0
	smallSize  = 13.0
	maxNet     = 180.0
	maxName    = 110.0
	probeWords = "probe here"
)

// numbered says whether the numbers of the legs mean anything: types whose makers number them differently have names only.
func (d *packageDrawing) numbered() bool {
	t := d.p.Type
	return t.Package != "any" && !strings.HasSuffix(t.Package, "terminals")
}

// sideWidth is the room for nets and levels beside a row of legs.
func sideWidth(legs []leg) float64 {
	w := 60.0
	for _, l := range legs {
		w = max(w, min(textWidth(l.net, netSize, true), maxNet), textWidth(l.level, smallSize, l.differ)+map[bool]float64{true: 20}[l.differ])
		if l.probe {
			w = max(w, textWidth(probeWords, 16, true)+34)
		}
	}
	return w
}

func nameWidth(legs []leg) float64 {
	w := 0.0
	for _, l := range legs {
		w = max(w, min(textWidth(l.name, nameSize, true), maxName))
	}
	return w
}

// row draws one leg that lies: x is the edge of the body, the leg points away from it. The row is h high, the leg on height y.
func (d *packageDrawing) row(l leg, left bool, x, y, inner, side float64) Shape {
	dir, outward, inward := 1.0, "start", "end"
	if left {
		dir, outward, inward = -1, "end", "start"
	}
	class, thick := PinMark, 1.5
	if l.probe {
		class, thick = PinHot, 3
	}
	legX := x
	if left {
		legX -= legW
	}
	net := text(x+dir*(legW+12), y+5, fit(l.net, netSize, l.probe, maxNet), netSize, Label).at(outward)
	if l.faint {
		net.Class, net.Size = Faint, smallSize
	}
	if l.level != "" {
		net.Y = y - 2
	}
	top := y - pitch/2
	if l.probe {
		net.Bold = true
		top -= probeExtra
	}
	hitX := min(x-dir*inner, x+dir*(legW+12+side))
	in := []Shape{hit(hitX, top, inner+legW+12+side, y+pitch/2-top)}
	if d.numbered() {
		in = append(in, rect(class, legX, y-legH/2, legW, legH, 3).thick(thick), text(x+dir*legW/2, y+5, strconv.Itoa(l.number), nameSize, class).bold().at("middle"))
	} else {
		in = append(in, line(class, x, y, x+dir*(legW/2-8), y).thick(2), circle(class, x+dir*legW/2, y, 8))
	}
	if l.name != "" {
		name := text(x-dir*12, y+5, fit(l.name, nameSize, l.probe, maxName), nameSize, Label).at(inward)
		name.Bold = l.probe
		in = append(in, name)
	}
	in = append(in, net)
	if l.level != "" {
		level := text(net.X, y+15, l.level, smallSize, Expected).at(outward)
		if l.differ {
			level.Class, level.Bold = Wrong, true
			level.X += dir * 20
			in = append(in, notEqual(net.X+dir*8, y+10, 12))
		}
		in = append(in, level)
	}
	if l.probe {
		in = append(in, probeMark(x+dir*legW/2, y, dir)...)
	}
	if l.place == "" {
		return Shape{Kind: Group, Inner: in[1:]}
	}
	return tap(l.place, l.say, in...)
}

// probeMark rings a leg at x, y and points to it from the side that dir gives (1 right, -1 left), in words and with an arrow.
func probeMark(x, y, dir float64) []Shape {
	tipX, tipY := x+dir*8, y-legH/2-8
	fromX, fromY := x+dir*40, tipY-15
	anchor := "start"
	if dir < 0 {
		anchor = "end"
	}
	return []Shape{
		rect(Ring, x-legW/2-5, y-legH/2-5, legW+10, legH+10, 8).thick(3),
		line(PinHot, fromX, fromY, tipX+dir*6, tipY-4).thick(3),
		arrowHead(Mark, fromX, fromY, tipX, tipY, 13),
		text(fromX+dir*5, fromY+5, probeWords, 16, PinHot).bold().at(anchor),
	}
}

// mirror changes left and right of shapes in a picture of width w; lettering and signs stay readable.
func mirror(shapes []Shape, w float64) {
	for i := range shapes {
		s := &shapes[i]
		if s.Class == Sign {
			b := s.bounds()
			shift(s.Inner, w-b.x0-b.x1, 0)
			continue
		}
		for k := range s.Points {
			s.Points[k].X = w - s.Points[k].X
		}
		switch s.Kind {
		case Rect:
			s.X = w - s.X - s.W
		case Circle:
			s.X = w - s.X
		case Text:
			s.X = w - s.X
			switch s.Anchor {
			case "end":
				s.Anchor = "start"
			case "", "start":
				s.Anchor = "end"
			}
		}
		mirror(s.Inner, w)
	}
}

// titled puts the part's name and the side it is seen from above a drawing.
func (d *packageDrawing) titled(body Picture) Picture {
	p := d.p
	side := "seen from the component side"
	if d.o.Solder {
		side = "seen from the SOLDER side, mirrored"
	}
	head := []Shape{text(0, 20, p.Ref, 22, Name).bold(), text(textWidth(p.Ref, 22, true)+12, 20, typeText(p), 16, Label)}
	w := max(body.W, textWidth(p.Ref, 22, true)+12+textWidth(typeText(p), 16, false), textWidth(side, 15, true)+20)
	y := 44.0
	for _, l := range wrap(p.Src.Note, smallSize, w) {
		head = append(head, text(0, y, l, smallSize, Faint))
		y += 18
	}
	if d.o.Solder {
		y += 4
		head = append(head, rect(Ring, 0, y-15, textWidth(side, 15, true)+20, 24, 4).thick(2), text(10, y+2, side, 15, Label).bold())
		y += 26
	} else {
		head = append(head, text(0, y, side, smallSize, Faint))
		y += 18
	}
	shift(body.Shapes, (w-body.W)/2, y)
	pic := Picture{W: w, H: y + body.H, Title: p.Ref + " " + p.Src.Type + ", " + side, Desc: p.Type.Title, Shapes: append([]Shape{tap(p.Ref, "part "+p.Ref+", "+typeText(p), head[:2]...)}, append(head[2:], body.Shapes...)...)}
	for _, l := range d.legs {
		if l.probe {
			pic.Title += ", probe " + d.c.PinText(l.pin)
		}
	}
	return pad(pic, 8)
}

// pad moves a picture inwards so that nothing touches its edge.
func pad(p Picture, by float64) Picture {
	shift(p.Shapes, by, by)
	p.W += 2 * by
	p.H += 2 * by
	return p
}

func shift(shapes []Shape, dx, dy float64) {
	for i := range shapes {
		s := &shapes[i]
		s.X += dx
		s.Y += dy
		for k := range s.Points {
			s.Points[k].X += dx
			s.Points[k].Y += dy
		}
		shift(s.Inner, dx, dy)
	}
}
