package jobs

import (
	"fmt"
	"math"
	"net/http"
	"time"

	"halfsplit/internal/adapter/web/shell"
	"halfsplit/internal/core/job"
)

// soakFactor: after three times the mean interval between failures without one, the chance that an uncured fault merely stayed quiet is
// e to the −3, 5 %, when failures come at random with that mean (exponential intervals).
const soakFactor = 3

// longestSoak catches a slip in a date.
const longestSoak = 60 * 24 * time.Hour

const clockForm = "2006-01-02T15:04" // of HTML's datetime-local

// saveSoak writes down a soak with start, end and what happened, and judges it by the interval between failures.
func (p *pages) saveSoak(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	from, to := f.moment("from", "the start"), f.moment("to", "the end")
	interval, seen := f.number("interval", "the interval", 0.1, 100000)
	switch {
	case from.IsZero() || to.IsZero():
	case !to.After(from):
		f.mistake("the end is not after the start")
	case to.Sub(from) > longestSoak:
		f.mistake("a soak of more than 60 days: look at the dates")
	case to.After(p.Desk.Now().Add(time.Minute)):
		f.mistake("the end lies in the future: write a soak down when it is over")
	}
	event := f.text("failed")
	if event == "" {
		f.mistake("did it fail during the soak? Choose one")
	}
	if err := f.err(); err != nil {
		return err
	}
	d := to.Sub(from)
	t := &job.Proof{Stage: "soak", What: fmt.Sprintf("Soak %s to %s", from.Format("2 Jan 2006 15:04"), to.Format("2 Jan 15:04")), Failed: event == "1"}
	t.After = shell.Hours(d) + " without a failure"
	if t.Failed {
		t.After = "failed within " + shell.Hours(d)
	}
	if what := f.text("what"); what != "" {
		t.After += ": " + what
	}
	if seen {
		need := soakNeed(interval)
		t.Before = "failed every " + shell.Hours(hours(interval)) + " at the longest"
		t.Limit = fmt.Sprintf("at least %d × %s = %s", soakFactor, shell.Hours(hours(interval)), shell.Hours(need))
		if d < need && !t.Failed {
			t.Failed = true
			t.After += fmt.Sprintf("; %s too short", shell.Hours(need-d))
		}
	}
	return p.record(w, r, "soak", t)
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

func soakNeed(interval float64) time.Duration { return soakFactor * hours(interval) }

// luck is the chance in per cent that a fault that shows every interval on average stays quiet for k intervals.
func luck(k float64) float64 { return 100 * math.Exp(-k) }

// moment reads a date with a time of day, in the time of the place.
func (f *form) moment(name, what string) time.Time {
	s := f.text(name)
	for _, layout := range []string{clockForm, "2006-01-02T15:04:05", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(layout, s, time.Local); err == nil {
			return t
		}
	}
	f.mistake("%s: write it as 2026-11-25 14:30", what)
	return time.Time{}
}

// saveBackup writes down how the memory was kept without power.
func (p *pages) saveBackup(w http.ResponseWriter, r *http.Request) error {
	f, err := read(r)
	if err != nil {
		return err
	}
	volts, measured := f.number("volts", "the voltage", 0, 20)
	minutes, waited := f.number("minutes", "the minutes without power", 0, 60*24*60)
	if !measured {
		f.mistake("the voltage at the memory's supply pin, with the power off, is missing")
	}
	if !waited {
		f.mistake("for how many minutes was it left without power?")
	}
	kept := f.text("failed")
	if kept == "" {
		f.mistake("was the memory kept? Choose one")
	}
	if err := f.err(); err != nil {
		return err
	}
	t := &job.Proof{Stage: "backup", What: "Memory without power", Failed: kept == "1", Limit: f.text("limit")}
	words := "kept"
	if t.Failed {
		words = "lost"
	}
	pin := ""
	if at := f.text("pin"); at != "" {
		pin = " at " + at
	}
	t.After = fmt.Sprintf("%s after %s; %s V%s", words, shell.Hours(time.Duration(minutes*float64(time.Minute))), plainNumber(volts), pin)
	return p.record(w, r, "backup", t)
}
