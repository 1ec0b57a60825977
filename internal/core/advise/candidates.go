package advise

import (
	"context"
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/part"
	"halfsplit/internal/core/predict"
)

// Everything that could be done next. Each candidate sorts the lanes into cells by what they predict; a cell knows how likely
// each outcome is for its lanes.

const sure = 0.98 // what is expected of the next reading

func (c Check) key() string {
	if c.Kind == Read && c.Place.Pin != circuit.None {
		return fmt.Sprint(c.Kind, c.Setting.Key(), c.Place.Net, "/", c.Place.Pin)
	}
	return fmt.Sprint(c.Kind, c.Setting.Key(), c.Place.Net, c.To.Net, c.Lamp, c.Digit)
}

// candidates lists all checks that the bench allows and that can tell at least two leaders apart.
func (b *Bench) candidates(ctx context.Context) ([]Check, error) {
	var out []Check
	keep := func(c Check) {
		if len(c.cells) > 1 {
			b.mark(c)
			out = append(out, c)
		}
	}
	for i := range b.sets {
		if b.Have.Scope || b.Have.Probe {
			b.reads(i, keep)
		}
		b.sees(i, keep)
		if b.Have.Meter {
			b.volts(i, keep)
		}
	}
	if b.Have.Meter {
		b.ohms(keep)
	}
	if b.Have.Iron && (b.Have.Scope || b.Have.Probe) {
		if err := b.lifts(ctx, keep); err != nil {
			return nil, err
		}
	}
	return out, ctx.Err()
}

