package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/fault"
	"halfsplit/internal/core/finding"
)

// The bench of a board of logic as the desk sees it.

// Add takes in one more line of the log.
func (b *Bench) Add(e evidence.Entry) finding.List { return b.S.Add(e) }

// Allow says what may be proposed from now on.
func (b *Bench) Allow(have evidence.Bench, unpowered bool, unreached []string) {
	if b.have != have {
		b.have, b.advice = have, nil
	}
	b.unpowered, b.blocked, b.most = unpowered, nil, 0
	if len(unreached) > 0 {
		b.most = 12 + 8*len(unreached) // what stands at such places is left out later
	}
	c := b.S.M.C
	for _, s := range unreached {
		if p, _ := c.FindPlace(s); p.Pin != circuit.None {
			b.blocked = append(b.blocked, p.Pin)
		} else if p.Net != circuit.None {
			b.blocked = append(b.blocked, c.Nets[p.Net].Pins...)
		}
	}
	slices.Sort(b.blocked)
	b.blocked = slices.Compact(b.blocked)
}

// Surprising tells whether a line of the log holds a reading that a good board would not show.
func (b *Bench) Surprising(entry int) bool {
	for i, o := range b.S.Obs {
		if o.Entry == entry && b.S.Surprising(i) {
			return true
		}
	}
	return false
}

// Wrong lists the places whose last reading a good board would not have shown.
func (b *Bench) Wrong() []WrongReading {
	last := map[string]int{}
	var order []string
	for i, o := range b.S.Obs {
		kind := o.Kind
		if kind == diagnose.Volts { // a level read again with the scope settles a voltage that was wrong
			kind = diagnose.Read
		}
		key := fmt.Sprint(kind, o.What, " ", o.At, " ", o.To, o.Setting.Actions)
		if _, ok := last[key]; !ok {
			order = append(order, key)
		}
		last[key] = i
	}
	var out []WrongReading
	for _, k := range order {
		if b.S.Surprising(last[k]) {
			out = append(out, b.reading(b.S.Obs[last[k]]))
		}
	}
	return out
}

func (b *Bench) reading(o diagnose.Obs) WrongReading {
	w := WrongReading{Entry: o.Entry, Kind: kindOf(o), At: o.At, Text: o.At, Open: b.openAgain(o)}
	for _, a := range o.Setting.Actions {
		w.Do = append(w.Do, b.S.M.C.Actions[a].Name)
	}
	if len(w.Do) > 0 {
		w.Text += " (" + strings.Join(w.Do, ", ") + ")"
	}
	return w
}

// railTolerance is what a logic rail may be off: 74-series parts are specified for 4.75 to 5.25 V (TI SDLS data sheets, recommended operating
// conditions); the same 5 % is used for other rails (common practice, no source).
const railTolerance = 0.05

// Rails are the declared rails that something on the board feeds from, but ground.
func (b *Bench) Rails(ctx context.Context) ([]RailCheck, error) {
	if b.joint != nil {
		return b.jointRails(ctx)
	}
	return declaredRails(b.S.M.C), nil
}

func declaredRails(c *circuit.Circuit) []RailCheck {
	var out []RailCheck
	for n := range c.Nets {
		net := &c.Nets[n]
		pin := farthest(c, n)
		if !net.Rail || net.Volts == 0 || pin == circuit.None {
			continue
		}
		r := RailCheck{Rail: net.Name, Volts: net.Volts, At: c.PinName(pin), Where: c.PinText(pin)}
		r.Low, r.High = net.Volts*(1-railTolerance), net.Volts*(1+railTolerance)
		if r.Low > r.High {
			r.Low, r.High = r.High, r.Low
		}
		out = append(out, r)
	}
	return out
}

// Mend is what would end a fault.
func (b *Bench) Mend(f FaultView) (Mending, bool) {
	x, err := fault.Parse(b.S.M.C, f.Kind+"@"+f.At)
	if err != nil || b.advice == nil {
		return Mending{}, false
	}
	m := b.advice.Mend(x)
	return Mending{string(m.Kind), m.Minutes}, true
}
