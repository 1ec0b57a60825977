package web_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfsplit/internal/adapter/cli"
	"halfsplit/internal/adapter/store"
	"halfsplit/internal/adapter/yamlfile"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// The workshop behind the page, with a real store and a clock that the test turns.

type clock struct {
	wall time.Time
	mono time.Duration
}

func (c *clock) pass(d time.Duration) { c.wall, c.mono = c.wall.Add(d), c.mono+d }

type bench struct {
	*app.Desk
	t     *testing.T
	clock *clock
	n     int
}

func newBench(t *testing.T) *bench {
	t.Helper()
	return openBench(t, filepath.Join(t.TempDir(), "halfsplit.db"))
}

func openBench(t *testing.T, file string) *bench {
	t.Helper()
	st, err := store.Open(context.Background(), file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	c := &clock{wall: time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC), mono: time.Hour}
	d := app.NewDesk(st, yamlfile.Texts{}, app.Clock{Now: func() time.Time { return c.wall }, Mono: func() time.Duration { return c.mono }})
	list, err := cli.ExampleJobs()
	if err != nil {
		t.Fatal(err)
	}
	d.OfferExamples(list)
	return &bench{Desk: d, t: t, clock: c}
}

// record writes a fact that must be taken.
func (b *bench) record(id int64, f job.Fact) int64 {
	b.t.Helper()
	seq, err := b.try(id, f)
	if err != nil {
		b.t.Fatalf("%T: %v", f, err)
	}
	return seq
}

func (b *bench) try(id int64, f job.Fact) (int64, error) {
	b.n++
	return b.Record(context.Background(), id, fmt.Sprint("key", b.n), f)
}

