package app

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/joint"
)

// Practice is a machine with a hidden fault that answers a person's questions. It keeps the log of what was asked, and counts.
type Practice struct {
	Board   string
	Checks  int     // readings asked for
	Minutes float64 // what they and the repairs would take at the bench

	c     *circuit.Circuit // as its logic sees it
	joint *joint.Board     // of a mixed board; else nil
	truth []fault.Fault
	costs advise.Costs
	log   []evidence.Entry
}

// practiceTries bounds the search for a fault that shows.
const practiceTries = 2000

// NewPractice breaks a board by chance, so that an indicator is wrong under some action. The same seed gives the same faults.
func NewPractice(ctx context.Context, c *circuit.Circuit, faults int, seed uint64) (*Practice, error) {
	p := &Practice{Board: c.Board.Title, c: c, costs: advise.DefaultCosts()}
	if len(c.Lamps) == 0 || len(c.Actions) == 0 {
		return nil, errors.New("practice needs a board with at least one indicator and one action")
	}
	x, _, err := mixed(ctx, c, nil, 0)
	if err != nil {
		return nil, err
	}
	pool := fault.Universe(c)
	if x != nil { // faults of either half
		p.joint, p.c, c, pool = x, x.C, x.C, slices.Clone(x.Ground.Faults)
	}
	pool = slices.DeleteFunc(pool, func(f fault.Fault) bool { return f.Kind == fault.PartErratic || f.Kind == fault.Value })
	odds := fault.Priors(c, pool, nil)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range practiceTries {
		p.truth = nil
		for len(p.truth) < faults {
			p.truth = append(p.truth, pool[pick(rng, odds)])
		}
		wrong, err := p.Wrong(ctx)
		if err != nil {
			return nil, err
		}
		if wrong != "" {
			return p, nil
		}
	}
	return nil, errors.New("hardly any fault of this board shows on an indicator under its actions")
}

func pick(rng *rand.Rand, odds []float64) int {
	total := 0.0
	for _, w := range odds {
		total += w
	}
	x := rng.Float64() * total
	for i, w := range odds {
		if x -= w; x <= 0 {
			return i
		}
	}
	return len(odds) - 1
}

// Wrong names the first action under which an indicator is surely wrong; "" when there is none.
func (p *Practice) Wrong(ctx context.Context) (string, error) {
	for _, a := range p.c.Actions {
		if a.FreeRun != circuit.None {
			continue // takes an adapter; a machine is brought in for what it does by itself
		}
		good, err := Expect(ctx, p.c, ExpectRequest{Do: []string{a.Name}, At: p.indicators()})
		if err != nil {
			return "", err
		}
		bad, err := Expect(ctx, p.c, p.request(a.Name, p.indicators()...))
		if err != nil {
			return "", err
		}
		for at, g := range good.At {
			if b := bad.At[at]; g.Reading != "unknown" && b.Reading != "unknown" && g.Reading != b.Reading {
				return a.Name, nil
			}
		}
	}
	return "", nil
}

func (p *Practice) request(do string, at ...string) ExpectRequest {
	q := ExpectRequest{At: at}
	if do != "" {
		q.Do = []string{do}
	}
	for _, f := range p.truth {
		q.Faults = append(q.Faults, f.String(p.c))
	}
	return q
}

// indicators are what an eye can read: digits, and lamps that are no segment.
func (p *Practice) indicators() []string {
	var out []string
	for _, l := range p.c.Lamps {
		if l.Seg == "" {
			out = append(out, l.Name)
		}
	}
	for _, d := range p.c.Digits {
		out = append(out, p.c.Parts[d.Part].Ref)
	}
	return out
}

// See looks at every indicator after an action, or after start when do is "", and writes it into the log.
func (p *Practice) See(ctx context.Context, do string) ([]evidence.Reading, error) {
	e, err := Expect(ctx, p.c, p.request(do, p.indicators()...))
	if err != nil {
		return nil, err
	}
	entry := p.entry(do)
	for _, at := range p.indicators() {
		if is := e.At[at].Reading; is != "unknown" {
			entry.See = append(entry.See, evidence.Reading{At: at, Is: is})
		}
	}
	p.note(entry, p.costs.See)
	return entry.See, nil
}

