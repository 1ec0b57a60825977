package draw

import (
	"cmp"
	"slices"
)

// Columns, and the order in each.

// arc is a net's way from a block that drives it to one that listens.
type arc struct{ from, to, weight int }

// pathWeight makes the way of the wrong level run forward whatever else has to turn back.
const pathWeight = 50

func (s *scheme) arcs() []arc {
	sum := map[[2]int]int{}
	for n, ends := range s.ends() {
		if s.c.Nets[n].Rail || len(ends) > manyListeners && s.onPath[n] == 0 {
			continue
		}
		for _, a := range ends {
			for _, b := range ends {
				if s.at(a).out && !s.at(b).out && a.block != b.block {
					weight := 1
					if s.leadsOn(b) {
						weight = pathWeight
					}
					sum[[2]int{a.block, b.block}] += weight
				}
			}
		}
	}
	var out []arc
	for k, w := range sum {
		out = append(out, arc{k[0], k[1], w})
	}
	slices.SortFunc(out, func(a, b arc) int { return cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.to, b.to)) })
	return out
}

// layer breaks loops by the greedy order of Eades, Lin and Smyth (1993) and gives every block the column after its last driver.
func (s *scheme) layer() {
	n := len(s.blocks)
	arcs := s.arcs()
	rank := greedyOrder(n, arcs)
	byRank := make([]int, n)
	for b, r := range rank {
		byRank[r] = b
	}
	var forward []arc
	for _, a := range arcs {
		if rank[a.from] < rank[a.to] {
			forward = append(forward, a)
		}
	}
	s.column = make([]int, n)
	for _, b := range byRank {
		for _, a := range forward {
			if a.to == b {
				s.column[b] = max(s.column[b], s.column[a.from]+1)
			}
		}
	}
	// Blocks with more to tell than to hear stand next to their listeners.
	for _, b := range slices.Backward(byRank) {
		ins, outs, next := 0, 0, n
		for _, a := range forward {
			if a.to == b {
				ins += a.weight
			}
			if a.from == b {
				outs += a.weight
				next = min(next, s.column[a.to])
			}
		}
		if outs > ins && next < n {
			s.column[b] = next - 1
		}
	}
	s.spreadLoners(arcs)
}

// spreadLoners moves blocks that no wire reaches into the emptiest columns.
func (s *scheme) spreadLoners(arcs []arc) {
	cols := slices.Max(s.column) + 1
	load := make([]int, max(cols, 3))
	var loners []int
	for b := range s.blocks {
		if slices.ContainsFunc(arcs, func(a arc) bool { return a.from == b || a.to == b }) {
			load[s.column[b]] += len(s.blocks[b].ports) + 3
		} else {
			loners = append(loners, b)
		}
	}
	for _, b := range loners {
		best := 0
		for k, l := range load {
			if l < load[best] {
				best = k
			}
		}
		s.column[b] = best
		load[best] += len(s.blocks[b].ports) + 3
	}
	// No column stays empty.
	used := slices.Compact(slices.Sorted(slices.Values(s.column)))
	for b := range s.column {
		s.column[b], _ = slices.BinarySearch(used, s.column[b])
	}
}

// greedyOrder ranks n blocks so that little weight points backwards.
func greedyOrder(n int, arcs []arc) []int {
	rank := make([]int, n)
	gone := make([]bool, n)
	lo, hi := 0, n-1
	for lo <= hi {
		in, out := make([]int, n), make([]int, n)
		for _, a := range arcs {
			if !gone[a.from] && !gone[a.to] {
				out[a.from] += a.weight
				in[a.to] += a.weight
			}
		}
		pick, last := -1, false
		for b := range n {
			switch {
			case gone[b]:
			case in[b] == 0 && (pick < 0 || last || in[pick] > 0):
				pick, last = b, false
			case out[b] == 0 && (pick < 0 || !last && in[pick] > 0):
				pick, last = b, true
			case (pick < 0 || !last && in[pick] > 0 && out[b]-in[b] > out[pick]-in[pick]):
				pick = b
			}
		}
		gone[pick] = true
		if last {
			rank[pick] = hi
			hi--
		} else {
			rank[pick] = lo
			lo++
		}
	}
	return rank
}

// item stands in a column: a block, or the place where a wire passes through.
type item struct {
	block  int // or none
	net    int // of a passing wire
	col    int
	h      float64
	y      float64 // upper edge
	portY  []float64
	symbol bool
	links  []link // to the left
	place  int    // from the top
}

// link joins a place on the right side of an item one column further left with one on the left side of this item.
type link struct {
	from       *item
	fromY, toY float64 // below the upper edges
	net        int
}

// order puts blocks and passing wires into columns and sorts each by the middle of its neighbours, back and forth, keeping the order
// with the fewest crossings.
func (s *scheme) order() {
	for i := range s.items {
		for k, it := range s.items[i] {
			it.place = k
		}
	}
	best := s.crossings()
	kept := s.snapshot()
	for round := range 16 {
		for k := range s.items {
			col := k
			if round%2 == 1 {
				col = len(s.items) - 1 - k
			}
			s.sortColumn(col, round%2 == 1)
		}
		if n := s.crossings(); n < best {
			best, kept = n, s.snapshot()
		}
	}
	s.items = kept
	for i := range s.items {
		for k, it := range s.items[i] {
			it.place = k
		}
	}
}

func (s *scheme) snapshot() [][]*item {
	out := make([][]*item, len(s.items))
	for i := range out {
		out[i] = slices.Clone(s.items[i])
	}
	return out
}

// spot is a rough height: the place in the column, and the port's share of the item.
func (it *item) spot(y float64) float64 { return float64(it.place) + y/max(it.h, 1) }

func (s *scheme) sortColumn(col int, fromRight bool) {
	mean := map[*item]float64{}
	for _, it := range s.items[col] {
		sum, n := 0.0, 0.0
		add := func(at float64, net int) {
			w := 1.0
			if s.onPath[net] > 0 {
				w = 4
			}
			sum, n = sum+at*w, n+w
		}
		if fromRight && col+1 < len(s.items) {
			for _, r := range s.items[col+1] {
				for _, l := range r.links {
					if l.from == it {
						add(r.spot(l.toY), l.net)
					}
				}
			}
		} else if !fromRight {
			for _, l := range it.links {
				add(l.from.spot(l.fromY), l.net)
			}
		}
		mean[it] = float64(it.place)
		if n > 0 {
			mean[it] = sum / n
		}
	}
	slices.SortStableFunc(s.items[col], func(a, b *item) int { return cmp.Compare(mean[a], mean[b]) })
	for k, it := range s.items[col] {
		it.place = k
	}
}

func (s *scheme) crossings() int {
	total := 0
	for col := range s.items {
		type pair struct{ a, b float64 }
		var all []pair
		for _, it := range s.items[col] {
			for _, l := range it.links {
				all = append(all, pair{l.from.spot(l.fromY), it.spot(l.toY)})
			}
		}
		for i, p := range all {
			for _, q := range all[:i] {
				if (p.a-q.a)*(p.b-q.b) < 0 {
					total++
				}
			}
		}
	}
	return total
}
