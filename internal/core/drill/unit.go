package drill

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/predict"
)

var errInvisible = errors.New("hardly any fault of this board shows on an indicator or output under its actions; add actions or indicators")

// unit is a broken board on the bench: it answers readings, wrongly now and then, and can be repaired.
type unit struct {
	g     *game
	truth []predict.Way
	rng   *rand.Rand
	pack  *predict.Pack
	shown map[string]*predict.Shown
}

func newUnit(g *game, truth []predict.Way, seed uint64) *unit {
	u := &unit{g: g, truth: truth, rng: rand.New(rand.NewPCG(seed, 1))}
	u.reset()
	return u
}

func (u *unit) reset() {
	u.pack = u.g.m.Pack([][]predict.Way{u.truth, nil})
	u.shown = map[string]*predict.Shown{}
}

// show runs an experiment: lane 0 is the unit, lane 1 a good board.
func (u *unit) show(ctx context.Context, s predict.Setting, volts []int) (*predict.Shown, error) {
	key := s.Key() + fmt.Sprint(volts)
	if sh := u.shown[key]; sh != nil {
		return sh, nil
	}
	want := predict.Want{Lamps: true, Volts: volts, Pins: slices.Clone(s.Lifted)}
	for _, w := range u.truth {
		if w.F.Kind == "joint-open" && !u.g.m.C.Pins[w.F.A].Supply {
			want.Pins = append(want.Pins, w.F.A)
		}
	}
	sh, err := u.pack.Show(ctx, s, want)
	if err != nil {
		return nil, err
	}
	u.shown[key] = sh[0]
	return sh[0], nil
}

// read answers a scope at a place, with a slip now and then. A level that the model cannot know comes out as the unit's whim.
func (u *unit) read(ctx context.Context, s predict.Setting, p circuit.Place) (predict.Word, error) {
	sh, err := u.show(ctx, s, nil)
	if err != nil {
		return 0, err
	}
	w := sh.Place(p).Word(0)
	if w == predict.Unknown {
		w = []predict.Word{predict.Low, predict.High, predict.Pulses}[u.rng.IntN(3)]
	}
	if u.rng.Float64() < u.g.o.Slips {
		return u.slip(w), nil
	}
	return w, nil
}

func (u *unit) slip(w predict.Word) predict.Word {
	for {
		if x := predict.Low + predict.Word(u.rng.IntN(int(predict.Words)-1)); x != w {
			return x
		}
	}
}

// good is what a good board reads at a place.
func (u *unit) good(ctx context.Context, s predict.Setting, p circuit.Place) (predict.Word, error) {
	sh, err := u.show(ctx, s, nil)
	if err != nil {
		return 0, err
	}
	return sh.Place(p).Word(1), nil
}

// volts answers a meter: one draw from what the model says.
func (u *unit) volts(ctx context.Context, s predict.Setting, p circuit.Place) (float64, error) {
	sh, err := u.show(ctx, s, []int{p.Net})
	if err != nil {
		return 0, err
	}
	bells := sh.Volts(u.truth, p, 0)
	if len(bells) == 0 || u.rng.Float64() < u.g.o.Slips {
		return math.Round(u.rng.Float64()*500) / 100, nil
	}
	x := u.rng.Float64()
	for _, b := range bells {
		if x -= b.Weight; x <= 0 {
			return math.Round((b.Mean+b.SD*u.rng.NormFloat64())*1000) / 1000, nil
		}
	}
	return bells[0].Mean, nil
}

// ohms answers an ohmmeter.
func (u *unit) ohms(lifted []int, a, b circuit.Place) float64 {
	o := u.g.m.Ohms(u.truth, lifted, a, b)
	if u.rng.Float64() < u.g.o.Slips {
		return math.Pow(10, u.rng.Float64()*6)
	}
	if o.Wide {
		return math.Pow(10, 2.5+u.rng.Float64()*4.5)
	}
	return math.Pow(10, o.Log10+o.SD*u.rng.NormFloat64())
}

// lamp answers the eye: lit, dark, or what chance says where the model cannot know.
func (u *unit) lamp(ctx context.Context, s predict.Setting, lamp int) (string, error) {
	sh, err := u.show(ctx, s, nil)
	if err != nil {
		return "", err
	}
	return u.eye(lampText(sh, lamp, 0)), nil
}

func lampText(sh *predict.Shown, lamp, lane int) string {
	lit, dark, _ := sh.Lamp(lamp)
	switch {
	case lit>>lane&1 == 1:
		return "lit"
	case dark>>lane&1 == 1:
		return "dark"
	}
	return "unknown"
}

func (u *unit) eye(seen string) string {
	if seen == "unknown" {
		seen = []string{"lit", "dark"}[u.rng.IntN(2)]
	}
	if u.rng.Float64() < u.g.o.Slips {
		return map[string]string{"lit": "dark", "dark": "lit"}[seen]
	}
	return seen
}

// mend takes faults away that a repair ends; it reports whether there were any.
func (u *unit) mend(ends func(predict.Way) bool) bool {
	before := len(u.truth)
	u.truth = slices.DeleteFunc(slices.Clone(u.truth), ends)
	if len(u.truth) == before {
		return false
	}
	u.reset()
	return true
}

