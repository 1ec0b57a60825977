package joint

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

// A machine of a drill: a copy of the board with every tolerance drawn and faults in either half, an analogue one of a severity that no hypothesis
// has. What the logic hears of its analogue half is read off its own solution.

// Unit answers readings.
type Unit struct {
	Silent bool // it has no answer where the model cannot know, else one by chance

	b     *Board
	half  *analog.Unit
	truth []predict.Way
	pack  *predict.Pack
	rng   *rand.Rand
}

// meterError is what its meter errs at most, as a fraction.
const meterError = 0.01

// NewUnit breaks a machine: faults are places in Ground.Faults, at most one of them analogue. The same seed gives the same machine, whatever is wrong
// with it. A board serves one Unit at a time.
func (b *Board) NewUnit(faults []int, seed uint64) *Unit {
	rng := rand.New(rand.NewPCG(seed, 1))
	u := &Unit{b: b, rng: rng, half: analog.NewSoundUnit(b.Lab, rng, meterError)}
	b.C.Others = b.C.Others[:len(b.Lab.U.Faults)]
	for _, i := range faults {
		f := b.Ground.Faults[i]
		if f.Kind != fault.Other {
			mode := 0
			for x := rng.Float64(); mode < f.Modes()-1 && x > f.ModeWeight(mode); mode++ {
				x -= f.ModeWeight(mode)
			}
			u.truth = append(u.truth, predict.Way{F: f, Mode: mode})
			continue
		}
		rng = rand.New(rand.NewPCG(seed, 1))
		u.half = analog.NewUnitWith(b.Lab, f.A, rng, meterError)
		o := b.C.Others[f.A]
		forces := u.decided(b.forces(u.half.World(b.Lab.Rest), u.tables()))
		o.Ways = []circuit.OtherWay{{Forces: append(forces, b.asSwitch(b.Lab.U.Faults[f.A], u.half.Way())...)}}
		b.C.Others = append(b.C.Others, o)
		u.truth = append(u.truth, predict.Way{F: fault.OtherFault(b.C, len(b.C.Others)-1)})
	}
	u.pack = b.M.Pack([][]predict.Way{u.truth, nil})
	return u
}

// decided settles by chance what the model leaves open: a machine is in one state. A chip on a weak supply works.
func (u *Unit) decided(forces []circuit.Force) []circuit.Force {
	var out []circuit.Force
	for _, f := range forces {
		switch high := u.rng.IntN(2) == 1; {
		case f.Do == circuit.Ailing || f.Do == circuit.Doubts:
			continue
		case f.Do == circuit.DrivesXThere && high:
			f.Do = circuit.Drives1There
		case f.Do == circuit.DrivesXThere:
			f.Do = circuit.Drives0There
		case f.Do == circuit.DrivesX && high:
			f.Do = circuit.Drives1
		case f.Do == circuit.DrivesX:
			f.Do = circuit.Drives0
		}
		out = append(out, f)
	}
	return out
}

// tables are those of the machine's own moving taps.
func (u *Unit) tables() map[int][]byte {
	out := map[int][]byte{}
	for k := range u.b.stages {
		st := &u.b.stages[k]
		for c := range settings(st) {
			im := u.b.image(u.half.World(st.drive(u.b.Lab.Rest, c)))
			for _, i := range st.taps {
				out[i] = append(out[i], im.taps[i])
			}
		}
	}
	return out
}

// show runs an experiment on the machine, and on a good board beside it.
func (u *Unit) show(ctx context.Context, set predict.Setting, nets []int) (*predict.Shown, error) {
	want := predict.Want{Lamps: true, Volts: append(slices.Clone(u.b.nets), nets...), Pins: slices.Clone(set.Lifted)}
	for _, w := range u.truth {
		if pin, ok := w.F.Joint(u.b.C); ok && !u.b.C.Pins[pin].Supply {
			want.Pins = append(want.Pins, pin)
		}
	}
	sh, err := u.pack.Show(ctx, set, want)
	if err != nil {
		return nil, err
	}
	return sh[0], nil
}

