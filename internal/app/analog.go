package app

import (
	"context"
	"errors"
	"io/fs"
	"path/filepath"
	"slices"
	"time"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// GoldenBeside is the name of a case with readings of a known-good machine that is read without being asked for when it lies in the
// board's folder.
const GoldenBeside = "golden.case.yaml"

// AnalogBench is a case in work on a board with an analogue half.
type AnalogBench struct {
	S     *analog.Session
	M     *analog.Model
	have  evidence.Bench
	costs advise.Costs
	lines []analog.Line // what a good board shows for each reading, after Diagnose
}

// NewAnalogLab prepares a board with an `analog:` section. The lab is nil when a finding is an error.
func NewAnalogLab(ckt *circuit.Circuit, workers int) (*analog.Lab, finding.List) {
	m, fl := analog.New(ckt, workers)
	if m == nil {
		return nil, fl
	}
	return analog.NewLab(analog.NewUniverse(m)), fl
}

// NewAnalogBench starts work on a case. golden may be nil. Zero costs mean the defaults.
func NewAnalogBench(l *analog.Lab, c, golden *evidence.Case, costs advise.Costs) (*AnalogBench, finding.List) {
	var fl finding.List
	if golden != nil {
		fl = append(fl, l.Golden(golden)...)
	}
	s, more := analog.NewSession(l, c)
	fl = append(fl, more...)
	if s == nil {
		return nil, fl
	}
	if costs == (advise.Costs{}) {
		costs = advise.DefaultCosts()
	}
	return &AnalogBench{S: s, M: l.U.M, have: c.Have, costs: costs}, fl
}

func diagnoseAnalog(ctx context.Context, q DiagnoseRequest, ckt *circuit.Circuit, c, golden *evidence.Case, fl finding.List, began time.Time) (Diagnosis, finding.List, error) {
	lab, more := NewAnalogLab(ckt, q.Workers)
	fl = append(fl, more...)
	if lab == nil {
		return Diagnosis{}, fl, nil
	}
	b, more := NewAnalogBench(lab, c, golden, q.Costs)
	fl = append(fl, more...)
	if b == nil {
		return Diagnosis{}, fl, nil
	}
	d, err := b.Diagnose(ctx, q.Top, q.Accounts)
	d.Warnings = Rows(fl.Only(finding.Warning))
	d.ElapsedMS = float64(time.Since(began).Microseconds()) / 1000
	return d, fl, err
}

// goldenCase reads the readings of a known-good machine; nil when there are none, or when they are the case itself.
func goldenCase(files Files, board string, c *evidence.Case) (*evidence.Case, finding.List) {
	name := filepath.Join(filepath.Dir(board), GoldenBeside)
	if _, err := files.Bytes(name); errors.Is(err, fs.ErrNotExist) || c != nil && c.Golden {
		return nil, nil
	}
	g, fl := files.Case(name)
	if g == nil || fl.Errors() {
		return nil, fl
	}
	if !g.Golden {
		fl.Warnf(finding.Pos{File: name}, "golden", "write `golden: true` if it is of a known-good machine", "%s does not say that it is golden and is left out", name)
		return nil, fl
	}
	return g, fl
}

// Diagnose ranks the suspects of the log so far and chooses the next check.
func (b *AnalogBench) Diagnose(ctx context.Context, top, accounts int) (Diagnosis, error) {
	if top == 0 {
		top = 20
	}
	if accounts == 0 {
		accounts = 6
	}
	if err := b.S.Run(ctx); err != nil {
		return Diagnosis{}, err
	}
	plan, err := b.S.Plan(ctx, b.have, b.costs)
	if err != nil {
		return Diagnosis{}, err
	}
	d := Diagnosis{Board: b.M.C.Board.Title, Case: b.S.Case.Title, Suspects: []Suspect{}, Parts: []Share{}, Next: []Check{}, Unexplained: []EntryNote{}}
	v := analogView{b, plan}
	list := b.S.Suspects(plan)
	for _, x := range list {
		if len(x.Faults) == 0 {
			d.Healthy += x.P
		}
	}
	if b.lines, err = b.S.Account(ctx, analog.Story{}); err != nil {
		return d, err
	}
	clean := len(list) > 0 && len(list[0].Faults) == 0 && !b.stillShows()
	if err := v.explain(ctx, &d); err != nil {
		return d, err
	}
	n := 0
	for _, x := range list {
		if len(x.Faults) == 0 {
			continue
		}
		if n == top || clean {
			d.Rest += x.P
			continue
		}
		s := Suspect{Probability: x.P, Lookalikes: x.Group}
		for i, f := range x.Faults {
			s.Faults = append(s.Faults, v.fault(f, x.Details[i]))
		}
		if n < accounts {
			if s.Account, err = v.account(ctx, x.Best); err != nil {
				return d, err
			}
		}
		d.Suspects = append(d.Suspects, s)
		n++
	}
	if !clean {
		d.Parts = v.shares(list)
	}
	for i, h := range b.S.Stories[0].Hyps {
		if !b.S.Stories[0].Alive[i] {
			y := b.S.Lab.Hyps[h]
			d.Cured = append(d.Cured, v.fault(y.Fault, b.S.Lab.U.Ways[y.Fault][y.Way].Detail))
		}
	}
	if clean {
		d.Next = v.again()
	} else {
		d.Next = v.next(list)
	}
	d.Cautions = v.benchRules()
	return d, nil
}

type analogView struct {
	b    *AnalogBench
	plan *analog.Plan
}

func (v analogView) fault(f int, detail string) FaultView {
	m := v.b.M
	u := v.b.S.Lab.U.Faults[f]
	x := FaultView{Kind: string(u.Kind), At: m.At(u), Text: m.Text(u, detail)}
	if p := m.Part(u); p != circuit.None {
		x.Part = m.C.Parts[p].Ref
	}
	if n := m.Net(u); n != circuit.None {
		x.Net = m.C.NetName(n)
	} else if x.Part == "" { // a source or a load: the net that it feeds
		src := m.Devices[u.Device].Source
		if x.Net = src.Plus; x.Net == m.C.NetName(m.Ground) {
			x.Net = src.Minus
		}
	}
	return x
}

func (v analogView) explain(ctx context.Context, d *Diagnosis) error {
	s := v.b.S
	lost := make([]bool, len(s.Obs))
	for i := range lost {
		lost[i] = true
	}
	for _, st := range s.Stories[:min(12, len(s.Stories))] {
		if st.P < 0.01 {
			break
		}
		lines, err := s.Account(ctx, st)
		if err != nil {
			return err
		}
		whole := true
		for _, l := range lines {
			whole = whole && l.Fits
			if l.Fits {
				lost[l.Obs] = false
			}
		}
		d.Explained = d.Explained || whole
	}
	if d.Explained {
		return nil
	}
	best, err := s.Account(ctx, s.Stories[0])
	if err != nil {
		return err
	}
	none := !slices.Contains(lost, true)
	for _, l := range best {
		o := s.Obs[l.Obs]
		if lost[l.Obs] || none && !l.Fits {
			d.Unexplained = append(d.Unexplained, EntryNote{o.Entry + 1, s.Case.Log[o.Entry].Pos.Line, o.At + " " + o.Seen()})
		}
	}
	return nil
}

func (v analogView) account(ctx context.Context, st analog.Story) ([]Account, error) {
	s := v.b.S
	lines, err := s.Account(ctx, st)
	if err != nil {
		return nil, err
	}
	var out []Account
	for _, l := range lines {
		o := s.Obs[l.Obs]
		out = append(out, Account{Entry: o.Entry + 1, What: o.Check.Kind.String() + " " + o.At, Predicted: analog.About(o.Check, l.Shown), Seen: o.Seen(), Fits: l.Fits, Surprise: l.Surprise})
	}
	return out, nil
}

func (v analogView) shares(list []analog.Suspect) []Share {
	out := []Share{}
	at := map[string]int{}
	for _, x := range list {
		for _, f := range x.Faults {
			u := v.b.S.Lab.U.Faults[f]
			s := Share{Probability: x.P}
			if p := v.b.M.Part(u); p != circuit.None {
				s.Part = v.b.M.C.Parts[p].Ref
			} else {
				s.Net = v.fault(f, "").Net
			}
			key := s.Part + "/" + s.Net
			i, ok := at[key]
			if !ok {
				at[key] = len(out)
				out = append(out, s)
				continue
			}
			out[i].Probability += x.P
		}
	}
	out = slices.DeleteFunc(out, func(s Share) bool { return s.Probability < 0.001 })
	slices.SortStableFunc(out, func(a, b Share) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return 0
	})
	return out
}

// benchRules are said before the first power: what to do once, whatever is wrong.
func (v analogView) benchRules() []string {
	for _, o := range v.b.S.Obs {
		if k := o.Check.Kind; k != analog.Ohms && k != analog.ESR {
			return nil
		}
	}
	out := []string{"First power through a limited current: a lamp in series with the mains, or a bench supply set to the rail's volts and half an ampere. " +
		"Ohms from each rail to ground first, power off and the reservoirs empty."}
	if v.b.M.Mains {
		out = append(out, "The reservoirs hold their charge: discharge them through a resistor and measure before you touch.")
	}
	return out
}
