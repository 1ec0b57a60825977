package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/part"
)

// The board from above, from the places that the board file gives: millimetres, x to the right, y downwards as on a photo. A place is
// the middle of a part, its turn clockwise from lying with pin 2 to the right of pin 1, seen from the part's own side. Outlines come from the package: the board file has no sizes.

// BoardOptions says what to mark on the board.
type BoardOptions struct {
	Marks  map[int]BoardMark // by part index
	Pin    int               // pin to probe, index into Circuit.Pins, or circuit.None
	Solder bool              // as seen from the solder side
}

// BoardMark is written at a part; Weight from 0 to 1 is drawn as a bar.
type BoardMark struct {
	Text   string
	Weight float64
}

const (
	mm         = 6.0   // units per millimetre
	widestSide = 400.0 // millimetres; a bigger board is drawn smaller
)

// Board draws the board; the picture is empty (W = 0) when no part has a place.
func Board(c *circuit.Circuit, o BoardOptions) Picture {
	d := &boardDrawing{c: c, o: o, scale: mm}
	if !d.place() {
		return Picture{}
	}
	d.outlines()
	d.marks()
	d.names()
	return d.finish()
}

// chip is one placed part in board units, before any shift.
type chip struct {
	part int
	at   Point
	box  box // outline, upright
	turn int // quarter turns clockwise
	far  bool
}

type boardDrawing struct {
	c       *circuit.Circuit
	o       BoardOptions
	scale   float64
	chips   []chip
	edge    box // of the board
	shapes  []Shape
	taken   []box // lettering, outlines of chips that lettering must not cross
	unnamed []string
}

// place reads the places and turns them into units.
func (d *boardDrawing) place() bool {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for i := range d.c.Parts {
		if pl := d.c.Parts[i].Src.Place; usable(pl) {
			b = b.with(box{pl.X, pl.Y, pl.X, pl.Y})
		}
	}
	if math.IsInf(b.x0, 1) {
		return false
	}
	if side := max(b.w(), b.h()); side > widestSide {
		d.scale *= widestSide / side
	}
	for i := range d.c.Parts {
		pl := d.c.Parts[i].Src.Place
		if !usable(pl) {
			continue
		}
		x := pl.X - b.x0
		if d.o.Solder {
			x = b.x1 - pl.X
		}
		turn := int(math.Round(math.Mod(pl.Turn, 360)/90)+4) % 4
		far := (pl.Side == "bottom") != d.o.Solder
		if far { // seen through the board
			turn = (4 - turn) % 4
		}
		d.chips = append(d.chips, chip{part: i, at: Point{x * d.scale, (pl.Y - b.y0) * d.scale}, turn: turn, far: far})
	}
	return true
}

func usable(pl *board.Place) bool {
	ok := func(v float64) bool { return !math.IsNaN(v) && math.Abs(v) < 1e5 }
	return pl != nil && ok(pl.X) && ok(pl.Y) && ok(pl.Turn)
}

// footprint gives the size of a part's body in millimetres with its long side lying; the usual sizes of the packages, from memory.
func footprint(t *part.Type) (w, h float64) {
	n := len(t.Pins)
	switch {
	case isDual(t):
		w, h = float64(n/2)*2.54, 6.6
		if n >= 24 {
			h = 13.8
		}
		return w, h
	case strings.HasPrefix(t.Package, "SIP"):
		return float64(n) * 2.54, 3
	case strings.HasSuffix(t.Package, " pins"):
		return float64(n) * 2.54, 4
	case t.Package == "TO220":
		return 10, 4.5
	case strings.HasPrefix(t.Name, "digit"):
		return 12.5, 19
	case n <= 1:
		return 2.5, 2.5
	case n > 4:
		return float64((n+1)/2) * 2.54, 8
	case t.Package == "axial":
		return 7, 2.6
	}
	return 5, 5
}

