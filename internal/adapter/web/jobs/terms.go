package jobs

import (
	"net/http"
	"strconv"
	"strings"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// usualTerms are the shop's rate and currency.
func (p *pages) usualTerms(r *http.Request) job.Terms {
	rate, _ := strconv.ParseInt(p.Desk.SettingOr(r.Context(), "rate", ""), 10, 64) // what is no number counts as not set
	return job.Terms{Currency: p.Desk.SettingOr(r.Context(), "currency", ""), Rate: job.Money(max(0, rate))}
}

func (p *pages) terms(w http.ResponseWriter, r *http.Request) error {
	v, err := p.Desk.ViewSoon(r.Context(), shell.ID(r, "id"))
	if err != nil {
		return err
	}
	t := v.Job.Terms
	if t == (job.Terms{}) {
		t = p.usualTerms(r)
	}
	p.Render(w, r, http.StatusOK, termsPage(p.info(v, "terms", "Agreed"), v, t))
	return nil
}

func (p *pages) saveTerms(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	t := &job.Terms{Currency: f.text("currency"), Rate: f.amount("rate"), Fee: f.amount("fee"), Limit: f.amount("limit"), NoLimit: f.yes("no-limit"), How: f.text("how")}
	if warn, given := f.number("warn", "the share at which to warn", 1, 100); given {
		t.Warn = int(warn)
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "terms", t)
}

// quote notes what the owner was told: the figures that the page showed, not those of this moment.
func (p *pages) quote(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	q := &job.Quote{Median: job.Money(f.number64("median")), High: job.Money(f.number64("high")), Text: f.text("text")}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "", q)
}

func (p *pages) cost(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	c := &job.Cost{Text: f.text("text"), Amount: f.amount("amount")}
	if f.yes("off") && c.Amount > 0 {
		c.Amount = -c.Amount
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "terms", c)
}

func (p *pages) used(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	u := &job.Used{Ref: f.text("ref"), Type: f.text("type"), Count: 1, Each: f.amount("each"), Supplier: f.text("supplier"), Note: f.text("note")}
	if n, given := f.number("count", "the pieces", 1, 10000); given {
		if n != float64(int(n)) {
			f.mistake("the pieces: %s is no whole number", f.text("count"))
		}
		u.Count = int(n)
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "mend", u)
}

// fitted is a part that the log says was replaced and that no used part speaks of.
type fitted struct{ ref, kind string }

func fits(v *app.JobView) (out []fitted) {
	for _, ref := range v.Job.Unpriced() {
		x := fitted{ref: ref}
		if c := v.Probe.Circuit; c != nil {
			if p, ok := c.PartByRef(ref); ok {
				x.kind = c.Parts[p].Src.Type
			}
		}
		out = append(out, x)
	}
	return out
}

// repairs are the lines of the log about something done.
func repairs(v *app.JobView) (out []job.LogLine) {
	for _, l := range v.Job.Log {
		if l.Entry.Repairs() && !l.Gone {
			out = append(out, l)
		}
	}
	return out
}

// sum is a line of the reckoning of the cost.
type sum struct {
	what, how string
	amount    job.Money
}

// reckoning is the cost so far, line by line; the lines add up to Spent.
func reckoning(v *app.JobView) []sum {
	j, c := v.Job, v.Job.Terms.Currency
	var out []sum
	if j.Terms.Fee != 0 {
		out = append(out, sum{"Fixed fee", "as agreed", j.Terms.Fee})
	}
	how := shell.Hours(j.Worked()+v.Running) + " × " + shell.Amount(j.Terms.Rate, c) + " an hour"
	if v.Running > 0 {
		how += ", with the stretch that is going on"
	}
	out = append(out, sum{"Work", how, j.Labour(v.Running)})
	for _, u := range j.Used {
		out = append(out, sum{strings.TrimSpace(u.Type + " " + u.Ref), strconv.Itoa(u.Count) + " × " + shell.Amount(u.Each, c), job.Money(u.Count) * u.Each})
	}
	for _, x := range j.Costs {
		out = append(out, sum{x.Text, "", x.Amount})
	}
	return out
}

// plainAmount is an amount for a field; nothing for none.
func plainAmount(m job.Money) string {
	if m == 0 {
		return ""
	}
	return shell.Amount(m, "")
}
