package app

import (
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"slices"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/job"
	"halfsplit/internal/core/unit"
)

// An invented analogue machine: what a meter shows on it is computed from its own parts, tolerances drawn and the fault patched in, with the
// error of a meter.

// meterError is half the range of what the meter of an invented bench is off (common practice of a hand-held meter, no source).
const meterError = 0.005

type analogMachine struct {
	m    *analog.Model
	lab  *analog.Lab
	unit *analog.Invented
}

// newAnalogMachine makes the machine of an example: the same name gives the same machine. Of the machines that chance makes it is the first that
// shows something wrong in what it was brought with. It has a lab of its own, for the job's may be at work.
func newAnalogMachine(ctx context.Context, l *loadedBoard, e Example) (*analogMachine, error) {
	lab, fl := NewAnalogLab(l.circuit, 0)
	if lab == nil {
		return nil, Wrong{fmt.Errorf("%s", fl[0].Text)}
	}
	var list []int
	for _, s := range e.Faults {
		f, err := lab.U.Find(s)
		if err != nil {
			return nil, err
		}
		list = append(list, f)
	}
	h := fnv.New64a()
	h.Write([]byte(e.Name))
	for i := range uint64(mildMachines) {
		m := &analogMachine{lab.U.M, lab, analog.NewInvented(lab, list, h.Sum64()+i, meterError)}
		shows, err := m.shows(ctx, e.Symptoms)
		if err != nil {
			return nil, err
		}
		if shows {
			return m, nil
		}
	}
	return nil, fmt.Errorf("no machine of %d with %v shows anything in what the example is brought with", mildMachines, e.Faults)
}

// mildMachines bounds the search for a machine whose fault is not too mild to show.
const mildMachines = 40

// shows tells whether a good board would not give some reading of the symptoms.
func (m *analogMachine) shows(ctx context.Context, symptoms []job.Entry) (bool, error) {
	k := &evidence.Case{}
	for _, s := range symptoms {
		x, err := m.measured(s)
		if err != nil {
			return false, err
		}
		k.Log = append(k.Log, x.Evidence(len(k.Log)+1))
	}
	s, fl := analog.NewSession(m.lab, k)
	if s == nil {
		return false, Wrong{fmt.Errorf("%s", fl[0].Text)}
	}
	lines, err := s.Account(ctx, analog.Story{})
	return slices.ContainsFunc(lines, func(l analog.Line) bool { return l.Surprise }), err
}

// inventedMachine is a machine of an example whose board has an analogue half.
type inventedMachine interface {
	// answer does what the entries do to the machine as the job's log has left it, and reads their open place; "" when there is none.
	answer(ctx context.Context, j *job.Job, list []map[string]any) (string, error)
	// brought are the symptoms of the example as this machine shows them.
	brought(ctx context.Context, symptoms []job.Entry) ([]job.Entry, error)
}

// machineOf is the machine of an example on this board, made once.
func (l *loadedBoard) machineOf(ctx context.Context, e Example) (inventedMachine, error) {
	b, err := l.board()
	if err != nil {
		return nil, err
	}
	l.expect.Lock()
	defer l.expect.Unlock()
	if m := l.machines[e.Name]; m != nil {
		return m, nil
	}
	var m inventedMachine
	if b.Joint == nil {
		m, err = newAnalogMachine(ctx, l, e)
	} else {
		if l.unit == nil {
			x, _, err := mixed(ctx, l.circuit, nil, 0)
			if err != nil {
				return nil, err
			}
			l.unit = &jointGround{x: x}
		}
		m, err = newJointMachine(ctx, l.unit, e)
	}
	if err != nil {
		return nil, err
	}
	if l.machines == nil {
		l.machines = map[string]inventedMachine{}
	}
	l.machines[e.Name] = m
	return m, nil
}

// answer does what the entries do to the machine as the job's log has left it, and reads their open place; "" when there is none.
func (m *analogMachine) answer(_ context.Context, j *job.Job, list []map[string]any) (string, error) {
	var log []evidence.Entry
	for _, l := range j.Standing() {
		log = append(log, l.Entry.Evidence(len(log)+1))
	}
	for _, x := range list {
		e, reads, err := fill(x, "1")
		if err != nil {
			return "", err
		}
		if reads {
			x, open, err := m.read(log, e)
			if open {
				return "open", err
			}
			return shown(x), err
		}
		log = append(log, e.Evidence(len(log)+1))
	}
	return "", nil
}

