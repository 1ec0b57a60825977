package job

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"halfsplit/internal/core/evidence"
)

// Entry is one line of the bench log: readings, or repairs. Its fields are those of the log in a case file.
type Entry struct {
	Do         []string  `json:"do,omitempty"`
	Read       []Reading `json:"read,omitempty"`
	See        []Reading `json:"see,omitempty"`
	Volts      []Volts   `json:"volts,omitempty"`
	Ohms       []Ohms    `json:"ohms,omitempty"`
	Current    []Amount  `json:"current,omitempty"` // amperes through a part
	Ripple     []Amount  `json:"ripple,omitempty"`  // volts peak to peak
	ESR        []Amount  `json:"esr,omitempty"`     // ohms of a capacitor in circuit, power off
	AC         []Level   `json:"ac,omitempty"`
	Gain       []Gain    `json:"gain,omitempty"`
	Wiper      []Wiper   `json:"wiper,omitempty"`
	Feed       *Feed     `json:"feed,omitempty"` // the readings were taken with this instead of the machine's own supply
	Lifted     []string  `json:"lifted,omitempty"`
	Refitted   []string  `json:"refitted,omitempty"`
	Replaced   []string  `json:"replaced,omitempty"`
	Resoldered []string  `json:"resoldered,omitempty"`
	Reseated   []string  `json:"reseated,omitempty"`
	Cleared    []string  `json:"cleared,omitempty"`
	Sure       float64   `json:"sure,omitempty"`    // 0: evidence.DefaultSure
	Skipped    string    `json:"skipped,omitempty"` // the check that could not be done: its place; no evidence
	Note       string    `json:"note,omitempty"`
}

// Reading is a place and the word seen there.
type Reading struct {
	At string `json:"at"`
	Is string `json:"is"`
}

// Volts is a voltage at a place.
type Volts struct {
	At    string  `json:"at"`
	Volts float64 `json:"volts"`
}

// Ohms is a resistance between two places; Open when the meter shows none.
type Ohms struct {
	At   string  `json:"at"`
	To   string  `json:"to"`
	Ohms float64 `json:"ohms"`
	Open bool    `json:"open,omitempty"`
}

// Amount is something measured at a place or of a part, in the unit of its kind of reading.
type Amount struct {
	At string  `json:"at"`
	Is float64 `json:"is"`
}

// Level is a signal at a place, in volts rms, at a frequency in hertz.
type Level struct {
	At        string  `json:"at"`
	Frequency float64 `json:"frequency"`
	Volts     float64 `json:"volts"`
}

// Gain is the ratio of two levels, at a frequency in hertz.
type Gain struct {
	From      string  `json:"from"`
	To        string  `json:"to"`
	Frequency float64 `json:"frequency"`
	Is        float64 `json:"is"`
}

// Wiper is the voltage at a control's wiper, at a position from 0 at terminal B to 1 at terminal A.
type Wiper struct {
	At       string  `json:"at"`
	Position float64 `json:"position"`
	Volts    float64 `json:"volts"`
}

// Feed is a bench supply on a net, with ohms in series that limit its current.
type Feed struct {
	At    string  `json:"at"`
	Volts float64 `json:"volts"`
	Ohms  float64 `json:"ohms"`
}

// Repairs tells whether the entry is about something done rather than seen.
func (f *Entry) Repairs() bool {
	return len(f.Lifted)+len(f.Refitted)+len(f.Replaced)+len(f.Resoldered)+len(f.Reseated)+len(f.Cleared) > 0
}

// Reads tells whether the entry holds a reading.
func (f *Entry) Reads() bool { return f.powered()+f.dead() > 0 }

// powered and dead count the readings with the power on and off.
func (f *Entry) powered() int {
	return len(f.Read) + len(f.See) + len(f.Volts) + len(f.Current) + len(f.Ripple) + len(f.AC) + len(f.Gain) + len(f.Wiper)
}

func (f *Entry) dead() int { return len(f.Ohms) + len(f.ESR) }

