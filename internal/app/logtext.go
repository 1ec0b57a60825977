package app

import (
	"fmt"
	"math"
	"strings"

	"halfsplit/internal/core/job"
	"halfsplit/internal/core/unit"
)

// What stands in a log, in words.

// spots calls see for every reading of an entry: key tells the place with all that a reading depends on, at and is are its words.
func spots(e *job.Entry, see func(key, at, is string)) {
	do := strings.Join(e.Do, " ")
	fed := ""
	if e.Feed != nil {
		fed = fmt.Sprintf(" with %s on %s", VoltsText(e.Feed.Volts), e.Feed.At)
		do += fed
	}
	for _, r := range e.Read {
		see("read "+r.At+" "+do, r.At, r.Is)
	}
	for _, r := range e.See {
		see("see "+r.At+" "+do, r.At, r.Is)
	}
	for _, r := range e.Volts {
		see("volts "+r.At+" "+do, r.At+fed, VoltsText(r.Volts))
	}
	for _, r := range e.Ohms {
		is := fmt.Sprintf("%.3g Ω", r.Ohms)
		switch {
		case r.Open:
			is = "open"
		case r.Ohms >= 1000:
			is = unit.With(r.Ohms, "Ω")
		}
		see("ohms "+r.At+" "+r.To, r.At+" to "+r.To, is)
	}
	for _, r := range e.Current {
		see("current "+r.At+" "+do, "through "+r.At+fed, unit.With(r.Is, "A"))
	}
	for _, r := range e.Ripple {
		see("ripple "+r.At+" "+do, "ripple at "+r.At+fed, unit.With(r.Is, "V p-p"))
	}
	for _, r := range e.ESR {
		see("esr "+r.At, "ESR of "+r.At, unit.With(r.Is, "Ω"))
	}
	for _, r := range e.AC {
		at := fmt.Sprintf("%s at %s", r.At, unit.With(r.Frequency, "Hz"))
		see("ac "+at+" "+do, at, unit.With(r.Volts, "V rms"))
	}
	for _, r := range e.Gain {
		at := fmt.Sprintf("gain %s to %s at %s", r.From, r.To, unit.With(r.Frequency, "Hz"))
		see(at+" "+do, at, unit.Format(r.Is)+" times")
	}
	for _, r := range e.Wiper {
		at := fmt.Sprintf("wiper of %s at %.3g", r.At, r.Position)
		see(at+" "+do, at, VoltsText(r.Volts))
	}
}

// VoltsText is a voltage as a person writes it: millivolts where it is less than a tenth of a volt.
func VoltsText(v float64) string {
	if v != 0 && math.Abs(v) < 0.1 && math.Abs(v) >= 1e-6 {
		return unit.With(v, "V")
	}
	return fmt.Sprintf("%.4g V", v+0) // + 0 takes the sign from a nought
}

// changes lists the repairs with every place that was read both before and after.
func changes(j *job.Job) []Change {
	var out []Change
	last := map[string]string{}
	done := map[string]bool{}
	for n, l := range j.Standing() {
		e := &l.Entry
		if e.Repairs() {
			out = append(out, Change{Entry: n + 1, What: EntryText(e)})
			clear(done)
			continue
		}
		spots(e, func(key, at, is string) {
			if was, ok := last[key]; ok && len(out) > 0 && !done[key] {
				c := &out[len(out)-1]
				c.Before = append(c.Before, Turned{at, was, is})
			}
			last[key], done[key] = is, true
		})
	}
	return out
}

// EntryText is an entry in one line of words.
func EntryText(e *job.Entry) string {
	var out []string
	say := func(what string, list []string) {
		if len(list) > 0 {
			out = append(out, what+" "+strings.Join(list, ", "))
		}
	}
	spots(e, func(_, at, is string) { out = append(out, at+" "+is) })
	say("lifted", e.Lifted)
	say("put back", e.Refitted)
	say("replaced", e.Replaced)
	say("resoldered", e.Resoldered)
	say("reseated", e.Reseated)
	say("cleared a short on", e.Cleared)
	if e.Skipped != "" {
		out = append(out, "cannot reach "+e.Skipped)
	}
	s := strings.Join(out, "; ")
	if len(e.Do) > 0 {
		s = strings.Join(e.Do, " → ") + ": " + s
	}
	return s
}
