package advise

import (
	"context"
	"fmt"
	"math/bits"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/predict"
)

// Bench is what is known when the next check is chosen. Suspects are laid out in lanes and shown every action once; as the log
// grows, only suspects that were not leading before have to be shown. A Bench is not safe for concurrent use.
type Bench struct {
	S     *diagnose.Session
	R     *diagnose.Result
	Have  evidence.Bench
	Costs Costs

	// What may not be proposed now; set before Plan.
	Unpowered bool  // the power must stay off: ohms only
	Blocked   []int // pins that no probe reaches, ascending

	sets    []predict.Setting
	packs   []pack
	laneOf  map[string]int  // hypothesis → lane
	hyps    [][]predict.Way // per lane; the first is the healthy board. Lanes that pad a pack are healthy too and never active
	words   int
	p       []float64 // per lane, adding up to 1 over the active ones
	active  []uint64  // lanes of today's leaders
	latent  []uint64  // those that no reading speaks for, taken together while others are spoken for; nil: each by itself
	leaders []int     // suspect → lane, for the suspects laid out
	joints  []int     // pins whose joint some lane opens, and those lifted
	stage   string    // epoch and lifted pins: lanes are only good for one

	likes  [predict.Words][]float64 // P(word read | word predicted)
	now    standing
	groups []uint64       // hash of everything each lane shows
	done   map[string]int // times seen since the last repair
	nets   []int          // nets that the leaders' faults touch, heaviest first
}

// pack is some suspects that were laid out together; their first lane is word*64.
type pack struct {
	word  int
	p     *predict.Pack
	pins  []int              // whose joint some lane opens, and those lifted
	shown [][]*predict.Shown // per setting, per batch
	volts []bool             // per setting: shown holds what a meter would show
}

const (
	maxLanes = 255 // suspects that are looked at; what lies beyond is too unlikely to change the choice
	maxWords = 24  // lanes/64 kept before those that no longer lead are thrown out
	maxNets  = 24  // nets offered to the meter
	healthy  = 0   // lane of the healthy board
)

// NewBench lays out the leading suspects and shows them every action.
func NewBench(ctx context.Context, s *diagnose.Session, r *diagnose.Result, have evidence.Bench, costs Costs) (*Bench, error) {
	b := &Bench{S: s, Have: have, Costs: costs}
	for w := range b.likes {
		b.likes[w] = wordLikes(predict.Word(w))
	}
	return b, b.Update(ctx, r)
}

// Update takes in a new ranking of the same session.
func (b *Bench) Update(ctx context.Context, r *diagnose.Result) error {
	b.R = r
	stage := fmt.Sprint(b.S.Epoch(), b.S.Lifted, b.Have.Adapter)
	if stage != b.stage || b.words > maxWords {
		b.clear(stage)
	}
	if err := b.layOut(ctx); err != nil {
		return err
	}
	if err := b.showVolts(ctx); err != nil {
		return err
	}
	b.findNets()
	b.groups = make([]uint64, b.words*64)
	b.done = map[string]int{}
	for _, o := range b.S.Obs {
		switch h := b.half(); {
		case o.Epoch != b.S.Epoch():
		case o.Kind == diagnose.OtherHalf:
			b.done["other "+h.Key(o.Reading)]++
		default:
			b.done[obsKey(o)]++
		}
	}
	return nil
}

func (b *Bench) clear(stage string) {
	b.stage, b.packs, b.laneOf, b.hyps, b.words = stage, nil, map[string]int{}, nil, 0
	b.joints = slices.Clone(b.S.Lifted)
	c := b.S.M.C
	b.sets = []predict.Setting{{Lifted: b.S.Lifted}}
	for a := range c.Actions {
		if free := c.Actions[a].FreeRun != circuit.None; free && (!b.Have.Adapter || c.Actions[a].Name == "") {
			continue
		}
		if !slices.Contains(c.Start(), a) {
			b.sets = append(b.sets, predict.Setting{Lifted: b.S.Lifted, Actions: []int{a}})
		}
	}
}

// layOut gives every leader a lane and its probability; leaders that are new are shown every action.
func (b *Bench) layOut(ctx context.Context) error {
	var fresh [][]predict.Way
	if len(b.packs) == 0 {
		fresh = append(fresh, nil) // the healthy board
		b.laneOf[""] = healthy
	}
	b.leaders = b.leaders[:0]
	left := 1.0
	for _, u := range b.R.Suspects {
		if len(b.leaders) >= maxLanes || left < 1e-4 {
			break
		}
		h := b.S.Ways(u, b.S.Epoch())
		key := fmt.Sprint(h)
		lane, ok := b.laneOf[key]
		if !ok {
			lane = b.words*64 + len(fresh)
			b.laneOf[key] = lane
			fresh = append(fresh, h)
		}
		b.leaders = append(b.leaders, lane)
		left -= u.P
	}
	if err := b.show(ctx, fresh); err != nil {
		return err
	}
	b.p, b.active = make([]float64, b.words*64), make([]uint64, b.words)
	total := b.R.Healthy
	b.p[healthy] = b.R.Healthy
	b.active[0] |= 1
	for i, lane := range b.leaders {
		b.p[lane] += b.R.Suspects[i].P
		b.active[lane>>6] |= 1 << (lane & 63)
		total += b.R.Suspects[i].P
	}
	for i := range b.p {
		b.p[i] /= total
	}
	b.findLatent()
	return nil
}