// Evidence is the entry as the diagnosis takes it; index counts from 1.
func (f *Entry) Evidence(index int) evidence.Entry {
	e := evidence.Entry{Index: index, Do: f.Do, HasDo: len(f.Do) > 0, Lifted: f.Lifted, Refitted: f.Refitted, Replaced: f.Replaced,
		Resolder: f.Resoldered, Reseated: f.Reseated, Cleared: f.Cleared, Sure: f.Sure, Note: f.Note}
	if e.Sure == 0 {
		e.Sure = evidence.DefaultSure
	}
	for _, r := range f.Read {
		e.Read = append(e.Read, evidence.Reading{At: r.At, Is: r.Is})
	}
	for _, r := range f.See {
		e.See = append(e.See, evidence.Reading{At: r.At, Is: r.Is})
	}
	for _, v := range f.Volts {
		e.Volts = append(e.Volts, evidence.Measured{At: v.At, Volts: v.Volts})
	}
	for _, o := range f.Ohms {
		e.Ohms = append(e.Ohms, evidence.Resistance{At: o.At, To: o.To, Ohms: o.Ohms, Open: o.Open})
	}
	for _, x := range []struct {
		from []Amount
		to   *[]evidence.Amount
	}{{f.Current, &e.Current}, {f.Ripple, &e.Ripple}, {f.ESR, &e.ESR}} {
		for _, a := range x.from {
			*x.to = append(*x.to, evidence.Amount{At: a.At, Is: a.Is})
		}
	}
	for _, a := range f.AC {
		e.AC = append(e.AC, evidence.Level{At: a.At, Frequency: a.Frequency, Volts: a.Volts})
	}
	for _, g := range f.Gain {
		e.Gain = append(e.Gain, evidence.Gain{From: g.From, To: g.To, Frequency: g.Frequency, Is: g.Is})
	}
	for _, w := range f.Wiper {
		e.Wiper = append(e.Wiper, evidence.Wiper{At: w.At, Position: w.Position, Volts: w.Volts})
	}
	if f.Feed != nil {
		e.Feed = &evidence.Feed{At: f.Feed.At, Volts: f.Feed.Volts, Ohms: f.Feed.Ohms}
	}
	return e
}

func (*Entry) kind() string { return "entry" }

// What a meter on this bench can show at all; beyond it a slip of the finger is likelier.
const (
	mostVolts = 1000
	mostOhms  = 1e9
)

func (f *Entry) check(j *Job) error {
	var wrong []error
	if j.Board.Version == 0 && f.Reads() {
		wrong = append(wrong, errors.New("the job has no board yet: choose one under Board, so that places have names"))
	}
	if !f.Reads() && !f.Repairs() && f.Skipped == "" && strings.TrimSpace(f.Note) == "" {
		wrong = append(wrong, errors.New("the entry is empty: say what was seen, measured or done"))
	}
	if f.Reads() && f.Repairs() {
		wrong = append(wrong, errors.New("one entry holds either readings or repairs: what was read before a repair speaks of the old part"))
	}
	for _, v := range f.Volts {
		if math.IsNaN(v.Volts) || math.Abs(v.Volts) > mostVolts {
			wrong = append(wrong, fmt.Errorf("%g V at %s: no reading of this bench goes beyond ±%d V", v.Volts, v.At, mostVolts))
		}
	}
	for _, o := range f.Ohms {
		if math.IsNaN(o.Ohms) || o.Ohms < 0 || o.Ohms > mostOhms {
			wrong = append(wrong, fmt.Errorf("%g Ω at %s: a meter shows 0 to %g Ω, or open", o.Ohms, o.At, mostOhms))
		}
	}
	wrong = append(wrong, f.figures()...)
	if f.Sure < 0 || f.Sure > 1 || math.IsNaN(f.Sure) {
		wrong = append(wrong, fmt.Errorf("sure is %g; it lies between 0 and 1", f.Sure))
	}
	if f.powered() > 0 || len(f.Do) > 0 && f.dead() == 0 {
		if open := j.OpenCautions(Powered); len(open) > 0 {
			wrong = append(wrong, fmt.Errorf("power is not cleared yet: %s is not ticked under Made safe", open[0].Title))
		}
	}
	return errors.Join(append(wrong, tooLong("the note", f.Note, longText))...)
}

// mostAmperes is what a meter on this bench can show.
const mostAmperes = 100

// figures says what of the analogue readings no instrument shows.
func (f *Entry) figures() (wrong []error) {
	within := func(what, at string, x, low, high float64) {
		if math.IsNaN(x) || x < low || x > high {
			wrong = append(wrong, fmt.Errorf("%s of %g at %s: it lies between %g and %g", what, x, at, low, high))
		}
	}
	for _, a := range f.Current {
		within("a current", a.At, a.Is, -mostAmperes, mostAmperes)
	}
	for _, a := range f.Ripple {
		within("a ripple", a.At, a.Is, 0, mostVolts)
	}
	for _, a := range f.ESR {
		within("a series resistance", a.At, a.Is, 0, mostOhms)
	}
	for _, a := range f.AC {
		within("a level", a.At, a.Volts, 0, mostVolts)
		within("a frequency", a.At, a.Frequency, 1e-3, 1e9)
	}
	for _, g := range f.Gain {
		within("a gain", g.To, g.Is, 0, 1e9)
		within("a frequency", g.To, g.Frequency, 1e-3, 1e9)
	}
	for _, w := range f.Wiper {
		within("a position", w.At, w.Position, 0, 1)
		within("a voltage", w.At, w.Volts, -mostVolts, mostVolts)
	}
	if f.Feed != nil {
		within("the volts of the bench supply", f.Feed.At, f.Feed.Volts, -mostVolts, mostVolts)
		within("the ohms of the bench supply", f.Feed.At, f.Feed.Ohms, 1e-3, mostOhms)
	}
	return wrong
}