func (b *bench) probe(id int64) *app.ProbeView {
	b.t.Helper()
	v, err := b.Probe(context.Background(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return v
}

// example takes an invented machine in; with ticks, everything is made safe.
func (b *bench) example(name string, ticks bool) int64 {
	b.t.Helper()
	b.n++
	id, err := b.Example(context.Background(), name, fmt.Sprint("example", b.n))
	if err != nil {
		b.t.Fatal(err)
	}
	if ticks {
		for _, c := range job.Cautions {
			b.record(id, &job.Tick{Caution: c.Name})
		}
	}
	return id
}

// next is the check that the card shows, in the form in which its answer comes back; "" when there is none.
func next(v *app.ProbeView) string {
	if r := v.RailDue(); r != nil {
		return app.EntriesJSON(&app.Check{Entries: []map[string]any{{"volts": map[string]any{r.At: nil}}}})
	}
	if c := v.Card(); c != nil {
		return app.EntriesJSON(c)
	}
	return ""
}

// symptom enters what the owner saw.
func (b *bench) symptom(id int64) {
	b.t.Helper()
	b.n++
	if err := b.Symptoms(context.Background(), id, fmt.Sprint("symptom", b.n)); err != nil {
		b.t.Fatal(err)
	}
	if len(b.probe(id).Wrong) == 0 {
		b.t.Error("the symptoms are what a good board shows")
	}
}

// work follows the cards of an invented machine until everything reads as on a good board. What the model cannot know is passed over as
// out of reach.
func (b *bench) work(id int64, most int) (checks int) {
	b.t.Helper()
	for range most {
		v := b.probe(id)
		e := next(v)
		if e == "" || v.Diagnosis.Explained && v.Diagnosis.Healthy > 0.9 && len(v.Wrong) == 0 && checks > len(v.RailsGood) {
			return checks
		}
		checks++
		is, err := b.AskMachine(context.Background(), id, e)
		var unknown app.Wrong
		if errors.As(err, &unknown) {
			b.record(id, &job.Entry{Skipped: v.Card().At})
			continue
		}
		if err != nil {
			b.t.Fatal(err)
		}
		entries, err := app.Answer(e, is, false)
		if err != nil {
			b.t.Fatalf("%s answered %q: %v", e, is, err)
		}
		for i := range entries {
			b.record(id, &entries[i])
		}
	}
	return checks
}

// Every invented machine is repaired by following the cards: nothing is wrong in the end, and what was replaced or mended is what was broken.
func TestExamplesAreRepaired(t *testing.T) {
	b := newBench(t)
	done := 0
	for _, e := range b.Examples() {
		t.Run(e.Name, func(t *testing.T) {
			b := &bench{Desk: b.Desk, t: t, clock: b.clock, n: b.n + 1000*done}
			id := b.example(e.Name, true)
			b.symptom(id)
			n := b.work(id, 90)
			v := b.probe(id)
			t.Logf("%d checks; healthy %.2f, explained %v, still wrong %v, repairs %v", n, v.Diagnosis.Healthy, v.Diagnosis.Explained, v.Wrong, v.Changes)
			if v.Analog() && (len(v.Changes) == 0 || len(v.Changes) > 2) { // figures leave little to chance
				t.Errorf("repairs: %v; broken was %v", v.Changes, e.Faults)
			}
			if v.Diagnosis.Healthy < 0.9 || !v.Diagnosis.Explained {
				t.Errorf("after %d checks it is not mended: healthy %.2f, suspects %v", n, v.Diagnosis.Healthy, v.Diagnosis.Parts)
			}
		})
		done++
	}
	if done != 30 {
		t.Errorf("only %d examples", done)
	}
}

// Nothing that needs power is taken or proposed before its cautions are ticked.
func TestGate(t *testing.T) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", false)
	_, err := b.try(id, &job.Entry{Do: []string{"call-2"}, See: []job.Reading{{At: "LP2", Is: "lit"}}})
	if err == nil || !strings.Contains(err.Error(), "not ticked") {
		t.Errorf("a powered reading was taken before the gate: %v", err)
	}
	v := b.probe(id)
	if len(v.Gate) == 0 {
		t.Fatal("there is no gate")
	}
	powerless := 0
	for _, c := range v.Diagnosis.Next {
		if c.Kind != "ohms" {
			t.Errorf("%s at %s is proposed with the gate closed", c.Kind, c.At)
		}
		powerless++
	}
	if powerless == 0 {
		t.Error("nothing at all is proposed with the power off")
	}
	b.record(id, &job.Entry{Ohms: []job.Ohms{{At: "UPGO", To: "GND", Ohms: 22}}})
	for _, c := range job.Cautions {
		for _, w := range c.Before {
			if w == job.Powered {
				b.record(id, &job.Tick{Caution: c.Name})
			}
		}
	}
	v = b.probe(id)
	kinds := map[string]bool{}
	for _, c := range v.Diagnosis.Next {
		kinds[c.Kind] = true
	}
	if len(v.Gate) > 0 || !kinds["read"] && !kinds["volts"] && !kinds["see"] {
		t.Errorf("with the gate open %v is proposed", kinds)
	}
	if kinds["lift"] || kinds["replace"] {
		t.Error("the iron is proposed before its cautions are ticked")
	}
}

// The same form sent again is taken once; another window's writing does not get lost.
func TestKeysAndWindows(t *testing.T) {
	file := filepath.Join(t.TempDir(), "halfsplit.db")
	b := openBench(t, file)
	id := b.example("lift-panel/never-goes-up", true)
	ctx := context.Background()
	look := &job.Entry{Do: []string{"call-2"}, See: []job.Reading{{At: "LP2", Is: "lit"}}}
	first, err := b.Record(ctx, id, "same", look)
	if err != nil {
		t.Fatal(err)
	}
	again, err := b.Record(ctx, id, "same", look)
	if err != nil || again != first {
		t.Errorf("sent again it became entry %d (%v), was %d", again, err, first)
	}
	other := app.NewDesk(b.Store(), yamlfile.Texts{}, app.RealClock())
	if _, err := other.Record(ctx, id, "other", &job.Entry{Do: []string{"call-2"}, See: []job.Reading{{At: "LD1", Is: "dark"}}}); err != nil {
		t.Fatal(err)
	}
	ch, end, err := b.Watch(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	defer end()
	b.record(id, &job.Entry{Do: []string{"call-2"}, See: []job.Reading{{At: "K1", Is: "dark"}}})
	v := b.probe(id)
	if n := len(v.Job.Standing()); n != 3 {
		t.Errorf("%d lines stand in the log, want 3", n)
	}
	select {
	case <-ch:
	default:
		t.Error("the other window was not told")
	}
}

// Taking back and correcting change the ranking and erase nothing.
func TestUndoAndCorrect(t *testing.T) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", true)
	b.record(id, &job.Entry{Do: []string{"call-2"}, See: []job.Reading{{At: "LP2", Is: "lit"}, {At: "LD1", Is: "dark"}}})
	before := b.probe(id).Diagnosis
	seq := b.record(id, &job.Entry{Do: []string{"call-2"}, Read: []job.Reading{{At: "UPGO", Is: "high"}}})
	changed := b.probe(id).Diagnosis
	b.record(id, &job.Retract{Entry: seq, Reason: "probe slipped"})
	after := b.probe(id).Diagnosis
	if fmt.Sprint(before.Parts) != fmt.Sprint(after.Parts) {
		t.Errorf("taking an entry back leaves %v, was %v", after.Parts, before.Parts)
	}
	if fmt.Sprint(changed.Parts) == fmt.Sprint(before.Parts) {
		t.Error("the reading changed nothing: the test shows nothing")
	}
	b.record(id, &job.Correct{Entry: seq, By: job.Entry{Do: []string{"call-2"}, Read: []job.Reading{{At: "UPGO", Is: "low"}}}})
	v := b.probe(id)
	l := v.Job.Log[len(v.Job.Log)-1]
	if l.Gone || len(l.Earlier) != 1 || l.Earlier[0].Read[0].Is != "high" || l.Entry.Read[0].Is != "low" {
		t.Errorf("the corrected line is %+v", l)
	}
	for _, wrong := range []job.Fact{
		&job.Correct{Entry: 999, By: job.Entry{Note: "x"}},
		&job.Correct{Entry: seq, By: job.Entry{Read: []job.Reading{{At: "U99.1", Is: "low"}}}},
		&job.Retract{Entry: 999},
		&job.Entry{Read: []job.Reading{{At: "UPGO", Is: "wobbly"}}},
		&job.Entry{See: []job.Reading{{At: "LP2", Is: "7"}}},
		&job.Entry{Do: []string{"fly"}, See: []job.Reading{{At: "LP2", Is: "lit"}}},
		&job.Entry{Volts: []job.Volts{{At: "UPGO", Volts: 1e9}}},
		&job.Entry{Ohms: []job.Ohms{{At: "UPGO", To: "GND", Ohms: -4}}},
		&job.Entry{},
	} {
		var w app.Wrong
		if _, err := b.try(id, wrong); !errors.As(err, &w) {
			t.Errorf("%+v was answered with %v", wrong, err)
		}
	}
	if n := len(b.probe(id).Job.Log); n != 2 {
		t.Errorf("the log has %d lines, want 2", n)
	}
}

// A clock that jumps neither loses nor invents hours.
func TestTimerAndClock(t *testing.T) {
	b := newBench(t)
	id := b.example("", true)
	b.record(id, &job.Timer{Stage: "find"})
	b.clock.pass(20 * time.Minute)
	b.clock.wall = b.clock.wall.Add(-5 * time.Hour)
	b.record(id, &job.Timer{Stage: "mend"})
	b.clock.pass(10 * time.Minute)
	b.clock.wall = b.clock.wall.Add(700 * time.Hour)
	b.record(id, &job.Timer{Stop: true})
	v, err := b.View(context.Background(), id)
	if err != nil {
		t.Fatal(err)
	}
	if f, m := v.Job.Times["find"], v.Job.Times["mend"]; f != 20*time.Minute || m != 10*time.Minute {
		t.Errorf("find %v, mend %v; want 20 and 10 minutes", f, m)
	}
}