// Read puts the scope on a place during an action. What the model cannot know is unknown, and is not written down.
func (p *Practice) Read(ctx context.Context, place, do string) (string, error) {
	if at, hint := p.c.FindPlace(place); at.Net == circuit.None {
		return "", errors.New(hint)
	}
	e, err := Expect(ctx, p.c, p.request(do, place))
	if err != nil {
		return "", err
	}
	is := e.At[place].Reading
	entry := p.entry(do)
	if is != "unknown" {
		entry.Read = []evidence.Reading{{At: place, Is: is}}
	}
	p.note(entry, p.costs.Read)
	return is, nil
}

func (p *Practice) entry(do string) evidence.Entry {
	e := evidence.Entry{Index: len(p.log) + 1, Sure: evidence.DefaultSure}
	if do != "" {
		e.Do, e.HasDo = []string{do}, true
	}
	return e
}

func (p *Practice) note(e evidence.Entry, minutes float64) {
	p.Checks++
	p.Minutes += minutes
	if len(e.See)+len(e.Read) > 0 {
		p.log = append(p.log, e)
	}
}

// Fix repairs a part (a new one), a pin (resoldered) or a net (what shorts it is taken off). It says whether the machine now has no fault left.
func (p *Practice) Fix(what string) (works bool, err error) {
	e := p.entry("")
	pi, isPart := p.c.PartByRef(what)
	place, hint := p.c.FindPlace(what)
	minutes := p.costs.Resolder
	var ends func(fault.Fault) bool
	switch {
	case isPart:
		e.Replaced = []string{what}
		minutes = p.costs.Replace + p.costs.PerPin*float64(len(p.c.Parts[pi].Type.Pins))
		ends = func(f fault.Fault) bool { return f.Part(p.c) == pi }
	case place.Pin != circuit.None:
		e.Resolder = []string{p.c.PinName(place.Pin)}
		ends = func(f fault.Fault) bool {
			pin, ok := f.Joint(p.c)
			return ok && pin == place.Pin
		}
	case place.Net != circuit.None:
		ends = func(f fault.Fault) bool {
			_, other, bridge := f.Between(p.c)
			return f.Part(p.c) == circuit.None && (f.Net(p.c) == place.Net || bridge && other == place.Net)
		}
	default:
		return false, errors.New(hint)
	}
	p.Minutes += minutes
	p.truth = slices.DeleteFunc(p.truth, ends)
	if len(e.Replaced)+len(e.Resolder) > 0 {
		p.log = append(p.log, e)
	} else {
		p.log = nil // a case file cannot say that a net was mended: what was read before speaks of another machine
	}
	return len(p.truth) == 0, nil
}

// Advice is what the program makes of the log so far.
func (p *Practice) Advice(ctx context.Context) (Diagnosis, error) {
	k := &evidence.Case{Title: "practice", Have: evidence.Bench{Scope: true, Meter: true, Iron: true}, Log: p.log}
	b, fl := p.bench(k)
	if b == nil {
		return Diagnosis{}, fmt.Errorf("the log cannot be used: %v", fl)
	}
	return b.Diagnose(ctx, 0, 1)
}

func (p *Practice) bench(k *evidence.Case) (*Bench, finding.List) {
	if p.joint != nil {
		return NewJointBench(p.joint, k, p.costs)
	}
	return NewBench(p.c, k, 0, p.costs)
}

// Truth says what is really wrong.
func (p *Practice) Truth() []string {
	var out []string
	for _, f := range p.truth {
		out = append(out, f.Text(p.c))
	}
	return out
}

// Actions lists what can be done, as name and title.
func (p *Practice) Actions() [][2]string {
	var out [][2]string
	for _, a := range p.c.Actions {
		if a.Name == "" {
			continue
		}
		out = append(out, [2]string{a.Name, a.Title})
	}
	return out
}
