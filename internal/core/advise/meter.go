package advise

import (
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/predict"
)

// Checks with the meter: each lane gives a distribution over bands of the scale.

// bandKey tells distributions apart: probabilities in half per cents.
type bandKey [8]int16

// bands sorts the active lanes by their distribution. dist may return the same slice each time.
func (b *Bench) bands(ck Check, bands []predict.Band, dist func(lane int) []float64) Check {
	names := make([]string, len(bands))
	for i := range bands {
		names[i] = bands[i].Text
	}
	ck.names(names)
	index := map[bandKey]int{}
	b.lanes(func(i int) {
		d := dist(i)
		var key bandKey
		for j, x := range d {
			key[j] = int16(math.Round(200 * x))
		}
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
	})
	return ck
}

// voltage is what a meter shows, with its bands: most lanes of a net show one of a few.
type voltage struct {
	is      predict.Bells
	inBands []float64
}

func (b *Bench) volts(set int, keep func(Check)) {
	for _, n := range b.nets {
		if b.theirs(n) {
			continue
		}
		pl := circuit.Place{Pin: b.handiest(n), Net: n}
		m := b.S.M.Volter(pl)
		var known []voltage
		keep(b.bands(b.blank(Volts, b.sets[set], pl), predict.VoltBands[:], func(lane int) []float64 {
			v := b.batch(set, lane>>6).VoltsWith(m, b.hyps[lane], pl, lane&63)
			k := slices.IndexFunc(known, func(x voltage) bool { return slices.Equal(x.is, v) })
			if k < 0 {
				k = len(known)
				d := v.InBands()
				known = append(known, voltage{v, d[:]})
			}
			return known[k].inBands
		}))
	}
}

// supplyVolts offers the supply pin of parts that may have lost it.
func (b *Bench) supplyVolts(keep func(Check)) {
	c := b.S.M.C
	said := map[int]bool{}
	var parts []int
	b.lanes(func(i int) {
		for _, w := range b.hyps[i] {
			if w.F.Kind == "no-supply" && !said[w.F.A] {
				said[w.F.A] = true
				parts = append(parts, w.F.A)
			}
		}
	})
	for _, pi := range parts {
		for _, q := range c.Parts[pi].Pins {
			pin := c.Pins[q]
			if !pin.Supply || !c.Nets[pin.Net].High {
				continue
			}
			ck := b.blank(Volts, b.sets[0], circuit.Place{Pin: q, Net: pin.Net})
			keep(b.bands(ck, predict.VoltBands[:], func(lane int) []float64 {
				d := b.S.M.SupplyVolts(b.hyps[lane], q).InBands()
				return d[:]
			}))
			break
		}
	}
}

// ohms offers each net of the leaders against the rails, and the two ends of a bridge or of an element against each other.
func (b *Bench) ohms(keep func(Check)) {
	c := b.S.M.C
	offer := func(x, y circuit.Place) {
		if b.theirs(x.Net) && b.theirs(y.Net) {
			return
		}
		all := b.S.M.OhmsAll(b.hyps, b.S.Lifted, x, y)
		ck := b.blank(Ohms, predict.Setting{Lifted: b.S.Lifted}, x)
		ck.To = y
		keep(b.bands(ck, predict.OhmBands[:], func(lane int) []float64 {
			d := all[lane].InBands()
			return d[:]
		}))
	}
	low, high := circuit.None, circuit.None
	for i, n := range c.Nets {
		if n.Rail && n.Volts == 0 && low == circuit.None {
			low = i
		}
		if n.Rail && n.High && high == circuit.None {
			high = i
		}
	}
	for _, n := range b.nets {
		for _, r := range []int{low, high} {
			if r != circuit.None {
				offer(circuit.Place{Pin: b.handiest(n), Net: n}, circuit.Place{Pin: circuit.None, Net: r})
			}
		}
	}
	mass := map[[2]int]float64{}
	var pairs [][2]int
	b.lanes(func(i int) {
		for _, w := range b.hyps[i] {
			k := [2]int{w.F.A, w.F.B}
			switch w.F.Kind {
			case "bridge":
			case "open", "short", "value":
				k = [2]int{c.Links[w.F.A].A, c.Links[w.F.A].B}
			default:
				continue
			}
			if c.Nets[k[0]].Hidden || c.Nets[k[1]].Hidden {
				continue
			}
			if mass[k] == 0 {
				pairs = append(pairs, k)
			}
			mass[k] += b.p[i]
		}
	})
	for _, k := range pairs {
		if mass[k] > 0.01 {
			offer(circuit.Place{Pin: b.handiest(k[0]), Net: k[0]}, circuit.Place{Pin: b.handiest(k[1]), Net: k[1]})
		}
	}
}
