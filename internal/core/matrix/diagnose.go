package matrix

// Which sets of faults explain the list of keys: a weighted set cover. Every fault is simulated alone against every trial; what it changes there is what it
// can explain. Faults that change the same are one class. The cheapest covers (cost −ln prior) are then simulated whole, since faults may hide each other.

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Trial is one thing tried: keys held together (none for the keyboard at rest), and what came of it.
type Trial struct {
	Pressed []int
	Read    []int // keys that the machine took for pressed
	Repeats bool  // the key that was held comes more than once
}

// Limits of the search.
const (
	slip      = 0.003  // chance that a trial was noted wrongly; an estimate without a source
	maxFaults = 64     // in one set: a flooded keyboard has many dirty contacts
	maxSteps  = 50_000 // of the cover search
	keepSets  = 24
)

// Suspect is a set of faults that would explain the trials. Faults holds one class of look-alikes for each fault of the set, likeliest first.
type Suspect struct {
	Faults      [][]Fault
	Probability float64
	Wrong       []int // trials that it does not explain, by index
}

// Diagnosis is the answer.
type Diagnosis struct {
	Healthy     bool // every trial is what a good matrix reads
	Suspects    []Suspect
	Unexplained []int // trials that the first suspect does not explain
	Complete    bool  // false when the search stopped at its limit
}

// class is a group of faults that change the trials in the same way.
type class struct {
	faults []Fault
	cost   float64
	covers set // deviations that it accounts for
	breaks int // deviations it would cause that were not seen
}

// Diagnose ranks sets of faults. The layout must have passed Check, and trials must name keys of it.
func Diagnose(l Layout, trials []Trial) Diagnosis {
	good, seen, elements := make([]scan, len(trials)), make([]scan, len(trials)), 0
	first := make([]int, len(trials)+1) // first element of a trial's deviations
	var index []map[int]int             // crossing (noise: shifted by their number) → element
	n := len(l.Rows) * len(l.Columns)
	for i, t := range trials {
		good[i] = l.observe(nil, t.Pressed)
		seen[i] = scan{l.setOf(t.Read), l.newSet()}
		if t.Repeats {
			seen[i].noisy = l.setOf(t.Pressed)
		}
		m := map[int]int{}
		good[i].read.differ(seen[i].read).each(func(x int) { m[x] = elements; elements++ })
		good[i].noisy.differ(seen[i].noisy).each(func(x int) { m[n+x] = elements; elements++ })
		index = append(index, m)
		first[i+1] = elements
	}
	d := Diagnosis{Complete: true}
	if elements == 0 {
		d.Healthy = true
		return d
	}
	classes := classify(l, trials, good, index, elements)
	covers, complete := cover(classes, elements)
	d.Complete = complete
	for _, c := range covers {
		d.Suspects = append(d.Suspects, judge(l, trials, seen, classes, c))
	}
	if !slices.ContainsFunc(d.Suspects, func(s Suspect) bool { return len(s.Wrong) == 0 }) {
		d.Suspects = append(d.Suspects, together(l, trials, seen, classes)...)
	}
	rank(&d)
	return d
}

// mostTogether is how many classes are tried in pairs when no cover explains everything.
const mostTogether = 40

// together tries pairs of the classes that account for most: two shorts make paths that neither makes alone. Only pairs that explain every trial count.
func together(l Layout, trials []Trial, seen []scan, classes []class) []Suspect {
	order := make([]int, len(classes))
	for i := range order {
		order[i] = i
	}
	size := func(s set) (n int) {
		s.each(func(int) { n++ })
		return n
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(size(classes[b].covers), size(classes[a].covers)) })
	order = order[:min(len(order), mostTogether)]
	var out []Suspect
	for i, a := range order {
		for _, b := range order[:i] {
			if s := judge(l, trials, seen, classes, []int{a, b}); len(s.Wrong) == 0 {
				out = append(out, s)
			}
		}
	}
	return out
}

