package advise

import (
	"context"
	"math"
	"math/bits"
	"slices"
	"strconv"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// Everything that could be done next. Each candidate sorts the lanes into cells by what they predict; a cell knows how likely
// each outcome is for its lanes.

const sure = 0.98 // what is expected of the next reading

func (c *Check) key() string {
	if c.Other != nil {
		return "other " + c.Other.Key
	}
	k := append(make([]byte, 0, 48), c.Kind...)
	k = append(k, c.Setting.Key()...)
	k = strconv.AppendInt(k, int64(c.Place.Net), 10)
	if c.Kind == Read && c.Place.Pin != circuit.None {
		k = append(k, '/')
		return string(strconv.AppendInt(k, int64(c.Place.Pin), 10))
	}
	for _, x := range []int{c.To.Net, c.Lamp, c.Digit} {
		k = strconv.AppendInt(append(k, ' '), int64(x), 10)
	}
	return string(k)
}

// found collects the checks that can tell at least two leaders apart. groups is what they show of each lane, as Bench.groups.
type found struct {
	b      *Bench
	checks []*Check
	groups []uint64
	odds   []float64 // of the check at hand
}

func (f *found) keep(c Check) {
	if len(c.cells) < 2 || f.b.outOfReach(c.Place) || c.Kind == Ohms && f.b.outOfReach(c.To) || c.Kind == Lift && f.b.blocked(c.Pin) {
		return
	}
	c.id = c.key()
	f.mark(&c)
	if f.judge(&c) {
		f.checks = append(f.checks, &c)
	}
}

// candidates lists all checks that the bench allows and that are worth while, each setting on a worker of its own.
func (b *Bench) candidates(ctx context.Context) ([]*Check, error) {
	b.now = b.standing()
	metered := b.metered()
	all := make([]found, len(b.sets)+1)
	for i := range all {
		all[i] = found{b: b, groups: make([]uint64, len(b.groups))}
	}
	err := b.S.M.Share(ctx, len(b.sets), func(i int) {
		f := &all[i]
		if b.Unpowered {
			return
		}
		if b.Have.Scope || b.Have.Probe {
			b.reads(i, f.keep)
		}
		b.sees(i, f.keep)
		if metered[i] {
			b.volts(i, f.keep)
		}
	})
	if err != nil {
		return nil, err
	}
	last := &all[len(b.sets)]
	if b.Have.Meter {
		if !b.Unpowered {
			b.supplyVolts(last.keep)
		}
		b.ohms(last.keep)
	}
	if err := b.others(ctx, last.keep); err != nil {
		return nil, err
	}
	if !b.Unpowered && b.Have.Iron && (b.Have.Scope || b.Have.Probe) {
		if err := b.lifts(ctx, last.keep); err != nil {
			return nil, err
		}
	}
	var out []*Check
	for i := range all {
		out = append(out, all[i].checks...)
		for lane, h := range all[i].groups {
			b.groups[lane] ^= h
		}
	}
	return out, ctx.Err()
}

// mark folds what a candidate shows into the hash of each lane: lanes that hash alike are look-alikes.
func (f *found) mark(c *Check) {
	h := uint64(14695981039346656037)
	for _, ch := range []byte(c.id) {
		h = (h ^ uint64(ch)) * 1099511628211
	}
	h += uint64(c.Pin+1) * 0x9E3779B97F4A7C15
	for k, cl := range c.cells {
		x := mix(h + uint64(k)*0xD1B54A32D192ED03)
		for w, m := range cl.lanes {
			for ; m != 0; m &= m - 1 {
				f.groups[w<<6|bits.TrailingZeros64(m)] ^= x
			}
		}
	}
}

func mix(x uint64) uint64 {
	x ^= x >> 30
	x *= 0xbf58476d1ce4e5b9
	x ^= x >> 27
	x *= 0x94d049bb133111eb
	return x ^ x>>31
}

// blank is a check of a kind at a place; indices that do not apply are None.
func (b *Bench) blank(kind Kind, set predict.Setting, pl circuit.Place) Check {
	return Check{Kind: kind, Setting: set, Place: pl, To: circuit.Place{Pin: circuit.None, Net: circuit.None}, Lamp: circuit.None, Digit: circuit.None, Pin: circuit.None, Part: circuit.None}
}

// reads offers every net, at its handiest pin, and every pin that may differ from its net.
func (b *Bench) reads(set int, keep func(Check)) {
	c := b.S.M.C
	var nets []int32
	for w := range b.words {
		nets = append(nets, b.batch(set, w).Changed()...)
	}
	for _, q := range b.joints {
		nets = append(nets, int32(c.Pins[q].Net))
	}
	slices.Sort(nets)
	at := func(w int) *predict.Shown { return b.batch(set, w) }
	for _, n := range slices.Compact(nets) {
		if b.probeable(int(n)) {
			keep(b.read(Read, b.sets[set], at, circuit.Place{Pin: b.handiest(int(n)), Net: int(n)}))
		}
	}
	for _, q := range b.joints {
		if b.probeable(c.Pins[q].Net) {
			keep(b.read(Read, b.sets[set], at, circuit.Place{Pin: q, Net: c.Pins[q].Net}))
		}
	}
}

// logicVolts is the highest rail that a logic probe or a scope set for logic is sent to without a word.
const logicVolts = 18

// probeable leaves out rails, nets without a place to touch, and nets that a link ties to a rail above what logic instruments are made for.
func (b *Bench) probeable(net int) bool {
	c := b.S.M.C
	n := &c.Nets[net]
	if n.Rail || n.Hidden {
		return false
	}
	for _, l := range n.Links {
		for _, e := range []int{c.Links[l].A, c.Links[l].B} {
			if c.Nets[e].Rail && (c.Nets[e].Volts > logicVolts || c.Nets[e].Volts < -logicVolts) {
				return false
			}
		}
	}
	return true
}

// handiest is the pin of a net that is easiest to reach and cannot differ from the net; None when every pin may.
func (b *Bench) handiest(net int) int {
	c := b.S.M.C
	best, cost := circuit.None, math.Inf(1)
	for _, q := range c.Nets[net].Pins {
		if _, odd := slices.BinarySearch(b.joints, q); odd || b.blocked(q) {
			continue
		}
		x := b.Costs.reach(c.Parts[c.Pins[q].Part].Src.Access)
		if len(c.Parts[c.Pins[q].Part].Type.Pins) < 4 {
			x += 0.01 // a chip's pin is easier to name and to find
		}
		if x < cost {
			best, cost = q, x
		}
	}
	return best
}

func (b *Bench) blocked(pin int) bool {
	_, found := slices.BinarySearch(b.Blocked, pin)
	return found
}

// outOfReach tells whether no probe gets to a place: its pin is blocked, or every pin of its net.
func (b *Bench) outOfReach(p circuit.Place) bool {
	if len(b.Blocked) == 0 || p.Net == circuit.None {
		return false
	}
	if p.Pin != circuit.None {
		return b.blocked(p.Pin)
	}
	pins := b.S.M.C.Nets[p.Net].Pins
	return len(pins) > 0 && !slices.ContainsFunc(pins, func(q int) bool { return !b.blocked(q) })
}

// read sorts the lanes by the word they predict at a place; at gives what a word of lanes shows.
func (b *Bench) read(kind Kind, set predict.Setting, at func(word int) *predict.Shown, pl circuit.Place) Check {
	ck := b.blank(kind, set, pl)
	var all [predict.Words][maxWords + maxLanes/64 + 1]uint64
	var seen [predict.Words]bool
	for w, on := range b.active {
		if on == 0 {
			continue
		}
		s := at(w).Place(pl)
		for k := range s {
			if m := s[k] & on; m != 0 {
				all[k][w], seen[k] = m, true
			}
		}
	}
	for k := range all {
		if seen[k] {
			ck.cells = append(ck.cells, cell{slices.Clone(all[k][:b.words]), b.likes[k]})
		}
	}
	return ck
}

// wordNames are the outcomes of a read, in the order of the likes.
var wordNames = []string{"low", "high", "pulses", "floating", "between"}

func wordLikes(w predict.Word) []float64 {
	if w == predict.Unknown { // a level that the model cannot know is still a level more often than not
		return []float64{.3, .3, .3, .05, .05}
	}
	out := make([]float64, len(wordNames))
	t := 0.0
	for i, n := range wordNames {
		seen, _ := predict.WordOf(n)
		out[i] = diagnose.WordLik(w, seen, sure)
		t += out[i]
	}
	for i := range out {
		out[i] /= t
	}
	return out
}

func (b *Bench) sees(set int, keep func(Check)) {
	c := b.S.M.C
	none := circuit.Place{Pin: circuit.None, Net: circuit.None}
	inDigit := map[int]bool{}
	for d, dg := range c.Digits {
		for _, l := range dg.Segs {
			inDigit[l] = true
		}
		ck := b.blank(See, b.sets[set], none)
		ck.Digit, ck.Part = d, dg.Part
		keep(b.byText(ck, func(w int) []string { return b.S.DigitTexts(b.batch(set, w), d, 64) }))
	}
	for l := range c.Lamps {
		if inDigit[l] {
			continue
		}
		ck := b.blank(See, b.sets[set], none)
		ck.Lamp, ck.Part = l, c.Lamps[l].Part
		keep(b.lamp(ck, set, l))
	}
}

// lamp sorts the lanes into lit, dark and unknown.
func (b *Bench) lamp(ck Check, set, lamp int) Check {
	ck.names([]string{"dark", "lit"})
	likes := [3][]float64{{sure, 1 - sure}, {1 - sure, sure}, {0.5, 0.5}}
	var all [3][]uint64
	for w, on := range b.active {
		if on == 0 {
			continue
		}
		lit, dark, _ := b.batch(set, w).Lamp(lamp)
		for k, m := range [3]uint64{dark & on, lit & on, on &^ (lit | dark)} {
			if m != 0 {
				if all[k] == nil {
					all[k] = make([]uint64, b.words)
				}
				all[k][w] = m
			}
		}
	}
	for k, lanes := range all {
		if lanes != nil {
			ck.cells = append(ck.cells, cell{lanes, likes[k]})
		}
	}
	return ck
}

// byText sorts lanes by a word; unknown predicts every word alike.
func (b *Bench) byText(ck Check, texts func(word int) []string) Check {
	var names []string
	lanes := map[string][]uint64{}
	for w, on := range b.active {
		if on == 0 {
			continue
		}
		ts := texts(w)
		for m := on; m != 0; m &= m - 1 {
			t := ts[bits.TrailingZeros64(m)]
			if lanes[t] == nil {
				lanes[t] = make([]uint64, b.words)
				if t != "unknown" {
					names = append(names, t)
				}
			}
			lanes[t][w] |= m & -m
		}
	}
	slices.Sort(names)
	ck.names(names)
	for k, n := range names {
		like := make([]float64, len(names))
		for j := range like {
			like[j] = (1 - sure) / float64(max(1, len(names)-1))
		}
		like[k] = sure
		if len(names) == 1 {
			like[k] = 1
		}
		ck.cells = append(ck.cells, cell{lanes[n], like})
	}
	if u := lanes["unknown"]; u != nil && len(names) > 0 {
		like := make([]float64, len(names))
		for j := range like {
			like[j] = 1 / float64(len(names))
		}
		ck.cells = append(ck.cells, cell{u, like})
	}
	return ck
}

func (c *Check) names(n []string) {
	c.Outcomes = make([]Outcome, len(n))
	for i := range n {
		c.Outcomes[i].Is = n[i]
	}
}

// liftable are pins with an inside fault among the leaders on a net that another leader holds too, likeliest first.
func (b *Bench) liftable() []int {
	c := b.S.M.C
	mass := map[int]float64{}
	onNet := map[int]map[string]bool{}
	b.lanes(func(i int) {
		for _, w := range b.hyps[i] {
			n := w.F.Net(c)
			if n == circuit.None {
				continue
			}
			if onNet[n] == nil {
				onNet[n] = map[string]bool{}
			}
			onNet[n][w.F.At(c)] = true
			switch w.F.Kind {
			case "output-low", "output-high", "input-low", "input-high":
				if !slices.Contains(b.S.Lifted, w.F.A) {
					mass[w.F.A] += b.p[i]
				}
			}
		}
	})
	return slices.DeleteFunc(heaviest(mass), func(q int) bool {
		return len(onNet[c.Pins[q].Net]) < 2 || c.Pins[q].Use&(part.Heard|part.Driven) == 0
	})
}

// lifts offers to lift pins on nets where several leaders sit, and to read the net again under the action that showed it wrong.
func (b *Bench) lifts(ctx context.Context, keep func(Check)) error {
	const most, worthLifting = 6, 0.2
	c := b.S.M.C
	n := 0
	for _, q := range b.liftable() {
		if n++; n > most {
			break
		}
		net := c.Pins[q].Net
		pl := circuit.Place{Pin: circuit.None, Net: net}
		for _, p := range c.Nets[net].Pins {
			if p != q {
				pl.Pin = p
				break
			}
		}
		if pl.Pin == circuit.None || !b.probeable(net) || b.netMass(net) < worthLifting {
			continue
		}
		lifted := slices.Clone(b.S.Lifted)
		i, _ := slices.BinarySearch(lifted, q)
		set := predict.Setting{Lifted: slices.Insert(lifted, i, q), Actions: b.tellingAction(net)}
		shown := make([]*predict.Shown, 0, b.words)
		for _, pk := range b.packs {
			sh, err := pk.p.Show(ctx, set, predict.Want{Pins: b.joints})
			if err != nil {
				return err
			}
			shown = append(shown, sh...)
		}
		ck := b.read(Lift, set, func(w int) *predict.Shown { return shown[w] }, pl)
		ck.Pin = q
		keep(ck)
	}
	return nil
}

// netMass is the probability of the leaders that sit on a net.
func (b *Bench) netMass(net int) float64 {
	t := 0.0
	b.lanes(func(i int) {
		if slices.ContainsFunc(b.hyps[i], func(w predict.Way) bool { return w.F.Net(b.S.M.C) == net }) {
			t += b.p[i]
		}
	})
	return t
}

// tellingAction is the action under which the leaders least agree with the good board about a net.
func (b *Bench) tellingAction(net int) []int {
	best, most := b.sets[0].Actions, -1.0
	for i, set := range b.sets {
		good := b.batch(i, 0).Net(net).Word(healthy)
		if good == predict.Unknown {
			continue
		}
		t := 0.0
		for w, on := range b.active {
			if on == 0 {
				continue
			}
			s := b.batch(i, w).Net(net)
			for m := on &^ s[good]; m != 0; m &= m - 1 {
				t += b.p[w<<6|bits.TrailingZeros64(m)]
			}
		}
		if good == predict.Pulses {
			t += 1e-6
		}
		if t > most+1e-12 {
			best, most = set.Actions, t
		}
	}
	return best
}
