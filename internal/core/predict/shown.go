package predict

import (
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/sim"
)

// Word is a reading as a technician names it.
type Word uint8

// Words of `read:`; Unknown is the model's own: any reading is as likely.
const (
	Unknown Word = iota
	Low
	High
	Pulses
	Floating
	Between
	Words // how many there are
)

// String is the word as files write it.
func (w Word) String() string {
	return [...]string{"unknown", "low", "high", "pulses", "floating", "between"}[w]
}

// WordOf reads a word of `read:`; ok is false for anything else.
func WordOf(s string) (w Word, ok bool) {
	for w := Low; w < Words; w++ {
		if w.String() == s {
			return w, true
		}
	}
	return Unknown, false
}

// acc counts what a place showed over the moments of an action: in which lanes it was ever low, high, floating, fighting,
// unknown; and how many of the good board's moments of each kind lie in moments where some lane differed.
type acc struct {
	low, high, z, f, x uint64
	gone               [5]uint16
}

func (a *acc) add(v sim.NetLevel, plain uint64) {
	low := v.V0 &^ (v.V1 | v.Z | v.F)
	high := v.V1 &^ (v.V0 | v.Z | v.F)
	z := v.Z &^ (v.V0 | v.V1 | v.F)
	f := v.F &^ (v.V0 | v.V1 | v.Z)
	a.low |= low | f&plain
	a.high |= high
	a.z |= z
	a.f |= f &^ plain
	a.x |= ^(low | high | z | f)
}

// Split is a reading in 64 lanes: for each word the lanes that show it.
type Split [Words]uint64

func (a acc) split() Split {
	var s Split
	s[Between] = a.f
	s[Pulses] = a.low & a.high &^ a.f
	done := s[Between] | s[Pulses]
	s[Unknown] = a.x &^ done
	done |= s[Unknown]
	s[Low] = a.low &^ done
	s[High] = a.high &^ done
	s[Floating] = a.z &^ (done | a.low | a.high)
	return s
}

// goodShown is what the good board shows in an action.
type goodShown struct {
	counts [][5]uint16 // per net: moments low, high, floating, fighting, unknown
	plain  []uint64
	last   []uint8
	layers [][4]uint64
	lamps  []lampSeen
}

const (
	cLow = iota
	cHigh
	cZ
	cF
	cX
)

func countClass(b uint8, plain bool) int {
	switch b {
	case 1:
		return cLow
	case 2:
		return cHigh
	case 4:
		return cZ
	case 8:
		if plain {
			return cLow
		}
		return cF
	}
	return cX
}

// goodOf counts the good board's moments from the settled state before the last action to its end. It is kept.
func (m *Model) goodOf(s Setting, base, whole *sim.Trace) *goodShown {
	key := s.Key()
	m.mu.Lock()
	g := m.goods[key]
	m.mu.Unlock()
	if g != nil {
		return g
	}
	g = &goodShown{counts: make([][5]uint16, len(m.C.Nets)), plain: make([]uint64, len(m.C.Nets)), last: whole.Settled(whole.Moments() - 1)}
	for n := range m.C.Nets {
		if m.P.Plain(n) {
			g.plain[n] = ^uint64(0)
		}
	}
	for k := base.Moments() - 1; k < whole.Moments(); k++ {
		for n, b := range whole.Settled(k) {
			g.counts[n][countClass(b, g.plain[n] != 0)]++
		}
	}
	g.layers = m.goodLayers(whole)
	g.lamps = eye(base, whole).goodLamps(m, m.Whole(s))
	m.mu.Lock()
	m.goods[key] = g
	m.mu.Unlock()
	return g
}

// goodLayers tells at which strength each net of the good board is decided at the end.
func (m *Model) goodLayers(whole *sim.Trace) [][4]uint64 {
	w := m.engines.Get().(*worker)
	defer m.engines.Put(w)
	w.e.Stand(whole)
	out := make([][4]uint64, len(m.C.Nets))
	for n := range out {
		out[n] = w.e.Layers(n)
	}
	return out
}

// Want says what beyond net levels is to be kept.
type Want struct {
	Lamps    bool
	Volts    []int // nets whose settled drive is asked for
	AllVolts bool  // that of every net that differs from the good board
	Pins     []int // pins whose own side is asked for: those that have open joints in some hypothesis
}

// Shown is what one batch shows in one action.
type Shown struct {
	m       *Model
	c       *circuit.Circuit
	good    *goodShown
	nets    []int32
	accs    []acc
	pins    map[int]acc
	lamps   []int32 // indicators that may show otherwise than on the good board, ascending
	seen    []lampSeen
	ends    map[int]end // settled levels of Want.Volts
	pinEnds map[int]sim.NetLevel
}

// end is a net's settled level, and the lanes decided at each strength.
type end struct {
	v      sim.NetLevel
	layers [4]uint64
}

// Net gives the reading of a net.
func (s *Shown) Net(net int) Split { return s.accOf(net).split() }

