package jobs

import (
	"net/http"
	"strings"

	"halfsplit/internal/core/job"
)

// saveSupply writes down a supply as found or as left: what was measured of voltage, ripple and current, each a reading of its own.
func (p *pages) saveSupply(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	rail, allowed := f.text("rail"), f.text("allowed")
	if rail == "" {
		f.mistake("which rail? Write its name, such as +5V")
	}
	var facts []job.Fact
	for _, q := range []struct {
		name, what, unit string
		low, high        float64
	}{{"volts", "voltage", " V", -1000, 1000}, {"ripple", "ripple", " mV", 0, 100000}, {"current", "current", " mA", 0, 100000}} {
		found, was := f.number(q.name+"-found", "the "+q.what+" as found", q.low, q.high)
		now, is := f.number(q.name+"-left", "the "+q.what+" as left", q.low, q.high)
		if !was && !is {
			continue
		}
		t := &job.Proof{Stage: "supply", What: rail + " " + q.what, Failed: f.text("failed") == "1"}
		if was {
			t.Before = plainNumber(found) + q.unit
		}
		if is {
			t.After = plainNumber(now) + q.unit
		}
		if q.name == "volts" {
			t.Limit = allowed
		}
		facts = append(facts, t)
	}
	if len(facts) == 0 && len(f.wrong) == 0 {
		f.mistake("nothing was measured: write at least one figure")
	}
	if f.text("failed") == "" {
		f.mistake("is it good or not? Choose one")
	}
	if err := f.err(); err != nil {
		return err
	}
	return p.record(w, r, "supply", facts...)
}

// railNames are the rails of the job's board, for the form.
func railNames(s stageView) []string {
	var out []string
	for _, name := range s.v.Progress.Rails {
		out = append(out, strings.TrimSpace(name))
	}
	return out
}
