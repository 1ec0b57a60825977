package draw

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// A laid-out neighbourhood as shapes. The wires and names of one net are one tap target; every block and every pin is one.

const (
	trackW   = 14.0
	maxLabel = 170.0
	circleR  = 10.0
)

// sheet is a scheme on its way to paper.
type sheet struct {
	*scheme
	x, w     []float64 // of the columns
	trackX   []float64 // first track right of a column
	channels []*channel
	byNet    map[int][]Shape
}

func (s *scheme) draw(left []string) Picture {
	t := &sheet{scheme: s, channels: s.channels(), byNet: map[int][]Shape{}}
	t.columns()
	t.trunks()
	var blocks []Shape
	for col, items := range s.items {
		for _, it := range items {
			if it.block == none {
				t.wire(it.net, t.x[col], it.y+halfH, t.x[col]+t.w[col], it.y+halfH)
				continue
			}
			blocks = append(blocks, t.block(it)...)
		}
	}
	p := Picture{Title: s.title(), Desc: fmt.Sprintf("%d blocks in %d columns, the signal runs from left to right", len(s.blocks), len(s.items))}
	for _, n := range slices.Sorted(mapKeys(t.byNet)) {
		p.Shapes = append(p.Shapes, t.net(n))
	}
	p.Shapes = append(p.Shapes, blocks...)
	b := boundsOf(p.Shapes)
	shift(p.Shapes, -b.x0, -b.y0)
	p.W, p.H = max(b.w(), 300), b.h()
	var notes []string
	if len(s.o.Path) > 0 {
		notes = append(notes, "thick and numbered: the way of the wrong level")
	}
	if len(s.o.Probe) > 0 {
		notes = append(notes, "ringed: probe here")
	}
	for _, n := range append(notes, said(left)) {
		if n != "" {
			p = remark(p, n)
		}
	}
	return pad(p, 10)
}

