package draw

import (
	"cmp"
	"slices"
)

// Sizes of the blocks, and how high each stands in its column. All heights are multiples of half a row, so that two wires are either on
// the same height or clearly apart.

const (
	rowH   = 28.0
	halfH  = rowH / 2
	headH  = 42.0 // reference and type above the pins
	lead   = 32.0 // from the block to the net's name, with the pin's number above
	sideBy = 28.0 // between two items of a column
)

// tagText is what is written about the level at a port; "" where nothing is, or where it stands at another port of the net.
func (s *scheme) tagText(e end) (string, bool) {
	x := s.at(e)
	if t, ok := s.tagged[x.net]; !ok || t != e || x.bundle != nil {
		return "", false
	}
	return s.o.Levels[x.net].text()
}

// measure makes the items, with their sizes and their links.
func (s *scheme) measure() {
	s.tagged = map[int]end{}
	for n, ends := range s.ends() {
		if t, _ := s.o.Levels[n].text(); t == "" {
			continue
		}
		best := ends[0]
		for _, e := range ends {
			if !s.at(best).out && s.at(e).out {
				best = e
			}
		}
		s.tagged[n] = best
	}
	s.items = make([][]*item, slices.Max(s.column)+1)
	byBlock := make([]*item, len(s.blocks))
	for i := range s.blocks {
		byBlock[i] = s.blockItem(i)
		col := s.column[i]
		s.items[col] = append(s.items[col], byBlock[i])
	}
	nets := make([]*wired, 0, len(s.nets))
	for _, w := range s.nets {
		nets = append(nets, w)
	}
	slices.SortFunc(nets, func(a, b *wired) int { return cmp.Compare(a.net, b.net) })
	for _, w := range nets {
		s.thread(w, byBlock)
	}
}

// thread links a net's ends from column to column, through passing places where it goes on.
func (s *scheme) thread(w *wired, byBlock []*item) {
	var passing *item
	for col := w.first + 1; col <= w.end; col++ {
		var from []link
		if passing != nil {
			from = append(from, link{from: passing, fromY: halfH})
		}
		for _, e := range w.from {
			if s.column[e.block] == col-1 {
				from = append(from, link{from: byBlock[e.block], fromY: byBlock[e.block].portY[e.port]})
			}
		}
		join := func(to *item, y float64) {
			for _, l := range from {
				l.toY, l.net = y, w.net
				to.links = append(to.links, l)
			}
		}
		passing = nil
		if col < w.end {
			passing = &item{block: none, net: w.net, col: col, h: rowH}
			s.items[col] = append(s.items[col], passing)
			join(passing, halfH)
		}
		for _, e := range w.to {
			if s.column[e.block] == col {
				join(byBlock[e.block], byBlock[e.block].portY[e.port])
			}
		}
	}
}

// blockItem measures a block.
func (s *scheme) blockItem(i int) *item {
	b := &s.blocks[i]
	it := &item{block: i, net: none, col: s.column[i], portY: make([]float64, len(b.ports))}
	t := s.c.Parts[b.part].Type
	it.symbol = len(b.ports) == 2 && b.ports[0].out != b.ports[1].out && symbol(t, 0, 100, 0) != nil
	at := [2]float64{headH, headH}
	for _, k := range s.portOrder(i) {
		side := 0
		if b.ports[k].out {
			side = 1
		}
		it.portY[k] = at[side] + halfH
		at[side] += rowH
		if t, _ := s.tagText(end{i, k}); t != "" {
			at[side] += halfH
		}
	}
	it.h = max(at[0], at[1]) + halfH
	if b.more > 0 {
		it.h += rowH
	}
	return it
}

// portOrder sorts the ports of a block by the names of their pins, numbers in names by value; parts with few pins keep their pin order.
func (s *scheme) portOrder(i int) []int {
	b := &s.blocks[i]
	order := make([]int, len(b.ports))
	for k := range order {
		order[k] = k
	}
	if len(b.ports) > 4 {
		slices.SortStableFunc(order, func(x, y int) int { return natural(s.pinLabel(&b.ports[x]), s.pinLabel(&b.ports[y])) })
	}
	return order
}

