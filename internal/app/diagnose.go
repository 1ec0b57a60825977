package app

import (
	"context"
	"path/filepath"
	"slices"
	"time"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/joint"
	"halfsplit/internal/core/predict"
)

// DiagnoseRequest asks what explains a case and what to do next.
type DiagnoseRequest struct {
	Case     string   // case file
	Parts    []string // parts files
	Top      int      // suspects listed; 0 means 20
	Accounts int      // leading suspects with an account; 0 means 6
	Workers  int      // goroutines; 0 means one per processor. The answer does not depend on it
	Costs    advise.Costs
}

// Diagnose reads a case with its board and ranks suspects and checks. The findings hold every warning; with an error among
// them the Diagnosis is empty.
func Diagnose(ctx context.Context, files Files, q DiagnoseRequest) (Diagnosis, finding.List, error) {
	began := time.Now()
	c, fl := files.Case(q.Case)
	if c == nil || fl.Errors() {
		return Diagnosis{}, fl, nil
	}
	if len(c.Log) == 0 {
		fl.Warnf(finding.Pos{File: q.Case}, "log", "write down what was seen: `- do: ACTION` and `see:` or `read:`", "the log is empty: the checks below are where to begin")
	}
	ckt, more := LoadBoard(files, filepath.Join(filepath.Dir(q.Case), c.Board), q.Parts)
	fl = append(fl, more...)
	if ckt == nil {
		return Diagnosis{}, fl, nil
	}
	var b *Bench
	if ckt.Board.Analog != nil {
		golden, more := goldenCase(files, filepath.Join(filepath.Dir(q.Case), c.Board), c)
		fl = append(fl, more...)
		x, more, err := mixed(ctx, ckt, golden, q.Workers)
		if x == nil && err == nil && !more.Errors() {
			return diagnoseAnalog(ctx, q, ckt, c, golden, fl, began)
		}
		fl = append(fl, more...)
		if x == nil {
			return Diagnosis{}, fl, err
		}
		b, more = NewJointBench(x, c, q.Costs)
		fl = append(fl, more...)
	} else {
		b, more = NewBench(ckt, c, q.Workers, q.Costs)
		fl = append(fl, more...)
	}
	if b == nil {
		return Diagnosis{}, fl, nil
	}
	d, err := b.Diagnose(ctx, q.Top, q.Accounts)
	d.Warnings = Rows(fl.Only(finding.Warning))
	d.ElapsedMS = float64(time.Since(began).Microseconds()) / 1000
	return d, fl, err
}

// Bench is a case in work: readings can be added and the ranking asked for again, at the cost of the new reading only.
type Bench struct {
	S      *diagnose.Session
	have   evidence.Bench
	costs  advise.Costs
	title  string
	advice *advise.Bench
	joint  *joint.Board // the halves of a mixed board; nil on most

	unpowered bool  // propose nothing that needs the power on
	blocked   []int // pins out of reach, ascending
	most      int   // checks wanted; 0 is the planner's usual
}

// NewBench starts work on a case. Zero costs mean the defaults.
func NewBench(ckt *circuit.Circuit, c *evidence.Case, workers int, costs advise.Costs) (*Bench, finding.List) {
	s, fl := diagnose.New(predict.New(ckt, workers), c)
	if s == nil {
		return nil, fl
	}
	if costs == (advise.Costs{}) {
		costs = advise.DefaultCosts()
	}
	return &Bench{S: s, have: c.Have, costs: costs, title: ckt.Board.Title}, fl
}

