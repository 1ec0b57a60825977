// Package ring helps to find the netlist of a board by continuity: it proposes which two pins to ring out next, takes the answers, and
// gives the board with the nets that follow from them.
//
// Pins that are known to be joined are one group (union-find); of two groups it may be known that they are not joined. What follows from
// that is never asked. Ringings come in stages, because each stage is what the next one's odds rest on: supply pins to their rails, then
// buses, then enables, then the rest; in a stage the one with most bits per minute comes first.
package ring

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"halfsplit/internal/core/board"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/part"
)

// Stage orders the work.
type Stage int

// Stages, first to last.
const (
	Rails Stage = iota
	Buses
	Enables
	Glue
)

func (s Stage) String() string { return [...]string{"rails", "buses", "enables", "glue"}[s] }

// Ringing is one proposal: does it beep between A and B? Both are U1.4 or the name of a rail.
type Ringing struct {
	A, B        string
	TextA       string // U1 pin 4 (/1Y0)
	TextB       string
	Stage       Stage
	Probability float64 // that they are joined
	Bits        float64 // what the answer tells, 0 to 1
	Minutes     float64
	Why         string
}

// Session is one board being rung out. The zero value is not useful; New makes one.
type Session struct {
	b      *board.Board
	ends   []end
	byName map[string]int
	parent []int
	apart  map[[2]int]finding.Pos // roots that are not joined, smaller first
	closed map[int]bool           // roots on which everything else was tried
	tally  map[tallyKey][2]int    // yes and no between two parts on one kind of line
	rails  int                    // the first ends are rails
	last   [2]string              // parts of the last answer: probes that are there already
	inputs int
	outs   int
}

// end is a place that a probe can touch: a pin, or a rail.
type end struct {
	name, text string
	part       int // index in the board's parts; -1 for a rail
	number     int
	kind       kind
	bus        string // A, D … of a bus line
	bit        int
	word       string // name of the pin
	volts      float64
	hasVolts   bool
	net        string // as the board has it; ""
}

// New begins with what the board file says: pins on one net are joined. Parts of unknown types have the pins that are listed.
// Findings name parts without a type that is known.
func New(b *board.Board, lib *part.Library) (*Session, finding.List) {
	var fl finding.List
	s := &Session{b: b, byName: map[string]int{}, apart: map[[2]int]finding.Pos{}, closed: map[int]bool{}, tally: map[tallyKey][2]int{}}
	for _, r := range b.Rails {
		s.add(end{name: r.Net, text: "rail " + r.Net, part: -1, kind: rail, volts: r.Volts, hasVolts: true, net: r.Net})
	}
	s.rails = len(s.ends)
	if s.rails == 0 {
		fl.Warnf(finding.Pos{File: b.File}, "rails", "add rails: {VCC: 5 V, GND: 0 V}", "the board names no rails; supply pins cannot be proposed")
	}
	for i := range b.Parts {
		p := &b.Parts[i]
		m, err := find(lib, p)
		if err != nil {
			fl.Warnf(p.Pos, p.Ref, "", "%s: %v; only its listed pins are known", p.Ref, err)
		}
		s.addPart(i, p, m, err == nil)
	}
	nets := map[string]int{}
	for i := range s.ends {
		net := s.ends[i].net
		if net == "" || net == "-" {
			continue
		}
		if first, ok := nets[net]; ok {
			s.union(first, i)
		} else {
			nets[net] = i
		}
	}
	for i := range s.ends {
		if s.ends[i].net == "-" {
			s.closed[s.root(i)] = true
		}
	}
	return s, fl
}

func find(lib *part.Library, p *board.Part) (part.Match, error) {
	if part.IsGate(p.Type) {
		return part.Gate(p.Type, len(p.Pins)-1)
	}
	return lib.Find(p.Type)
}

func (s *Session) add(e end) {
	s.byName[e.name] = len(s.ends)
	s.ends = append(s.ends, e)
	s.parent = append(s.parent, len(s.parent))
}

func (s *Session) addPart(i int, p *board.Part, m part.Match, known bool) {
	if !known {
		for k, w := range p.Pins {
			word := cmp.Or(w.Pin, strconv.Itoa(k+1))
			if _, dup := s.byName[p.Ref+"."+word]; !dup {
				s.add(end{name: p.Ref + "." + word, text: p.Ref + " pin " + word, part: i, number: k + 1, word: word, net: w.Net, kind: passive})
			}
		}
		return
	}
	net := map[int]string{}
	for k, w := range p.Pins {
		nums := []int{k + 1}
		if !p.Listed {
			nums = m.Type.PinByName(w.Pin)
		}
		for _, n := range nums {
			net[n] = w.Net
		}
	}
	for k, tp := range m.Type.Pins {
		if tp.Node < 0 {
			continue
		}
		e := end{name: p.Ref + "." + strconv.Itoa(k+1), part: i, number: k + 1, word: tp.Name, net: net[k+1]}
		e.text = p.Ref + " pin " + strconv.Itoa(k+1)
		if tp.Name != strconv.Itoa(k+1) {
			e.text += " (" + tp.Name + ")"
		}
		e.classify(m, m.Type.Nodes[tp.Node])
		switch e.kind {
		case input, enable:
			s.inputs++
		case output, decoded:
			s.outs++
		}
		if _, dup := s.byName[e.name]; !dup {
			s.add(e)
		}
	}
}

