package job

import "halfsplit/internal/core/evidence"

// FromEvidence is a line of a case's log as an entry of a job.
func FromEvidence(e evidence.Entry) Entry {
	f := Entry{Do: e.Do, Lifted: e.Lifted, Refitted: e.Refitted, Replaced: e.Replaced, Resoldered: e.Resolder, Reseated: e.Reseated, Cleared: e.Cleared, Sure: e.Sure, Note: e.Note}
	for _, r := range e.Read {
		f.Read = append(f.Read, Reading{r.At, r.Is})
	}
	for _, r := range e.See {
		f.See = append(f.See, Reading{r.At, r.Is})
	}
	for _, v := range e.Volts {
		f.Volts = append(f.Volts, Volts{v.At, v.Volts})
	}
	for _, o := range e.Ohms {
		f.Ohms = append(f.Ohms, Ohms{o.At, o.To, o.Ohms, o.Open})
	}
	for _, x := range []struct {
		from []evidence.Amount
		to   *[]Amount
	}{{e.Current, &f.Current}, {e.Ripple, &f.Ripple}, {e.ESR, &f.ESR}} {
		for _, a := range x.from {
			*x.to = append(*x.to, Amount{a.At, a.Is})
		}
	}
	for _, a := range e.AC {
		f.AC = append(f.AC, Level{a.At, a.Frequency, a.Volts})
	}
	for _, g := range e.Gain {
		f.Gain = append(f.Gain, Gain{g.From, g.To, g.Frequency, g.Is})
	}
	for _, w := range e.Wiper {
		f.Wiper = append(f.Wiper, Wiper{w.At, w.Position, w.Volts})
	}
	if e.Feed != nil {
		f.Feed = &Feed{e.Feed.At, e.Feed.Volts, e.Feed.Ohms}
	}
	return f
}
