package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"halfsplit/internal/core/job"
)

// JobView is a job as its pages and its report show it.
type JobView struct {
	Job      *job.Job
	Rail     []job.StageView
	Cautions []job.Caution
	Progress job.Progress
	Running  time.Duration // of the stretch that is going on
	Spent    job.Money
	Range    job.Range
	Limit    job.Limit
	Probe    *ProbeView
}

// View computes everything about a job; it waits until that is done.
func (d *Desk) View(ctx context.Context, id int64) (*JobView, error) { return d.view(ctx, id, forever) }

// ViewSoon is View for a page: when the diagnosis takes long the view comes without it, and Probe.Working says so.
func (d *Desk) ViewSoon(ctx context.Context, id int64) (*JobView, error) {
	return d.view(ctx, id, patience)
}

func (d *Desk) view(ctx context.Context, id int64, patience time.Duration) (*JobView, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	p, err := d.probe(ctx, o, patience)
	if wrong := (Wrong{}); errors.As(err, &wrong) { // a log that does not fit its board must not close the other pages of the job
		p, err = &ProbeView{Job: o.job.Clone(), Gate: o.job.OpenCautions(job.Powered), IronGate: o.job.OpenCautions(job.Iron),
			Findings: []FindingRow{{Text: wrong.Error()}}, Log: logRows(o.job, nil)}, nil
	}
	if err != nil {
		return nil, err
	}
	v := &JobView{Job: p.Job, Cautions: o.job.CautionsOf(), Running: o.running(d.clock), Probe: p}
	v.Progress = Progress(o.job, p)
	if p.Working != nil && o.known != nil { // as it was when it was last known
		v.Progress = *o.known
	}
	v.Rail = o.job.Rail(v.Progress)
	if p.Working == nil {
		known := v.Progress
		o.known = &known
	}
	v.Spent = o.job.Spent(v.Running)
	v.Range = o.job.Estimate(d.outlook(ctx, o, v))
	v.Limit = o.job.Limits(v.Spent, v.Range)
	return v, nil
}

// Usual figures for what is not known yet; estimates with no published source.
const (
	usualPart    = 400  // price of a part, in hundredths
	openDoubt    = 6.0  // bits of doubt before anything was seen
	usualRepair  = 40.0 // minutes
	leastPerMin  = 0.05 // bits a minute: below this a technician stops reading and repairs
	mostPerMin   = 1.5
	leastBelieve = 1e-3
)

// outlook gathers what an estimate is made from: every suspect is one way the job can go on.
func (d *Desk) outlook(ctx context.Context, o *openJob, v *JobView) job.Outlook {
	out := job.Outlook{Running: v.Running}
	for _, s := range v.Rail {
		if len(s.Lacks) > 0 {
			out.Stages += d.stageMinutes(ctx, s.Stage)
		}
	}
	p := v.Probe
	if p.weighed == nil || v.Progress.Seen == 0 {
		out.Ways = []job.Ahead{{P: 1, Bits: openDoubt, Minutes: usualRepair, Parts: usualPart}}
		return out
	}
	if len(p.Diagnosis.Next) > 0 {
		n := p.Diagnosis.Next[0]
		out.BitsPerMin = min(mostPerMin, max(leastPerMin, n.Bits/n.Minutes))
	}
	price := job.Money(usualPart)
	if n, err := strconv.ParseInt(d.SettingOr(ctx, "part-price", ""), 10, 64); err == nil && n >= 0 {
		price = job.Money(n)
	}
	for _, g := range p.Groups {
		for _, i := range g.Suspects {
			s := p.Diagnosis.Suspects[i]
			w := job.Ahead{P: s.Probability, Bits: math.Log2(1 / max(g.Probability, leastBelieve))}
			for _, f := range s.Faults {
				m, ok := p.weighed.mendings[f.Kind+"@"+f.At]
				if !ok {
					continue
				}
				w.Minutes += m.Minutes
				if m.Kind == "replace" {
					w.Parts += price
				}
			}
			out.Ways = append(out.Ways, w)
		}
	}
	out.Ways = append(out.Ways, job.Ahead{P: p.Diagnosis.Healthy})
	if p.Diagnosis.Rest > 0 {
		out.Ways = append(out.Ways, job.Ahead{P: p.Diagnosis.Rest, Bits: openDoubt, Minutes: usualRepair, Parts: price})
	}
	return out
}

// stageMinutes is the usual time of a stage, or what the shop has set.
func (d *Desk) stageMinutes(ctx context.Context, s *job.Stage) float64 {
	if f, err := strconv.ParseFloat(d.SettingOr(ctx, "minutes-"+s.Name, ""), 64); err == nil && f >= 0 && f < 1e5 {
		return f
	}
	return s.Minutes
}

// Export is the job's log as a case file with its board files: what the command line reads.
func (d *Desk) Export(ctx context.Context, id int64) (map[string][]byte, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	out := map[string][]byte{}
	if o.job.Board.Version != 0 {
		l, err := d.loaded(ctx, o.job.Board.Version)
		if err != nil {
			return nil, err
		}
		out[BoardName] = []byte(l.files.Text)
		for name, data := range l.files.Files {
			out[name] = data
		}
	}
	text, err := d.texts.WriteCase(o.job.Case(BoardName))
	if err != nil {
		return nil, fmt.Errorf("the case cannot be written: %w", err)
	}
	out[fmt.Sprintf("job-%d.case.yaml", id)] = text
	return out, nil
}
