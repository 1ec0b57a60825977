package app

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"
	"sync"

	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/job"
	"halfsplit/internal/core/joint"
	"halfsplit/internal/core/predict"
)

// An invented machine with both halves: its tolerances are drawn, its faults are in either half, and both answer as these faults make them stand.

// jointGround is a mixed board for invented machines. It serves one at a time, and is not the one that jobs are weighed on: that may be at work.
type jointGround struct {
	turn sync.Mutex
	x    *joint.Board
}

type jointMachine struct {
	g     *jointGround
	truth []predict.Way
	seed  uint64
}

// newJointMachine makes the machine of an example: the same name gives the same machine. Of the machines that chance makes it is the first that
// looks as the example says that it does.
func newJointMachine(ctx context.Context, g *jointGround, e Example) (*jointMachine, error) {
	m := &jointMachine{g: g}
	for _, s := range e.Faults {
		f, err := fault.Parse(g.x.C, s)
		if err != nil {
			return nil, err
		}
		m.truth = append(m.truth, predict.Way{F: f})
	}
	h := fnv.New64a()
	h.Write([]byte(e.Name))
	for i := range uint64(mildMachines) {
		m.seed = h.Sum64() + i
		fits, err := m.looks(ctx, e.Symptoms)
		if err != nil {
			return nil, err
		}
		if fits {
			return m, nil
		}
	}
	return nil, fmt.Errorf("no machine of %d with %v looks as the example %s says", mildMachines, e.Faults, e.Name)
}

// looks tells whether the machine's indicators are as the symptoms have them; what the model cannot know is.
func (m *jointMachine) looks(ctx context.Context, symptoms []job.Entry) (bool, error) {
	for _, s := range symptoms {
		for _, r := range s.See {
			is, known, err := m.read(ctx, nil, job.Entry{Do: s.Do, See: []job.Reading{r}})
			if err != nil || known && is != r.Is {
				return false, err
			}
		}
	}
	return true, nil
}

// brought are the readings with which it comes.
func (m *jointMachine) brought(_ context.Context, symptoms []job.Entry) ([]job.Entry, error) {
	return symptoms, nil
}

// answer does what the entries do to the machine as the job's log has left it, and reads their open place; "" when there is none.
func (m *jointMachine) answer(ctx context.Context, j *job.Job, list []map[string]any) (string, error) {
	var log []job.Entry
	for _, l := range j.Standing() {
		log = append(log, l.Entry)
	}
	for _, x := range list {
		e, reads, err := fill(x, "1")
		if err != nil {
			return "", err
		}
		if reads {
			for i := range e.Read {
				e.Read[i].Is = "low" // any word: it is about to be read
			}
			for i := range e.See {
				e.See[i].Is = "lit"
			}
			is, known, err := m.read(ctx, log, e)
			if err == nil && !known {
				err = Wrong{errUnknowable}
			}
			return is, err
		}
		log = append(log, e)
	}
	return "", nil
}

// read is what the one reading of an entry shows after a log; known is false where the model has no answer.
func (m *jointMachine) read(ctx context.Context, log []job.Entry, e job.Entry) (is string, known bool, err error) {
	m.g.turn.Lock()
	defer m.g.turn.Unlock()
	x := m.g.x
	left := machine{c: x.C, truth: slices.Clone(m.truth)}
	k := &evidence.Case{}
	for i := range log {
		left.done(&log[i])
		k.Log = append(k.Log, log[i].Evidence(i+1))
	}
	k.Log = append(k.Log, e.Evidence(len(log)+1))
	s, fl := x.Ground.Session(k)
	if s == nil {
		return "", false, Wrong{fmt.Errorf("%s", fl[0].Text)}
	}
	i := slices.IndexFunc(s.Obs, func(o diagnose.Obs) bool { return o.Entry == len(log) })
	if i < 0 {
		return "", false, nil
	}
	var faults []int
	for _, w := range left.truth {
		faults = append(faults, slices.Index(x.Ground.Faults, w.F))
	}
	if slices.Contains(faults, -1) {
		return "", false, fmt.Errorf("a fault of %v is none of this board's", m.truth)
	}
	u := x.NewUnit(faults, m.seed)
	u.Silent = true
	got, known, err := u.Answer(ctx, x.Asked(s, s.Obs[i]))
	if err != nil || !known {
		return "", false, err
	}
	return written(got), true, nil
}

// written is the one reading of an entry as a person would write it.
func written(e evidence.Entry) string {
	levels, figures := slices.Concat(e.Read, e.See), slices.Concat(e.Ripple, e.Current, e.ESR)
	switch {
	case len(levels) > 0:
		return levels[0].Is
	case len(e.Ohms) > 0 && (e.Ohms[0].Open || e.Ohms[0].Ohms >= openOhms):
		return "open"
	case len(e.Ohms) > 0:
		return shown(e.Ohms[0].Ohms)
	case len(e.Volts) > 0:
		return shown(e.Volts[0].Volts)
	case len(e.Wiper) > 0:
		return shown(e.Wiper[0].Volts)
	case len(figures) > 0:
		return shown(figures[0].Is)
	}
	return ""
}