// whim stands for what the model cannot know.
func whim(rng *rand.Rand, words ...string) string { return words[rng.IntN(len(words))] }

// Answer makes a check and writes it down; false where the machine has no answer to it.
func (u *Unit) Answer(ctx context.Context, c advise.Check) (evidence.Entry, bool, error) {
	var e evidence.Entry
	for _, a := range c.Setting.Actions {
		e.Do, e.HasDo = append(e.Do, u.b.C.Actions[a].Name), true
	}
	if c.Other != nil {
		k, ok := c.Other.Ref.(analog.Check)
		if !ok {
			return e, false, nil
		}
		return u.measure(ctx, e, c.Setting, k, c.Other.At)
	}
	sh, err := u.show(ctx, c.Setting, []int{max(c.Place.Net, 0)})
	if err != nil {
		return e, false, err
	}
	at := func(p circuit.Place) string {
		if p.Pin != circuit.None {
			return u.b.C.PinName(p.Pin)
		}
		return u.b.C.NetName(p.Net)
	}
	switch c.Kind {
	case advise.Read:
		is := sh.Place(c.Place).Word(0)
		if is == predict.Unknown && u.Silent {
			return e, false, nil
		}
		if is == predict.Unknown {
			is, _ = predict.WordOf(whim(u.rng, "low", "high"))
		}
		e.Read = []evidence.Reading{{At: at(c.Place), Is: is.String()}}
	case advise.See:
		if c.Lamp == circuit.None {
			return e, false, nil
		}
		if u.Silent && diagnose.LampText(sh, c.Lamp, 0) == "unknown" {
			return e, false, nil
		}
		e.See = []evidence.Reading{{At: u.b.C.Lamps[c.Lamp].Name, Is: u.eye(sh, c.Lamp)}}
	case advise.Volts:
		bells := sh.Volts(u.truth, c.Place, 0)
		if len(bells) == 0 {
			return e, false, nil
		}
		b := bells[0]
		e.Volts = []evidence.Measured{{At: at(c.Place), Volts: math.Round(1000*(b.Mean+b.SD*u.rng.NormFloat64())) / 1000}}
	case advise.Ohms:
		o := u.b.M.Ohms(u.truth, c.Setting.Lifted, c.Place, c.To)
		x := 2.5 + 4.5*u.rng.Float64()
		if !o.Wide {
			x = o.Log10 + o.SD*u.rng.NormFloat64()
		}
		e.Do, e.HasDo = nil, false
		e.Ohms = []evidence.Resistance{{At: at(c.Place), To: at(c.To), Ohms: math.Pow(10, x)}}
	default:
		return e, false, nil
	}
	return e, true, nil
}

func (u *Unit) eye(sh *predict.Shown, lamp int) string {
	if is := diagnose.LampText(sh, lamp, 0); is != "unknown" {
		return is
	}
	return whim(u.rng, "lit", "dark")
}

// measure makes a check of the analogue half, with the logic standing as the machine's does.
func (u *Unit) measure(ctx context.Context, e evidence.Entry, set predict.Setting, k analog.Check, at string) (evidence.Entry, bool, error) {
	sh, err := u.show(ctx, set, nil)
	if err != nil {
		return e, false, err
	}
	k.Cond.Drive = u.b.drive(diagnose.Question{Hyps: u.pack.Hyps, Shown: []*predict.Shown{sh}}, 0)
	if k.PowerOff() {
		k.Cond.Drive = analog.Dead(k.Cond.Drive)
		e.Do, e.HasDo = nil, false
	}
	k.Cond.Drive = settled(k.Cond.Drive)[0]
	x, ok := u.half.Read(k)
	if !ok {
		return e, false, nil
	}
	switch k.Kind {
	case analog.Volts:
		e.Volts = []evidence.Measured{{At: at, Volts: x}}
	case analog.Ripple:
		e.Ripple = []evidence.Amount{{At: at, Is: x}}
	case analog.Current:
		e.Current = []evidence.Amount{{At: at, Is: x}}
	case analog.ESR:
		e.ESR = []evidence.Amount{{At: at, Is: x}}
	case analog.Ohms:
		e.Ohms = []evidence.Resistance{{At: u.b.A.NodeName(k.A), To: u.b.A.NodeName(k.B), Ohms: x, Open: x >= 1.8e7}}
	case analog.Wiper:
		e.Wiper = []evidence.Wiper{{At: at, Position: k.Cond.Position, Volts: x}}
	default:
		return e, false, nil
	}
	if k.Cond.Bench {
		e.Feed = &evidence.Feed{At: u.b.A.NodeName(k.Cond.At), Volts: k.Cond.Volts, Ohms: k.Cond.OhmsIn}
	}
	return e, true, nil
}