// mark folds what a candidate shows into the hash of each lane: lanes that hash alike are look-alikes.
func (b *Bench) mark(c Check) {
	h := uint64(14695981039346656037)
	for _, ch := range []byte(fmt.Sprint(c.key(), c.Pin, c.Part)) {
		h = (h ^ uint64(ch)) * 1099511628211
	}
	for k, cl := range c.cells {
		x := mix(h + uint64(k)*0x9E3779B97F4A7C15)
		for w, m := range cl.lanes {
			for i := w * 64; m != 0 && i < len(b.groups); i, m = i+1, m>>1 {
				if m&1 == 1 {
					b.groups[i] ^= x
				}
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

// reads offers every net, at its handiest pin, and every pin that may differ from its net.
func (b *Bench) reads(set int, keep func(Check)) {
	c := b.S.M.C
	sh := b.shown[set*b.words : (set+1)*b.words]
	var nets []int32
	for _, x := range sh {
		nets = append(nets, x.Changed()...)
	}
	for _, q := range b.joints {
		nets = append(nets, int32(c.Pins[q].Net))
	}
	slices.Sort(nets)
	for _, n := range slices.Compact(nets) {
		net := &c.Nets[n]
		if net.Hidden || net.Rail {
			continue
		}
		if pin := b.handiest(int(n)); pin != circuit.None {
			keep(b.read(set, sh, circuit.Place{Pin: pin, Net: int(n)}))
		}
	}
	for _, q := range b.joints {
		if !c.Nets[c.Pins[q].Net].Hidden {
			keep(b.read(set, sh, circuit.Place{Pin: q, Net: c.Pins[q].Net}))
		}
	}
}

// handiest is the pin of a net that is easiest to reach and cannot differ from the net; None when there is none.
func (b *Bench) handiest(net int) int {
	c := b.S.M.C
	best, cost := circuit.None, math.Inf(1)
	for _, q := range c.Nets[net].Pins {
		if _, odd := slices.BinarySearch(b.joints, q); odd {
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

func (b *Bench) read(set int, sh []*predict.Shown, pl circuit.Place) Check {
	ck := Check{Kind: Read, Setting: b.sets[set], Place: pl, Lamp: circuit.None, Digit: circuit.None, Pin: circuit.None, Part: circuit.None}
	var split [predict.Words][]uint64
	for w, x := range sh {
		s := x.Place(pl)
		for k := range s {
			if m := s[k] & b.valid(w); m != 0 {
				if split[k] == nil {
					split[k] = make([]uint64, b.words)
				}
				split[k][w] = m
			}
		}
	}
	for k, lanes := range split {
		if lanes != nil {
			ck.cells = append(ck.cells, cell{lanes, wordLikes(predict.Word(k))})
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
	sh := b.shown[set*b.words : (set+1)*b.words]
	inDigit := map[int]bool{}
	for d, dg := range c.Digits {
		for _, l := range dg.Segs {
			inDigit[l] = true
		}
		ck := Check{Kind: See, Setting: b.sets[set], Lamp: circuit.None, Digit: d, Place: circuit.Place{Pin: circuit.None, Net: circuit.None}, Pin: circuit.None, Part: dg.Part}
		var texts []string
		for _, x := range sh {
			texts = append(texts, b.S.DigitTexts(x, d, 64)...)
		}
		keep(b.byText(ck, func(lane int) string { return texts[lane] }))
	}
	for l := range c.Lamps {
		if inDigit[l] {
			continue
		}
		ck := Check{Kind: See, Setting: b.sets[set], Lamp: l, Digit: circuit.None, Place: circuit.Place{Pin: circuit.None, Net: circuit.None}, Pin: circuit.None, Part: c.Lamps[l].Part}
		keep(b.byText(ck, func(lane int) string { return diagnose.LampText(sh[lane>>6], l, lane&63) }))
	}
}

// byText sorts lanes by a word; unknown predicts every word alike.
func (b *Bench) byText(ck Check, text func(lane int) string) Check {
	var names []string
	lanes := map[string][]uint64{}
	for i := range b.lanes {
		t := text(i)
		if lanes[t] == nil {
			lanes[t] = make([]uint64, b.words)
			if t != "unknown" {
				names = append(names, t)
			}
		}
		lanes[t][i>>6] |= 1 << (i & 63)
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

// bands sorts lanes by their distribution over bands of a meter's scale.
func (b *Bench) bands(ck Check, bands []predict.Band, dist func(lane int) []float64) Check {
	names := make([]string, len(bands))
	for i := range bands {
		names[i] = bands[i].Text
	}
	ck.names(names)
	index := map[string]int{}
	for i := range b.lanes {
		d := dist(i)
		key := fmt.Sprintf("%.3f", d)
		k, ok := index[key]
		if !ok {
			k = len(ck.cells)
			index[key] = k
			like := make([]float64, len(d))
			for j := range d {
				like[j] = sure*d[j] + (1-sure)/float64(len(d))
			}
			ck.cells = append(ck.cells, cell{make([]uint64, b.words), like})
		}
		ck.cells[k].lanes[i>>6] |= 1 << (i & 63)
	}
	return ck
}

func (b *Bench) volts(set int, keep func(Check)) {
	if set != 0 && !b.worthVolts(b.sets[set]) {
		return
	}
	sh := b.shown[set*b.words : (set+1)*b.words]
	for _, n := range b.nets {
		pin := b.handiest(n)
		if b.S.M.C.Nets[n].Hidden || pin == circuit.None {
			continue
		}
		pl := circuit.Place{Pin: pin, Net: n}
		ck := Check{Kind: Volts, Setting: b.sets[set], Place: pl, Lamp: circuit.None, Digit: circuit.None, Pin: circuit.None, Part: circuit.None}
		keep(b.bands(ck, predict.VoltBands[:], func(lane int) []float64 {
			d := sh[lane>>6].Volts(b.hyps[lane], pl, lane&63).InBands()
			return d[:]
		}))
	}
	b.supplyVolts(set, keep)
}

// supplyVolts offers the supply pin of parts that may have lost it.
func (b *Bench) supplyVolts(set int, keep func(Check)) {
	if set != 0 {
		return
	}
	c := b.S.M.C
	said := map[int]bool{}
	for _, h := range b.hyps {
		for _, w := range h {
			if w.F.Kind != "no-supply" || said[w.F.A] {
				continue
			}
			said[w.F.A] = true
			for _, q := range c.Parts[w.F.A].Pins {
				if pin := c.Pins[q]; pin.Supply && c.Nets[pin.Net].High {
					pl := circuit.Place{Pin: q, Net: pin.Net}
					ck := Check{Kind: Volts, Setting: b.sets[0], Place: pl, Lamp: circuit.None, Digit: circuit.None, Pin: circuit.None, Part: circuit.None}
					keep(b.bands(ck, predict.VoltBands[:], func(lane int) []float64 {
						d := b.S.M.SupplyVolts(b.hyps[lane], q).InBands()
						return d[:]
					}))
					break
				}
			}
		}
	}
}

// ohms offers each net of the leaders against ground, and the two nets of a bridge against each other.
func (b *Bench) ohms(keep func(Check)) {
	c := b.S.M.C
	offer := func(x, y circuit.Place) {
		ck := Check{Kind: Ohms, Setting: predict.Setting{Lifted: b.S.Lifted}, Place: x, To: y, Lamp: circuit.None, Digit: circuit.None, Pin: circuit.None, Part: circuit.None}
		all := b.S.M.OhmsAll(b.hyps, b.S.Lifted, x, y)
		keep(b.bands(ck, predict.OhmBands[:], func(lane int) []float64 {
			d := all[lane].InBands()
			return d[:]
		}))
	}
	var rails [2]int = [2]int{circuit.None, circuit.None}
	for i, n := range c.Nets {
		if n.Rail && n.Volts == 0 && rails[0] == circuit.None {
			rails[0] = i
		}
		if n.Rail && n.High && rails[1] == circuit.None {
			rails[1] = i
		}
	}
	for _, n := range b.nets {
		pin := b.handiest(n)
		if c.Nets[n].Hidden || pin == circuit.None {
			continue
		}
		for _, r := range rails {
			if r != circuit.None {
				offer(circuit.Place{Pin: pin, Net: n}, circuit.Place{Pin: circuit.None, Net: r})
			}
		}
	}
	seen := map[[2]int]bool{}
	for _, h := range b.hyps[:min(len(b.hyps), 64)] {
		for _, w := range h {
			var x, y int
			switch w.F.Kind {
			case "bridge":
				x, y = w.F.A, w.F.B
			case "open", "short", "value":
				x, y = c.Links[w.F.A].A, c.Links[w.F.A].B
			default:
				continue
			}
			if k := [2]int{x, y}; !seen[k] && !c.Nets[x].Hidden && !c.Nets[y].Hidden {
				seen[k] = true
				offer(circuit.Place{Pin: b.handiest(x), Net: x}, circuit.Place{Pin: b.handiest(y), Net: y})
			}
		}
	}
}

// lifts offers to lift pins on nets where several leaders sit, and to read the net again under the action that showed it wrong.
func (b *Bench) lifts(ctx context.Context, keep func(Check)) error {
	const most = 10
	c := b.S.M.C
	pins := b.liftable()
	for _, q := range pins[:min(most, len(pins))] {
		lifted := slices.Clone(b.S.Lifted)
		i, _ := slices.BinarySearch(lifted, q)
		lifted = slices.Insert(lifted, i, q)
		net := c.Pins[q].Net
		pl := circuit.Place{Pin: circuit.None, Net: net}
		for _, p := range c.Nets[net].Pins {
			if p != q {
				pl.Pin = p
				break
			}
		}
		if pl.Pin == circuit.None {
			continue
		}
		set := predict.Setting{Lifted: lifted, Actions: b.tellingAction(net)}
		sh, err := b.pack.Show(ctx, set, predict.Want{Pins: b.joints})
		if err != nil {
			return err
		}
		ck := b.read(0, sh, pl)
		ck.Kind, ck.Pin, ck.Setting = Lift, q, set
		keep(ck)
	}
	return nil
}

// liftable are pins with an inside fault among the leaders on a net that another leader holds too, likeliest first.
func (b *Bench) liftable() []int {
	c := b.S.M.C
	mass := map[int]float64{}
	onNet := map[int]map[string]bool{}
	for i, h := range b.hyps {
		for _, w := range h {
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
	}
	var pins []int
	for q := range mass {
		if len(onNet[c.Pins[q].Net]) > 1 && c.Pins[q].Use&(part.Heard|part.Driven) != 0 {
			pins = append(pins, q)
		}
	}
	slices.SortFunc(pins, func(x, y int) int {
		if mass[x] != mass[y] {
			if mass[x] > mass[y] {
				return -1
			}
			return 1
		}
		return x - y
	})
	return pins
}

// tellingAction is the action under which the leaders least agree with the good board about a net.
func (b *Bench) tellingAction(net int) []int {
	best, most := b.sets[0].Actions, -1.0
	for i, set := range b.sets {
		t := 0.0
		good := b.shown[i*b.words+b.healthy()>>6].Net(net).Word(b.healthy() & 63)
		if good == predict.Unknown {
			continue
		}
		for lane := range b.healthy() {
			if b.shown[i*b.words+lane>>6].Net(net).Word(lane&63) != good {
				t += b.p[lane]
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
