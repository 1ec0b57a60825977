package job

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Money is an amount in the hundredth part of the shop's currency.
type Money int64

// mostMoney catches a slip of the finger: ten million in any currency.
const mostMoney = Money(1e9)

// Used is a part that was fitted.
type Used struct {
	Ref      string `json:"ref,omitempty"` // where it was fitted
	Type     string `json:"type"`
	Count    int    `json:"count"`
	Each     Money  `json:"each"`
	Supplier string `json:"supplier,omitempty"`
	Note     string `json:"note,omitempty"` // batch, tested before fitting …
}

// UsedLine is a part used, with its number; see Strike for taking it back.
type UsedLine struct {
	Used
	Seq int64
}

func (*Used) kind() string { return "used" }
func (f *Used) check(*Job) error {
	switch {
	case strings.TrimSpace(f.Type) == "":
		return errors.New("the part has no type: write what was fitted, such as 74LS138 or 1000 µF 25 V")
	case f.Count < 1 || f.Count > 10000:
		return fmt.Errorf("%d pieces: from 1 to 10000", f.Count)
	case f.Each < 0 || f.Each > mostMoney:
		return errors.New("the price is negative or absurd")
	}
	return errors.Join(tooLong("the place", f.Ref, shortText), tooLong("the type", f.Type, shortText), tooLong("the note", f.Note, shortText), tooLong("the supplier", f.Supplier, shortText))
}
func (f *Used) apply(j *Job, e Event) { j.Used = append(j.Used, UsedLine{*f, e.Seq}) }

// Cost is another amount on the bill: carriage, cleaning, a fee; negative for what is taken off.
type Cost struct {
	Text   string `json:"text"`
	Amount Money  `json:"amount"`
}

// CostLine is a cost with its number.
type CostLine struct {
	Cost
	Seq int64
}

func (*Cost) kind() string { return "cost" }
func (f *Cost) check(*Job) error {
	switch {
	case strings.TrimSpace(f.Text) == "":
		return errors.New("the amount has no text: what is it for?")
	case f.Amount == 0:
		return errors.New("the amount is nothing")
	case f.Amount > mostMoney || f.Amount < -mostMoney:
		return errors.New("the amount is absurd")
	}
	return tooLong("the text", f.Text, shortText)
}
func (f *Cost) apply(j *Job, e Event) { j.Costs = append(j.Costs, CostLine{*f, e.Seq}) }

// Terms are what was agreed with the owner. The last ones hold.
type Terms struct {
	Currency string `json:"currency"`
	Rate     Money  `json:"rate"`            // for an hour of work
	Fee      Money  `json:"fee,omitempty"`   // fixed: inspection, bench fee
	Limit    Money  `json:"limit,omitempty"` // authorised; 0 with NoLimit false means not agreed yet
	NoLimit  bool   `json:"no_limit,omitempty"`
	Warn     int    `json:"warn,omitempty"` // per cent of the limit at which to warn; 0 means 80
	How      string `json:"how,omitempty"`  // by which message, on which day
}

func (*Terms) kind() string { return "terms" }
func (f *Terms) check(*Job) error {
	for _, m := range []struct {
		what   string
		amount Money
	}{{"the hourly rate", f.Rate}, {"the fee", f.Fee}, {"the limit", f.Limit}} {
		if m.amount < 0 || m.amount > mostMoney {
			return fmt.Errorf("%s is negative or absurd", m.what)
		}
	}
	if f.NoLimit && f.Limit > 0 {
		return errors.New("there is either a limit or none: take the amount out, or the tick")
	}
	if f.Warn < 0 || f.Warn > 100 {
		return errors.New("the warning comes at 1 to 100 per cent of the limit")
	}
	return errors.Join(tooLong("the currency", f.Currency, 8), tooLong("how it was agreed", f.How, shortText))
}
func (f *Terms) apply(j *Job, _ Event) { j.Terms = *f }

// Quote is an estimate that was told to the owner.
type Quote struct {
	Median Money  `json:"median"`
	High   Money  `json:"high"` // 80th percentile
	Text   string `json:"text,omitempty"`
}

// QuoteLine is a quote with its time.
type QuoteLine struct {
	Quote
	Seq int64
	At  time.Time
}

func (*Quote) kind() string { return "quote" }
func (f *Quote) check(*Job) error {
	if f.Median < 0 || f.High < f.Median || f.High > mostMoney {
		return errors.New("an estimate goes from its median up to its 80th percentile")
	}
	return tooLong("the text", f.Text, shortText)
}
func (f *Quote) apply(j *Job, e Event) { j.Quotes = append(j.Quotes, QuoteLine{*f, e.Seq, e.At}) }

// Span is a stretch of work that is going on.
type Span struct {
	Stage string
	Since time.Time
}

// Timer starts or stops the clock of a stage. Seconds is how long the stretch lasted by a clock that cannot be set, when the program knows
// it; otherwise the times of the events tell.
type Timer struct {
	Stage   string `json:"stage"`
	Stop    bool   `json:"stop,omitempty"`
	Seconds *int64 `json:"seconds,omitempty"`
	Add     bool   `json:"add,omitempty"` // Seconds were typed in: time worked away from the page, or taken off
}

// mostSpan is the longest stretch believed without a running clock to prove it: a forgotten timer, or a clock that jumped.
const mostSpan = 12 * time.Hour

func (*Timer) kind() string { return "timer" }
func (f *Timer) check(j *Job) error {
	switch {
	case f.Add && f.Stop:
		return errors.New("time is either typed in or stopped by the clock")
	case StageByName(f.Stage) == nil && !f.Stop:
		return fmt.Errorf("there is no stage %q", f.Stage)
	case f.Stop && !f.Add && j.Running == nil:
		return errors.New("no clock is running, perhaps it was stopped in another window")
	case f.Add && (f.Seconds == nil || *f.Seconds > 86400 || *f.Seconds < -86400):
		return errors.New("between minus 24 and 24 hours can be added at once")
	}
	return nil
}
func (f *Timer) apply(j *Job, e Event) {
	if f.Add {
		j.Times[f.Stage] = max(0, j.Times[f.Stage]+time.Duration(*f.Seconds)*time.Second)
		return
	}
	if j.Running != nil {
		d := min(max(0, e.At.Sub(j.Running.Since)), mostSpan)
		if f.Seconds != nil {
			d = time.Duration(max(0, *f.Seconds)) * time.Second
		}
		j.Times[j.Running.Stage] += d
		j.Running = nil
	}
	if !f.Stop {
		j.Running = &Span{f.Stage, e.At}
	}
}

// Worked is the time of all stages, closed spans only.
func (j *Job) Worked() time.Duration {
	var sum time.Duration
	for _, d := range j.Times {
		sum += d
	}
	return sum
}

// PartsCost is what the parts used come to.
func (j *Job) PartsCost() Money {
	var sum Money
	for _, u := range j.Used {
		sum += Money(u.Count) * u.Each
	}
	return sum
}

// Labour is the worked time at the agreed rate, and extra time beside it.
func (j *Job) Labour(extra time.Duration) Money {
	return Money((j.Worked()+extra).Seconds()*float64(j.Terms.Rate)/3600 + 0.5)
}

// Spent is the cost so far: fee, labour, parts and other costs.
func (j *Job) Spent(running time.Duration) Money {
	sum := j.Terms.Fee + j.Labour(running) + j.PartsCost()
	for _, c := range j.Costs {
		sum += c.Amount
	}
	return sum
}