// Diagnose ranks the suspects of the log so far and chooses the next check.
func (b *Bench) Diagnose(ctx context.Context, top, accounts int) (Diagnosis, error) {
	if top == 0 {
		top = 20
	}
	if accounts == 0 {
		accounts = 6
	}
	res, err := b.S.Run(ctx)
	if err != nil {
		return Diagnosis{}, err
	}
	if b.advice == nil {
		b.advice, err = advise.NewBench(ctx, b.S, res, b.have, b.costs)
	} else {
		err = b.advice.Update(ctx, res)
	}
	if err != nil {
		return Diagnosis{}, err
	}
	b.advice.Unpowered, b.advice.Blocked = b.unpowered, b.blocked
	plan, err := b.advice.Plan(ctx, advise.Options{Most: b.most})
	if err != nil {
		return Diagnosis{}, err
	}
	v := viewer{b: b, c: b.S.M.C, res: res, plan: plan}
	return v.diagnosis(ctx, top, accounts)
}

type viewer struct {
	b    *Bench
	c    *circuit.Circuit
	res  *diagnose.Result
	plan *advise.Plan
}

func (v *viewer) diagnosis(ctx context.Context, top, accounts int) (Diagnosis, error) {
	s := v.b.S
	d := Diagnosis{Board: v.b.title, Case: s.Case.Title, Suspects: []Suspect{}, Parts: []Share{}, Next: []Check{}, Unexplained: []EntryNote{}, Healthy: v.res.Healthy, Rest: v.res.Rest}
	for _, c := range s.Conflicts() {
		d.Conflicts = append(d.Conflicts, Conflict{[2]int{s.Obs[c.A].Entry + 1, s.Obs[c.B].Entry + 1}, c.Text})
	}
	list := v.res.Suspects
	if v.res.Clean && len(v.res.Best.Faults) == 0 { // nothing seen since the last repair is wrong
		list = nil
		d.Rest = 1 - d.Healthy
	}
	looked := list[:min(max(accounts, 12), len(list))]
	acc, err := s.Accounts(ctx, append(slices.Clone(looked), v.healthy()))
	if err != nil {
		return d, err
	}
	explained, err := v.manyExplain(ctx, list[len(looked):], v.whole(looked, acc))
	if err != nil {
		return d, err
	}
	d.Explained = explained
	v.explain(&d, looked, acc)
	for i, u := range list[:min(top, len(list))] {
		x := Suspect{Probability: u.P, Lookalikes: v.plan.Groups[i]}
		for _, f := range u.Faults {
			x.Faults = append(x.Faults, v.present(u, f))
		}
		if i < accounts {
			x.Account = v.account(acc[i])
		}
		d.Suspects = append(d.Suspects, x)
	}
	for _, u := range list[min(top, len(list)):] {
		d.Rest += u.P
	}
	if list != nil {
		d.Parts = v.shares(list)
	}
	d.Cured = v.cured()
	d.Cautions = v.b.firstPower()
	for _, c := range v.plan.Checks {
		d.Next = append(d.Next, v.check(c))
	}
	return d, nil
}

// healthy is the story in which nothing is wrong now, with what was wrong before.
func (v *viewer) healthy() diagnose.Suspect {
	if len(v.res.Best.Faults) == 0 {
		return v.res.Best
	}
	return diagnose.Suspect{}
}

func (v *viewer) fault(f fault.Fault) FaultView {
	x := FaultView{Kind: f.Word(v.c), At: f.At(v.c), Text: f.Text(v.c)}
	if p := f.Part(v.c); p != circuit.None {
		x.Part = v.c.Parts[p].Ref
	}
	if n := f.Net(v.c); n != circuit.None {
		x.Net = v.c.NetName(n)
	}
	return x
}

// Suspects that account for the whole log explain it together, however little each of them has, when they hold this much; beside the leaders so many
// are looked at.
const (
	togetherExplain = 0.1
	beyondLeaders   = 60
)

// whole is the probability of the suspects that account for all of the log.
func (v *viewer) whole(us []diagnose.Suspect, acc [][]diagnose.Line) (p float64) {
	for i, u := range us {
		if !slices.ContainsFunc(acc[i], func(l diagnose.Line) bool { return !l.Fits }) {
			p += u.P
		}
	}
	return p
}