// outlines gives every chip its outline. A loose part that would cover a neighbour stands upright or shrinks, because the turn of loose
// parts is rarely written down.
func (d *boardDrawing) outlines() {
	sizes := make([][2]float64, len(d.chips))
	for i := range d.chips {
		ch := &d.chips[i]
		w, h := footprint(d.c.Parts[ch.part].Type)
		if ch.turn%2 == 1 {
			w, h = h, w
		}
		sizes[i] = [2]float64{w * d.scale, h * d.scale}
		ch.box = around(ch.at, sizes[i])
	}
	const gap = 3.0
	covers := func(i int) bool {
		return slices.ContainsFunc(d.chips, func(o chip) bool { return o.part != d.chips[i].part && d.chips[i].box.grown(gap).meets(o.box) })
	}
	loose := func(i int) bool { return !isDual(d.c.Parts[d.chips[i].part].Type) }
	var tight []int
	for i := range d.chips {
		if loose(i) && d.chips[i].turn == 0 && covers(i) {
			tight = append(tight, i)
		}
	}
	for _, i := range tight {
		d.chips[i].box = around(d.chips[i].at, [2]float64{sizes[i][1], sizes[i][0]})
		if w, h := sizes[i][0], sizes[i][1]; w != h {
			d.chips[i].turn = 1
		}
	}
	for i := range d.chips {
		for k := 0; k < 12 && loose(i) && covers(i); k++ {
			b := d.chips[i].box
			d.chips[i].box = around(d.chips[i].at, [2]float64{max(10, b.w()*0.85), max(10, b.h()*0.85)})
		}
	}
	d.edge = d.chips[0].box
	for _, ch := range d.chips {
		d.edge = d.edge.with(ch.box)
		d.taken = append(d.taken, ch.box)
	}
	d.edge = d.edge.grown(40)
}

// around is a box about its middle.
func around(at Point, size [2]float64) box {
	return box{at.X - size[0]/2, at.Y - size[1]/2, at.X + size[0]/2, at.Y + size[1]/2}
}

// marks draws the outlines with what they bear: pin 1, weight, the pin to probe.
func (d *boardDrawing) marks() {
	d.shapes = append(d.shapes, rect(Faint, d.edge.x0, d.edge.y0, d.edge.w(), d.edge.h(), 8).thick(2))
	for i := range d.chips {
		ch := &d.chips[i]
		p := &d.c.Parts[ch.part]
		m, marked := d.o.Marks[ch.part]
		outline := rect(Body, ch.box.x0, ch.box.y0, ch.box.w(), ch.box.h(), 2)
		outline.Dash = ch.far
		say := p.Ref + ", " + typeText(p)
		if ch.far {
			say += ", on the other side"
		}
		if marked {
			outline.Class, outline.Thick = BodyHot, 3.5
			say += ", " + m.Text
		}
		in := []Shape{outline}
		bar := ch.box.y1 - 6
		if isDual(p.Type) {
			at := d.legAt(ch, 0)
			in = append(in, circle(Mark, at.X+(ch.at.X-at.X)*0.25, at.Y+(ch.at.Y-at.Y)*0.25, 3))
			if at.Y > ch.at.Y {
				bar = ch.box.y0 + 2
			}
		}
		if w := min(max(m.Weight, 0), 1); marked && w > 0 {
			in = append(in, rect(Mark, ch.box.x0+2, bar, (ch.box.w()-4)*w, 4, 0))
		}
		g := tap(p.Ref, say, in...)
		h := hitArea(g)
		g.Inner = append([]Shape{h}, in...)
		d.shapes = append(d.shapes, g)
	}
}

