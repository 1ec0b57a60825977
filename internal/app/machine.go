package app

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/job"
	"halfsplit/internal/core/predict"
)

// Example is an invented machine with something wrong in it, which answers for itself: a newcomer can take it in and find the fault
// without a machine on the bench.
type Example struct {
	Name   string // folder/case
	Intake job.Intake
	Files  BoardFiles
	Faults []string // what is wrong: KIND@WHERE

	Symptoms []job.Entry // what the owner saw, as readings; of an analogue machine the figures are its own
}

// OfferExamples tells the desk which examples there are, in the order of a list.
func (d *Desk) OfferExamples(list []Example) { d.examples = list }

// Examples are the invented machines.
func (d *Desk) Examples() []Example { return d.examples }

// Example takes an invented machine in, with its board. Name "" takes the first.
func (d *Desk) Example(ctx context.Context, name, key string) (int64, error) {
	i := slices.IndexFunc(d.examples, func(e Example) bool { return name == "" || e.Name == name })
	if i < 0 {
		return 0, ErrNone
	}
	e := d.examples[i]
	v, fl, err := d.saveExample(ctx, e)
	if err != nil {
		return 0, err
	}
	if fl != "" {
		return 0, fmt.Errorf("the example %s has errors: %s", e.Name, fl)
	}
	in := e.Intake
	in.Example = e.Name
	id, err := d.Take(ctx, in, key)
	if err != nil {
		return 0, err
	}
	_, err = d.Record(ctx, id, key+".board", &job.BoardUsed{Version: v.ID, Title: v.Title, Number: v.Number, Parts: v.Parts})
	return id, err
}

// saveExample keeps the example's board, or finds the one that an earlier example job brought.
func (d *Desk) saveExample(ctx context.Context, e Example) (BoardVersion, string, error) {
	known, err := d.store.Boards(ctx)
	if err != nil {
		return BoardVersion{}, "", err
	}
	for _, b := range known {
		_, files, err := d.store.BoardVersion(ctx, b.ID)
		if err == nil && files.Text == e.Files.Text {
			return b, "", nil
		}
	}
	v, fl, err := d.SaveBoard(ctx, 0, e.Files)
	if err == nil && fl.Errors() {
		return v, fl[0].Text, nil
	}
	return v, "", err
}

// Invented tells whether a job is about a machine that can answer for itself.
func (d *Desk) Invented(j *job.Job) bool { return d.truth(j) != nil }

func (d *Desk) truth(j *job.Job) []string {
	for _, e := range d.examples {
		if j.Intake.Example == e.Name && j.Intake.Example != "" {
			return e.Faults
		}
	}
	return nil
}

// Symptoms enters what the owner of an invented machine complains of, as readings.
func (d *Desk) Symptoms(ctx context.Context, id int64, key string) error {
	o, err := d.open(ctx, id)
	if err != nil {
		return err
	}
	name := o.job.Intake.Example
	o.mu.Unlock()
	for _, e := range d.examples {
		if e.Name != name || name == "" {
			continue
		}
		list, err := d.symptomsOf(ctx, id, e)
		if err != nil {
			return err
		}
		for i := range list {
			if _, err := d.Record(ctx, id, fmt.Sprintf("%s.%d", key, i), &list[i]); err != nil {
				return err
			}
		}
		return nil
	}
	return Wrong{errInvented}
}

// AskMachine lets an invented machine answer a check, given as Check.Entries in JSON: the word or the figure that would be read there.
// An error says that the model cannot know.
func (d *Desk) AskMachine(ctx context.Context, id int64, entries string) (string, error) {
	o, err := d.open(ctx, id)
	if err != nil {
		return "", err
	}
	j := o.job.Clone()
	o.mu.Unlock()
	faults := d.truth(j)
	if faults == nil || j.Board.Version == 0 {
		return "", Wrong{errInvented}
	}
	l, err := d.loaded(ctx, j.Board.Version)
	if err != nil {
		return "", err
	}
	c := l.circuit
	if c == nil {
		return "", Wrong{errInvented}
	}
	var list []map[string]any
	if err := json.Unmarshal([]byte(entries), &list); err != nil {
		return "", Wrong{fmt.Errorf("the check came back damaged; load the page again")}
	}
	if c.Board.Analog != nil {
		i := slices.IndexFunc(d.examples, func(e Example) bool { return e.Name == j.Intake.Example })
		m, err := l.machineOf(ctx, d.examples[i])
		if err != nil {
			return "", err
		}
		return m.answer(ctx, j, list)
	}
	m := &machine{c: c, model: predict.New(c, 1)}
	for _, s := range faults {
		f, err := fault.Parse(c, s)
		if err != nil {
			return "", err
		}
		m.truth = append(m.truth, predict.Way{F: f})
	}
	for _, l := range j.Standing() {
		m.done(&l.Entry)
	}
	return m.answer(ctx, list)
}

var errInvented = fmt.Errorf("only an invented machine answers for itself")

// machine is a broken board on an invented bench. Repairs of the log end its faults.
type machine struct {
	c      *circuit.Circuit
	model  *predict.Model
	truth  []predict.Way
	lifted []int
}

