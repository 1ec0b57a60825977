package examples_test

// Every reading in every case is what the model predicts under the hidden faults, so that no case tells of a machine
// that cannot be.

import (
	"context"
	"math"
	"slices"
	"testing"

	"halfsplit/internal/app"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/predict"
)

func TestCasesAgreeWithAnswers(t *testing.T) {
	var all bench
	for _, m := range machines {
		c := boardOf(t, m.dir)
		truth, names := answers(t, c, m.dir)
		model := predict.New(c, 1)
		for _, name := range names {
			b := bench{t: t, c: c, m: model, name: m.dir + "/" + name, here: slices.Clone(truth[name])}
			k := loadCase(t, b.name)
			if n := len(k.Log); n < 2 || n > 10 {
				t.Errorf("%s: %d entries", b.name, n)
			}
			for _, e := range k.Log {
				b.entry(e)
			}
			all.checked += b.checked
			all.open += b.open
		}
	}
	if all.checked != 142 || all.open != 7 {
		t.Errorf("checked %d readings; %d that an erratic part leaves open", all.checked, all.open)
	}
}

// bench is one machine with its hidden faults while the log is played.
type bench struct {
	t             *testing.T
	c             *circuit.Circuit
	m             *predict.Model
	name          string
	here          []fault.Fault // still present
	lifted        []string
	checked, open int
}

// repairs ends the faults that an entry mends, and lifts and refits pins.
func (b *bench) repairs(e evidence.Entry) {
	for _, p := range e.Replaced {
		b.here = slices.DeleteFunc(b.here, func(f fault.Fault) bool { i, _ := b.c.PartByRef(p); return f.Part(b.c) == i })
	}
	for _, p := range e.Reseated {
		b.here = slices.DeleteFunc(b.here, func(f fault.Fault) bool {
			i, _ := b.c.PartByRef(p)
			return f.Kind == fault.JointOpen && f.Part(b.c) == i
		})
	}
	for _, p := range e.Resolder {
		b.here = slices.DeleteFunc(b.here, func(f fault.Fault) bool { return f.Kind == fault.JointOpen && f.At(b.c) == p })
	}
	b.lifted = append(b.lifted, e.Lifted...)
	b.lifted = slices.DeleteFunc(b.lifted, func(p string) bool { return slices.Contains(e.Refitted, p) })
}

func (b *bench) entry(e evidence.Entry) {
	b.repairs(e)
	for _, r := range append(slices.Clone(e.Read), e.See...) {
		b.word(e, r)
	}
	for _, v := range e.Volts {
		b.volts(e, v)
	}
	for _, o := range e.Ohms {
		b.ohms(e, o)
	}
}

func (b *bench) word(e evidence.Entry, r evidence.Reading) {
	req := app.ExpectRequest{Do: e.Do, At: []string{r.At}, Lifted: b.lifted}
	for _, f := range b.here {
		req.Faults = append(req.Faults, f.String(b.c))
	}
	got := expect(b.t, b.c, req)[r.At].Reading
	switch {
	case got == r.Is:
	case got == "unknown" && b.erratic():
		b.open++
	default:
		b.t.Errorf("%s, entry %d: %s is written as %s, the model says %s", b.name, e.Index, r.At, r.Is, got)
	}
	b.checked++
}

// volts insists on a voltage within two and a half spreads of one of the ways the level can come about.
func (b *bench) volts(e evidence.Entry, v evidence.Measured) {
	place, hint := b.c.FindPlace(v.At)
	if place.Net == circuit.None {
		b.t.Fatalf("%s, entry %d: %s", b.name, e.Index, hint)
	}
	want := predict.Want{Volts: []int{place.Net}}
	if place.Pin != circuit.None {
		want.Pins = []int{place.Pin}
	}
	shown, err := b.m.Pack([][]predict.Way{b.ways()}).Show(context.Background(), b.setting(e), want)
	if err != nil {
		b.t.Fatal(err)
	}
	bells := shown[0].Volts(b.ways(), place, 0)
	b.checked++
	if len(bells) == 0 && b.erratic() {
		b.open++
		return
	}
	if !slices.ContainsFunc(bells, func(x predict.Bell) bool { return math.Abs(v.Volts-x.Mean) <= 2.5*x.SD }) {
		b.t.Errorf("%s, entry %d: %g V at %s; the model says %v", b.name, e.Index, v.Volts, v.At, bells)
	}
}

// ohms insists on a resistance within two and a half spreads; where only junctions are in the way, on one above 200 Ω.
func (b *bench) ohms(e evidence.Entry, o evidence.Resistance) {
	from, hint := b.c.FindPlace(o.At)
	to, hint2 := b.c.FindPlace(o.To)
	if from.Net == circuit.None || to.Net == circuit.None {
		b.t.Fatalf("%s, entry %d: %s%s", b.name, e.Index, hint, hint2)
	}
	got := b.m.Ohms(b.ways(), b.setting(e).Lifted, from, to)
	fits := got.Wide && (o.Open || o.Ohms > 200)
	if !got.Wide && !o.Open {
		fits = math.Abs(math.Log10(o.Ohms)-got.Log10) <= 2.5*got.SD
	}
	if !fits {
		b.t.Errorf("%s, entry %d: %g Ω (open: %v) at %s; the model says %+v", b.name, e.Index, o.Ohms, o.Open, o.At, got)
	}
	b.checked++
}

// erratic tells whether a part is still there of which the model only knows that it misbehaves.
func (b *bench) erratic() bool {
	return slices.ContainsFunc(b.here, func(f fault.Fault) bool { return f.Kind == fault.PartErratic })
}

func (b *bench) ways() []predict.Way {
	var out []predict.Way
	for _, f := range b.here {
		out = append(out, predict.Way{F: f})
	}
	return out
}

func (b *bench) setting(e evidence.Entry) predict.Setting {
	var s predict.Setting
	for _, name := range e.Do {
		a, ok := b.c.ActionByName(name)
		if !ok {
			b.t.Fatalf("%s, entry %d: no action %s", b.name, e.Index, name)
		}
		s.Actions = append(s.Actions, a)
	}
	for _, p := range b.lifted {
		place, _ := b.c.FindPlace(p)
		s.Lifted = append(s.Lifted, place.Pin)
	}
	slices.Sort(s.Lifted)
	return s
}
