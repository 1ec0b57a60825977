package advise

import (
	"context"
	"math/bits"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/predict"
)

// Bench is what is known when the next check is chosen.
type Bench struct {
	S     *diagnose.Session
	R     *diagnose.Result
	Have  evidence.Bench
	Costs Costs

	lanes  []diagnose.Suspect // the leaders; the last one is the healthy board
	p      []float64          // their probabilities, adding up to 1
	hyps   [][]predict.Way
	pack   *predict.Pack
	words  int
	shown  []*predict.Shown // per action, per batch: [action*words+batch]
	sets   []predict.Setting
	groups []uint64 // hash of everything each lane shows
	done   map[string]bool
	joints []int // pins whose joint some lane opens, and those lifted
	nets   []int // nets that the leaders' faults touch
}

// maxLanes is how many suspects are looked at; what lies beyond is too unlikely to change the choice.
const maxLanes = 255

// NewBench lays the leading suspects out in lanes and shows them every action.
func NewBench(ctx context.Context, s *diagnose.Session, r *diagnose.Result, have evidence.Bench, costs Costs) (*Bench, error) {
	b := &Bench{S: s, R: r, Have: have, Costs: costs, done: map[string]bool{}}
	b.pick()
	for _, u := range b.lanes {
		b.hyps = append(b.hyps, s.Ways(u, s.Epoch()))
	}
	b.pack = s.M.Pack(b.hyps)
	b.words = b.pack.Batches()
	b.groups = make([]uint64, len(b.lanes))
	b.findPlaces()
	for _, o := range s.Obs {
		if o.Epoch == s.Epoch() {
			b.done[obsKey(o)] = true
		}
	}
	return b, b.showAll(ctx)
}

func (b *Bench) pick() {
	total, left := 0.0, 1.0
	for _, u := range b.R.Suspects {
		if len(b.lanes) >= maxLanes || left < 1e-4 {
			break
		}
		b.lanes = append(b.lanes, u)
		b.p = append(b.p, u.P)
		total += u.P
		left -= u.P
	}
	b.lanes = append(b.lanes, diagnose.Suspect{P: b.R.Healthy})
	b.p = append(b.p, b.R.Healthy)
	total += b.R.Healthy
	for i := range b.p {
		b.p[i] /= total
	}
}

// findPlaces notes which pins may differ from their nets, and which nets the leaders' faults sit on.
func (b *Bench) findPlaces() {
	c := b.S.M.C
	b.joints = slices.Clone(b.S.Lifted)
	mass := map[int]float64{}
	for i, h := range b.hyps {
		for _, w := range h {
			if w.F.Kind == "joint-open" && !c.Pins[w.F.A].Supply {
				b.joints = append(b.joints, w.F.A)
			}
			if w.F.Kind == "bridge" {
				mass[w.F.B] += b.p[i]
			}
			if n := w.F.Net(c); n != circuit.None && !c.Nets[n].Rail {
				mass[n] += b.p[i]
			}
		}
	}
	slices.Sort(b.joints)
	b.joints = slices.Compact(b.joints)
	for n := range mass {
		b.nets = append(b.nets, n)
	}
	slices.SortFunc(b.nets, func(x, y int) int {
		if mass[x] != mass[y] {
			if mass[x] > mass[y] {
				return -1
			}
			return 1
		}
		return x - y
	})
	b.nets = b.nets[:min(len(b.nets), 24)]
}

// showAll runs every action on the leaders: start alone first, then each action by itself.
func (b *Bench) showAll(ctx context.Context) error {
	c := b.S.M.C
	start := c.Start()
	b.sets = []predict.Setting{{Lifted: b.S.Lifted}}
	for a := range c.Actions {
		if !slices.Contains(start, a) {
			b.sets = append(b.sets, predict.Setting{Lifted: b.S.Lifted, Actions: []int{a}})
		}
	}
	want := predict.Want{Lamps: true, Pins: b.joints}
	for i, set := range b.sets {
		w := want
		if i == 0 || b.worthVolts(set) {
			w.Volts = b.nets
		}
		sh, err := b.pack.Show(ctx, set, w)
		if err != nil {
			return err
		}
		b.shown = append(b.shown, sh...)
	}
	return nil
}

// worthVolts: a meter needs a board at rest; after start, and after the actions of the log whose readings surprised.
func (b *Bench) worthVolts(set predict.Setting) bool {
	for _, o := range b.S.Obs {
		if o.Setting.Key() == set.Key() {
			return true
		}
	}
	return false
}

// mass is the probability of a set of lanes.
func (b *Bench) mass(lanes []uint64) float64 {
	t := 0.0
	for w, m := range lanes {
		for ; m != 0; m &= m - 1 {
			if i := w*64 + bits.TrailingZeros64(m); i < len(b.p) {
				t += b.p[i]
			}
		}
	}
	return t
}

// valid are the lanes of a word that stand for a hypothesis.
func (b *Bench) valid(w int) uint64 {
	n := len(b.lanes) - w*64
	if n >= 64 {
		return ^uint64(0)
	}
	return 1<<n - 1
}

func (b *Bench) healthy() int { return len(b.lanes) - 1 }

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
	return c.key()
}
