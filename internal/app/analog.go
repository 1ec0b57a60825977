package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
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

func diagnoseAnalog(ctx context.Context, files Files, q DiagnoseRequest, ckt *circuit.Circuit, c *evidence.Case, fl finding.List, began time.Time) (Diagnosis, finding.List, error) {
	golden, more := goldenCase(files, filepath.Join(filepath.Dir(q.Case), c.Board), c)
	fl = append(fl, more...)
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
	clean := len(list) > 0 && len(list[0].Faults) == 0
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
	if !clean {
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
				s.Net = strings.TrimPrefix(v.b.M.At(u), "source ")
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

// next writes the proposals; once one group of look-alikes holds nearly everything, its repair comes first.
func (v analogView) next(list []analog.Suspect) []Check {
	out := []Check{}
	settled := 0.0
	lead := slices.IndexFunc(list, func(x analog.Suspect) bool { return len(x.Faults) > 0 })
	for _, x := range list {
		if lead >= 0 && len(x.Faults) > 0 && x.Group == list[lead].Group {
			settled += x.P
		}
	}
	if lead >= 0 && (settled > 0.9 || len(v.plan.Proposals) == 0) {
		if c, ok := v.repair(list[lead]); ok {
			out = append(out, c)
		}
	}
	for _, p := range v.plan.Proposals[:min(8, len(v.plan.Proposals))] {
		out = append(out, v.check(p, list))
	}
	return out
}

func (v analogView) repair(x analog.Suspect) (Check, bool) {
	f := v.fault(x.Faults[0], x.Details[0])
	c := Check{Kind: "replace", At: f.Part, Where: f.Part, Outcomes: []Outcome{}, Minutes: v.b.costs.ReplaceSmall,
		Why: "What is left of the doubt lies here; the voltages afterwards show whether it was all."}
	if f.Part == "" {
		return c, false
	}
	p := v.b.M.C.Parts[v.b.M.Part(v.b.S.Lab.U.Faults[x.Faults[0]])]
	c.Where = f.Part + " (" + p.Src.Type + ")"
	verb := "replaced"
	at := []string{f.Part}
	if f.Kind == string(analog.JointOpen) {
		c.Kind, verb, c.At, c.Where, at = "resolder", "resoldered", f.At, f.At, []string{f.At}
		c.Minutes = v.b.costs.Resolder
	} else if len(p.Type.Pins) > 3 {
		c.Minutes = v.b.costs.Replace + v.b.costs.PerPin*float64(len(p.Type.Pins))
	}
	c.Entries = []map[string]any{{verb: at}}
	return c, true
}

func (v analogView) check(p analog.Proposal, list []analog.Suspect) Check {
	m := v.b.M
	k := p.Check
	c := Check{Kind: k.Kind.String(), At: p.At, Minutes: round(p.Minutes, 1), Bits: round(p.Bits, 3), Good: analog.About(k, p.Good), Outcomes: []Outcome{}}
	name := func(node int) string { return m.NodeName(node) }
	key := map[string]any{}
	switch k.Kind {
	case analog.Volts:
		if k.Device >= 0 {
			c.Where = "the two ends of " + p.At + " (" + name(k.A) + " against " + name(k.B) + ")"
		} else {
			c.Net, c.Where = p.At, "net "+p.At
		}
		c.Setup = "Meter on DC volts, black lead on " + name(k.B) + "."
		key["volts"] = map[string]any{p.At: nil}
	case analog.Ripple:
		c.Net, c.Where = p.At, "net "+p.At
		c.Setup = "Scope, AC coupled, 5 ms a division, trigger on the mains."
		key["ripple"] = map[string]any{p.At: nil}
	case analog.Ohms:
		c.At, c.To = name(k.A), name(k.B)
		c.Net, c.Where = c.At, "net "+c.At
		c.Setup = "Reservoirs empty; meter on its low-voltage ohms range, so that no junction conducts."
		key["ohms"] = map[string]any{"at": c.At, "to": c.To, "is": nil}
	case analog.Current:
		c.Where = p.At
		c.Setup = "Power off, take the fuse out, meter in its place on the ampere range; or clamp round the wire."
		key["current"] = map[string]any{p.At: nil}
	case analog.ESR:
		c.Where = p.At
		c.Setup = "Reservoirs empty; ESR meter across the capacitor in circuit."
		key["esr"] = map[string]any{p.At: nil}
	case analog.AC:
		c.Net, c.Where = p.At, "net "+p.At
		c.Setup = fmt.Sprintf("Scope or AC meter, signal of %s Hz on.", strconv.FormatFloat(k.Frequency, 'g', 4, 64))
		key["ac"] = map[string]any{"at": p.At, "frequency": k.Frequency, "level": nil}
	case analog.Wiper:
		c.Where = fmt.Sprintf("the wiper of %s set to %.2f of its travel", p.At, k.Cond.Position)
		c.Setup = "Meter on DC volts; move the control slowly over the place."
		key["wiper"] = map[string]any{"at": p.At, "position": round(k.Cond.Position, 4), "volts": nil}
	}
	if k.Cond.Bench {
		c.Setup = fmt.Sprintf("Mains off. Bench supply of %g V with %g Ω in series (or that current limit) on %s; meter on millivolts.", k.Cond.Volts, k.Cond.OhmsIn, name(k.Cond.At))
		key["bench"] = map[string]any{"at": name(k.Cond.At), "volts": k.Cond.Volts, "ohms": k.Cond.OhmsIn}
	}
	c.Entries = []map[string]any{key}
	c.Why = fmt.Sprintf("It is expected to remove %.2f bits of doubt", p.Bits)
	if p.Rail {
		c.Why += "; supplies come before what hangs on them"
	}
	c.Why += "."
	for _, o := range p.Outcomes {
		if o.P < 0.0005 {
			continue
		}
		y := Outcome{Is: analog.Between(k, o), Probability: round(o.P, 4)}
		for _, st := range o.Stories {
			if w := v.b.S.Words(v.b.S.Stories[st]); w != "" && !slices.Contains(y.Suspects, w) && len(y.Suspects) < 4 {
				y.Suspects = append(y.Suspects, w)
			}
		}
		c.Outcomes = append(c.Outcomes, y)
	}
	return c
}

// VoltsTable is what a good board shows everywhere.
type VoltsTable struct {
	Board string     `json:"board"`
	Rows  []VoltsRow `json:"volts"`
}

// VoltsRow is one pin, or one net that no part with pins of interest is on. Volts are against ground; Sigma is one standard deviation of what
// tolerances allow, Low and High are two of them and the meter's error away. Golden is what a known-good machine showed.
type VoltsRow struct {
	Pin    string   `json:"pin"`
	Name   string   `json:"name,omitempty"`
	Net    string   `json:"net"`
	Volts  float64  `json:"volts"`
	Sigma  float64  `json:"sigma"`
	Low    float64  `json:"low"`
	High   float64  `json:"high"`
	Ripple *float64 `json:"ripple,omitempty"`
	Golden *float64 `json:"golden,omitempty"`
}

// ExpectVolts is the expectation table of a board file with an `analog:` section.
func ExpectVolts(ctx context.Context, files Files, path string, parts []string) (VoltsTable, finding.List, error) {
	ckt, fl := LoadBoard(files, path, parts)
	if ckt == nil {
		return VoltsTable{}, fl, nil
	}
	t := VoltsTable{Board: ckt.Board.Title, Rows: []VoltsRow{}}
	if ckt.Board.Analog == nil {
		fl.Errorf(finding.Pos{File: path}, "analog", "write an `analog:` section with `ground:` and `sources:`", "the board says nothing of its analogue half")
		return t, fl, nil
	}
	lab, more := NewAnalogLab(ckt, 0)
	fl = append(fl, more...)
	if lab == nil {
		return t, fl, nil
	}
	golden, more := goldenCase(files, path, nil)
	fl = append(fl, more...)
	if golden != nil {
		fl = append(fl, lab.Golden(golden)...)
	}
	rows, err := lab.Table(ctx)
	if err != nil {
		return t, fl, err
	}
	for _, r := range rows {
		row := VoltsRow{Net: ckt.NetName(r.Net), Volts: round(r.Volts, 4), Sigma: round(r.Sigma, 4), Low: round(r.Low, 4), High: round(r.High, 4)}
		if r.Pin != circuit.None {
			row.Pin = ckt.PinName(r.Pin)
			p := ckt.Pins[r.Pin]
			row.Name = ckt.Parts[p.Part].Type.Nodes[p.Node].Name
		}
		if !math.IsNaN(r.Ripple) {
			x := round(r.Ripple, 4)
			row.Ripple = &x
		}
		if !math.IsNaN(r.Golden) {
			x := r.Golden
			row.Golden = &x
		}
		t.Rows = append(t.Rows, row)
	}
	return t, fl, nil
}