// chased is the probability of stories that account for some symptom from which on checks are for them alone. What has shown nothing is
// then one story, "something else or nothing": which fault sleeps where is no question yet.
const chased = 0.05

func (b *Bench) findLatent() {
	b.latent = nil
	mask := make([]uint64, b.words)
	mask[0] = 1 << healthy
	for i, lane := range b.leaders {
		if b.R.Suspects[i].Latent {
			mask[lane>>6] |= 1 << (lane & 63)
		}
	}
	awake := 0.0
	b.lanes(func(i int) {
		if mask[i>>6]>>(i&63)&1 == 0 {
			awake += b.p[i]
		}
	})
	if awake >= chased {
		b.latent = mask
	}
}

// show makes a pack of new hypotheses and runs every action on it.
func (b *Bench) show(ctx context.Context, fresh [][]predict.Way) error {
	if len(fresh) == 0 {
		return nil
	}
	c := b.S.M.C
	pk := pack{word: b.words, p: b.S.M.Pack(fresh), pins: slices.Clone(b.S.Lifted), volts: b.metered()}
	for _, h := range fresh {
		for _, w := range h {
			if w.F.Kind == "joint-open" && !c.Pins[w.F.A].Supply {
				pk.pins = append(pk.pins, w.F.A)
			}
		}
	}
	slices.Sort(pk.pins)
	pk.pins = slices.Compact(pk.pins)
	var err error
	pk.shown, err = pk.p.ShowAll(ctx, b.sets, func(i int) predict.Want {
		return predict.Want{Lamps: true, AllVolts: pk.volts[i], Pins: pk.pins}
	})
	if err != nil {
		return err
	}
	b.joints = append(b.joints, pk.pins...)
	slices.Sort(b.joints)
	b.joints = slices.Compact(b.joints)
	b.packs = append(b.packs, pk)
	b.words += pk.p.Batches()
	b.hyps = append(b.hyps, fresh...)
	for len(b.hyps) < b.words*64 {
		b.hyps = append(b.hyps, nil)
	}
	return nil
}

// metered tells for each setting whether a meter is of use there: it needs a board at rest, as after start, and after the actions that the
// log has used.
func (b *Bench) metered() []bool {
	tried := map[string]bool{b.sets[0].Key(): true}
	for _, o := range b.S.Obs {
		tried[o.Setting.Key()] = true
	}
	out := make([]bool, len(b.sets))
	for i, set := range b.sets {
		out[i] = b.Have.Meter && tried[set.Key()] && !b.freeRun(set) // what never rests has no volts
	}
	return out
}

// freeRun tells whether a processor runs free when the readings are taken.
func (b *Bench) freeRun(set predict.Setting) bool {
	n := len(set.Actions)
	return n > 0 && b.S.M.C.Actions[set.Actions[n-1]].FreeRun != circuit.None
}

// showVolts shows the packs again what a meter has come to be of use for since they were laid out.
func (b *Bench) showVolts(ctx context.Context) error {
	metered := b.metered()
	for k := range b.packs {
		pk := &b.packs[k]
		for i, on := range metered {
			if !on || pk.volts[i] {
				continue
			}
			sh, err := pk.p.Show(ctx, b.sets[i], predict.Want{Lamps: true, AllVolts: true, Pins: pk.pins})
			if err != nil {
				return err
			}
			pk.shown[i], pk.volts[i] = sh, true
		}
	}
	return nil
}

// batch gives what a word of lanes shows in a setting.
func (b *Bench) batch(set, word int) *predict.Shown {
	for i := len(b.packs) - 1; ; i-- {
		if pk := &b.packs[i]; word >= pk.word {
			return pk.shown[set][word-pk.word]
		}
	}
}

// lanes calls f for every active lane.
func (b *Bench) lanes(f func(lane int)) {
	for w, m := range b.active {
		for ; m != 0; m &= m - 1 {
			f(w<<6 | bits.TrailingZeros64(m))
		}
	}
}

// findNets notes which nets the leaders' faults sit on.
func (b *Bench) findNets() {
	c := b.S.M.C
	mass := map[int]float64{}
	b.lanes(func(i int) {
		for _, w := range b.hyps[i] {
			if w.F.Kind == "bridge" {
				mass[w.F.B] += b.p[i]
			}
			if n := w.F.Net(c); n != circuit.None && !c.Nets[n].Rail && !c.Nets[n].Hidden {
				mass[n] += b.p[i]
			}
		}
	})
	b.nets = heaviest(mass)
	b.nets = b.nets[:min(len(b.nets), maxNets)]
}

// heaviest lists the keys by falling weight, ties by number.
func heaviest(mass map[int]float64) []int {
	var out []int
	for n := range mass {
		out = append(out, n)
	}
	slices.SortFunc(out, func(x, y int) int {
		if mass[x] != mass[y] {
			if mass[x] > mass[y] {
				return -1
			}
			return 1
		}
		return x - y
	})
	return out
}

func obsKey(o diagnose.Obs) string {
	c := Check{Setting: o.Setting, Place: o.Place, To: o.To, Lamp: o.Lamp, Digit: o.Digit}
	switch o.Kind {
	case diagnose.Read:
		c.Kind = Read
	case diagnose.See:
		c.Kind = See
		c.Place = circuit.Place{Pin: circuit.None, Net: circuit.None}
	case diagnose.Volts:
		c.Kind = Volts
	default:
		c.Kind = Ohms
	}
	if c.Kind != Ohms {
		c.To = circuit.Place{Pin: circuit.None, Net: circuit.None}
	}
	return c.key()
}
