package joint

import (
	"context"
	"slices"
	"strings"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
)

// The readings that the analogue half weighs, and what each set of faults shows there.

// log is the analogue half of one case.
type log struct {
	b    *Board
	s    *analog.Session
	pins []int // per reading: the pin that was named, or None

	widths map[int]float64 // reading → spread of it on the sound board, given those before
}

// Theirs tells whether volts and ohms at a net are the analogue half's.
func (b *Board) Theirs(net int) bool {
	return net < len(b.A.Split.Net) && b.A.Split.Here(net) && b.A.Node(net) >= 0
}

// takes tells whether a place is one where the analogue half weighs volts or ohms.
func (l *log) takes(at string) (pin int, mine bool) {
	p, _ := l.b.C.FindPlace(at)
	if p.Net != circuit.None {
		return p.Pin, l.b.Theirs(p.Net)
	}
	pi, ok := l.b.C.PartByRef(at) // across a part with two legs
	return circuit.None, ok && slices.ContainsFunc(l.b.A.Devices, func(d analog.Device) bool { return d.Part == pi })
}

// Take splits an entry: volts and ohms where the analogue half solves, and whatever only it understands.
func (l *log) Take(e evidence.Entry) ([]diagnose.Seen, evidence.Entry, finding.List) {
	mine, rest := e, e
	mine.Do, mine.HasDo, mine.Read, mine.See, mine.Volts, mine.Ohms = nil, false, nil, nil, nil, nil
	rest.Volts, rest.Ohms, rest.Current, rest.Ripple, rest.ESR, rest.AC, rest.Gain, rest.Wiper, rest.Feed = nil, nil, nil, nil, nil, nil, nil, nil, nil
	var pins []int
	for _, v := range e.Volts {
		if pin, ok := l.takes(v.At); ok || e.Feed != nil {
			mine.Volts = append(mine.Volts, v)
			pins = append(pins, pin)
		} else {
			rest.Volts = append(rest.Volts, v)
		}
	}
	for _, r := range e.Ohms {
		_, ok1 := l.takes(r.At)
		_, ok2 := l.takes(r.To)
		if ok1 && ok2 {
			mine.Ohms = append(mine.Ohms, r)
		} else {
			rest.Ohms = append(rest.Ohms, r)
		}
	}
	first := len(l.s.Obs)
	fl := l.s.Add(mine)
	if !fl.Errors() && len(l.s.Obs) == first {
		fl = nil // what was lifted or repaired, the logic's own reader judges
	}
	var out []diagnose.Seen
	for i, o := range l.s.Obs[first:] {
		pin := circuit.None
		if o.Check.Kind == analog.Volts && i < len(pins) && len(pins) == len(l.s.Obs)-first {
			pin = pins[i]
		}
		l.pins = append(l.pins, pin)
		out = append(out, diagnose.Seen{What: o.Check.Kind.String(), At: o.At, Is: o.Seen()})
	}
	return out, rest, fl
}

// exactSets is how many sets of several analogue faults are solved together for one reading; beyond, what each moves alone is added up. On the mains
// each is a transient.
func (l *log) exactSets() int {
	if l.b.A.Mains {
		return 5
	}
	return 1500
}