// classify simulates every fault alone and groups those with the same effect; faults without effect on what was seen are left out.
func classify(l Layout, trials []Trial, good []scan, index []map[int]int, elements int) []class {
	n := len(l.Rows) * len(l.Columns)
	byEffect := map[string]int{}
	var out []class
	for _, f := range l.Universe() {
		covers, breaks := make(set, (elements+63)/64), 0
		any := false
		key := []byte{}
		for i, t := range trials {
			if !f.reaches(l, t) {
				continue
			}
			got := l.observe([]Fault{f}, t.Pressed)
			note := func(x int) {
				if e, ok := index[i][x]; ok {
					covers.add(e)
					any = true
				} else {
					breaks++
				}
				key = fmt.Appendf(key, "%d.%d ", i, x)
			}
			good[i].read.differ(got.read).each(note)
			good[i].noisy.differ(got.noisy).each(func(x int) { note(n + x) })
		}
		if !any {
			continue
		}
		if at, ok := byEffect[string(key)]; ok {
			out[at].faults = append(out[at].faults, f)
			continue
		}
		byEffect[string(key)] = len(out)
		out = append(out, class{faults: []Fault{f}, covers: covers, breaks: breaks})
	}
	for i := range out {
		c := &out[i]
		slices.SortStableFunc(c.faults, func(a, b Fault) int { return cmp.Compare(b.prior(l), a.prior(l)) })
		sum := 0.0
		for _, f := range c.faults {
			sum += f.prior(l)
		}
		c.cost = -math.Log(math.Min(sum, 0.5)) - float64(min(c.breaks, 8))*math.Log(slip)
	}
	slices.SortStableFunc(out, func(a, b class) int { return cmp.Compare(a.cost, b.cost) })
	return out
}

// reaches says whether a fault can change what a trial reads: a fault of one key or line needs something pressed there.
func (f Fault) reaches(l Layout, t Trial) bool {
	switch f.Kind {
	case ContactOpen, ContactNoisy, DiodeOpen:
		return slices.Contains(t.Pressed, f.A) || len(t.Pressed) > 2
	case DiodeShort:
		return slices.Contains(t.Pressed, f.A)
	case RowOpen, RowNoisy, RowBreak:
		return slices.ContainsFunc(t.Pressed, func(k int) bool { return l.Keys[k].Row == f.A }) || len(t.Pressed) > 2
	case ColumnOpen, ColumnNoisy, ColumnBreak:
		return slices.ContainsFunc(t.Pressed, func(k int) bool { return l.Keys[k].Column == f.A }) || len(t.Pressed) > 2
	}
	return true
}

// cover finds the cheapest sets of classes that account for every element, none of them superfluous, cheapest first. complete is false when
// the step limit stopped the search.
func cover(classes []class, elements int) (best [][]int, complete bool) {
	by := make([][]int, elements) // classes that cover an element, cheapest first
	for i, c := range classes {
		c.covers.each(func(e int) { by[e] = append(by[e], i) })
	}
	s := search{classes: classes, by: by, covered: make([]int, elements), left: maxSteps}
	s.visit(0)
	slices.SortStableFunc(s.found, func(a, b result) int { return cmp.Compare(a.cost, b.cost) })
	for _, r := range s.found {
		best = append(best, r.pick)
	}
	return best, s.left > 0
}

type result struct {
	pick []int
	cost float64
}

type search struct {
	classes []class
	by      [][]int
	covered []int
	picked  []int
	found   []result
	left    int
}

func (s *search) bound() float64 {
	if len(s.found) < keepSets {
		return math.Inf(1)
	}
	return s.found[len(s.found)-1].cost
}

