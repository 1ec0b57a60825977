package app

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"

	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/diagnose"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/finding"
	"halfsplit/internal/core/predict"
	"halfsplit/internal/core/weak"
)

// Weak is the answer of diagnose --weak: the smallest sets of parts that must be bad now, if any part may behave in any way.
type Weak struct {
	Possible    bool       `json:"possible"`    // some set explains the log
	Cardinality int        `json:"cardinality"` // parts in each set; 0 when all parts may be good
	Sets        [][]string `json:"sets"`
	More        bool       `json:"more"`              // there are further sets than those listed
	Notes       []string   `json:"notes,omitempty"`   // what was left out of account
	Considered  int        `json:"considered"`        // readings taken into account
	Excused     []string   `json:"excused,omitempty"` // parts repaired since some entry: they may have done anything in it
}

// DiagnoseWeak reads a case with its board and finds the smallest sets of parts that explain the log. most bounds the sets listed; 0 means 100.
func DiagnoseWeak(ctx context.Context, files Files, q DiagnoseRequest, most int) (Weak, finding.List, error) {
	c, fl := files.Case(q.Case)
	if c == nil || fl.Errors() {
		return Weak{}, fl, nil
	}
	ckt, more := LoadBoard(files, filepath.Join(filepath.Dir(q.Case), c.Board), q.Parts)
	fl = append(fl, more...)
	if ckt == nil {
		return Weak{}, fl, nil
	}
	w, more, err := WeakOf(ctx, ckt, c, most)
	return w, append(fl, more...), err
}

// WeakOf is DiagnoseWeak for a case on a board that is loaded already.
func WeakOf(ctx context.Context, ckt *circuit.Circuit, c *evidence.Case, most int) (Weak, finding.List, error) {
	s, fl := diagnose.New(predict.New(ckt, 1), c)
	if s == nil {
		return Weak{}, fl, nil
	}
	w := Weak{Sets: [][]string{}}
	xs := w.experiments(s)
	r, err := weak.Diagnose(ctx, ckt, xs, weak.Options{Most: most})
	if err != nil {
		return Weak{}, fl, err
	}
	w.Possible, w.Cardinality, w.More = r.Possible, r.Cardinality, r.More
	for _, set := range r.Sets {
		if len(set) == 0 {
			continue
		}
		refs := make([]string, len(set))
		for i, p := range set {
			refs[i] = ckt.Parts[p].Ref
		}
		w.Sets = append(w.Sets, refs)
	}
	if r.Shortened {
		w.Notes = append(w.Notes, "an action is so long that only its end was followed")
	}
	return w, fl, nil
}

// experiments groups the readings of the log by entry.
func (w *Weak) experiments(s *diagnose.Session) []weak.Experiment {
	var out []weak.Experiment
	entry, left := circuit.None, map[string]int{}
	for _, o := range s.Obs {
		seen, why := seenOf(s, o)
		if why != "" {
			left[why]++
			continue
		}
		if o.Entry != entry {
			entry = o.Entry
			out = append(out, weak.Experiment{Setting: o.Setting})
			w.repaired(s, &out[len(out)-1], entry)
		}
		w.Considered++
		out[len(out)-1].Seen = append(out[len(out)-1].Seen, seen...)
	}
	for _, why := range []string{ohmsLeft, voltsLeft, unsureLeft} {
		if n := left[why]; n > 0 {
			w.Notes = append(w.Notes, fmt.Sprintf("%d of %d readings left out: %s", n, len(s.Obs), why))
		}
	}
	return out
}

// repaired says what was mended after an entry: it may have done anything in it.
func (w *Weak) repaired(s *diagnose.Session, x *weak.Experiment, entry int) {
	c := s.M.C
	excuse := func(p int) {
		if !slices.Contains(x.Excused, p) {
			x.Excused = append(x.Excused, p)
		}
		if !slices.Contains(w.Excused, c.Parts[p].Ref) {
			w.Excused = append(w.Excused, c.Parts[p].Ref)
		}
	}
	for _, e := range s.Case.Log[entry+1:] {
		for _, ref := range slices.Concat(e.Replaced, e.Reseated) {
			if p, ok := c.PartByRef(ref); ok {
				excuse(p)
			}
		}
		for _, at := range e.Resolder {
			// an open joint cuts the net at the pin as well as the pin off the net
			if p, _ := c.FindPlace(at); p.Pin != circuit.None {
				excuse(c.Pins[p.Pin].Part)
				x.Free = append(x.Free, p.Net)
			}
		}
		for _, at := range e.Cleared {
			if p, _ := c.FindPlace(at); p.Net != circuit.None {
				x.Free = append(x.Free, p.Net)
			}
		}
	}
}

// Why a reading cannot be taken into account.
const (
	ohmsLeft   = "ohms say nothing of levels"
	unsureLeft = "less than half sure"
	voltsLeft  = "volts that are neither a clear low nor a clear high"
)

// seenOf turns a reading into what the parts must have brought about; why says why it cannot.
func seenOf(s *diagnose.Session, o diagnose.Obs) (seen []weak.Seen, why string) {
	base := weak.Seen{Place: o.Place, Lamp: circuit.None}
	if o.Sure < 0.5 {
		return nil, unsureLeft
	}
	switch o.Kind {
	case diagnose.Ohms:
		return nil, ohmsLeft
	case diagnose.Volts:
		base.AtEnd = true
		low, high := clearLevels(s.M.C, o.Place.Net)
		switch {
		case o.Value <= low && o.Value > -0.5:
			base.Word = predict.Low
		case o.Value >= high:
			base.Word = predict.High
		default:
			return nil, voltsLeft
		}
	case diagnose.Read:
		base.Word = o.Word
	case diagnose.See:
		return lampsOf(s, o), ""
	}
	return []weak.Seen{base}, ""
}

// clearLevels gives the volts up to which every part on a net hears a low, and from which every one hears a high, with nothing on it the limits of TTL.
func clearLevels(c *circuit.Circuit, net int) (low, high float64) {
	low, high = 0.8, 2.0
	for _, p := range c.Nets[net].Pins {
		l := c.Parts[c.Pins[p].Part].Family.Levels()
		low, high = min(low, l.VIL), max(high, l.VIH)
	}
	return low, high
}

// lampsOf is what a person saw on an indicator: of a digit, each segment.
func lampsOf(s *diagnose.Session, o diagnose.Obs) []weak.Seen {
	base := weak.Seen{Look: weak.Lamp, Lamp: o.Lamp, Whole: s.M.Whole(o.Setting)}
	if o.Digit == circuit.None {
		base.Lit, base.Dark = o.Seen != "dark", o.Seen != "lit"
		if o.Seen == "blinking" {
			base.Whole = true
		}
		return []weak.Seen{base}
	}
	var out []weak.Seen
	lit, dark := diagnose.Segments(o.Seen)
	for k, lamp := range s.M.C.Digits[o.Digit].Segs[:len(lit)] {
		if lamp == circuit.None || !lit[k] && !dark[k] {
			continue
		}
		x := base
		x.Lamp, x.Lit, x.Dark = lamp, lit[k], dark[k]
		out = append(out, x)
	}
	return out
}