// done takes in a repair.
func (m *machine) done(e *job.Entry) {
	ends := func(gone func(f fault.Fault) bool) {
		m.truth = slices.DeleteFunc(m.truth, func(w predict.Way) bool { return gone(w.F) })
	}
	joint := func(f fault.Fault) bool {
		_, ok := f.Joint(m.c)
		return ok || f.Kind == fault.NoSupply
	}
	for _, ref := range e.Replaced {
		if p, ok := m.c.PartByRef(ref); ok {
			ends(func(f fault.Fault) bool { return f.Part(m.c) == p })
			m.lifted = slices.DeleteFunc(m.lifted, func(q int) bool { return m.c.Pins[q].Part == p })
		}
	}
	for _, ref := range e.Reseated {
		if p, ok := m.c.PartByRef(ref); ok {
			ends(func(f fault.Fault) bool { return joint(f) && f.Part(m.c) == p && m.c.Parts[p].Src.Socketed })
		}
	}
	for _, at := range e.Resoldered {
		if p, _ := m.c.FindPlace(at); p.Pin != circuit.None {
			ends(func(f fault.Fault) bool {
				pin, ok := f.Joint(m.c)
				return ok && pin == p.Pin || f.Kind == fault.NoSupply && f.Part(m.c) == m.c.Pins[p.Pin].Part
			})
		}
	}
	for _, at := range e.Cleared {
		if p, _ := m.c.FindPlace(at); p.Net != circuit.None {
			ends(func(f fault.Fault) bool {
				_, other, bridge := f.Between(m.c)
				return f.Part(m.c) == circuit.None && (f.Net(m.c) == p.Net || bridge && other == p.Net)
			})
		}
	}
	for _, at := range e.Lifted {
		if p, _ := m.c.FindPlace(at); p.Pin != circuit.None && !slices.Contains(m.lifted, p.Pin) {
			m.lifted = append(m.lifted, p.Pin)
		}
	}
	for _, at := range e.Refitted {
		if p, _ := m.c.FindPlace(at); p.Pin != circuit.None {
			m.lifted = slices.DeleteFunc(m.lifted, func(q int) bool { return q == p.Pin })
		}
	}
	slices.Sort(m.lifted)
}

// answer does what the entries do to the board, and reads their open place.
func (m *machine) answer(ctx context.Context, list []map[string]any) (string, error) {
	for _, x := range list {
		e, reads, err := fill(x, "")
		if err != nil {
			return "", err
		}
		m.done(&e)
		if !reads {
			continue
		}
		if o := asMap(x["ohms"]); len(o) > 0 {
			return m.ohms(o)
		}
		set := predict.Setting{Lifted: m.lifted}
		for _, name := range e.Do {
			a, err := action(m.c, name)
			if err != nil {
				return "", Wrong{err}
			}
			set.Actions = append(set.Actions, a)
		}
		switch {
		case len(e.Read) > 0:
			return m.word(ctx, e.Do, e.Read[0].At)
		case len(e.See) > 0:
			return m.word(ctx, e.Do, e.See[0].At)
		}
		for at := range asMap(x["volts"]) {
			return m.volts(ctx, set, at)
		}
	}
	return "", nil
}

var errUnknowable = fmt.Errorf("the model cannot know what this would show: answer as you like, or choose another check")

func (m *machine) word(ctx context.Context, do []string, at string) (string, error) {
	req := ExpectRequest{Do: do, At: []string{at}}
	for _, w := range m.truth {
		req.Faults = append(req.Faults, w.F.String(m.c))
	}
	for _, p := range m.lifted {
		req.Lifted = append(req.Lifted, m.c.PinName(p))
	}
	e, err := Expect(ctx, m.c, req)
	if err != nil {
		return "", Wrong{err}
	}
	if e.At[at].Reading == "unknown" {
		return "", Wrong{errUnknowable}
	}
	return e.At[at].Reading, nil
}

func (m *machine) volts(ctx context.Context, set predict.Setting, at string) (string, error) {
	p, hint := m.c.FindPlace(at)
	if p.Net == circuit.None {
		return "", Wrong{fmt.Errorf("%s", hint)}
	}
	if n := m.c.Nets[p.Net]; n.Rail {
		return fmt.Sprintf("%.2f", n.Volts*0.995), nil // no supply is quite at its mark
	}
	want := predict.Want{Volts: []int{p.Net}, Pins: slices.Clone(set.Lifted)}
	for _, w := range m.truth {
		if w.F.Kind == fault.JointOpen && !m.c.Pins[w.F.A].Supply {
			want.Pins = append(want.Pins, w.F.A)
		}
	}
	sh, err := m.model.Pack([][]predict.Way{m.truth}).Show(ctx, set, want)
	if err != nil {
		return "", err
	}
	bells := sh[0].Volts(m.truth, p, 0)
	if len(bells) == 0 {
		return "", Wrong{errUnknowable}
	}
	best := bells[0]
	for _, b := range bells {
		if b.Weight > best.Weight {
			best = b
		}
	}
	return fmt.Sprintf("%.2f", best.Mean), nil
}

func (m *machine) ohms(o map[string]any) (string, error) {
	at, _ := o["at"].(string)
	to, _ := o["to"].(string)
	a, hintA := m.c.FindPlace(at)
	b, hintB := m.c.FindPlace(to)
	if a.Net == circuit.None || b.Net == circuit.None {
		return "", Wrong{fmt.Errorf("%s%s", hintA, hintB)}
	}
	x := m.model.Ohms(m.truth, m.lifted, a, b)
	switch {
	case x.Wide: // anything from some hundred ohms up: junctions under an unknown test current
		return "47k", nil
	case x.Log10 >= 6.5:
		return "open", nil
	}
	return fmt.Sprintf("%.3g", math.Pow(10, x.Log10)), nil
}
