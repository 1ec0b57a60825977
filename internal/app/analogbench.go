package app

import (
	"context"
	"slices"

	"halfsplit/internal/core/analog"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
)

// The bench of an analogue board as the desk sees it.

// Add takes in one more line of the log.
func (b *AnalogBench) Add(e evidence.Entry) finding.List { return b.S.Add(e) }

// Allow says what may be proposed from now on.
func (b *AnalogBench) Allow(have evidence.Bench, unpowered bool, unreached []string) {
	b.have, b.S.Unpowered = have, unpowered
	b.S.Block(unreached)
}

// Surprising tells whether a line of the log holds a reading that a good board would not show.
func (b *AnalogBench) Surprising(entry int) bool {
	for _, l := range b.lines {
		if l.Surprise && b.S.Obs[l.Obs].Entry == entry {
			return true
		}
	}
	return false
}

// wrongReadings counts what was read and is not as on a good board.
func (b *AnalogBench) wrongReadings() (n int) {
	for _, l := range b.lines {
		if l.Surprise {
			n++
		}
	}
	return n
}

// stillShows tells whether something read since the last repair is not as on a good board.
func (b *AnalogBench) stillShows() bool {
	last := -1
	for i := range b.S.Case.Log {
		e := &b.S.Case.Log[i]
		if len(e.Replaced)+len(e.Resolder)+len(e.Reseated)+len(e.Cleared) > 0 {
			last = i
		}
	}
	return last >= 0 && slices.ContainsFunc(b.lines, func(l analog.Line) bool { return l.Surprise && b.S.Obs[l.Obs].Entry > last })
}

// Wrong lists the places whose last reading a good board would not have shown. What was read with a leg lifted is no place of the whole board.
func (b *AnalogBench) Wrong() []WrongReading {
	last := map[analog.Check]analog.Line{}
	var order []analog.Check
	for _, l := range b.lines {
		k := b.S.Obs[l.Obs].Check
		if k.Cond.Lifted != "" {
			continue
		}
		if _, ok := last[k]; !ok {
			order = append(order, k)
		}
		last[k] = l
	}
	var out []WrongReading
	for _, k := range order {
		if l := last[k]; l.Surprise {
			o := b.S.Obs[l.Obs]
			out = append(out, WrongReading{Entry: o.Entry, Kind: k.Kind.String(), At: o.At, Text: k.Kind.String() + " " + o.At,
				Open: b.open(k, o.At), Good: analog.About(k, l.Shown)})
		}
	}
	return out
}

// Rails are the nets that others hang on, with what a good board shows there.
func (b *AnalogBench) Rails(ctx context.Context) ([]RailCheck, error) {
	rows, err := b.S.Lab.Table(ctx)
	if err != nil {
		return nil, err
	}
	c := b.M.C
	var out []RailCheck
	for _, n := range b.M.Rails() {
		for _, row := range rows {
			if row.Net != n {
				continue
			}
			r := RailCheck{Rail: c.NetName(n), Volts: round(row.Volts, 3), Low: round(row.Low, 3), High: round(row.High, 3), At: c.NetName(n), Where: "net " + c.NetName(n)}
			if pin := farthest(c, n); pin != circuit.None {
				r.At, r.Where = c.PinName(pin), c.PinText(pin)
			}
			out = append(out, r)
			break
		}
	}
	return out, nil
}

// Mend is what would end a fault.
func (b *AnalogBench) Mend(f FaultView) (Mending, bool) {
	p, ok := b.M.C.PartByRef(f.Part)
	switch {
	case !ok:
		return Mending{Minutes: searchMinutes}, true
	case f.Kind == string(analog.JointOpen):
		return Mending{"resolder", b.costs.Resolder}, true
	}
	return Mending{"replace", b.costs.ReplaceMinutes(b.M.C, p)}, true
}