// legAt is where a leg (from 0) meets the body. Single rows run along the long side's middle.
func (d *boardDrawing) legAt(ch *chip, i int) Point {
	t := d.c.Parts[ch.part].Type
	n := len(t.Pins)
	lay := [2]float64{ch.box.w(), ch.box.h()}
	if ch.turn%2 == 1 {
		lay[0], lay[1] = lay[1], lay[0]
	}
	var x, y float64 // lying: pin 1 at the lower left, as a DIP lies with its notch to the left
	switch {
	case isDual(t) && i < n/2:
		x, y = (float64(i)+0.5)/float64(n/2)-0.5, 0.5
	case isDual(t):
		x, y = (float64(n-1-i)+0.5)/float64(n/2)-0.5, -0.5
	default:
		x, y = (float64(i)+0.5)/float64(n)-0.5, 0
	}
	x, y = x*lay[0], y*lay[1]
	if ch.far {
		x = -x
	}
	for range ch.turn {
		x, y = -y, x
	}
	return Point{ch.at.X + x, ch.at.Y + y}
}

// names letters the parts: the marked and the probed ones first, then the big ones.
func (d *boardDrawing) names() {
	order := make([]int, len(d.chips))
	for i := range order {
		order[i] = i
	}
	rank := func(i int) float64 {
		ch := &d.chips[i]
		r := ch.box.w() * ch.box.h()
		if m, ok := d.o.Marks[ch.part]; ok {
			r += 1e9 * (1 + m.Weight)
		}
		if d.o.Pin != none && d.c.Pins[d.o.Pin].Part == ch.part {
			r += 1e10
		}
		return r
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch ra, rb := rank(a), rank(b); {
		case ra > rb:
			return -1
		case ra < rb:
			return 1
		}
		return 0
	})
	d.probe()
	for _, i := range order {
		d.name(&d.chips[i])
	}
}

func (d *boardDrawing) probe() {
	if d.o.Pin == none {
		return
	}
	pin := &d.c.Pins[d.o.Pin]
	for i := range d.chips {
		ch := &d.chips[i]
		if ch.part != pin.Part {
			continue
		}
		at := d.legAt(ch, pin.Number-1)
		words := probeWords + ", " + d.c.Parts[pin.Part].Ref + " pin " + strconv.Itoa(pin.Number)
		ring := circle(Ring, at.X, at.Y, 9).thick(3)
		d.taken = append(d.taken, ring.bounds())
		s := Shape{}
		for _, away := range []float64{34, 60, 90, 130, 180} {
			for _, dir := range []Point{{0, -1}, {0, 1}, {-0.8, -0.6}, {0.8, -0.6}, {-0.8, 0.6}, {0.8, 0.6}} {
				s = text(at.X+dir.X*away*1.6, at.Y+dir.Y*away+5, words, 16, PinHot).bold().at("middle")
				if d.free(textBox(s)) {
					d.arrow(s, at, ring)
					return
				}
			}
		}
		d.arrow(s, at, ring)
	}
}

// arrow draws the words to probe, an arrow from them to the leg, and the ring.
func (d *boardDrawing) arrow(words Shape, at Point, ring Shape) {
	b := textBox(words).grown(3)
	d.taken = append(d.taken, b)
	from := Point{min(max(at.X, b.x0), b.x1), b.y0}
	if at.Y > b.y1 {
		from.Y = b.y1
	}
	l := max(1, math.Hypot(from.X-at.X, from.Y-at.Y))
	tip := Point{at.X + (from.X-at.X)/l*11, at.Y + (from.Y-at.Y)/l*11}
	d.shapes = append(d.shapes, rect(Paper, b.x0, b.y0, b.w(), b.h(), 3), words, line(PinHot, from.X, from.Y, tip.X, tip.Y).thick(3), arrowHead(Mark, from.X, from.Y, tip.X, tip.Y, 12), ring)
}

func (d *boardDrawing) free(b box) bool {
	inside := b.x0 >= d.edge.x0+2 && b.x1 <= d.edge.x1-2 && b.y0 >= d.edge.y0+2 && b.y1 <= d.edge.y1-2
	return inside && !slices.ContainsFunc(d.taken, b.meets)
}