func (s *scheme) pinLabel(x *port) string {
	q := &s.c.Pins[x.pin]
	return s.c.Parts[q.Part].Type.Nodes[q.Node].Name
}

// natural compares names with the numbers in them by value; a leading stroke for active low counts last.
func natural(a, b string) int {
	key := func(s string) (string, int, string) {
		low := ""
		if s != "" && s[0] == '/' {
			s, low = s[1:], "/"
		}
		i := len(s)
		for i > 0 && s[i-1] >= '0' && s[i-1] <= '9' {
			i--
		}
		n := 0
		for _, d := range s[i:] {
			n = min(n*10+int(d-'0'), 1<<20)
		}
		return s[:i], n, low
	}
	a1, an, al := key(a)
	b1, bn, bl := key(b)
	return cmp.Or(cmp.Compare(a1, b1), cmp.Compare(an, bn), cmp.Compare(al, bl))
}

// settle gives every item its height: as level with its neighbours as the order in the column allows.
func (s *scheme) settle() {
	for _, items := range s.items {
		y := 0.0
		for _, it := range items {
			it.y = y
			y += it.h + sideBy
		}
	}
	for range 3 {
		for col := range s.items {
			s.level(col, false)
		}
		for col := len(s.items) - 1; col >= 0; col-- {
			s.level(col, true)
		}
	}
	for col := 1; col < len(s.items); col++ {
		s.level(col, false)
	}
	top := s.items[0][0].y
	for _, items := range s.items {
		for _, it := range items {
			top = min(top, it.y)
		}
	}
	for _, items := range s.items {
		for _, it := range items {
			it.y -= top
		}
	}
}

// level moves the items of a column towards the middle one of the heights that their links ask for, then apart until they do not
// overlap: neighbours that would overlap move as one.
func (s *scheme) level(col int, fromRight bool) {
	items := s.items[col]
	wish := make([]float64, len(items))
	for k, it := range items {
		var asks, hot []float64
		ask := func(at float64, net int) {
			asks = append(asks, at)
			if s.onPath[net] > 0 {
				hot = append(hot, at)
			}
		}
		if fromRight && col+1 < len(s.items) {
			for _, r := range s.items[col+1] {
				for _, l := range r.links {
					if l.from == it {
						ask(r.y+l.toY-l.fromY, l.net)
					}
				}
			}
		} else if !fromRight {
			for _, l := range it.links {
				ask(l.from.y+l.fromY-l.toY, l.net)
			}
		}
		if len(hot) > 0 {
			asks = hot
		}
		wish[k] = it.y
		if len(asks) > 0 {
			slices.Sort(asks)
			wish[k] = asks[(len(asks)-1)/2]
		}
	}
	type heap struct {
		from, n int
		sum     float64 // of what each member wants of the first
		h       float64
	}
	var heaps []heap
	for k, it := range items {
		heaps = append(heaps, heap{k, 1, wish[k], it.h + sideBy})
		for len(heaps) > 1 {
			a, b := heaps[len(heaps)-2], heaps[len(heaps)-1]
			if b.sum/float64(b.n) >= a.sum/float64(a.n)+a.h {
				break
			}
			heaps = append(heaps[:len(heaps)-2], heap{a.from, a.n + b.n, a.sum + b.sum - a.h*float64(b.n), a.h + b.h})
		}
	}
	last := 0.0
	for i, hp := range heaps {
		y := snap(hp.sum / float64(hp.n))
		if i > 0 {
			y = max(y, last)
		}
		for _, it := range items[hp.from : hp.from+hp.n] {
			it.y = y
			y += it.h + sideBy
		}
		last = y
	}
}

// snap rounds to half a row.
func snap(y float64) float64 {
	n := y / halfH
	if n < 0 {
		return halfH * float64(int(n-0.5))
	}
	return halfH * float64(int(n+0.5))
}