// Same reports whether the net reads as on the good board in every lane.
func (s *Shown) Same(net int) bool {
	_, ok := slices.BinarySearch(s.nets, int32(net))
	return !ok
}

// Changed lists the nets that differ from the good board in some moment and lane, ascending.
func (s *Shown) Changed() []int32 { return s.nets }

func (s *Shown) accOf(net int) acc {
	var a acc
	if i, ok := slices.BinarySearch(s.nets, int32(net)); ok {
		a = s.accs[i]
	}
	c := s.good.counts[net]
	for k, w := range []*uint64{&a.low, &a.high, &a.z, &a.f, &a.x} {
		if c[k] > a.gone[k] {
			*w = ^uint64(0)
		}
	}
	return a
}

// Place gives the reading at a place: the pin's own side where it was kept, else its net.
func (s *Shown) Place(p circuit.Place) Split {
	if p.Pin != circuit.None {
		if a, ok := s.pins[p.Pin]; ok {
			return a.split()
		}
	}
	return s.Net(p.Net)
}

// Lamp gives the lanes in which an indicator is seen lit, seen dark, and those in which it changes during the action.
// Lanes in neither of the first two are unknown.
func (s *Shown) Lamp(lamp int) (lit, dark, changes uint64) {
	x := s.good.lamps[lamp]
	if i, ok := slices.BinarySearch(s.lamps, int32(lamp)); ok {
		x = s.seen[i]
	}
	return x.lit, x.dark, x.changes
}

// End gives the settled level of a place and the lanes decided at each strength; only if Want asked for volts.
func (s *Shown) End(p circuit.Place) (sim.NetLevel, [4]uint64) {
	x, ok := s.ends[p.Net]
	if !ok {
		x = end{sim.NetFrom(s.good.last[p.Net]), s.good.layers[p.Net]}
	}
	if p.Pin != circuit.None {
		if pv, ok := s.pinEnds[p.Pin]; ok {
			x.v = pv
		}
	}
	return x.v, x.layers
}

type worker struct {
	e       *sim.Engine
	accs    []acc
	stamp   []uint32
	now     uint32
	touched []int32
	lamps   lampWatch
}

func newWorker(p *sim.Program) *worker {
	return &worker{e: sim.NewEngine(p), accs: make([]acc, len(p.C.Nets)), stamp: make([]uint32, len(p.C.Nets)), lamps: newLampWatch(p.C)}
}

// watch runs the last action of a batch and accumulates what is seen.
func (w *worker) watch(m *Model, x *experiment, batch int) *Shown {
	base, whole, good, want := x.base, x.whole, x.good, x.want
	ov, start := x.ovs[batch], x.starts[batch]
	s := &Shown{m: m, c: m.C, good: good, pins: map[int]acc{}}
	w.now++
	w.touched = w.touched[:0]
	eye := eye(base, whole)
	moment := func(k int) {
		w.nets(whole.Settled(k), good)
		for _, p := range want.Pins {
			a := s.pins[p]
			a.add(w.e.PinLevel(p), w.e.PlainFight(m.C.Pins[p].Net))
			s.pins[p] = a
		}
		if want.Lamps && k >= eye.from {
			w.lamps.moment(w.e, m, eye, k)
		}
	}
	w.e.Resume(base, ov, start)
	if want.Lamps {
		w.lamps.begin(w.e, m.P, eye)
	}
	moment(base.Moments() - 1)
	w.e.Follow(whole, ov, start, moment)
	if want.Lamps {
		s.lamps, s.seen = w.lamps.seen(x.seeWhole)
	}
	w.finish(s, want)
	return s
}

func (w *worker) nets(settled []uint8, good *goodShown) {
	for _, n := range w.e.Touched() {
		a := &w.accs[n]
		if w.stamp[n] != w.now {
			w.stamp[n] = w.now
			*a = acc{}
			w.touched = append(w.touched, n)
		}
		plain := w.e.PlainFight(int(n))
		a.add(w.e.NetLevel(int(n)), plain)
		a.gone[countClass(settled[n], good.plain[n] != 0)]++
	}
}

func (w *worker) finish(s *Shown, want Want) {
	slices.Sort(w.touched)
	s.nets = slices.Clone(w.touched)
	s.accs = make([]acc, len(s.nets))
	for i, n := range s.nets {
		s.accs[i] = w.accs[n]
	}
	if len(want.Volts) == 0 && !want.AllVolts {
		return
	}
	s.ends, s.pinEnds = map[int]end{}, map[int]sim.NetLevel{}
	note := func(n int) { s.ends[n] = end{w.e.NetLevel(n), w.e.Layers(n)} }
	for _, n := range want.Volts {
		note(n)
	}
	if want.AllVolts {
		for _, n := range w.e.Touched() {
			note(int(n))
		}
	}
	for _, p := range want.Pins {
		s.pinEnds[p] = w.e.PinLevel(p)
	}
}
