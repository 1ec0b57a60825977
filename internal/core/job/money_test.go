package job

// Clocks and amounts.

import (
	"testing"
	"time"
)

// after gives the fact its event at a time of its own, as a clock that was set would.
func (b *bench) after(f Fact, at time.Time) {
	b.t.Helper()
	b.at = at
	b.add(f)
}

func TestTheTimerBelievesNoClockThatJumps(t *testing.T) {
	secs := func(n int64) *int64 { return &n }
	for _, c := range []struct {
		name string
		stop *Timer
		at   time.Duration // of the stop on the wall clock, after the start
		want time.Duration
	}{
		{"an ordinary stretch", &Timer{Stop: true}, 25 * time.Minute, 25 * time.Minute},
		{"the wall clock was set back", &Timer{Stop: true}, -3 * time.Hour, 0},
		{"the wall clock jumped a year", &Timer{Stop: true}, 365 * 24 * time.Hour, mostSpan},
		{"set back, but a clock that cannot be set ran along", &Timer{Stop: true, Seconds: secs(600)}, -3 * time.Hour, 10 * time.Minute},
		{"jumped, but a clock that cannot be set ran along", &Timer{Stop: true, Seconds: secs(600)}, 365 * 24 * time.Hour, 10 * time.Minute},
		{"a negative stretch", &Timer{Stop: true, Seconds: secs(-5)}, time.Hour, 0},
		{"another stage takes over", &Timer{Stage: "mend"}, 7 * time.Minute, 7 * time.Minute},
	} {
		b := newBench(t, radio())
		b.after(&Timer{Stage: "find"}, noon)
		b.after(c.stop, noon.Add(c.at))
		if got := b.j.Times["find"]; got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		if running := b.j.Running != nil; running == c.stop.Stop {
			t.Errorf("%s: running %v", c.name, running)
		}
		if b.j.Changed.Before(b.j.Opened) {
			t.Errorf("%s: changed %v before it was opened %v", c.name, b.j.Changed, b.j.Opened)
		}
	}
}

func TestMinutesAddedByHand(t *testing.T) {
	secs := func(n int64) *int64 { return &n }
	b := newBench(t, radio(), &Timer{Stage: "clean", Add: true, Seconds: secs(1800)}, &Timer{Stage: "clean", Add: true, Seconds: secs(-600)})
	if b.j.Times["clean"] != 20*time.Minute {
		t.Errorf("%v", b.j.Times["clean"])
	}
	b.add(&Timer{Stage: "clean", Add: true, Seconds: secs(-86400)})
	if b.j.Times["clean"] != 0 {
		t.Errorf("time below nothing: %v", b.j.Times["clean"])
	}
	b.refuses(&Timer{Stage: "clean", Add: true}, "can be added")
	b.refuses(&Timer{Stage: "clean", Add: true, Seconds: secs(86401)}, "can be added")
	b.refuses(&Timer{Stage: "clean", Add: true, Stop: true, Seconds: secs(1)}, "either typed in or stopped")
	b.refuses(&Timer{Stage: "tea", Add: true, Seconds: secs(1)}, "no stage")
	b.refuses(&Timer{Stop: true}, "no clock is running")
	b.add(&Timer{Stage: "find"})
	b.refuses(&StateMark{State: Finished}, "clock is still running")
	b.add(&StateMark{State: Waiting, Reason: "parts"})
}

func TestTheCostSoFarAddsUp(t *testing.T) {
	secs := int64(5400)
	b := newBench(t, radio(), &Terms{Rate: 4800, Fee: 3000, Currency: "EUR"}, &Timer{Stage: "find", Add: true, Seconds: &secs},
		&Used{Type: "74LS138", Count: 3, Each: 120}, &Cost{Text: "carriage", Amount: 950}, &Cost{Text: "goodwill", Amount: -500})
	// 30.00 + 1.5 h × 48.00 + 3 × 1.20 + 9.50 − 5.00
	if got := b.j.Spent(0); got != 3000+7200+360+950-500 {
		t.Errorf("%d", got)
	}
	if got := b.j.Spent(10 * time.Minute); got != 3000+8000+360+950-500 {
		t.Errorf("with ten minutes running: %d", got)
	}
	if b.j.Worked() != 90*time.Minute || b.j.PartsCost() != 360 {
		t.Errorf("%v, %d", b.j.Worked(), b.j.PartsCost())
	}
}

func TestTheLimitWarnsBeforeItIsPassed(t *testing.T) {
	for _, c := range []struct {
		terms      Terms
		spent      Money
		high       Money
		near, past bool
		will       bool
	}{
		{Terms{Limit: 10000}, 7999, 10000, false, false, false},
		{Terms{Limit: 10000}, 8000, 10000, true, false, false},
		{Terms{Limit: 10000, Warn: 50}, 5000, 10001, true, false, true},
		{Terms{Limit: 10000}, 10000, 10000, true, false, false},
		{Terms{Limit: 10000}, 10001, 12000, true, true, true},
		{Terms{}, 999999, 999999, false, false, false},
		{Terms{NoLimit: true}, 999999, 999999, false, false, false},
	} {
		j := &Job{Terms: c.terms}
		l := j.Limits(c.spent, Range{High: c.high})
		if l.Near != c.near || l.Passed != c.past || l.WillPass != c.will || l.Spent != c.spent {
			t.Errorf("%+v spent %d: %+v", c.terms, c.spent, l)
		}
	}
}
