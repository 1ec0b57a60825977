// Package joint makes one engine of the two halves of a mixed board. The logic keeps its simulation of sets of faults side by side; the analogue half
// keeps its solved circuit. What passes between them:
//
// From the analogue half to the logic goes an image of each of its faults: how the nets that it decides are heard, which lamps are lit, which
// chips still have a supply. The image stands still during an experiment. Faults are laid out in lanes by their images, beside those of the logic.
//
// From the logic to the analogue half goes its drive: how the nets stand that both touch, at the end of the action that a reading is about, under
// each set of faults. What a set shows to a meter is solved once for each drive.
//
// A net whose level the analogue half decides and that moves with a few of the logic's own levels (an analogue switch in front of a comparator) is a
// table of these levels for the logic, and a fault changes the table. With more than a few it is unknown to the logic.
package joint

import (
	"context"
	"slices"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
)

// Board is a mixed board made ready for diagnosis. It is for one case at a time.
type Board struct {
	C      *circuit.Circuit // as the logic sees it
	M      *predict.Model
	A      *analog.Model
	Lab    *analog.Lab
	Ground *diagnose.Ground

	taps   []tap
	rest   image // of the sound board
	stages []stage
	nets   []int         // of the shares
	pulls  map[int][]int // rail → links
}

// quality turns the analogue half's rates into the unit of the logic's, see package fault.
const quality = 10

// New joins the halves of a board. The board is nil when a finding is an error, or when the board has no logic that is joined with an analogue
// half.
func New(ctx context.Context, ckt *circuit.Circuit, workers int) (*Board, finding.List, error) {
	am, fl := analog.New(ckt, workers)
	if am == nil || am.Split == nil {
		return nil, fl, nil
	}
	b := &Board{A: am, Lab: analog.NewLab(analog.NewUniverse(am))}
	b.C = ckt
	quiet := b.findTaps(ckt)
	if err := b.findMoving(ctx); err != nil {
		return nil, fl, err
	}
	var told []circuit.Told
	for _, t := range b.taps {
		told = append(told, t.told(am.Split))
	}
	var seats []int
	b.C, seats = ckt.WithHalf(told, quiet, am.Ground)
	for i := range b.taps {
		b.taps[i].seat = seats[i]
	}
	b.findPulls()
	for _, s := range am.Split.Shares {
		b.nets = append(b.nets, s.Net)
	}
	if err := b.settle(ctx, workers); err != nil {
		return nil, fl, err
	}
	fl = append(fl, b.unpowered()...)
	worlds, err := b.Lab.Worlds(ctx, b.Lab.Rest, nil)
	if err != nil {
		return nil, fl, err
	}
	u := b.Lab.U
	tables, err := b.tables(ctx, worlds)
	if err != nil {
		return nil, fl, err
	}
	for f := range u.Faults {
		b.C.Others = append(b.C.Others, b.other(f, worlds, tables))
	}
	b.M = predict.New(b.C, workers)
	faults := slices.DeleteFunc(fault.Universe(b.C), b.theirs)
	for i := range b.C.Others {
		faults = append(faults, fault.OtherFault(b.C, i))
	}
	b.Ground = diagnose.GroundOf(b.M, faults)
	b.Ground.Half = b
	return b, fl, nil
}

// theirs tells a fault of the logic that the analogue half has too.
func (b *Board) theirs(f fault.Fault) bool {
	s := b.A.Split
	switch f.Kind {
	case fault.NetLow, fault.NetHigh:
		return s.Net[f.A] >= analog.Switched
	case fault.Bridge:
		return b.A.Node(f.A) >= 0 && b.A.Node(f.B) >= 0 && (s.Net[f.A] >= analog.Switched || s.Net[f.B] >= analog.Switched)
	}
	p := f.Part(b.C)
	return p >= len(s.Mine) || p != circuit.None && s.Mine[p]
}

// other is an analogue fault as the logic knows it.
func (b *Board) other(i int, worlds []analog.World, tables map[int]map[int][]byte) circuit.Other {
	u := b.Lab.U
	f := u.Faults[i]
	o := circuit.Other{Kind: string(f.Kind), At: b.A.At(f), Part: b.A.Part(f), Net: b.A.Net(f), Net2: circuit.None, Pin: circuit.None, Rate: quality * u.Rate(i)}
	o.Text = b.A.Text(f, "")
	switch f.Kind {
	case analog.Bridge:
		o.Net2, o.Copper = f.B, true
	case analog.NetShort:
		o.Copper = true
	case analog.JointOpen:
		o.Pin = b.A.Devices[f.Device].Pins[f.Pin]
	}
	if o.Before = o.Part == circuit.None && f.Device >= 0; o.Before {
		if n, ok := b.C.Net(b.A.Devices[f.Device].Source.Plus); ok {
			o.Net = n
		}
	}
	for w := range u.Ways[i] {
		way := circuit.OtherWay{Detail: b.A.Text(f, u.Ways[i][w].Detail)}
		h := b.Lab.Hyp(i, w)
		way.Forces = append(b.forces(worlds[h], tables[h]), b.asSwitch(f, u.Ways[i][w])...)
		o.Ways = append(o.Ways, way)
	}
	return o
}