// name letters one part: inside its outline when there is room, else beside it; failing that it is listed below the board.
func (d *boardDrawing) name(ch *chip) {
	p := &d.c.Parts[ch.part]
	m, marked := d.o.Marks[ch.part]
	words := p.Ref
	if marked && m.Text != "" {
		words += ": " + m.Text
	}
	b := ch.box
	ref := text(ch.at.X, ch.at.Y+5, p.Ref, 15, Name).bold().at("middle")
	upright := b.h() > b.w() && textWidth(p.Ref, 15, true) > b.w()-8
	if upright {
		ref.Turn, ref.X, ref.Y = -90, ch.at.X+5, ch.at.Y
	}
	if in := textBox(ref); in.x0 > b.x0+2 && in.x1 < b.x1-2 && in.y0 > b.y0+1 && in.y1 < b.y1-1 {
		d.shapes = append(d.shapes, ref)
		typ := text(ch.at.X, ch.at.Y+17, p.Src.Type, smallSize, Label).at("middle")
		if tb := textBox(typ); !upright && !marked && tb.x0 > b.x0+2 && tb.x1 < b.x1-2 && tb.y1 < b.y1-1 {
			d.shapes[len(d.shapes)-1].Y -= 4
			d.shapes = append(d.shapes, typ)
		}
		if !marked || m.Text == "" {
			return
		}
		words = m.Text
	}
	size := smallSize
	if marked {
		size = 15
	}
	s := text(0, 0, words, size, Name)
	s.Bold = marked
	for _, away := range []float64{4, 14, 26} {
		for _, c := range []Shape{
			s.to(b.x1+away, ch.at.Y+5, "start", 0), s.to(ch.at.X, b.y0-away, "middle", 0), s.to(ch.at.X, b.y1+away+size*0.8, "middle", 0),
			s.to(b.x0-away, ch.at.Y+5, "end", 0), s.to(ch.at.X+5, b.y0-away, "start", -90), s.to(ch.at.X+5, b.y1+away, "end", -90),
		} {
			if tb := textBox(c); d.free(tb) {
				d.taken = append(d.taken, tb.grown(1))
				d.shapes = append(d.shapes, c)
				return
			}
		}
	}
	d.unnamed = append(d.unnamed, words)
}

func (s Shape) to(x, y float64, anchor string, turn float64) Shape {
	s.X, s.Y, s.Anchor, s.Turn = x, y, anchor, turn
	return s
}

// finish adds the scale bar, the side and what found no room.
func (d *boardDrawing) finish() Picture {
	side := "from above, component side"
	if d.o.Solder {
		side = "seen from the SOLDER side, mirrored"
	}
	p := Picture{W: d.edge.w(), H: d.edge.h() + 30, Title: strings.TrimPrefix(d.c.Board.Title+", "+side, ", "), Desc: fmt.Sprintf("%d parts in their places", len(d.chips))}
	shift(d.shapes, -d.edge.x0, 30-d.edge.y0)
	p.Shapes = append(d.shapes, text(0, 16, side, 15, Label).bold())
	length := 10.0
	for _, l := range []float64{20, 50, 100} {
		if l*d.scale < p.W/3 {
			length = l
		}
	}
	p.W = max(p.W, 320)
	y := p.H + 18
	p.Shapes = append(p.Shapes, line(Label, 2, y-6, 2, y+6).thick(2), line(Label, 2, y, 2+length*d.scale, y).thick(2), line(Label, 2+length*d.scale, y-6, 2+length*d.scale, y+6).thick(2),
		text(10+length*d.scale, y+5, fmt.Sprintf("%.0f mm", length), smallSize, Label))
	p.H = y + 10
	var off []string
	for i := range d.c.Parts {
		if !usable(d.c.Parts[i].Src.Place) {
			off = append(off, d.c.Parts[i].Ref)
		}
	}
	if slices.ContainsFunc(d.chips, func(ch chip) bool { return ch.far }) {
		p = remark(p, "dashed: on the other side")
	}
	if len(d.unnamed) > 0 {
		p = remark(p, "no room for the names of "+strings.Join(d.unnamed, ", "))
	}
	if len(off) > 0 {
		p = remark(p, "no place known: "+strings.Join(off, ", "))
	}
	return pad(p, 8)
}