func (s *Session) root(i int) int {
	for s.parent[i] != i {
		s.parent[i] = s.parent[s.parent[i]]
		i = s.parent[i]
	}
	return i
}

// union joins two groups under the smaller index, and carries over what is known not to be joined.
func (s *Session) union(i, j int) {
	i, j = s.root(i), s.root(j)
	if i == j {
		return
	}
	if j < i {
		i, j = j, i
	}
	s.parent[j] = i
	if s.closed[j] {
		s.closed[i] = true
		delete(s.closed, j)
	}
	for k, pos := range s.apart {
		if k[0] == j || k[1] == j {
			delete(s.apart, k)
			other := k[0] + k[1] - j
			s.apart[ordered(i, other)] = pos
		}
	}
}

func ordered(i, j int) [2]int { return [2]int{min(i, j), max(i, j)} }

// follows reports what is known of two ends: joined, or not joined, or neither.
func (s *Session) follows(i, j int) (joined, known bool) {
	i, j = s.root(i), s.root(j)
	if i == j {
		return true, true
	}
	if _, no := s.apart[ordered(i, j)]; no {
		return false, true
	}
	if i < s.rails && j < s.rails { // a group with a rail has it as its root, and rails are not joined
		return false, true
	}
	return false, s.closed[i] || s.closed[j]
}

// Groups counts what is known: groups of two ends or more, and ends that are in none.
func (s *Session) Groups() (joined, single int) {
	size := map[int]int{}
	for i := range s.ends {
		size[s.root(i)]++
	}
	for _, n := range size {
		if n > 1 {
			joined++
		} else {
			single++
		}
	}
	return joined, single
}

// Next proposes at most n ringings, the best first. It is empty when everything follows from the answers.
func (s *Session) Next(n int) []Ringing {
	members := map[int][]int{}
	var roots []int
	for i := range s.ends {
		r := s.root(i)
		if members[r] == nil {
			roots = append(roots, r)
		}
		members[r] = append(members[r], i)
	}
	for stage := Rails; stage <= Glue; stage++ {
		var out []Ringing
		for x, r := range roots {
			for _, q := range roots[x+1:] {
				if _, known := s.follows(r, q); known {
					continue
				}
				if g, ok := s.best(members[r], members[q], stage); ok {
					out = append(out, g)
				}
			}
		}
		if len(out) > 0 {
			slices.SortStableFunc(out, func(a, b Ringing) int { return cmp.Compare(b.Bits/b.Minutes, a.Bits/a.Minutes) })
			return out[:min(n, len(out))]
		}
	}
	return nil
}

// best is the ringing between two groups at a stage, by the likeliest pair of their ends. One pair that can hardly be (two lines of one
// bus at one part) speaks for all.
func (s *Session) best(a, b []int, stage Stage) (Ringing, bool) {
	var g Ringing
	least := 1.0
	for _, i := range a {
		for _, j := range b {
			st, p, why := s.odds(&s.ends[i], &s.ends[j])
			if st == never {
				least = min(least, p)
				continue
			}
			if st < stage { // asked in an earlier stage
				return g, false
			}
			if st == stage && p > g.Probability {
				g = Ringing{A: s.ends[i].name, B: s.ends[j].name, TextA: s.ends[i].text, TextB: s.ends[j].text, Stage: st, Probability: p, Why: why}
				g.Minutes = s.minutes(i, j)
			}
		}
	}
	if g.Why == "" && stage == Glue && least < 1 { // nothing but pairs that can hardly be: asked last, so that in the end all is known
		i, j := a[0], b[0]
		g = Ringing{A: s.ends[i].name, B: s.ends[j].name, TextA: s.ends[i].text, TextB: s.ends[j].text, Stage: Glue, Why: "only to rule it out", Minutes: s.minutes(i, j), Probability: least}
	}
	if g.Why == "" {
		return g, false
	}
	g.Probability = min(g.Probability, least)
	g.Bits = entropy(g.Probability)
	return g, true
}

// entropy of a yes with probability p, in bits.
func entropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log2(p) - (1-p)*math.Log2(1-p)
}

// Minutes of one ringing (own estimate): a probe that stays on a rail, at the two parts of the last ringing, anywhere.
const (
	minutesRail  = 0.1
	minutesThere = 0.15
	minutesPair  = 0.3
)

func (s *Session) minutes(i, j int) float64 {
	a, b := s.ends[i].part, s.ends[j].part
	switch {
	case a < 0 || b < 0:
		return minutesRail
	case s.last == [2]string{s.b.Parts[a].Ref, s.b.Parts[b].Ref} || s.last == [2]string{s.b.Parts[b].Ref, s.b.Parts[a].Ref}:
		return minutesThere
	}
	return minutesPair
}