// Start begins on a case.
func (b *Board) Start(*evidence.Case) diagnose.Log {
	s, _ := analog.NewSession(b.Lab, &evidence.Case{}) // an empty log has no findings
	return &log{b: b, s: s}
}

// Nets are those whose settled levels the analogue half has to know.
func (b *Board) Nets() []int { return b.nets }

// settle finds how the sound board stands after start: each half with what the other makes of it, until nothing changes.
func (b *Board) settle(ctx context.Context, workers int) error {
	for pi, p := range b.C.Parts {
		if pi < len(b.A.Split.Logic) && !b.A.Split.Logic[pi] {
			for _, d := range p.Drivers { // what the logic cannot know of it, the taps say
				b.C.Rest = append(b.C.Rest, circuit.Force{Do: circuit.Silences, Index: b.C.Drivers[d].Pin})
			}
		}
	}
	silent := b.C.Rest
	b.rest = image{taps: slices.Repeat([]byte{unknown}, len(b.taps))}
	const rounds = 5
	for round := range rounds {
		b.C.Rest = append(slices.Clone(silent), b.restForces()...)
		drive, err := b.restDrive(ctx, workers)
		if err != nil {
			return err
		}
		if round > 0 && drive == b.Lab.Rest {
			break
		}
		w, err := b.Lab.Worlds(ctx, drive, []int{0})
		if err != nil {
			return err
		}
		b.Lab.Rest = drive
		b.rest = b.image(w[0])
	}
	b.C.Rest = append(slices.Clone(silent), b.restForces()...)
	drive, err := b.restDrive(ctx, workers)
	b.Lab.Rest = drive
	return err
}

func (b *Board) restForces() []circuit.Force {
	var out []circuit.Force
	for i, t := range b.taps {
		if t.from == nil {
			out = append(out, circuit.Force{Do: levelForce(b.rest.taps[i]), Index: t.seat})
		}
	}
	return out
}

// restDrive is how the logic of the sound board stands after start.
func (b *Board) restDrive(ctx context.Context, workers int) (string, error) {
	m := predict.New(b.C, workers)
	hyps := [][]predict.Way{nil}
	sh, err := m.Pack(hyps).Show(ctx, predict.Setting{}, predict.Want{Volts: b.nets})
	if err != nil {
		return "", err
	}
	return b.drive(diagnose.Question{Hyps: hyps, Shown: sh}, 0), nil
}

// unpowered warns of chips that the model gives no supply.
func (b *Board) unpowered() finding.List {
	var fl finding.List
	for i, l := range b.A.Split.Loads {
		if i < len(b.rest.loads) && b.rest.loads[i] != works {
			p := b.C.Parts[l.Part]
			fl.Warnf(p.Src.Pos, p.Ref, "check the sources under `analog:` and the values around the regulator", "the model gives %s too little supply on %s; it is taken to work all the same", p.Ref, b.C.NetName(l.High))
		}
	}
	return fl
}

// drive is how the logic stands for the analogue half under one hypothesis: a sign for each share.
func (b *Board) drive(q diagnose.Question, hyp int) string {
	out := make([]byte, len(b.nets))
	for i, s := range b.A.Split.Shares {
		sign, held, driven := q.Level(hyp, s.Net)
		out[i] = analog.Free
		switch {
		case held && sign == '0':
			out[i] = analog.ShortLow
		case held && sign == '1':
			out[i] = analog.ShortHigh
		case !s.Output && s.Switch < 0: // the analogue half decides it
		case sign == 'X' || sign == 'F' || sign == 'Z' && s.Switch >= 0:
			out[i] = analog.Doubtful
		case !driven && s.Switch < 0: // pulled: that is solved
		case sign == '0':
			out[i] = analog.OutLow
		case sign == '1':
			out[i] = analog.OutHigh
		}
	}
	return string(out)
}

// isSwitched tells a device that the logic follows as a switch: nothing about it is decided by the analogue half alone.
func (b *Board) isSwitched(d analog.Device) bool {
	if d.Part == circuit.None || !b.A.Split.Mine[d.Part] {
		return false
	}
	in := false
	for _, p := range d.Pins {
		if p == circuit.None {
			continue
		}
		n := b.A.Split.Net[b.C.Pins[p].Net]
		if n == analog.Solved {
			return false
		}
		in = in || n == analog.Switched || n == analog.Shared
	}
	return in || d.Kind == elec.BJT || d.Kind == elec.Darlington
}