func (s *search) visit(cost float64) {
	if s.left <= 0 {
		return
	}
	s.left--
	pick := -1
	for e, by := range s.by { // the open element with the fewest ways to explain it
		if s.covered[e] == 0 && len(by) > 0 && (pick < 0 || len(by) < len(s.by[pick])) {
			pick = e
		}
	}
	if pick < 0 {
		s.keep(cost)
		return
	}
	if len(s.picked) >= maxFaults {
		return
	}
	for _, c := range s.by[pick] {
		if cost+s.classes[c].cost >= s.bound() {
			break // they are in order of cost
		}
		s.picked = append(s.picked, c)
		s.classes[c].covers.each(func(e int) { s.covered[e]++ })
		if s.needed() {
			s.visit(cost + s.classes[c].cost)
		}
		s.classes[c].covers.each(func(e int) { s.covered[e]-- })
		s.picked = s.picked[:len(s.picked)-1]
	}
}

// needed says whether every picked class still covers something alone.
func (s *search) needed() bool {
	for _, c := range s.picked {
		alone := false
		s.classes[c].covers.each(func(e int) { alone = alone || s.covered[e] == 1 })
		if !alone {
			return false
		}
	}
	return true
}

func (s *search) keep(cost float64) {
	p := slices.Sorted(slices.Values(s.picked))
	if slices.ContainsFunc(s.found, func(r result) bool { return slices.Equal(r.pick, p) }) {
		return
	}
	s.found = append(s.found, result{p, cost})
	slices.SortStableFunc(s.found, func(a, b result) int { return cmp.Compare(a.cost, b.cost) })
	if len(s.found) > keepSets {
		s.found = s.found[:keepSets]
	}
}

// judge simulates a set whole. Its probability is not yet normalised.
func judge(l Layout, trials []Trial, seen []scan, classes []class, pick []int) Suspect {
	var su Suspect
	var faults []Fault
	p := 1.0
	for _, c := range pick {
		su.Faults = append(su.Faults, classes[c].faults)
		faults = append(faults, classes[c].faults[0])
		sum := 0.0
		for _, f := range classes[c].faults {
			sum += f.prior(l)
		}
		p *= math.Min(sum, 0.5)
	}
	for i, t := range trials {
		if !l.observe(faults, t.Pressed).equal(seen[i]) {
			su.Wrong = append(su.Wrong, i)
			p *= slip
		}
	}
	su.Probability = p
	return su
}

// rank sorts and normalises. Probabilities as small as those of thirty dirty contacts do not underflow before they are compared: 0.02^64 is 1e-109.
func rank(d *Diagnosis) {
	slices.SortStableFunc(d.Suspects, func(a, b Suspect) int { return cmp.Compare(b.Probability, a.Probability) })
	sum := 0.0
	for _, s := range d.Suspects {
		sum += s.Probability
	}
	if sum > 0 {
		for i := range d.Suspects {
			d.Suspects[i].Probability /= sum
		}
	}
	if len(d.Suspects) > 0 {
		d.Unexplained = d.Suspects[0].Wrong
	}
}

// Trials turns a plain list – which keys do nothing, which repeat, which bring others – into trials: every other key that is not in untested is taken to
// work, and the keyboard at rest to read what stuck says. A key in extra reads itself and the keys listed.
func Trials(l Layout, dead, repeats, stuck, untested []int, extra map[int][]int) []Trial {
	out := []Trial{{Read: stuck}}
	for k := range l.Keys {
		t := Trial{Pressed: []int{k}, Read: append([]int{k}, stuck...)}
		switch {
		case slices.Contains(untested, k):
			continue
		case slices.Contains(dead, k):
			t.Read = slices.DeleteFunc(slices.Clone(stuck), func(s int) bool { return s == k })
		case slices.Contains(repeats, k):
			t.Repeats = true
		}
		if more, ok := extra[k]; ok {
			t.Read = append(t.Read, more...)
		}
		slices.Sort(t.Read)
		t.Read = slices.Compact(t.Read)
		out = append(out, t)
	}
	return out
}