// shows gives what every hypothesis of a question shows in a check. exact is how many sets of several analogue faults are solved together.
func (l *log) shows(ctx context.Context, k analog.Check, pin int, q diagnose.Question, exact int) ([]analog.Prediction, error) {
	type state struct {
		drive string
		hyps  []int
	}
	states := make([]state, len(q.Hyps))
	want := map[string][]int{}
	var drives []string
	for h := range q.Hyps {
		if q.Ask != nil && !q.Ask(h) {
			continue
		}
		d := l.b.drive(q, h)
		if k.PowerOff() {
			d = analog.Dead(d)
		}
		states[h] = state{d, l.b.hyps(q.Hyps[h])}
		if _, ok := want[d]; !ok {
			drives = append(drives, d)
		}
		want[d] = append(want[d], states[h].hyps...)
		if want[d] == nil {
			want[d] = []int{}
		}
	}
	for _, d := range drives {
		slices.Sort(want[d])
		for _, sure := range settled(d) {
			k.Cond.Drive = sure
			if _, err := l.b.Lab.Predict(ctx, k, slices.Compact(want[d])); err != nil {
				return nil, err
			}
		}
	}
	out := make([]analog.Prediction, len(q.Hyps))
	for h := range q.Hyps {
		if q.Ask != nil && !q.Ask(h) {
			continue
		}
		if l.cut(q.Hyps[h], pin) {
			out[h] = analog.Prediction{Mu: 1, Sigma: 0.8, Known: true} // fed backwards through the chip's inputs
			continue
		}
		if len(states[h].hyps) > 1 {
			exact--
		}
		var err error
		if out[h], err = l.one(ctx, k, states[h].drive, states[h].hyps, exact >= 0); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// settled gives a drive with its doubtful signs one way and the other.
func settled(drive string) []string {
	if !strings.ContainsRune(drive, analog.Doubtful) {
		return []string{drive}
	}
	return []string{strings.ReplaceAll(drive, string(analog.Doubtful), string(analog.OutLow)), strings.ReplaceAll(drive, string(analog.Doubtful), string(analog.OutHigh))}
}

// one is what a set shows; nothing is known where doubtful levels make a difference.
func (l *log) one(ctx context.Context, k analog.Check, drive string, hyps []int, exact bool) (analog.Prediction, error) {
	var out analog.Prediction
	for i, d := range settled(drive) {
		k.Cond.Drive = d
		ask := l.b.Lab.Of
		if !exact && len(hyps) > 1 {
			ask = l.b.Lab.Guess
		}
		p, err := ask(ctx, hyps, k)
		if err != nil {
			return p, err
		}
		if i > 0 && (!p.Known || !out.Known || p.Mu-out.Mu > out.Sigma || out.Mu-p.Mu > out.Sigma) {
			return analog.Prediction{}, nil
		}
		out = p
	}
	return out, nil
}

// hyps are the analogue faults of a set, as the lab numbers them.
func (b *Board) hyps(set []predict.Way) []int {
	var out []int
	for _, w := range set {
		if w.F.Kind == fault.Other {
			out = append(out, b.Lab.Hyp(w.F.A, w.Mode))
		}
	}
	slices.Sort(out)
	return out
}

// cutAnywhere tells whether a set takes some named supply pin off its rail.
func (l *log) cutAnywhere(set []predict.Way) bool {
	return slices.ContainsFunc(l.pins, func(pin int) bool { return l.cut(set, pin) })
}

// cut tells whether a set takes a supply pin off its rail.
func (l *log) cut(set []predict.Way, pin int) bool {
	if pin == circuit.None || !l.b.C.Pins[pin].Supply {
		return false
	}
	return slices.ContainsFunc(set, func(w predict.Way) bool {
		return w.F.Kind == fault.NoSupply && w.F.A == l.b.C.Pins[pin].Part || w.F.Kind == fault.JointOpen && w.F.A == pin
	})
}

// Tell says in words what each set shows.
func (l *log) Tell(ctx context.Context, reading int, q diagnose.Question) ([]string, []bool, error) {
	o := l.s.Obs[reading]
	ps, err := l.shows(ctx, o.Check, l.pins[reading], q, l.exactSets())
	if err != nil {
		return nil, nil, err
	}
	texts, fits := make([]string, len(ps)), make([]bool, len(ps))
	for h, p := range ps {
		texts[h], fits[h] = analog.About(o.Check, p), o.Fits(p)
	}
	return texts, fits, nil
}

// Reading is a reading that the analogue half took from a log of this board, with its place as written.
func (b *Board) Reading(of diagnose.Log, i int) (analog.Check, string) {
	l, ok := of.(*log)
	if !ok || i >= len(l.s.Obs) {
		return analog.Check{}, ""
	}
	return l.s.Obs[i].Check, l.s.Obs[i].At
}