// symptom is the first action in the board's order in which something that a person can see, or an output of the board, is
// definitely wrong; nil when there is none.
type symptom struct {
	setting predict.Setting
	lamps   []int // indicators seen, all of them
	wrong   int   // the first wrong indicator, or None
	places  []circuit.Place
	net     int // the net where tracing begins
}

func (g *game) symptom(ctx context.Context, truth []predict.Way) (*symptom, error) {
	u := newUnit(g, truth, 0)
	return u.symptom(ctx)
}

func (u *unit) symptom(ctx context.Context) (*symptom, error) {
	c := u.g.m.C
	for _, s := range u.g.settings() {
		sh, err := u.show(ctx, s, nil)
		if err != nil {
			return nil, err
		}
		x := symptom{setting: s, wrong: circuit.None}
		for l := range c.Lamps {
			good, bad := lampText(sh, l, 1), lampText(sh, l, 0)
			if good == "unknown" {
				continue
			}
			x.lamps = append(x.lamps, l)
			if bad != good && bad != "unknown" && x.wrong == circuit.None {
				x.wrong = l
				x.net = wrongEnd(c, sh, l)
			}
		}
		if x.wrong != circuit.None {
			return &x, nil
		}
		if len(c.Lamps) > 0 {
			continue
		}
		for _, n := range u.g.outputs() {
			p := circuit.Place{Pin: circuit.None, Net: n}
			if good, bad := sh.Place(p).Word(1), sh.Place(p).Word(0); good != bad && good != predict.Unknown && bad != predict.Unknown {
				x.places, x.net = []circuit.Place{p}, n
				return &x, nil
			}
		}
	}
	return nil, nil
}

// wrongEnd is the net of an indicator where the wrong level arrives.
func wrongEnd(c *circuit.Circuit, sh *predict.Shown, lamp int) int {
	for _, n := range []int{c.Lamps[lamp].A, c.Lamps[lamp].K} {
		if !c.Nets[n].Rail && sh.Net(n).Word(0) != sh.Net(n).Word(1) {
			return n
		}
	}
	if n := c.Lamps[lamp].A; !c.Nets[n].Rail {
		return n
	}
	return c.Lamps[lamp].K
}

// settings are start alone and every action after it.
func (g *game) settings() []predict.Setting {
	out := []predict.Setting{{}}
	for a := range g.m.C.Actions {
		if !slices.Contains(g.m.C.Start(), a) && g.m.C.Actions[a].FreeRun == circuit.None {
			out = append(out, predict.Setting{Actions: []int{a}})
		}
	}
	return out
}

// outputs are the nets that some part drives and none on the board listens to: what a board without indicators is judged by.
func (g *game) outputs() []int {
	c := g.m.C
	var out []int
	for i, n := range c.Nets {
		if n.Rail || n.Hidden || len(n.Drivers) == 0 {
			continue
		}
		if !slices.ContainsFunc(n.Pins, func(q int) bool { return c.Pins[q].Use&1 != 0 }) {
			out = append(out, i)
		}
	}
	return out
}

// log writes the symptom down as a technician would.
func (u *unit) log(ctx context.Context, x *symptom) ([]evidence.Entry, error) {
	c := u.g.m.C
	e := evidence.Entry{Do: u.g.names(x.setting), Sure: evidence.DefaultSure}
	sh, err := u.show(ctx, x.setting, nil)
	if err != nil {
		return nil, err
	}
	digits := map[int]bool{}
	for _, l := range x.lamps {
		if d := digitOf(c, l); d != circuit.None {
			if !digits[d] {
				digits[d] = true
				if t := u.g.ground.DigitTexts(sh, d, 1)[0]; t != "unknown" {
					e.See = append(e.See, evidence.Reading{At: c.Parts[c.Digits[d].Part].Ref, Is: t})
				}
			}
			continue
		}
		if t := lampText(sh, l, 0); t != "unknown" {
			e.See = append(e.See, evidence.Reading{At: c.Lamps[l].Name, Is: t})
		}
	}
	for _, p := range x.places {
		e.Read = append(e.Read, evidence.Reading{At: c.NetName(p.Net), Is: sh.Place(p).Word(0).String()})
	}
	return []evidence.Entry{e}, nil
}

func digitOf(c *circuit.Circuit, lamp int) int {
	for d, x := range c.Digits {
		if slices.Contains(x.Segs[:], lamp) {
			return d
		}
	}
	return circuit.None
}

func (g *game) names(s predict.Setting) []string {
	var out []string
	for _, a := range s.Actions {
		out = append(out, g.m.C.Actions[a].Name)
	}
	return out
}

// parallel runs f(0) … f(n-1) on several goroutines and gives the error of the lowest index.
func parallel(ctx context.Context, workers, n int, progress func(int), f func(int) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	errs := make([]error, n)
	var mu sync.Mutex
	next, done := 0, 0
	var wg sync.WaitGroup
	for range max(1, workers) {
		wg.Go(func() {
			for ctx.Err() == nil {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n {
					return
				}
				errs[i] = f(i)
				mu.Lock()
				done++
				if progress != nil {
					progress(done)
				}
				mu.Unlock()
				if errs[i] != nil {
					cancel()
				}
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}