// read is what the meter shows for the first reading of an entry, after a log.
func (m *analogMachine) read(log []evidence.Entry, e job.Entry) (x float64, open bool, err error) {
	unit := m.unit.After(log)
	log = append(log, e.Evidence(len(log)+1))
	s, fl := analog.NewSession(m.lab, &evidence.Case{Log: log})
	if s == nil {
		return 0, false, Wrong{fmt.Errorf("%s", fl[0].Text)}
	}
	for _, o := range s.Obs {
		if o.Entry != len(log)-1 {
			continue
		}
		if x, ok := unit.Read(o.Check); ok {
			return x, o.Check.Kind == analog.Ohms && x >= openOhms, nil
		}
		break
	}
	return 0, false, Wrong{errUnknowable}
}

// openOhms is where a meter says that there is no path.
const openOhms = 19e6

// measured is an entry with the machine's own figures in place of those written.
func (m *analogMachine) measured(e job.Entry) (job.Entry, error) {
	var failed error
	ask := func(one job.Entry) (float64, bool) {
		one.Feed = e.Feed
		x, open, err := m.read(nil, one)
		if err != nil {
			failed = err
		}
		r, err := quantity(shown(x)) // as many digits as a meter has
		if err != nil {
			failed = err
		}
		return r, open
	}
	out := job.Entry{Feed: e.Feed, Note: e.Note}
	for _, r := range e.Volts {
		r.Volts, _ = ask(job.Entry{Volts: []job.Volts{r}})
		out.Volts = append(out.Volts, r)
	}
	for _, r := range e.Ohms {
		r.Ohms, r.Open = ask(job.Entry{Ohms: []job.Ohms{r}})
		out.Ohms = append(out.Ohms, r)
	}
	for _, r := range e.Current {
		r.Is, _ = ask(job.Entry{Current: []job.Amount{r}})
		out.Current = append(out.Current, r)
	}
	for _, r := range e.Ripple {
		r.Is, _ = ask(job.Entry{Ripple: []job.Amount{r}})
		out.Ripple = append(out.Ripple, r)
	}
	for _, r := range e.ESR {
		r.Is, _ = ask(job.Entry{ESR: []job.Amount{r}})
		out.ESR = append(out.ESR, r)
	}
	for _, r := range e.AC {
		r.Volts, _ = ask(job.Entry{AC: []job.Level{r}})
		out.AC = append(out.AC, r)
	}
	for _, r := range e.Gain {
		r.Is, _ = ask(job.Entry{Gain: []job.Gain{r}})
		out.Gain = append(out.Gain, r)
	}
	for _, r := range e.Wiper {
		r.Volts, _ = ask(job.Entry{Wiper: []job.Wiper{r}})
		out.Wiper = append(out.Wiper, r)
	}
	return out, failed
}

// shown is a figure as a meter of four digits shows it.
func shown(x float64) string {
	if x == 0 {
		return "0"
	}
	if a := math.Abs(x); a >= 1000 || a < 0.1 {
		return unit.Format(x)
	}
	return fmt.Sprintf("%.4g", x)
}

// symptomsOf are the readings with which an example comes. On an analogue machine their places count, and the machine says what they show.
func (d *Desk) symptomsOf(ctx context.Context, id int64, e Example) ([]job.Entry, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return nil, err
	}
	version := o.job.Board.Version
	o.mu.Unlock()
	l, err := d.loaded(ctx, version)
	if err != nil || l.circuit == nil || l.circuit.Board.Analog == nil {
		return e.Symptoms, err
	}
	m, err := l.machineOf(ctx, e)
	if err != nil {
		return nil, err
	}
	return m.brought(ctx, e.Symptoms)
}

// brought are the symptoms with the machine's own figures.
func (m *analogMachine) brought(_ context.Context, symptoms []job.Entry) ([]job.Entry, error) {
	var out []job.Entry
	for _, s := range symptoms {
		x, err := m.measured(s)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}
