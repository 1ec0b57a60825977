package shell

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"halfsplit/internal/app"
	"halfsplit/internal/core/job"
)

// How amounts, times and likelihoods are written on every page.

// Amount writes money with its currency: 12.50 EUR.
func Amount(m job.Money, currency string) string { return app.MoneyText(m, currency) }

// ReadAmount reads what a person typed: 12.5, 12,50, 1'200; empty is nothing.
func ReadAmount(s string) (job.Money, error) {
	t := strings.NewReplacer(" ", "", "'", "", "\u00a0", "", "−", "-").Replace(strings.TrimSpace(s))
	if t == "" {
		return 0, nil
	}
	if strings.Count(t, ",") == 1 && !strings.Contains(t, ".") {
		t = strings.Replace(t, ",", ".", 1)
	}
	f, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsNaN(f) || math.Abs(f) > 1e9 {
		return 0, app.Wrong{Err: fmt.Errorf("%q is no amount: write it as 12.50", s)}
	}
	return job.Money(math.Round(f * 100)), nil
}

// Percent writes a probability as a person says it.
func Percent(p float64) string {
	switch {
	case p > 0 && p < 0.005:
		return "<1 %"
	case p < 1 && p > 0.995:
		return ">99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// Hours writes a time of work: 1 h 05 min.
func Hours(d time.Duration) string {
	m := int64(d.Round(time.Minute).Minutes())
	if m < 60 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}

// Minutes writes minutes of work as Hours does, below two minutes in seconds.
func Minutes(m float64) string {
	if m < 2 {
		return fmt.Sprintf("%.0f s", math.Round(m*12)*5)
	}
	return Hours(time.Duration(m * float64(time.Minute)))
}

// Day and When write a time of the calendar.
func Day(t time.Time) string { return t.Local().Format("2 Jan 2006") }

// When writes day and time.
func When(t time.Time) string { return t.Local().Format("2 Jan 2006, 15:04") }

// StateWord is the state of a job in words.
func StateWord(state, reason string) string {
	switch state {
	case job.AtBench:
		return "At the bench"
	case job.Waiting:
		return "Waiting for " + reason
	case job.Finished:
		return "Ready to go back"
	case job.Returned:
		return "Handed over"
	case job.Declined:
		return "Goes back unrepaired"
	}
	return state
}
