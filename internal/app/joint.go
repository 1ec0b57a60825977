package app

import (
	"context"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/joint"
)

// The bench of a mixed board is that of a board of logic, with a session that knows the analogue half too. What that half says in its own words is
// here.

// NewJointBench starts work on a case of a mixed board. Zero costs mean the defaults. The bench is nil when a finding is an error.
func NewJointBench(x *joint.Board, c *evidence.Case, costs advise.Costs) (*Bench, finding.List) {
	s, fl := x.Ground.Session(c)
	if s == nil {
		return nil, fl
	}
	if costs == (advise.Costs{}) {
		costs = advise.DefaultCosts()
	}
	return &Bench{S: s, have: c.Have, costs: costs, title: x.C.Board.Title, joint: x}, fl
}

// mixed joins the halves of a board with an `analog:` section; nil where it has no logic, or when a finding is an error.
func mixed(ctx context.Context, ckt *circuit.Circuit, golden *evidence.Case, workers int) (*joint.Board, finding.List, error) {
	if ckt.Board.Analog == nil {
		return nil, nil, nil
	}
	x, fl, err := joint.New(ctx, ckt, workers)
	if x != nil && golden != nil {
		fl = append(fl, x.Lab.Golden(golden)...)
	}
	return x, fl, err
}

// analogue is what is computed of the analogue half of a board; nil without one.
func (b *BoardLab) analogue() *analog.Lab {
	if b.Joint != nil {
		return b.Joint.Lab
	}
	return b.Lab
}

// asLogicSees is the circuit with what its analogue half decides.
func (b *BoardLab) asLogicSees() *circuit.Circuit {
	if b.Joint != nil {
		return b.Joint.C
	}
	return b.C
}

// AsLogicSees is a circuit with what its analogue half decides, where it has one beside logic; else the circuit itself.
func AsLogicSees(ctx context.Context, ckt *circuit.Circuit) (*circuit.Circuit, finding.List, error) {
	x, fl, err := mixed(ctx, ckt, nil, 0)
	if x == nil {
		return ckt, fl, err
	}
	return x.C, fl, err
}

// analogue is the view of the analogue half of a mixed board, for its words only.
func (b *Bench) analogue() analogView {
	return analogView{b: &AnalogBench{M: b.joint.A, have: b.have, costs: b.costs}}
}

// present is a fault of a suspect with the severity of its likeliest story.
func (v *viewer) present(u diagnose.Suspect, f int) FaultView {
	x := v.fault(v.b.S.Faults[f])
	for _, ch := range u.Story {
		if ch.Fault == f && ch.Born <= v.b.S.Epoch() && v.b.S.Epoch() < ch.Dies {
			x.Text = v.b.S.Faults[f].TextOf(v.c, ch.Mode)
		}
	}
	return x
}

// otherCheck is a check of the analogue half.
func (v *viewer) otherCheck(c advise.Check) Check {
	k, _ := c.Other.Ref.(analog.Check)
	x := v.b.analogue().words(k, c.Other.At)
	x.Minutes, x.Bits, x.Good = round(c.Minutes, 1), round(c.Bits, 3), c.Good
	v.outcomes(&x, c)
	for i := range x.Outcomes {
		x.Outcomes[i].Good = x.Outcomes[i].Is == c.Good
	}
	x.Why = v.why(c)
	if c.Other.Rail {
		x.Why += " Supplies come before what hangs on them."
	}
	if c.Other.Off {
		x.Cautions = []string{"Unplug, wait, and measure that the rails and reservoirs are at 0 V before the meter touches the board."}
	} else {
		x.Cautions = []string{"A slipped probe makes the next fault: sleeve the tip. The scope's clip is earth: never on anything live."}
	}
	return x
}

// kindOf is what was measured.
func kindOf(o diagnose.Obs) string {
	if o.Kind == diagnose.OtherHalf {
		return o.What
	}
	return [...]string{"read", "see", "volts", "ohms"}[o.Kind]
}

// openAgain is a reading of the log as a line that is to be filled in again.
func (b *Bench) openAgain(o diagnose.Obs) map[string]any {
	e := map[string]any{}
	if o.Kind == diagnose.OtherHalf {
		k, at := b.joint.Reading(b.S.Other(), o.Reading)
		e = b.analogue().b.open(k, at)
	} else {
		e[kindOf(o)] = map[string]any{o.At: nil}
	}
	var do []string
	for _, a := range o.Setting.Actions {
		do = append(do, b.S.M.C.Actions[a].Name)
	}
	if len(do) > 0 {
		e["do"] = do
	}
	return e
}

// again is the last surprising reading of the analogue half, to be taken after a repair; empty when there is none.
func (v *viewer) again() map[string]any {
	list := v.b.Wrong()
	for i := len(list) - 1; i >= 0; i-- {
		if k := list[i].Kind; k != "read" && k != "see" {
			return list[i].Open
		}
	}
	return map[string]any{}
}

// jointRails are the rails of a mixed board with what a good one shows there.
func (b *Bench) jointRails(ctx context.Context) ([]RailCheck, error) {
	a := &AnalogBench{M: b.joint.A, S: &analog.Session{Lab: b.joint.Lab, M: b.joint.A}}
	return a.Rails(ctx)
}

// firstPower is said before the first reading with the power on.
func (b *Bench) firstPower() []string {
	if b.joint == nil {
		return nil
	}
	for _, o := range b.S.Obs {
		if k := kindOf(o); k != "ohms" && k != "esr" {
			return nil
		}
	}
	return analogView{b: &AnalogBench{M: b.joint.A, S: &analog.Session{}}}.benchRules()
}