func mapKeys(m map[int][]Shape) func(func(int) bool) {
	return func(yield func(int) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

func (s *scheme) title() string {
	var of []string
	for _, p := range s.o.Parts {
		of = append(of, s.c.Parts[p].Ref)
	}
	for _, n := range slices.Concat(s.o.Nets, s.o.Path) {
		if name := s.c.NetName(n); !slices.Contains(of, name) {
			of = append(of, name)
		}
	}
	if len(of) > 6 {
		of = append(of[:6], "others")
	}
	return "Circuit around " + strings.Join(of, ", ")
}

// columns places columns and gaps from left to right.
func (t *sheet) columns() {
	n := len(t.items)
	t.x, t.w, t.trackX = make([]float64, n), make([]float64, n), make([]float64, n)
	in, out := make([]float64, n), make([]float64, n)
	for i := range t.blocks {
		col := t.column[i]
		t.w[col] = max(t.w[col], t.blockWidth(i))
		for k := range t.blocks[i].ports {
			e := end{i, k}
			if t.at(e).out {
				out[col] = max(out[col], t.lettering(e))
			} else {
				in[col] = max(in[col], t.lettering(e))
			}
		}
	}
	x := 0.0
	for col := range n {
		x += in[col]
		t.x[col] = x
		x += t.w[col] + out[col]
		t.trackX[col] = x + trackW
		if col < n-1 {
			x += trackW * float64(t.channels[col].tracks+1)
		}
	}
}

// lettering is the room that a port needs outside its block.
func (t *sheet) lettering(e end) float64 {
	w := lead
	x := t.at(e)
	if !t.isWired(e) || x.out {
		w += textWidth(t.label(x), 14, t.isHot(x.net)) + 8
	}
	w = max(w, t.tagWidth(e))
	if t.onPath[x.net] > 0 && (!t.isWired(e) || x.out) {
		w += 2*circleR + 10
	}
	return w
}

// tagWidth is the room of the level written at a port, from the edge of the block.
func (t *sheet) tagWidth(e end) float64 {
	tag, differ := t.tagText(e)
	if tag == "" {
		return 0
	}
	return 12 + textWidth(tag, smallSize, differ) + 20*float64(b2i(differ))
}

func (t *sheet) isHot(net int) bool {
	_, differ := t.o.Levels[net].text()
	return differ || t.onPath[net] > 0 || slices.Contains(t.o.Nets, net)
}

func (t *sheet) label(x *port) string {
	if x.bundle != nil {
		return fit(x.label, 14, false, maxLabel)
	}
	return fit(t.c.NetName(x.net), 14, true, maxLabel)
}

// inner is the name of a pin inside its block.
func (t *sheet) inner(x *port) string {
	if x.bundle != nil {
		return strconv.Itoa(len(x.bundle)) + " pins"
	}
	return fit(t.pinLabel(x), 14, true, 90)
}

func (t *sheet) blockWidth(i int) float64 {
	b := &t.blocks[i]
	p := &t.c.Parts[b.part]
	var side [2]float64
	for k := range b.ports {
		x := &b.ports[k]
		n := 0
		if x.out {
			n = 1
		}
		side[n] = max(side[n], textWidth(t.inner(x), 14, true)+10)
	}
	more := 0.0
	if b.more > 0 {
		more = textWidth(moreText(b.more), smallSize, false) + 12
	}
	return max(84, more, textWidth(b.name, 16, true)+16, min(textWidth(typeText(p), smallSize, false), 150)+16, side[0]+side[1]+14)
}

func moreText(n int) string {
	if n == 1 {
		return "and 1 more pin"
	}
	return fmt.Sprintf("and %d more pins", n)
}

// wire adds a piece of a net's wire.
func (t *sheet) wire(net int, xy ...float64) {
	l := line(Wire, xy...).thick(2)
	switch _, differ := t.o.Levels[net].text(); {
	case t.onPath[net] > 0:
		l.Class, l.Thick = PathMark, 4.5
	case differ || slices.Contains(t.o.Nets, net):
		l.Class, l.Thick = WireHot, 3
	}
	h := line(Hit, xy...).thick(16)
	t.byNet[net] = append(t.byNet[net], h, l)
}

// trunks draws the wires in the gaps, with a dot where three meet.
func (t *sheet) trunks() {
	for col, ch := range t.channels {
		x0, x1 := t.x[col]+t.w[col], t.x[col+1]
		halves := map[*trunk]*trunk{}
		for _, k := range ch.nets {
			if k.other != nil {
				halves[k.other] = k
			}
		}
		for _, k := range ch.nets {
			if k.straight() {
				t.wire(k.net, x0, k.left[0], x1, k.left[0])
				continue
			}
			x := t.trackX[col] + trackW*float64(k.track)
			lo, hi := k.span()
			if lo < hi {
				t.wire(k.net, x, lo, x, hi)
			}
			if halves[k] == nil {
				for _, y := range k.left {
					t.wire(k.net, x0, y, x, y)
				}
			} else {
				from := t.trackX[col] + trackW*float64(halves[k].track)
				t.wire(k.net, from, k.left[0], x, k.left[0])
			}
			if k.other == nil {
				for _, y := range k.right {
					t.wire(k.net, x, y, x1, y)
				}
			}
			for _, y := range sorted(slices.Concat(k.left, k.right)) {
				if b2i(y > lo)+b2i(y < hi)+b2i(slices.Contains(k.left, y))+b2i(slices.Contains(k.right, y)) >= 3 {
					t.byNet[k.net] = append(t.byNet[k.net], circle(Mark, x, y, 4))
				}
			}
		}
	}
}

// net makes one tap target of everything drawn of a net.
func (t *sheet) net(n int) Shape {
	name := t.c.NetName(n)
	say := "net " + name
	if level, _ := t.o.Levels[n].text(); level != "" {
		say += ", " + level
	}
	if k := t.onPath[n]; k > 0 {
		say += fmt.Sprintf(", %d on the way of the wrong level", k)
	}
	return tap(name, say, t.byNet[n]...)
}

// block draws a block with its pins; what belongs to the nets goes to them.
func (t *sheet) block(it *item) []Shape {
	b := &t.blocks[it.block]
	p := &t.c.Parts[b.part]
	x0, w := t.x[it.col], t.w[it.col]
	x1 := x0 + w
	class := Body
	if slices.Contains(t.o.Parts, b.part) {
		class = BodyHot
	}
	var in []Shape
	if it.symbol {
		y := it.y + it.portY[0]
		sym := symbol(p.Type, x0, x1, y)
		if (t.c.Pins[b.ports[0].pin].Number == 1) == b.ports[0].out {
			mirror(sym, x0+x1)
		}
		in = append(in, hit(x0, it.y, w, it.h))
		if class == BodyHot {
			in = append(in, rect(Ring, x0, it.y, w, it.h, 4).thick(3.5))
		}
		in = append(in, sym...)
	} else {
		body := rect(class, x0, it.y, w, it.h, 4).thick(2)
		if class == BodyHot {
			body.Thick = 3.5
		}
		in = append(in, hit(x0, it.y, w, it.h), body)
	}
	in = append(in, text((x0+x1)/2, it.y+18, b.name, 16, Name).bold().at("middle"), text((x0+x1)/2, it.y+35, fit(typeText(p), smallSize, false, w-8), smallSize, Label).at("middle"))
	if b.more > 0 {
		in = append(in, text((x0+x1)/2, it.y+it.h-12, moreText(b.more), smallSize, Faint).at("middle"))
	}
	say := "part " + p.Ref + ", " + typeText(p)
	if b.name != p.Ref {
		say += ", unit " + b.name
	}
	out := []Shape{tap(p.Ref, say, in...)}
	for k := range b.ports {
		e := end{it.block, k}
		y := it.y + it.portY[k]
		edge, dir := x0, -1.0
		if b.ports[k].out {
			edge, dir = x1, 1
		}
		out = append(out, t.pin(e, edge, y, dir, it.symbol, min(w/2-2, 46)))
		t.outside(e, edge, y, dir)
	}
	return out
}

// pin draws one pin: its name inside the block, its number on the wire.
func (t *sheet) pin(e end, edge, y, dir float64, symbol bool, inner float64) Shape {
	x := t.at(e)
	near, far := "start", "end"
	if dir < 0 {
		near, far = far, near
	}
	in := []Shape{hit(min(edge-dir*inner, edge+dir*(lead-4)), y-halfH, inner+lead-4, rowH)}
	probed := slices.Contains(t.o.Probe, x.pin)
	if !symbol {
		s := text(edge-dir*7, y+5, t.inner(x), 14, Label).at(far)
		s.Bold = probed
		in = append(in, s)
	}
	q := &t.c.Pins[x.pin]
	if d := (packageDrawing{p: &t.c.Parts[q.Part]}); x.bundle == nil && d.numbered() && len(d.p.Type.Pins) > 2 {
		up := 6.0
		if t.onPath[x.net] > 0 {
			up = 9
		}
		in = append(in, text(edge+dir*5, y-up, strconv.Itoa(q.Number), smallSize, PinMark).at(near))
	}
	if probed {
		w := textWidth(t.inner(x), 14, true) + 9
		in = append(in, rect(Ring, min(edge-dir*3, edge-dir*(3+w)), y-11, w, 22, 8).thick(3))
	}
	if x.bundle != nil {
		return Shape{Kind: Group, Inner: in[1:]}
	}
	say := t.c.PinText(x.pin) + ", net " + t.c.NetName(x.net)
	if probed {
		say += ", probe here"
	}
	return tap(t.c.PinName(x.pin), say, in...)
}

// outside draws what a port bears of its net: the stub or the begin of the wire, the name, the level, the number on the path.
func (t *sheet) outside(e end, edge, y, dir float64) {
	x := t.at(e)
	anchor := "start"
	if dir < 0 {
		anchor = "end"
	}
	wired := t.isWired(e)
	var add []Shape
	at := edge + dir*lead
	if !wired || x.out {
		label := text(at, y+5, t.label(x), 14, Label).at(anchor)
		label.Bold = t.isHot(x.net)
		if wired {
			label.Y = y - 6
		}
		add = append(add, label)
		b := textBox(label)
		if x.bundle == nil {
			add = append(add, hit(b.x0, y-halfH, b.w(), rowH))
		}
		at += dir * (b.w() + 8)
		if over := edge + dir*t.tagWidth(e); dir*over > dir*at {
			at = over
		}
		if k := t.onPath[x.net]; k > 0 {
			add = append(add, circle(PinMark, at+dir*circleR, y, circleR).thick(2.5), text(at+dir*circleR, y+5, strconv.Itoa(k), smallSize, Label).bold().at("middle"))
		}
	} else if k := t.onPath[x.net]; k > 0 && (k == len(t.o.Path) || t.leadsOn(e)) {
		add = append(add, arrowHead(PathMark, edge+dir*10, y, edge, y, 14))
	}
	if !wired {
		if x.bundle != nil {
			add = append(add, line(Wire, edge, y, edge+dir*(lead-4), y).thick(4), line(Wire, edge+dir*8, y+7, edge+dir*18, y-7).thick(2))
		} else {
			t.wire(x.net, edge, y, edge+dir*(lead-4), y)
		}
	}
	if tag, differ := t.tagText(e); tag != "" {
		s := text(edge+dir*8, y+20, tag, smallSize, Expected).at(anchor)
		if wired {
			s.Y = y + 16
		}
		if differ {
			s.Bold, s.Class = true, Wrong
			add = append(add, notEqual(edge+dir*16, s.Y-5, 12))
			s.X += dir * 20
		}
		add = append(add, s)
	}
	t.byNet[x.net] = append(t.byNet[x.net], add...)
}