// manyExplain tells whether suspects with little probability each explain the log together. p is what those have that were looked at.
func (v *viewer) manyExplain(ctx context.Context, rest []diagnose.Suspect, p float64) (bool, error) {
	rest = rest[:min(beyondLeaders, len(rest))]
	left := 0.0
	for _, u := range rest {
		left += u.P
	}
	if p >= togetherExplain || p+left < togetherExplain {
		return p >= togetherExplain, nil
	}
	acc, err := v.b.S.Accounts(ctx, rest)
	if err != nil {
		return false, err
	}
	return p+v.whole(rest, acc) >= togetherExplain, nil
}

// explain says whether some leading suspect accounts for the whole log, and names the entries that none accounts for.
func (v *viewer) explain(d *Diagnosis, us []diagnose.Suspect, acc [][]diagnose.Line) {
	s := v.b.S
	fits := make([]bool, len(s.Obs)) // some leader accounts for it
	lost := map[int]int{}            // entry → observation that the best leader misses
	for i := range acc {
		p := v.res.Healthy
		if i < len(us) {
			p = us[i].P
		}
		whole := true
		for _, l := range acc[i] {
			fits[l.Obs] = fits[l.Obs] || l.Fits && p > 0.01
			whole = whole && l.Fits
			if !l.Fits && i == 0 {
				lost[s.Obs[l.Obs].Entry] = l.Obs
			}
		}
		if whole && p > 0.02 {
			d.Explained = true
		}
	}
	if len(d.Conflicts) > 0 { // one machine in one state cannot show both
		d.Explained = false
	}
	if d.Explained {
		return
	}
	note := func(o int) {
		e := s.Obs[o].Entry
		if !slices.ContainsFunc(d.Unexplained, func(n EntryNote) bool { return n.Entry == e+1 }) {
			d.Unexplained = append(d.Unexplained, EntryNote{e + 1, s.Case.Log[e].Pos.Line, s.Obs[o].At + " " + s.Obs[o].Seen})
		}
	}
	for _, c := range s.Conflicts() {
		note(c.A)
		note(c.B)
	}
	for o := range s.Obs {
		if !fits[o] {
			note(o)
		}
	}
	if len(d.Unexplained) == 0 {
		for o := range s.Obs {
			if x, ok := lost[s.Obs[o].Entry]; ok && x == o {
				note(o)
			}
		}
	}
}

func (v *viewer) account(lines []diagnose.Line) []Account {
	var out []Account
	s := v.b.S
	for _, l := range lines {
		o := s.Obs[l.Obs]
		a := Account{Entry: o.Entry + 1, What: v.what(o), Predicted: l.Predicted, Seen: o.Seen, Fits: l.Fits, Surprise: l.Surprise}
		for _, h := range l.Path {
			a.Path = append(a.Path, Hop{v.c.NetName(h.Net), h.Good.String(), h.Bad.String()})
		}
		out = append(out, a)
	}
	return out
}

func (v *viewer) what(o diagnose.Obs) string {
	kind := kindOf(o)
	do := ""
	for _, a := range o.Setting.Actions {
		do += v.c.Actions[a].Name + " "
	}
	if do == "" && o.Kind <= diagnose.Volts {
		do = "start "
	}
	return do + kind + " " + o.At
}

// shares names the seats that matter.
func (v *viewer) shares(list []diagnose.Suspect) []Share {
	out := []Share{}
	for _, x := range v.b.S.Shares(list) {
		switch {
		case x.P < 0.001:
		case x.Part != circuit.None:
			out = append(out, Share{Part: v.c.Parts[x.Part].Ref, Probability: x.P})
		default:
			out = append(out, Share{Net: v.c.NetName(x.Net), Probability: x.P})
		}
	}
	return out
}

// cured lists the faults of the likeliest story that a repair has ended.
func (v *viewer) cured() []FaultView {
	var out []FaultView
	for _, ch := range v.res.Best.Story {
		if ch.Dies <= v.b.S.Epoch() {
			out = append(out, v.fault(v.b.S.Faults[ch.Fault]))
		}
	}
	return out
}
