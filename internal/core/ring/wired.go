package ring

// The board with the nets that are known.

import (
	"slices"
	"strconv"

	"halfsplit/internal/core/board"
)

// Wired is a copy of the board in which every group of joined pins is one net. A net keeps a name that the board has for it, of several
// the rail's, else the first input's, else the first in the order of the parts; a new net is named after the bus line or pin on it.
// Pins found to be joined to nothing are left open on purpose.
func (s *Session) Wired() *board.Board {
	out := *s.b
	members := map[int][]int{}
	for i := range s.ends {
		members[s.root(i)] = append(members[s.root(i)], i)
	}
	names := s.netNames(members)
	out.Parts = slices.Clone(s.b.Parts)
	for i := range out.Parts {
		p := &out.Parts[i]
		var pins []board.Pin
		pos := map[string]board.Pin{}
		for _, w := range p.Pins {
			pos[w.Pin] = w
		}
		for k := range s.ends {
			e := &s.ends[k]
			if e.part != i {
				continue
			}
			r := s.root(k)
			word := strconv.Itoa(e.number)
			if e.word == e.name[len(p.Ref)+1:] {
				word = e.word
			}
			switch {
			case names[r] != "":
				pins = append(pins, board.Pin{Pin: word, Net: names[r], Pos: pos[word].Pos})
			case s.closed[r]:
				pins = append(pins, board.Pin{Pin: word, Net: "-", Pos: pos[word].Pos})
			}
		}
		if p.Listed && len(pins) == len(p.Pins) {
			for k := range pins {
				pins[k].Pin = ""
			}
		} else {
			p.Listed = false
		}
		p.Pins = pins
	}
	return &out
}

// netNames gives a name to each group that is a net.
func (s *Session) netNames(members map[int][]int) map[int]string {
	input := map[string]bool{}
	for _, n := range s.b.Inputs {
		input[n.Text] = true
	}
	names, taken := map[int]string{}, map[string]bool{}
	var fresh []int
	for i := range s.ends {
		r := s.root(i)
		if r != i {
			continue
		}
		best, score := "", 0
		for _, k := range members[r] {
			e := &s.ends[k]
			v := 0
			switch {
			case e.net == "" || e.net == "-":
			case e.kind == rail:
				v = 3
			case input[e.net]:
				v = 2
			default:
				v = 1
			}
			if v > score {
				best, score = e.net, v
			}
		}
		switch {
		case best != "":
			names[r], taken[best] = best, true
		case len(members[r]) > 1:
			fresh = append(fresh, r)
		}
	}
	for _, r := range fresh {
		name := ""
		for _, k := range members[r] {
			if e := &s.ends[k]; e.bus != "" && name == "" {
				name = e.bus + strconv.Itoa(e.bit)
			}
		}
		if name == "" {
			for _, k := range members[r] {
				if e := &s.ends[k]; (e.kind == output || e.kind == decoded || e.kind == control) && name == "" {
					name = s.b.Parts[e.part].Ref + "_" + e.word
				}
			}
		}
		if name == "" {
			e := &s.ends[members[r][0]]
			name = s.b.Parts[e.part].Ref + "_" + e.word
		}
		for base, k := name, 2; taken[name]; k++ {
			name = base + "_" + strconv.Itoa(k)
		}
		names[r], taken[name] = name, true
	}
	return names
}