// Asked is the check whose answer a reading of a log was: what a Unit answers.
func (b *Board) Asked(s *diagnose.Session, o diagnose.Obs) advise.Check {
	c := advise.Check{Setting: o.Setting, Place: o.Place, To: o.To, Lamp: o.Lamp, Digit: o.Digit}
	switch o.Kind {
	case diagnose.Read:
		c.Kind = advise.Read
	case diagnose.See:
		c.Kind = advise.See
	case diagnose.Volts:
		c.Kind = advise.Volts
	case diagnose.Ohms:
		c.Kind = advise.Ohms
	case diagnose.OtherHalf:
		k, at := b.Reading(s.Other(), o.Reading)
		c.Kind, c.Other = advise.Kind(o.What), &advise.Offer{At: at, Ref: k}
	}
	return c
}

// Complaint is what the machine is brought with: what its lamps show, after start and after the first action that shows something wrong; without, the
// first rail or net whose volts are far off. False when nothing shows.
func (u *Unit) Complaint(ctx context.Context) (evidence.Entry, bool, error) {
	sets := []predict.Setting{{}}
	for a := range u.b.C.Actions {
		if !slices.Contains(u.b.C.Start(), a) && u.b.C.Actions[a].FreeRun == circuit.None {
			sets = append(sets, predict.Setting{Actions: []int{a}})
		}
	}
	for _, set := range sets {
		sh, err := u.show(ctx, set, nil)
		if err != nil {
			return evidence.Entry{}, false, err
		}
		var e evidence.Entry
		wrong := false
		for l := range u.b.C.Lamps {
			good, bad := diagnose.LampText(sh, l, 1), diagnose.LampText(sh, l, 0)
			if good == "unknown" || bad == "unknown" {
				continue
			}
			e.See = append(e.See, evidence.Reading{At: u.b.C.Lamps[l].Name, Is: bad})
			wrong = wrong || good != bad
		}
		if wrong {
			for _, a := range set.Actions {
				e.Do, e.HasDo = append(e.Do, u.b.C.Actions[a].Name), true
			}
			return e, true, nil
		}
	}
	return u.offVolts(ctx)
}

// offVolts looks for a net whose volts tolerances do not allow.
func (u *Unit) offVolts(ctx context.Context) (evidence.Entry, bool, error) {
	for n := range u.b.A.Split.Net {
		if !u.b.Theirs(n) || u.b.A.Node(n) == 0 || u.b.C.Nets[n].Hidden {
			continue
		}
		k := analog.Check{Kind: analog.Volts, A: u.b.A.Node(n), Device: -1, Cond: analog.Usual()}
		e, ok, err := u.measure(ctx, evidence.Entry{}, predict.Setting{}, k, u.b.C.NetName(n))
		if err != nil || !ok {
			return e, false, err
		}
		l := &log{b: u.b}
		good, err := l.one(ctx, k, u.b.Lab.Rest, nil, true)
		if err != nil {
			return e, false, err
		}
		if good.Known && math.Abs(e.Volts[0].Volts-good.Mu) > 4.5*good.Sigma {
			return e, true, nil
		}
	}
	return evidence.Entry{}, false, nil
}

// Name is what is wrong with the machine.
func (u *Unit) Name() string {
	var out []string
	for _, w := range u.truth {
		out = append(out, w.F.String(u.b.C))
	}
	return fmt.Sprint(out)
}
