package draw

import (
	"cmp"
	"slices"
)

// Wires between two columns. Every net has one upright trunk in the gap; a net that comes from the left on the height on which another
// goes to the right has its trunk further left, so that no two wires ever lie on each other. Where such demands go round in a circle a
// net gets two trunks with a crosspiece on a height of its own.

// channel is the gap to the right of a column.
type channel struct {
	nets    []*trunk
	tracks  int
	crosses []float64 // heights of crosspieces
}

// trunk is one net in one gap; or one half of a net, and then the halves meet on the height that the left one has to its right.
type trunk struct {
	net         int
	left, right []float64 // heights of its places on both sides
	track       int
	half        bool
	other       *trunk // right half, at the left one
}

func (t *trunk) straight() bool {
	return t.other == nil && len(t.left) == 1 && len(t.right) == 1 && t.left[0] == t.right[0]
}

func (t *trunk) span() (lo, hi float64) {
	all := slices.Concat(t.left, t.right)
	return slices.Min(all), slices.Max(all)
}

// channels collects the places of every net in every gap and gives the trunks their tracks.
func (s *scheme) channels() []*channel {
	out := make([]*channel, max(len(s.items)-1, 0))
	for k := range out {
		ch := &channel{}
		byNet := map[int]*trunk{}
		for _, it := range s.items[k+1] {
			for _, l := range it.links {
				t := byNet[l.net]
				if t == nil {
					t = &trunk{net: l.net}
					byNet[l.net] = t
					ch.nets = append(ch.nets, t)
				}
				t.left = append(t.left, l.from.y+l.fromY)
				t.right = append(t.right, it.y+l.toY)
			}
		}
		for _, t := range ch.nets {
			t.left, t.right = sorted(t.left), sorted(t.right)
		}
		slices.SortFunc(ch.nets, func(a, b *trunk) int { return cmp.Or(cmp.Compare(a.left[0], b.left[0]), cmp.Compare(a.net, b.net)) })
		ch.assign()
		out[k] = ch
	}
	return out
}

func sorted(v []float64) []float64 {
	slices.Sort(v)
	return slices.Compact(v)
}

// assign gives every trunk a track, from left to right.
func (ch *channel) assign() {
	var todo, done []*trunk
	for _, t := range ch.nets {
		if !t.straight() {
			todo = append(todo, t)
		}
	}
	for len(todo) > 0 {
		pick := -1
		for i, t := range todo {
			if !slices.ContainsFunc(todo, func(o *trunk) bool { return o != t && o.leftOf(t) }) {
				pick = i
				break
			}
		}
		if pick < 0 { // a circle: split the net with the fewest ends that is still whole; halves alone make no circle
			t := slices.MinFunc(todo, func(a, b *trunk) int {
				return cmp.Or(cmp.Compare(b2i(a.half), b2i(b.half)), cmp.Compare(len(a.left)+len(a.right), len(b.left)+len(b.right)), cmp.Compare(a.net, b.net))
			})
			// half rows are multiples of 14; seven off them no other wire lies, and every crosspiece has a height of its own
			y := snap((t.left[0]+t.right[0])/2) + 7
			for slices.Contains(ch.crosses, y) {
				y += halfH
			}
			ch.crosses = append(ch.crosses, y)
			half := &trunk{net: t.net, left: []float64{y}, right: t.right, half: true}
			t.right, t.other, t.half = []float64{y}, half, true
			todo = append(todo, half)
			continue
		}
		t := todo[pick]
		todo = slices.Delete(todo, pick, pick+1)
		for _, d := range done {
			dl, dh := d.span()
			tl, th := t.span()
			if d.leftOf(t) || d.other == t || dl <= th && tl <= dh {
				t.track = max(t.track, d.track+1)
			}
		}
		ch.tracks = max(ch.tracks, t.track+1)
		done = append(done, t)
	}
	ch.nets = slices.DeleteFunc(ch.nets, func(t *trunk) bool { return !t.straight() })
	ch.nets = append(ch.nets, done...)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// leftOf tells whether t must stand further left than o: it comes in on a height on which o goes out, or it is the left half of o.
func (t *trunk) leftOf(o *trunk) bool {
	if t.other == o || o.other == t {
		return t.other == o
	}
	return slices.ContainsFunc(t.left, func(y float64) bool { return slices.Contains(o.right, y) })
}
